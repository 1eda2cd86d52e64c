"""From a study to a precision file: the entry it makes, and the text that is read back before it is written."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from datetime import date as Date  # noqa: N812 - `date` is what the caller's argument is called
from pathlib import Path

from rheokit.base.errors import ComparisonError, FitError, OutputError, printable
from rheokit.base.quantities import quantity
from rheokit.characteristics import CHARACTERISTICS, At, AtRule
from rheokit.release.precision_file import PrecisionEntry, precision_file_in
from rheokit.statistics.interlaboratory import PrecisionStudy
from rheokit.statistics.precision import StatedUncertainty

__all__ = ["precision_entry", "precision_text", "write_precision_file"]

_OPENING = """\
# The laboratory's own precision: standard deviations of one load's number, from its studies. A specification takes a repeatability from
# here with precision = "{name}" in [specification] and repeatability = "from precision file" in a requirement.
format = 1
"""


def precision_entry(
    study: PrecisionStudy,
    *,
    source: str,
    date: Date,
    test: str = "",
    step: str | int | None = None,
    at: At | None = None,
    relative: bool = True,
) -> PrecisionEntry:
    """Return what a study says of its characteristic, as a precision file states it.

    Parameters
    ----------
    study
        By `repeatability_and_reproducibility`; its name is that of a characteristic, its unit the SI unit of that.
    source, date
        Which study it was, and when it ended.
    test, step, at
        Where the characteristic was measured, as a requirement says it; conditions in SI.
    relative
        Whether the standard deviations are stated relative to the mean of the study, as befits what scatters in proportion.

    Raises
    ------
    ComparisonError
        When the study is of no known characteristic, or in another unit.
    FitError
        When nothing scatters, or a relative scatter is asked of a mean that is not positive.
    """
    characteristic = CHARACTERISTICS.get(study.name)
    if characteristic is None:
        raise ComparisonError(f"{study.name!r} is no characteristic; they are {', '.join(CHARACTERISTICS)}")
    unit = quantity(characteristic.quantity).unit
    if study.unit != unit:
        raise ComparisonError(f"the study of {study.name} is in {study.unit}, not in {unit}; convert its results first")
    repeatability, reproducibility = study.stated(relative=relative)
    return PrecisionEntry(
        characteristic=study.name,
        test=test,
        step=step,
        at=at or {},
        repeatability=repeatability,
        reproducibility=reproducibility,
        source=source,
        date=date,
    )


def precision_text(entries: Sequence[PrecisionEntry], name: str = "precision.toml") -> str:
    """Return the text of a precision file; amounts stand in SI, every digit kept."""
    return "\n".join([_OPENING.format(name=name), *(_entry(entry) for entry in entries)])


def write_precision_file(path: str | Path, entries: Sequence[PrecisionEntry]) -> Path:
    """Write a precision file and return its path; one that is there already is never replaced.

    The text is read back first, so that nothing is written that a specification could not use.

    Raises
    ------
    SpecificationError
        When the entries do not make a precision file: a condition is missing, one stands twice.
    OutputError
        When the file is there already or cannot be written.
    """
    target = Path(path)
    text = precision_text(entries, target.name)
    precision_file_in(text, target)
    try:
        with target.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise OutputError(f"{printable(target)}: is there already and is not replaced; name another file") from None
    except OSError as error:
        raise OutputError(f"{printable(target)}: cannot be written ({error.strerror or error}); name a file you may write") from None
    return target


def _entry(entry: PrecisionEntry) -> str:
    characteristic = CHARACTERISTICS[entry.characteristic]
    lines = ["[[precision]]", f"characteristic = {_quoted(entry.characteristic)}"]
    lines += [f"test = {_quoted(entry.test)}"] if entry.test else []
    lines += [] if entry.step is None else [f"step = {entry.step if isinstance(entry.step, int) else _quoted(entry.step)}"]
    if entry.at:
        rules = characteristic.at
        conditions = ", ".join(f"{name} = {_condition(value, rules.get(name))}" for name, value in entry.at.items())
        lines.append(f"at = {{ {conditions} }}")
    unit = quantity(characteristic.quantity).unit
    lines.append(f"repeatability = {_uncertainty(entry.repeatability, unit)}")
    lines += [] if entry.reproducibility is None else [f"reproducibility = {_uncertainty(entry.reproducibility, unit)}"]
    return "\n".join([*lines, f"source = {_quoted(entry.source)}", f"date = {entry.date.isoformat()}", ""])


def _condition(value: float | tuple[float, ...] | str, rule: AtRule | None) -> str:
    if isinstance(value, str):
        return _quoted(value)
    unit = quantity(rule.quantity).unit if rule and rule.quantity else ""
    amounts = [_quoted(f"{amount!r} {unit}".strip()) for amount in (value if isinstance(value, tuple) else (value,))]
    return f"[{', '.join(amounts)}]" if isinstance(value, tuple) else amounts[0]


def _uncertainty(known: StatedUncertainty, unit: str) -> str:
    if not math.isfinite(known.degrees_of_freedom):
        raise FitError("a standard deviation from a study has its degrees of freedom; give them")
    size = f"relative = {known.relative!r}" if known.relative is not None else f"absolute = {_quoted(f'{known.absolute!r} {unit}')}"
    return f"{{ {size}, degrees_of_freedom = {known.degrees_of_freedom!r} }}"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
