"""Tables escape what files say; digits follow the error (JCGM 100:2008, 7.2.6)."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rheokit.base.show import Table, data_frame, number, resolve_axes, value_and_error

HOSTILE = '<script>alert(1)</script>\x1b[2J\u202egnp.exe\n& "quoted"'


def _table(**changes: object) -> Table:
    return Table(
        **({"title": "runs", "columns": ("name", "points"), "rows": (("a", "5"), ("bcd", "1234")), "right": ("points",)} | changes)
    )


def test_a_table_as_text_is_aligned():
    assert str(_table(notes=("a note",))).splitlines() == [
        "runs",
        "name  points",
        "────  ──────",
        "a          5",
        "bcd     1234",
        "a note",
    ]


def test_a_table_as_html_has_a_caption_a_head_and_cells():
    shown = _table(notes=("a < b",))._repr_html_()
    head = '<th style="text-align:left">name</th><th style="text-align:right">points</th>'  # each over its cells
    assert shown.startswith(f"<table><caption>runs</caption><thead><tr>{head}</tr></thead><tbody>")
    assert '<td style="text-align:right">1234</td>' in shown
    assert shown.endswith("</tbody></table><p>a &lt; b</p>")


@pytest.mark.parametrize("where", ["title", "columns", "rows", "notes"])
def test_hostile_text_does_nothing_wherever_it_stands(where):
    placed = {"title": HOSTILE, "columns": (HOSTILE, "points"), "rows": ((HOSTILE, "1"),), "notes": (HOSTILE,)}[where]
    table = _table(**{where: placed})
    shown, markup = str(table), table._repr_html_()
    assert r"\x1b[2J\u202egnp.exe\n" in shown
    assert "\\x1b[2J\\u202egnp.exe\\n" in markup
    for text in (shown, markup):
        assert "\x1b" not in text
        assert "\u202e" not in text
    assert len(shown.splitlines()) == len(str(_table(**{where: placed if where == "columns" else _plain(placed)})).splitlines())
    assert "<script" not in markup
    assert "&lt;script&gt;" in markup
    assert "&quot;quoted&quot;" in markup


def _plain(placed):
    return "x" if isinstance(placed, str) else tuple(("x", "1") if isinstance(cell, tuple) else "x" for cell in placed)


def test_a_row_of_the_wrong_length_is_refused():
    with pytest.raises(ValueError, match="table 'runs': a row of 1 cells under 2 columns"):
        _table(rows=(("a",),))


def test_an_empty_table_shows_its_head():
    assert str(Table(title="", columns=("a", "b"), rows=())) == "a  b\n─  ─"


@pytest.mark.parametrize(
    ("value", "digits", "shown"),
    [
        (0.0, 4, "0"),
        (-0.0, 4, "0"),
        (math.inf, 4, "∞"),
        (-math.inf, 4, "−∞"),
        (math.nan, 4, "no number"),
        (3.14159, 4, "3.142"),
        (-3.14159, 3, "-3.14"),
        (0.5, 2, "0.50"),
        (999.96, 4, "1000"),
        (123_456.0, 4, "123500"),
        (9_999_999.0, 4, "10000000"),
        (12_345_678.0, 4, "1.235e+07"),
        (1e-4, 4, "0.0001000"),
        (9.99e-5, 3, "9.99e-05"),
        (5e-324, 2, "4.9e-324"),
        (np.float64(2.5), 2, "2.5"),
    ],
)
def test_a_number_has_so_many_significant_digits(value, digits, shown):
    assert number(value, digits) == shown


@given(st.floats(min_value=-1e300, max_value=1e300), st.integers(min_value=2, max_value=8))
def test_a_number_shown_is_within_half_a_last_digit(value, digits):
    # Half a unit in the last of so many significant digits is at most half of 10^(1 - digits) of the value.
    assert abs(float(number(value, digits)) - value) <= abs(value) * 0.5 * 10.0 ** (1 - digits) * (1 + 1e-9) + 5e-324


@pytest.mark.parametrize(
    ("value", "error", "shown"),
    [
        # JCGM 100:2008, 7.2.6: two significant digits of the uncertainty at most, the estimate to the same place.
        (10.057_62, 0.027, ("10.058", "0.027")),
        (1.234, 0.0996, ("1.23", "0.10")),
        (1.234, 0.0994, ("1.234", "0.099")),
        (100.0, 9.96, ("100", "10")),
        (100.0, 99.6, ("100", "100")),
        (1_234_567.0, 12_345.0, ("1235000", "12000")),
        (99_996_000.0, 1_200_000.0, ("1.000e+08", "1200000")),
        (3.0, 1.2e6, ("0", "1200000")),
        (1.5e9, 1.2e7, ("1.500e+09", "1.2e+07")),
        (5.0, 1e-9, ("5.0000000000", "1.0e-09")),
        (1.25e-12, 1e-13, ("1.25e-12", "1.0e-13")),
        (0.0, 0.5, ("0.00", "0.50")),
        (-0.001, 0.5, ("0.00", "0.50")),
        (-2.345, 0.01, ("-2.345", "0.010")),
        # Half to even, by the decimal digits and not by the float beneath them: 2.345 is a little above in binary, 1.005 below.
        (2.345, 0.1, ("2.34", "0.10")),
        (2.355, 0.1, ("2.36", "0.10")),
        (1.005, 0.1, ("1.00", "0.10")),
        (1.0, 0.0145, ("1.000", "0.014")),
        (1.0, 0.0155, ("1.000", "0.016")),
        # A float holds fifteen digits; more are not made up.
        (1.0, 1e-20, ("1.00000000000000", "1.0e-20")),
    ],
)
def test_the_error_has_two_digits_and_the_value_follows(value, error, shown):
    assert value_and_error(value, error) == shown


@pytest.mark.parametrize(
    ("value", "error", "shown"),
    [
        (1.0, None, ("1.000", "")),
        (1.0, 0.0, ("1.000", "0")),
        (1.0, math.inf, ("1.000", "∞")),
        (1.0, math.nan, ("1.000", "no number")),
        (math.nan, 0.1, ("no number", "0.10")),
        (math.inf, 0.1, ("∞", "0.10")),
    ],
)
def test_what_is_no_number_is_said(value, error, shown):
    assert value_and_error(value, error) == shown


@given(
    st.floats(min_value=-1e9, max_value=1e9),
    st.floats(min_value=1e-7, max_value=1e9),
)
def test_value_and_error_are_rounded_by_no_more_than_half_a_place(value, error):
    shown_value, shown_error = (Decimal(text) for text in value_and_error(value, error))
    place = Decimal(1).scaleb(shown_error.adjusted() - 1)
    if Decimal(repr(value)).adjusted() - place.adjusted() >= 15:
        return  # held to fifteen digits instead
    assert abs(shown_value - Decimal(repr(value))) <= place / 2
    assert abs(shown_error - Decimal(repr(error))) <= place / 2
    assert shown_value % place == 0


def test_columns_become_a_data_frame():
    frame = data_frame({"step": [1, 1], "shear_rate": np.array([0.5, 2.0])})
    assert list(frame.columns) == ["step", "shear_rate"]
    assert frame["shear_rate"].tolist() == [0.5, 2.0]


def test_axes_given_are_used_and_else_new_ones_made():
    import matplotlib as mpl  # noqa: PLC0415 - only here, and slow

    mpl.use("Agg")
    import matplotlib.pyplot as plt  # noqa: PLC0415

    first, second = resolve_axes(None), resolve_axes(None)
    assert first.figure is not second.figure
    assert resolve_axes(first) is first
    plt.close("all")
