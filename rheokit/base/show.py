"""How a result shows itself: one Table, from which text, HTML and the reports are made, digits by the error, and axes.

Rounding rule: the standard error is given with two significant digits and the value to the same place (JCGM 100:2008, 7.2.6).
"""

from __future__ import annotations

import html
import math
import textwrap
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal
from typing import TYPE_CHECKING, Any

from rheokit.base.errors import printable

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

__all__ = ["Table", "data_frame", "drawable_formula", "number", "resolve_axes", "value_and_error"]

LONGEST_CELL = 1000
"""Characters of a cell or note that are shown; longer text from a file is cut."""


@dataclass(frozen=True, kw_only=True)
class Table:
    """Rows of text under a heading; everything that a result prints comes from one of these."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()
    right: tuple[str, ...] = ()
    """Names of the columns that are set to the right (numbers)."""

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"table {self.title!r}: a row of {len(row)} cells under {len(self.columns)} columns")

    def __str__(self) -> str:
        return self.text()

    def text(self, width: int | None = None) -> str:
        """Return the table as plain text; with a width [characters] the last column is folded to fit, never below 40."""
        cells = [tuple(printable(cell, LONGEST_CELL) for cell in row) for row in (self.columns, *self.rows)]
        widths = [max(_width(row[column]) for row in cells) for column in range(len(self.columns))]
        before = sum(widths[:-1]) + 2 * (len(widths) - 1)
        if width is not None:
            widths[-1] = min(widths[-1], max(40, width - before))
        lines = [printable(self.title)] if self.title else []
        for index, row in enumerate(cells):
            first, *more = _folded(row[-1], widths[-1])
            shown = (*row[:-1], first)
            lines.append("  ".join(self._align(column, shown[column], widths[column]) for column in range(len(row))).rstrip())
            lines += [" " * before + line for line in more]
            if index == 0:
                lines.append("  ".join("─" * width for width in widths))
        return "\n".join([*lines, *(printable(note, LONGEST_CELL) for note in self.notes)])

    def _align(self, column: int, cell: str, width: int) -> str:
        blanks = " " * (width - _width(cell))
        return blanks + cell if self.columns[column] in self.right else cell + blanks

    def _repr_html_(self) -> str:
        head = "".join(f"<th{self._side(name)}>{html.escape(printable(name))}</th>" for name in self.columns)
        body = "".join("<tr>" + "".join(self._cell(*pair) for pair in zip(self.columns, row, strict=True)) + "</tr>" for row in self.rows)
        notes = "".join(f"<p>{html.escape(printable(note, LONGEST_CELL))}</p>" for note in self.notes)
        title = f"<caption>{html.escape(printable(self.title))}</caption>" if self.title else ""
        return f"<table>{title}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>{notes}"

    def _side(self, column: str) -> str:
        return ' style="text-align:right"' if column in self.right else ' style="text-align:left"'

    def _cell(self, column: str, text: str) -> str:
        return f"<td{self._side(column)}>{html.escape(printable(text, LONGEST_CELL))}</td>"


def _width(text: str) -> int:
    """Return how many columns a text takes: a combining mark, as the dot of γ̇, takes none."""
    return sum(1 for character in text if not unicodedata.combining(character))


def _folded(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width) if _width(text) > width else [text]


def number(value: float, digits: int = 4) -> str:
    """Return a number with so many significant digits, without a computer's exponent where a person would not write one."""
    if not math.isfinite(value):
        return {math.inf: "∞", -math.inf: "−∞"}.get(value, "no number")
    if value == 0.0:
        return "0"
    power = math.floor(math.log10(abs(value)))
    if -4 <= power <= 6:
        return f"{Decimal(f'{value:.{digits - 1}e}'):f}"
    return f"{value:.{digits - 1}e}"


def value_and_error(value: float, error: float | None) -> tuple[str, str]:
    """Return value and standard error as text: the error with two significant digits, the value to the same place."""
    if error is None or not math.isfinite(error) or error <= 0.0 or not math.isfinite(value):
        return number(value), "" if error is None else number(error, 2)
    # The error is rounded first, so that 0.0996 becomes 0.10 and the value follows the new place.
    two = _TWO_DIGITS.create_decimal(repr(float(error)))
    place = two.adjusted() - 1
    written = Decimal(repr(float(value)))
    if written.adjusted() - place >= _DIGITS:  # the value itself is not held to that place
        return number(value, _DIGITS), f"{two:.1e}"
    step = Decimal(1).scaleb(place)
    # Adding nothing turns minus zero into zero.
    whole = written.quantize(step, rounding=ROUND_HALF_EVEN) + Decimal(0).scaleb(place)
    return _decimal_text(whole), _decimal_text(two.quantize(step))


_TWO_DIGITS = Context(prec=2, rounding=ROUND_HALF_EVEN)
_DIGITS = 15
"""Decimal digits that a float always holds."""


def _decimal_text(amount: Decimal) -> str:
    if not amount:
        return f"{amount:f}" if -8 <= amount.adjusted() <= 0 else "0"
    if -8 <= amount.adjusted() <= 6:
        return f"{amount:f}"
    return f"{float(amount):.{len(amount.as_tuple().digits) - 1}e}"


def data_frame(columns: Mapping[str, Sequence[object] | NDArray[Any]]) -> pd.DataFrame:
    """Return columns as a pandas DataFrame; the one place where pandas is imported."""
    import pandas as pd  # noqa: PLC0415 - heavy, and only asked for in a notebook

    return pd.DataFrame(dict(columns))


def resolve_axes(axes: Axes | None) -> Axes:
    """Return the axes given, or those of a new figure; the one place where pyplot is imported."""
    if axes is not None:
        return axes
    import matplotlib.pyplot as plt  # noqa: PLC0415 - heavy, and only asked for when drawing

    return plt.subplots(layout="constrained")[1]


def drawable_formula(latex: str) -> str:
    """Return a formula as matplotlib draws it: between dollar signs, or as it stands where that is not in its reach."""
    from matplotlib.mathtext import MathTextParser  # noqa: PLC0415 - heavy, and only asked for when drawing

    shown = f"${latex}$"
    try:
        MathTextParser("path").parse(shown)
    except ValueError:
        return latex.replace("$", r"\$")
    return shown
