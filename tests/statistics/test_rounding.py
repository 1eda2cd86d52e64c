"""Rounding half to even, on decimals."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rheokit.statistics.rounding import round_to_digits, round_to_place, written_place

TENTH = Decimal("0.1")


# Exact: each is halfway between two tenths, and the even one is meant (ASTM E29). Python's `round` of the floats gives 2.2 2.4 2.5 0.1
# 0.2 0.3, since a float that is written 2.45 lies above and one written 0.15 below it.
@pytest.mark.parametrize(
    ("value", "rounded"), [(2.25, "2.2"), (2.35, "2.4"), (2.45, "2.4"), (0.15, "0.2"), (0.25, "0.2"), (0.35, "0.4"), (-2.45, "-2.4")]
)
def test_a_half_goes_to_the_even_digit_as_it_is_written(value, rounded):
    assert str(round_to_place(value, TENTH)) == rounded


def test_what_conversions_leave_behind_does_not_decide():
    for value in (2.45 * 1000.0 / 1000.0, 0.1 * 24.5, 2.4500000000000006):
        assert str(round_to_place(value, TENTH)) == "2.4"
    assert str(round_to_place(2.450001, TENTH)) == "2.5"


def test_places_above_one_and_zero():
    assert str(round_to_place(1250.0, Decimal("1E+2"))) == "1.2E+3"
    assert str(round_to_place(-0.04, TENTH)) == "0.0"
    assert round_to_place(1e300, TENTH) == Decimal("1e300")


@pytest.mark.parametrize(("value", "digits", "rounded"), [(0.012345, 3, "0.0123"), (2.45, 2, "2.4"), (9.96, 2, "10"), (0.0, 2, "0")])
def test_significant_digits(value, digits, rounded):
    assert round_to_digits(value, digits) == Decimal(rounded)


@pytest.mark.parametrize(("text", "place"), [("3.4", "0.1"), ("3.40", "0.01"), ("120", "1"), ("1.2e3", "100")])
def test_the_place_is_that_of_the_last_digit_written(text, place):
    assert written_place(Decimal(text)) == Decimal(place)


@given(value=st.floats(-1e6, 1e6), more=st.floats(0.0, 10.0))
def test_rounding_keeps_the_order_and_moves_by_half_a_place_at_most(value, more):
    rounded = round_to_place(value, TENTH)
    assert rounded <= round_to_place(value + more, TENTH)
    assert abs(rounded - Decimal(repr(value))) <= Decimal("0.05") + Decimal("1e-8")  # the 15 digits held of a number below 1e6


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_no_number_is_not_rounded(value):
    with pytest.raises(ValueError, match="no number to round"):
        round_to_place(value, TENTH)
    with pytest.raises(ValueError, match="no number to round"):
        round_to_digits(value, 3)


def test_no_digits_are_refused():
    with pytest.raises(ValueError, match="at least one significant digit"):
        round_to_digits(1.0, 0)
