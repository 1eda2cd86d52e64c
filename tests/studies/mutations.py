"""Ways in which a good file is spoilt. Each takes the file and a random generator, and returns the bytes and what they still say."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from studies.plain_reading import UNITS, Said, headings_of, said_by_sheets, said_by_text
from studies.written_export import Form, Points, Row, Sheet, grid, heading, number, rendered

Random = np.random.Generator


@dataclass(frozen=True, kw_only=True, eq=False)
class Good:
    """A good file: its form, its sheets, its bytes and what they say."""

    form: Form
    sheets: list[Sheet]
    data: bytes
    said: Said

    @property
    def is_text(self) -> bool:
        """Whether it is no workbook."""
        return self.form.container == "text"


class Spoilt(NamedTuple):
    """The bytes of a spoilt file, and what they still say for certain."""

    data: bytes
    said: Said | None


Mutation = Callable[[Good, Random], Spoilt | None]
"""None where the file has nothing of the kind to spoil."""


def good_file(form: Form, points: Points) -> Good:
    """Write a good file."""
    sheets = grid(points, form)
    data = rendered(sheets, form)
    said = said_by_text(data, form) if form.container == "text" else said_by_sheets(sheets, form)
    if said is None:
        raise AssertionError(f"{form.name}: the good file is not understood")
    return Good(form=form, sheets=sheets, data=data, said=said)


def _bytes(good: Good, data: bytes) -> Spoilt:
    # What a damaged workbook says for certain is nothing: its parts are compressed and carry a checksum.
    return Spoilt(data, said_by_text(data, good.form) if good.is_text else None)


def _sheets(good: Good, sheets: list[Sheet], form: Form | None = None) -> Spoilt:
    form = form or good.form
    data = rendered(sheets, form)
    return Spoilt(data, said_by_text(data, form) if good.is_text else said_by_sheets(sheets, form))


def _copy(good: Good) -> list[Sheet]:
    return [(name, [Row(row.role, list(row.cells)) for row in rows]) for name, rows in good.sheets]


def _pick(random: Random, things: Sequence[object]) -> int:
    return int(random.integers(len(things)))


# --- bytes -----------------------------------------------------------------------------------------------------------------------


def bit_flipped(good: Good, random: Random) -> Spoilt:
    place = _pick(random, good.data)
    data = bytearray(good.data)
    data[place] ^= 1 << int(random.integers(8))
    return _bytes(good, bytes(data))


def byte_replaced(good: Good, random: Random) -> Spoilt:
    place = _pick(random, good.data)
    data = bytearray(good.data)
    data[place] = int(random.integers(256))
    return _bytes(good, bytes(data))


def byte_of_a_table_replaced(good: Good, random: Random) -> Spoilt:
    """Replace a byte by one that is at home in tables: far more dangerous than any byte."""
    place = _pick(random, good.data)
    data = bytearray(good.data)
    data[place] = random.choice(list(b"0123456789.,;|\t\n\r -+eE#\"'/:"))
    return _bytes(good, bytes(data))


def truncated(good: Good, random: Random) -> Spoilt:
    return _bytes(good, good.data[: _pick(random, good.data)])


def nul_inserted(good: Good, random: Random) -> Spoilt:
    place = _pick(random, good.data)
    return _bytes(good, good.data[:place] + b"\0" * int(random.integers(1, 4)) + good.data[place:])


def quotes_inserted(good: Good, random: Random) -> Spoilt | None:
    if not good.is_text:
        return None
    text = good.data.decode(good.form.encoding)
    for _ in range(int(random.integers(1, 5))):
        place = int(random.integers(len(text)))
        text = text[:place] + random.choice(['"', '""', "'", '"""', '"\n"']) + text[place:]
    return _bytes(good, text.encode(good.form.encoding))


# --- rows ------------------------------------------------------------------------------------------------------------------------


def _some_row(sheets: list[Sheet], random: Random) -> tuple[list[Row], int]:
    places = [(rows, index) for _, rows in sheets for index in range(len(rows))]
    return places[_pick(random, places)]


