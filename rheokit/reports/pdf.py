"""A record as a PDF to print and sign: page one the decision, then the evidence. The same record gives the same bytes."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from importlib import resources
from typing import Any

from rheokit.base.errors import OutputError, printable
from rheokit.release.retest import retest_words
from rheokit.reports.content import content_of

__all__ = ["pdf"]

LONGEST = 200_000
"""Characters of one piece of data: a drawing is the longest."""


def pdf(document: Mapping[str, Any], *, registered: str = "") -> bytes:
    """Return the record's document as a PDF, with fonts of its own and no date, so that every machine makes the same bytes.

    `registered` says where it stands in a register.

    Raises
    ------
    OutputError
        When the typesetter, an extra, is not installed.
    """
    try:
        import typst  # noqa: PLC0415 - an extra, only wanted where a PDF is made
    except ModuleNotFoundError:
        raise OutputError("a PDF needs the extra 'pdf', which is not installed; run: pip install 'rheokit[pdf]'") from None
    template = resources.files("rheokit.reports").joinpath("templates", "record.typ").read_bytes()
    inputs = {"content": json.dumps(_text(_content(document, registered)))}
    made = typst.compile(template, format="pdf", sys_inputs=inputs, ignore_system_fonts=True, timestamp=0)
    if not isinstance(made, bytes):
        raise OutputError("the typesetter made no PDF; update the extra: pip install --upgrade 'rheokit[pdf]'")
    return made


def _content(document: Mapping[str, Any], registered: str) -> dict[str, Any]:
    head, content = document["specification"], content_of(document, registered)
    return content | {
        "tables": [asdict(table) for table in content["tables"]],
        "id": document["batch"]["id"],
        "disposition": document["disposition"],
        "product": head["product"],
        "revision": head["revision"],
        "rule": head["decision_rule"],
        "rounding": head["rounding"],
        "cautions": [*retest_words(document), *document["cautions"]],
    }


def _text(value: Any) -> Any:
    """Return data whose every piece is text that the typesetter can hold and no reader acts on."""
    if isinstance(value, Mapping):
        return {key: _text(held) for key, held in value.items()}
    if isinstance(value, list | tuple):
        return [_text(held) for held in value]
    return printable(value, LONGEST)
