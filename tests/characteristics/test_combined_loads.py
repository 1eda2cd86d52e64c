"""The mean of some loads with its budget: parts by construction."""

import math

import pytest

from rheokit.base.estimate import Condition, Estimate
from rheokit.characteristics import ESTIMATED, Measured, combine_measured
from rheokit.statistics.precision import StatedUncertainty


def load(number, value, error=0.001, part="fit", **conditions):
    known = {"standard_error": error, "degrees_of_freedom": 40.0, "components": {part: error}}
    held = {name: Condition(value=text) for name, text in conditions.items()}
    estimate = Estimate(name="viscosity_at_rate", value=value, unit="Pa·s", method="read", conditions=held, **known)
    return Measured(run=f"loop_load{number}.csv", load=number, estimate=estimate)


LOADS = (load(1, 3.79), load(2, 3.81))
REPEATABILITY = StatedUncertainty(relative=0.02, degrees_of_freedom=24)
DAY = StatedUncertainty(relative=0.01, degrees_of_freedom=12)
CALIBRATION = StatedUncertainty(absolute=0.03)


def test_more_loads_make_the_first_part_smaller_and_no_other():
    # Exact: u² = s²/n + u_day² + u_cal².
    for count in (1, 2, 4):
        loads = tuple(load(number, 3.8 + 0.001 * (-1) ** number if count > 1 else 3.8) for number in range(1, count + 1))
        found = combine_measured(loads, REPEATABILITY, {"day": DAY, "calibration": CALIBRATION})
        assert dict(found.components) == pytest.approx({"load": 0.076 / math.sqrt(count), "day": 0.038, "calibration": 0.03}, rel=1e-12)
        assert found.standard_error == pytest.approx(math.sqrt(0.076**2 / count + 0.038**2 + 0.03**2), rel=1e-12)


def test_the_degrees_of_freedom_are_those_of_the_sum():
    found = combine_measured(LOADS, REPEATABILITY, {"day": DAY, "calibration": CALIBRATION})
    load_size, day = 0.076 / math.sqrt(2.0), 0.038
    # Welch-Satterthwaite written out; a calibration that is known spends nothing.
    exact = (load_size**2 + day**2 + 0.03**2) ** 2 / (load_size**4 / 24 + day**4 / 12)
    assert found.degrees_of_freedom == pytest.approx(exact, rel=1e-12)
    assert found.method == "mean of 2 loads; read; standard error from the stated repeatability; with day, calibration added"


def test_without_other_parts_the_repeatability_keeps_its_own_freedom():
    found = combine_measured(LOADS, REPEATABILITY)
    assert found.degrees_of_freedom == pytest.approx(24.0, rel=1e-12)
    assert list(found.components) == ["load"]


def test_without_a_repeatability_one_load_has_the_scatter_of_its_points():
    found = combine_measured(LOADS[:1], None, {"day": DAY})
    assert dict(found.components) == {"fit": 0.001, "day": pytest.approx(0.0379)}
    assert "no repeatability is known" in found.method


def test_without_a_repeatability_the_scatter_between_the_loads_counts_with_its_few_degrees_of_freedom():
    found = combine_measured((load(1, 3.7, 0.03), load(2, 3.9, 0.03)), None)
    # Exact: 0.2²/2 = 0.02 between and inside one load, 0.0009 of it inside; half of each for the mean of two.
    assert dict(found.components) == pytest.approx({"load": math.sqrt(0.0191 / 2.0), "fit": math.sqrt(0.0009 / 2.0)}, rel=1e-9)
    assert found.standard_error == pytest.approx(0.1, rel=1e-9)
    assert found.degrees_of_freedom == pytest.approx(1.0, rel=1e-12)  # not two parts of one degree each
    assert [finding.check for finding in found.findings] == [ESTIMATED]
    assert str(found.findings[0]).endswith("has 1 degree of freedom: nothing passes or fails by it")


def test_loads_without_an_error_of_their_own_still_scatter():
    def bare(number, value):
        estimate = Estimate(name="loop_area", value=value, unit="Pa/s", standard_error=None, reason="none is known", method="read")
        return Measured(run=f"loop_load{number}.csv", load=number, estimate=estimate)

    found = combine_measured((bare(1, 10.0), bare(2, 11.0)), None)
    assert dict(found.components) == {"load": pytest.approx(0.5)}
    assert [finding.check for finding in found.findings] == [ESTIMATED]
    same = combine_measured((bare(1, 10.0), bare(2, 10.0)), None)
    assert same.standard_error is None
    assert "give the same number" in same.reason


def test_a_load_that_lies_apart_is_flagged_by_name_and_kept():
    loads = tuple(load(number, value) for number, value in enumerate((3.80, 3.81, 3.79, 3.80, 4.60), 1))
    found = combine_measured(loads, None)
    assert found.value > 3.9
    assert [finding.check for finding in found.findings] == [ESTIMATED, "repeat_loads", "outlying_value"]
    assert str(found.findings[2]).startswith("loop_load5.csv: its value is an outlier")


def test_the_load_farthest_from_the_others_is_named_where_the_range_is_too_wide():
    found = combine_measured((load(1, 3.8), load(2, 3.81), load(3, 4.6)), REPEATABILITY)
    assert found.findings[0].check == "critical_range"
    assert "loop_load3.csv lying farthest from the others: their range exceeds" in str(found.findings[0])


def test_a_scatter_beyond_the_repeatability_counts():
    loads = (load(1, 3.79, 0.3), load(2, 3.81, 0.3))
    found = combine_measured(loads, REPEATABILITY, {"day": DAY})
    assert found.components["load"] == pytest.approx(0.3 / math.sqrt(2.0), rel=1e-12)
    assert [finding.check for finding in found.findings] == ["repeatability_exceeded"]


def test_what_was_entered_keeps_its_uncertainty_and_gains_the_stated_parts():
    found = combine_measured((load(1, 3.8, 0.04, "entered", time="2026-09-15T08:00:00Z"),), REPEATABILITY, {"calibration": CALIBRATION})
    assert dict(found.components) == pytest.approx({"entered": 0.04, "calibration": 0.03})
    assert found.standard_error == pytest.approx(0.05, rel=1e-12)  # 3, 4, 5


def test_a_part_relative_to_a_mean_of_zero_is_nothing():
    found = combine_measured((load(1, 0.0),), StatedUncertainty(absolute=0.1), {"day": DAY})
    assert list(found.components) == ["load"]


def test_a_time_at_which_something_is_measured_does_not_make_it_a_result_typed_in():
    def recovered(number, value):
        known = {"standard_error": 0.01, "degrees_of_freedom": 40.0, "components": {"fit": 0.01}}
        conditions = {"time": Condition(value=60.0, unit="s")}
        estimate = Estimate(name="recovery_at_time", value=value, unit="1", method="read", conditions=conditions, **known)
        return Measured(run=f"loop_load{number}.csv", load=number, estimate=estimate)

    found = combine_measured((recovered(1, 0.80), recovered(2, 0.80)), REPEATABILITY)
    # Two loads that give the same number are not one result written twice.
    assert [finding for finding in found.findings if finding.severity == "invalid"] == []
    apart = combine_measured((recovered(1, 0.80), recovered(2, 0.95)), REPEATABILITY)
    assert [finding.check for finding in apart.findings] == ["critical_range"]