def line_dropped(good: Good, random: Random) -> Spoilt:
    sheets = _copy(good)
    rows, index = _some_row(sheets, random)
    del rows[index]
    return _sheets(good, sheets)


def line_doubled(good: Good, random: Random) -> Spoilt:
    sheets = _copy(good)
    rows, index = _some_row(sheets, random)
    rows.insert(index, Row(rows[index].role, list(rows[index].cells)))
    return _sheets(good, sheets)


def lines_exchanged(good: Good, random: Random) -> Spoilt:
    sheets = _copy(good)
    (rows, index), (others, place) = _some_row(sheets, random), _some_row(sheets, random)
    rows[index], others[place] = others[place], rows[index]
    return _sheets(good, sheets)


# --- columns ---------------------------------------------------------------------------------------------------------------------


def _exchange(good: Good, random: Random, roles: set[str]) -> Spoilt:
    sheets = _copy(good)
    width = len(next(row for _, rows in sheets for row in rows if row.role == "header").cells)
    one, other = (int(place) for place in random.choice(width, 2, replace=False))
    for _, rows in sheets:
        for row in rows:
            if row.role in roles and len(row.cells) == width:
                row.cells[one], row.cells[other] = row.cells[other], row.cells[one]
    return _sheets(good, sheets)


def columns_swapped(good: Good, random: Random) -> Spoilt:
    return _exchange(good, random, {"header", "units", "data"})


def numbers_swapped_under_headings(good: Good, random: Random) -> Spoilt:
    return _exchange(good, random, {"data"})


# --- signs -----------------------------------------------------------------------------------------------------------------------


def delimiter_changed(good: Good, random: Random) -> Spoilt | None:
    """Put another delimiter everywhere, as a program would do that knows nothing of quotes."""
    old, others = good.form.delimiter, [sign for sign in (",", ";", "\t", "|", " ") if sign != good.form.delimiter]
    if not good.is_text:
        return None
    new = str(random.choice(others))
    data = good.data.decode(good.form.encoding).replace(old, new).encode(good.form.encoding)
    return Spoilt(data, said_by_text(data, replace(good.form, delimiter=new)) if new != good.form.decimal else None)


def delimiter_changed_once(good: Good, random: Random) -> Spoilt | None:
    if not good.is_text:
        return None
    text = good.data.decode(good.form.encoding)
    places = [place for place, sign in enumerate(text) if sign == good.form.delimiter]
    place = places[_pick(random, places)]
    return _bytes(good, (text[:place] + random.choice([",", ";", "\t", "|", " ", ".", ""]) + text[place + 1 :]).encode(good.form.encoding))


def decimal_marks_exchanged(good: Good, random: Random) -> Spoilt | None:
    """Make points of commas and commas of points in the numbers of one row, one column, or everywhere."""
    if not good.is_text:
        return None
    sheets = _copy(good)
    rows = [row for _, rows in sheets for row in rows if row.role == "data"]
    which = int(random.integers(3))
    chosen = [rows[_pick(random, rows)]] if which == 0 else rows
    column = _pick(random, rows[0].cells) if which == 1 else None
    for row in chosen:
        for place in range(len(row.cells)):
            if column in {None, place}:
                row.cells[place] = row.cells[place].translate({ord("."): ",", ord(","): "."})
    form = good.form
    if which == 2:  # the whole file is in the other signs now, and says so as clearly as before
        form = replace(form, decimal=form.thousands or {".": ",", ",": "."}[form.decimal], thousands=form.decimal if form.thousands else "")
    return _sheets(good, sheets, form)


# --- cells -----------------------------------------------------------------------------------------------------------------------


def digit_changed(good: Good, random: Random) -> Spoilt | None:
    """Replace, take away or double one digit of a number, or change its sign."""
    sheets = _copy(good)
    rows = [row for _, rows in sheets for row in rows if row.role == "data"]
    row = rows[_pick(random, rows)]
    place = _pick(random, row.cells)
    digits = [index for index, sign in enumerate(row.cells[place]) if sign.isdigit()]
    if not digits:
        return None
    row.cells[place] = _changed(row.cells[place], digits[_pick(random, digits)], random)
    return _sheets(good, sheets)


