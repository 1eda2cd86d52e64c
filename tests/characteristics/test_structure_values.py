"""Rates of breaking and rebuilding from a loop test: the truth of the virtual ink, and what a short loop cannot say."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import rheokit as rk
from rheokit.base.run import Batch
from rheokit.characteristics import CHARACTERISTICS, combine_measured, measure
from rheokit.virtual import slate_grey_ink

SAMPLES = Path(__file__).resolve().parents[2] / "sample_rheometer_runs"
LOADS = tuple(rk.read_run(SAMPLES / "B26-041" / f"loop_load{load}.csv") for load in (1, 2))


def measured(name, *runs, at):
    return measure(Batch(name="B", runs={"loop": runs}, metadata={}), CHARACTERISTICS[name], test="loop", step=None, at=at)


@pytest.mark.parametrize(
    ("name", "at", "truth"),
    [
        ("build_up_rate", {}, slate_grey_ink().build_up_rate),
        # b rate^m by hand: 0.005 · 100^0.5 = 0.05 1/s.
        ("breakdown_rate", {"shear_rate": 100.0}, 0.05),
    ],
)
def test_two_loads_hold_the_truth_of_the_virtual_ink(name, at, truth):
    loads = measured(name, *LOADS, at=at)
    assert all(load.estimate.determined for load in loads)
    combined = combine_measured(loads, None)
    # A batch of the scenario differs from the demo ink by a few per cent at most; four standard errors of two loops.
    assert combined.value == pytest.approx(truth, abs=4.0 * combined.standard_error)
    assert combined.unit == "1/s"


def test_a_loop_without_its_rest_and_hold_says_little_and_the_error_shows_it():
    (whole,) = measured("build_up_rate", LOADS[0], at={})
    (bare,) = measured("build_up_rate", replace(LOADS[0], steps=LOADS[0].steps[2:3] + LOADS[0].steps[4:5]), at={})
    assert not bare.estimate.determined or bare.estimate.standard_error > whole.estimate.standard_error
