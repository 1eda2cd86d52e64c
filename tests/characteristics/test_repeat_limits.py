"""Repeat loads against the usual limits, until the laboratory knows its own repeatability."""

import pytest

from rheokit.base.estimate import Condition, Estimate
from rheokit.characteristics import CHARACTERISTICS, Measured, combine_measured
from rheokit.characteristics.repeat_limits import REPEAT_LIMITS
from rheokit.statistics.precision import StatedUncertainty


def loads(*values, name="viscosity_at_rate", rate=100.0, error=0.001):
    conditions = {"shear_rate": Condition(value=rate, unit="1/s")}
    known = {"standard_error": error, "degrees_of_freedom": 20.0, "components": {"fit": error}}
    return tuple(
        Measured(
            run=f"load{place}.csv",
            load=place,
            estimate=Estimate(name=name, value=value, unit="1", method="read", conditions=conditions, **known),
        )
        for place, value in enumerate(values, 1)
    )


def apart(measured, repeatability=None):
    return [finding for finding in combine_measured(measured, repeatability).findings if finding.check == "repeat_loads"]


# ASTM D4287 (high-shear viscosity): a pair whose results differ by 7 % or more of their mean is measured again (from the scope and
# precision statement, at second hand). Exact: 96.5 and 103.5 are 7 % apart.
@pytest.mark.parametrize(("pair", "again"), [((96.6, 103.4), False), ((96.5, 103.5), True), ((96.0, 104.0), True)])
def test_the_seven_percent_rule(pair, again):
    assert bool(apart(loads(*pair))) == again


def test_the_reason_names_rule_and_remedy():
    (found,) = apart(loads(3.6, 4.0))
    assert found.severity == "caution"
    assert str(found).startswith("the loads lie 10.5 % of their mean apart; from 7 % repeats are measured again (ASTM D4287")
    assert "state the repeatability" in str(found)


@pytest.mark.parametrize(
    ("name", "rate", "inside", "outside"),
    [
        ("viscosity_at_rate", 1.0, 0.095, 0.105),
        ("stress_at_rate", 100.0, 0.065, 0.075),
        ("yield_stress", 1.0, 0.095, 0.105),
        ("dynamic_yield_stress", 1.0, 0.095, 0.105),
        ("static_yield_stress_peak", 1.0, 0.195, 0.205),
        ("static_yield_stress_ramp", 1.0, 0.195, 0.205),
        ("loop_area", 1.0, 0.195, 0.205),
    ],
)
def test_every_characteristic_has_its_own(name, rate, inside, outside):
    # Two loads about 1: the range over the mean is their difference.
    assert not apart(loads(1.0 - inside / 2, 1.0 + inside / 2, name=name, rate=rate))
    assert apart(loads(1.0 - outside / 2, 1.0 + outside / 2, name=name, rate=rate))


def test_a_recovery_is_held_against_points():
    assert not apart(loads(0.50, 0.57, name="recovery_at_time"))
    assert apart(loads(0.50, 0.59, name="recovery_at_time"))


def test_a_repeatability_that_is_stated_rules_alone():
    assert not apart(loads(3.6, 4.0), StatedUncertainty(relative=0.05))
    assert not apart(loads(0.4, 0.9, name="shear_thinning_index"))  # no usual limit is known


def test_only_characteristics_are_listed():
    assert REPEAT_LIMITS.keys() <= CHARACTERISTICS.keys()
