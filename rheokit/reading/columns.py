"""Settle what each column is: quantity and unit, from the header, a units row under it, or a layout file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ReadError, UnitError
from rheokit.base.quantities import quantity, unit_of
from rheokit.base.units import Unit
from rheokit.reading.clock import CLOCK_UNITS, MOMENT, about_unclear_time, clock_unit, is_clock, is_clock_unit
from rheokit.reading.decimals import looks_like_a_number
from rheokit.reading.files import PathText
from rheokit.reading.headings import Heading, unit_beside, without_brackets
from rheokit.reading.numbers import is_missing
from rheokit.reading.relative import is_relative
from rheokit.reading.sheet import known_columns
from rheokit.reading.unit_remedies import unit_remedy
from rheokit.reading.words import NEEDS_NO_UNIT, STEP, role_of

__all__ = ["Column", "in_si", "is_units_row", "settle_columns"]

_CLOCKS = frozenset({"time", "step_time"})

_SHORT = 2_000
"""Characters of a units row that is worth remembering."""

_RELATIVE = "relative"
"""Where the unit of a heading comes from that was set aside as a relative reading."""


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column: its number from 1, its heading, what it means, its unit and where that was written.

    `meaning` is a quantity, `step`, or None for a column that is set aside; `unit` is None for the last two.
    """

    number: int
    heading: str
    meaning: str | None
    unit: Unit | None
    unit_from: str
    from_layout: bool
    role: str = ""
    """What a column without quantity is for: `point number`, `remarks`, `date`, or nothing when it is not known."""
    relative: bool = False
    """A spindle's or dial's reading, or a part of full scale; `meaning` is None then."""
    unit_aside: str = ""
    """What is written as the unit of a column that is not known."""

    @property
    def place(self) -> str:
        """How messages name it."""
        return f"column {self.number} ({self.heading!r})"


def settle_columns(
    headings: Sequence[Heading], line: int, below: Sequence[str] | None, sample: Sequence[str], path: PathText
) -> tuple[Column, ...]:
    """Return what every column of a table is.

    Parameters
    ----------
    headings, line
        The header, and the line it stands on.
    below
        The cells of the units row, or None when there is none.
    sample
        The cells of the first point: a clock time there needs no unit.
    path
        The file, for the message.

    Raises
    ------
    ReadError
        When two columns are one quantity, or a unit is missing, unknown or of another quantity.
    """
    clocks = tuple(clock_unit(cell) if heading.quantity in _CLOCKS else None for heading, cell in zip(headings, sample, strict=True))
    units = None if below is None else tuple(below)
    if below is None or sum(map(len, below)) <= _SHORT:
        try:
            return _remembered(tuple(headings), units, clocks)
        except ReadError:
            pass  # once more, with the names of line and file
    _refuse_unclear_times(headings, line, units, sample, path)
    return _settled(headings, line, units, clocks, path)


def _refuse_unclear_times(
    headings: Sequence[Heading], line: int, units: Sequence[str] | None, sample: Sequence[str], path: PathText
) -> None:
    """Refuse a time whose unit is not named and whose first cell shows a clock that may be read in several ways."""
    below = units or [""] * len(headings)
    for number, (heading, unit, cell) in enumerate(zip(headings, below, sample, strict=True), 1):
        if heading.quantity in _CLOCKS and heading.unit is None and not without_brackets(unit):
            why = about_unclear_time(cell)
            if why is not None:
                seen = f"{str(heading.quantity).replace('_', ' ')} has no unit, and {why[0]}"
                raise ReadError(path, seen, place=f"line {line}, column {number} ({heading.text!r})", remedy=why[1])


@lru_cache(maxsize=64)
def _remembered(headings: tuple[Heading, ...], below: tuple[str, ...] | None, clocks: tuple[str | None, ...]) -> tuple[Column, ...]:
    # The exports of one rheometer repeat their headers.
    return _settled(headings, 0, below, clocks, "")


def _settled(
    headings: Sequence[Heading], line: int, below: Sequence[str] | None, clocks: Sequence[str | None], path: PathText
) -> tuple[Column, ...]:
    apart = [_set_aside(one) if is_relative(one.text, one.quantity, one.unit) else one for one in headings]
    kept = _one_each(apart, line, path)
    cells = zip(kept, below or [""] * len(kept), clocks, strict=True)
    return tuple(_column(number, f"line {line}", *three, path) for number, three in enumerate(cells, 1))


