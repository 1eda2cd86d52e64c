"""A record as one HTML page that needs nothing else: no network, no script. The same record gives the same bytes."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from rheokit.base.errors import printable
from rheokit.base.show import LONGEST_CELL
from rheokit.reports.content import content_of

if TYPE_CHECKING:
    from jinja2 import Template

__all__ = ["page", "template"]


def page(document: Mapping[str, Any], *, registered: str = "") -> str:
    """Return the page of a record's document; `registered` says where it stands in a register."""
    return template("record.html").render(record=document, **content_of(document, registered))


@cache
def template(name: str) -> Template:
    """Return a template by its name: every value in it is escaped, and `p` makes text from a file one printable line."""
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - only wanted where a page is made

    environment = Environment(loader=PackageLoader("rheokit.reports"), autoescape=True, undefined=StrictUndefined)
    environment.filters["p"] = lambda value: printable(value, LONGEST_CELL)
    return environment.get_template(name)
