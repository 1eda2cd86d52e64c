"""Yield values as characteristics of a batch."""

from dataclasses import replace

import numpy as np
import pytest
from yielding.made import bent, noise, overshoot, run, softened, step

from rheokit.base.errors import FitError, RangeError
from rheokit.base.run import Batch
from rheokit.characteristics import CHARACTERISTICS, combine_measured, measure

RATES = np.geomspace(0.1, 100.0, 19)


def steady(seed=0):
    return step("steady", "rate", time=np.arange(19.0), shear_rate=RATES, shear_stress=(100.0 + 12.0 * RATES**0.6) * noise(19, 0.005, seed))


@pytest.mark.parametrize(
    ("name", "made", "at", "value", "within"),
    [
        ("dynamic_yield_stress", steady(), {"law": "herschel_bulkley"}, 100.0, 0.03),
        ("stress_at_low_rate", steady(), {"shear_rate": 0.1}, 103.0, 0.03),
        ("static_yield_stress_peak", overshoot(), {}, 120.0, 1e-6),
        ("static_yield_stress_ramp", bent(), {"method": "tangents"}, 50.0, 1e-6),
        ("flow_point_stress", softened(), {}, 56.57, 0.01),
        ("linear_limit_stress", softened(), {"tolerance": 0.05}, 22.3, 0.05),
    ],
)
def test_each_is_measured_on_every_load_and_names_its_method(name, made, at, value, within):
    batch = Batch(name="B", runs={"test": (run(made, name="one.csv"), run(made, name="two.csv"))}, metadata={})
    loads = measure(batch, CHARACTERISTICS[name], test="test", step=made.kind, at=at)
    assert [load.reason for load in loads] == ["", ""]
    mean = combine_measured(loads, None)
    assert mean.value == pytest.approx(value, rel=within)
    assert (mean.name, mean.unit) == (name, "Pa")
    assert str(mean.conditions["method"])


@pytest.mark.parametrize(
    ("name", "made", "at"),
    [
        ("static_yield_stress_peak", overshoot(), {}),
        ("static_yield_stress_ramp", bent(), {"method": "tangents"}),
        ("flow_point_stress", softened(), {}),
        ("linear_limit_stress", softened(), {"tolerance": 0.05}),
    ],
)
def test_the_rest_before_is_one_of_its_conditions(name, made, at):
    before = (step("shear", "rate", 1, time=np.linspace(1.0, 60.0, 5)), step("rest", "rate", 2, time=np.linspace(100.0, 360.0, 5)))
    after = replace(made, number=3)
    found = CHARACTERISTICS[name].measure(run(*before, after), after, at)
    assert (found.conditions["rest"].value, found.conditions["rest"].unit) == (300.0, "s")


def test_a_viscosity_maximum_is_measured_too():
    stress = np.linspace(2.0, 200.0, 150)
    viscosity = 1e4 * np.exp(-2.0 * np.log(stress / 60.0) ** 2)
    ramp = step("stress_ramp", "stress", shear_stress=stress, shear_rate=stress / viscosity)
    entry = CHARACTERISTICS["static_yield_stress_ramp"]
    assert entry.measure(run(ramp), ramp, {"method": "viscosity_maximum"}).value == pytest.approx(60.0, rel=1e-6)
    with pytest.raises(RangeError, match="is read by one of tangents, viscosity_maximum, not 'by eye'"):
        entry.measure(run(ramp), ramp, {"method": "by eye"})


def test_what_makes_no_sense_is_refused():
    one = steady()
    with pytest.raises(FitError, match="not 'cross'"):
        CHARACTERISTICS["dynamic_yield_stress"].measure(run(one), one, {"law": "cross"})
    with pytest.raises(RangeError, match=r"a shear rate is one positive number, not -1\.0"):
        CHARACTERISTICS["stress_at_low_rate"].measure(run(one), one, {"shear_rate": -1.0})
    with pytest.raises(RangeError, match="a tolerance is one number, not '5'"):
        CHARACTERISTICS["linear_limit_stress"].measure(run(softened()), softened(), {"tolerance": "5"})


def test_the_yield_stress_of_a_specification_says_its_law():
    one = steady()
    found = CHARACTERISTICS["yield_stress"].measure(run(one, name="steady_load1.csv"), one, {"method": "herschel_bulkley"})
    assert found.method.startswith("Herschel-Bulkley law on the steady step of steady_load1.csv; ")
    assert str(found.conditions["method"]) == "herschel_bulkley"
    same = CHARACTERISTICS["dynamic_yield_stress"].measure(run(one), one, {"law": "herschel_bulkley"})
    assert found.value == same.value
