"""Characteristics of a hold: the numbers of the analysis, on every load."""

from dataclasses import replace

import numpy as np
import pytest

from rheokit.base.estimate import Source
from rheokit.base.run import Batch, Run, Step
from rheokit.characteristics import CHARACTERISTICS, measure

TIMES = np.arange(1, 61) * 5.0


def load(name, stress):
    columns = {"time": 480.0 + TIMES, "step_time": TIMES, "shear_rate": np.full(60, 100.0), "shear_stress": stress}
    held = Step(number=1, kind="hold", controlled="rate", columns=columns)
    return Run(name=name, steps=(held,), metadata={}, findings=(), source=Source(sha256="0" * 64, run=name))


def measured(name, *runs, step="hold"):
    batch = Batch(name="B26-000", runs={"hold": runs}, metadata={})
    return measure(batch, CHARACTERISTICS[name], test="hold", step=step, at={})


def test_each_load_has_its_number_and_its_source():
    stress = 380.0 - 20.0 * np.log(TIMES)
    runs = load("one.csv", stress), load("two.csv", 1.1 * stress)
    first, second = measured("weltmann_coefficient", *runs)
    assert (first.estimate.value, second.estimate.value) == pytest.approx((20.0, 22.0), rel=1e-9)
    assert (first.estimate.name, first.estimate.unit) == ("weltmann_coefficient", "Pa")
    assert first.estimate.sources[0].step == "1 hold"
    drops = measured("hold_relative_drop", *runs)
    assert [one.estimate.value for one in drops] == pytest.approx([1.0 - stress[-1] / stress[0]] * 2, rel=1e-12)
    assert drops[0].estimate.conditions["step"].value == "hold"
    drops[0].estimate.require_comparable(drops[1].estimate)


def test_what_is_not_determined_stays_so():
    (found,) = measured("weltmann_coefficient", load("one.csv", 300.0 + 80.0 * np.exp(-TIMES / 40.0)))
    assert not found.estimate.determined
    assert "the exponential breakdown law describes the hold better" in found.estimate.reason


def test_a_load_without_a_hold_says_why():
    run = load("one.csv", np.full(60, 300.0))
    (found,) = measured("hold_relative_drop", replace(run, steps=()))
    assert found.estimate is None
    assert "has no step 'hold'" in found.reason