def _changed(cell: str, index: int, random: Random) -> str:
    match int(random.integers(4)):
        case 0 | 1:
            return cell[:index] + str((int(cell[index]) + int(random.integers(1, 10))) % 10) + cell[index + 1 :]
        case 2:
            shorter = cell[:index] + cell[index + 1 :]
            return shorter if any(sign.isdigit() for sign in shorter) else "-" + cell
        case _:
            return cell[:index] + cell[index] * 2 + cell[index + 1 :] if random.integers(2) else "-" + cell


def decimal_mark_moved(good: Good, random: Random) -> Spoilt | None:
    """Make one number ten or a thousand times what it was, or that part of it."""
    sheets = _copy(good)
    rows = [row for _, rows in sheets for row in rows if row.role == "data"]
    row = rows[_pick(random, rows)]
    place = _pick(random, row.cells)
    form = good.form
    plain = row.cells[place].replace(form.thousands, "") if form.thousands else row.cells[place]
    try:
        value = float(plain.replace(form.decimal, ".") if good.is_text else plain)
    except ValueError:
        return None
    row.cells[place] = number(form, f"{value * 10.0 ** int(random.choice([-3, -1, 1, 3])):.5g}")
    return _sheets(good, sheets)


def heading_misspelt(good: Good, random: Random) -> Spoilt:
    """Take away, double or replace a letter of a heading, in every header alike."""
    sheets = _copy(good)
    header = next(row for _, rows in sheets for row in rows if row.role == "header")
    place = _pick(random, header.cells)
    old = header.cells[place]
    index = _pick(random, old)
    new = old[:index] + random.choice(["", old[index] * 2, chr(int(random.integers(97, 123)))]) + old[index + 1 :]
    for _, rows in sheets:
        for row in rows:
            if row.role == "header":
                row.cells[place] = new
    return _sheets(good, sheets)


def unit_exchanged(good: Good, random: Random) -> Spoilt | None:
    """Let a column claim another unit: one of its own quantity three times in four, else that of another column."""
    sheets = _copy(good)
    header, units = (next((row for _, rows in sheets for row in rows if row.role == role), None) for role in ("header", "units"))
    assert header is not None
    names = headings_of(good.form)
    claimed = {}
    for place, cell in enumerate(header.cells):
        name, unit = names.get(cell, ("", ""))
        unit = units.cells[place].strip("[]") if units is not None else unit
        if unit in UNITS:
            claimed[place] = name, unit
    place = list(claimed)[_pick(random, list(claimed))]
    name, old = claimed[place]
    own = [unit for unit, (quantities, *_) in UNITS.items() if name in quantities and unit != old]
    new = str(random.choice(own if own and random.integers(4) else [unit for _, unit in claimed.values() if unit != old]))
    for _, rows in sheets:
        for row in rows:
            if row.role == "units":
                row.cells[place] = row.cells[place].replace(old, new)
            elif row.role == "header" and units is None:
                row.cells[place] = heading(good.form, name, new)
    return _sheets(good, sheets)


MUTATIONS: Mapping[str, Mutation] = {
    "a bit flipped": bit_flipped,
    "a byte replaced by any": byte_replaced,
    "a byte replaced by one of a table": byte_of_a_table_replaced,
    "cut off": truncated,
    "NUL bytes inserted": nul_inserted,
    "quotation marks inserted": quotes_inserted,
    "a line dropped": line_dropped,
    "a line doubled": line_doubled,
    "two lines exchanged": lines_exchanged,
    "two columns swapped": columns_swapped,
    "two columns swapped, headings not": numbers_swapped_under_headings,
    "delimiter changed everywhere": delimiter_changed,
    "delimiter changed once": delimiter_changed_once,
    "decimal marks exchanged": decimal_marks_exchanged,
    "a digit changed": digit_changed,
    "a decimal mark moved": decimal_mark_moved,
    "a heading misspelt": heading_misspelt,
    "a unit exchanged": unit_exchanged,
}
"""Name in the table, and what is done."""
