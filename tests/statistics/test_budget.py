"""Uncertainty budgets against the guide's end-gauge example, and by construction."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rheokit.statistics.budget import Budget, Part

# JCGM 100:2008, H.1 (calibration of an end gauge), from memory: size [nm] and degrees of freedom of the parts as printed; printed
# answers: standard uncertainty 32 nm, effective degrees of freedom truncated to 16, t(0.99; 16) = 2.92, expanded uncertainty 93 nm.
END_GAUGE = {"standard": (25.0, 18.0), "difference": (9.7, 25.6), "expansion": (2.9, 50.0), "temperature": (16.6, 2.0)}


def budget(**parts):
    return Budget(parts={name: Part(size=size, degrees_of_freedom=freedom) for name, (size, freedom) in parts.items()})


def test_the_guides_end_gauge():
    held = budget(**END_GAUGE)
    assert round(held.standard_uncertainty) == 32
    assert math.floor(held.degrees_of_freedom) == 16


def test_two_equal_parts():
    # Exact: u1 = u2, so (2 u²)² / (u⁴/6 + u⁴/3) = 4 / (1/2) = 8.
    assert budget(load=(0.3, 6.0), day=(0.3, 3.0)).degrees_of_freedom == pytest.approx(8.0, rel=1e-14)


def test_what_is_known_spends_no_freedom():
    # Exact: only the load counts, u² = 2 s², so its freedom grows fourfold.
    held = budget(load=(1e-90, 24.0), calibration=(1e-90, math.inf))
    assert held.degrees_of_freedom == pytest.approx(96.0, rel=1e-14)
    assert held.standard_uncertainty == pytest.approx(math.sqrt(2.0) * 1e-90, rel=1e-14)
    assert budget(calibration=(1.0, math.inf)).degrees_of_freedom == math.inf


def test_a_part_of_zero_is_not_shown():
    assert budget(load=(1.0, 5.0), day=(0.0, 5.0)).sizes == {"load": 1.0}
    assert budget(day=(0.0, 5.0)).degrees_of_freedom == math.inf


@given(st.lists(st.tuples(st.floats(1e-6, 1e6), st.floats(1.0, 200.0)), min_size=1, max_size=6))
def test_the_freedom_lies_between_the_least_part_and_all_of_them(parts):
    # JCGM 100:2008, G.4.1: the effective degrees of freedom never exceed the sum of those of the parts.
    held = budget(**{f"part {index}": part for index, part in enumerate(parts)})
    freedoms = [freedom for _, freedom in parts]
    assert min(freedoms) * (1 - 1e-9) <= held.degrees_of_freedom <= sum(freedoms) * (1 + 1e-9)


@pytest.mark.parametrize(
    ("size", "freedom", "words"), [(-1.0, 5.0, "from zero up"), (math.nan, 5.0, "from zero up"), (1.0, 0.0, "positive")]
)
def test_what_makes_no_sense_is_refused(size, freedom, words):
    with pytest.raises(ValueError, match=words):
        Part(size=size, degrees_of_freedom=freedom)