def in_si(numbers: FloatArray, unit: Unit) -> FloatArray:
    """Return numbers in SI: themselves where the unit is an SI unit, as most are."""
    return numbers if unit.factor == 1 and not unit.offset and not unit.pi_power else unit.to_si(numbers)


def _set_aside(heading: Heading) -> Heading:
    return Heading(heading.text, None, None, _RELATIVE)


def _one_each(headings: Sequence[Heading], line: int, path: PathText) -> list[Heading]:
    """Return the headings with each quantity once: a column that a layout names displaces others, two equals are refused."""
    named = {heading.quantity for heading in headings if heading.from_layout}
    kept = [heading if heading.from_layout or heading.quantity not in named else Heading(heading.text, None, None) for heading in headings]
    first: dict[str, Heading] = {}
    for heading in kept:
        if heading.quantity is None:
            continue
        if heading.quantity in first and heading.quantity != STEP:
            what = heading.quantity.replace("_", " ")
            seen = f"two columns for {what}: {first[heading.quantity].text!r} and {heading.text!r}"
            raise ReadError(path, seen, place=f"line {line}", remedy="remove one, or name the one that counts in a layout file")
        first.setdefault(heading.quantity, heading)
    # A step may have a number and a name: the first column counts, and the other is set aside.
    return [one if one.quantity != STEP or one is first[STEP] else Heading(one.text, None, None) for one in kept]


def is_units_row(cells: Sequence[str], headings: Sequence[Heading]) -> bool:
    """Tell whether a row holds units: nothing under a quantity is a number (but the unit `1`), and something is a word."""
    if len(cells) != len(headings):
        return False
    under = [without_brackets(cells[index]) for index in known_columns(headings)]
    if any((looks_like_a_number(cell) and cell != "1") or is_clock(cell) or about_unclear_time(cell) for cell in under):
        return False
    return any(cell != "1" and not is_missing(cell) for cell in under)


def _column(number: int, line: str, heading: Heading, below: str, clock: str | None, path: PathText) -> Column:  # noqa: PLR0917 - one row
    name, stated, source = heading.quantity, heading.unit, heading.unit_from
    unit: Unit | None = None
    relative = source == _RELATIVE or is_relative(heading.text, name, stated or without_brackets(below))
    name = None if relative else name
    if name is not None and name != STEP:
        place = f"{line}, column {number} ({heading.text!r})"
        in_row = without_brackets(below)
        if stated is None and in_row:
            stated, source = in_row, "units row"
        if clock is not None and (clock == MOMENT or stated is None or is_clock_unit(stated) is None):
            stated, source = clock, "the cells"
        unit = _unit(stated, name, heading.text, place, path)
        if in_row and source == "header" and _unit(in_row, name, heading.text, place, path).to_si(1.0) != unit.to_si(1.0):
            seen = f"the heading says {stated!r} and the units row {in_row!r}"
            raise ReadError(path, seen, place=place, remedy="correct one, or name the unit in a layout file")
    return Column(
        number=number,
        heading=heading.text,
        meaning=name,
        unit=unit,
        unit_from=source if unit else "",
        from_layout=heading.from_layout,
        relative=relative,
        role="" if name is not None or relative else role_of(heading.text),
        unit_aside="" if name is not None or relative else unit_beside(heading.text) or without_brackets(below),
    )


def _unit(stated: str | None, name: str, heading: str, place: str, path: PathText) -> Unit:
    if stated is None and name in NEEDS_NO_UNIT:
        stated = "1"
    wanted = f"write the unit into the header, for example '{heading} [{quantity(name).display_unit}]'"
    if stated is None:
        seen = f"{name.replace('_', ' ')} has no unit"
        raise ReadError(path, seen, place=place, remedy=f"{wanted}, into a units row under it, or into a layout file")
    clock = (stated if stated in CLOCK_UNITS else is_clock_unit(stated)) if name in _CLOCKS else None
    if clock is not None:
        return replace(_known_unit("s", name), symbol=clock)
    try:
        return _known_unit(stated, name)
    except UnitError as error:
        raise ReadError(path, str(error), place=place, remedy=unit_remedy(stated, name, str(error))) from None


# Remembered, as the exports of one rheometer repeat their units; only units that exist are, and these are short.
_known_unit = lru_cache(maxsize=512)(unit_of)
