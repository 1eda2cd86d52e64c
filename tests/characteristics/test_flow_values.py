"""Values read at stated rates, and the shear-thinning index."""

import math

import numpy as np
import pytest

from rheokit.base.errors import RangeError, StepError
from rheokit.base.estimate import Source
from rheokit.base.run import Batch, Run, Step
from rheokit.characteristics import CHARACTERISTICS, combine_measured, measure
from rheokit.statistics.precision import StatedUncertainty


def run_of(rates, stresses, kind="down", name="loop_load1.csv"):
    step = Step(
        number=1,
        kind=kind,
        controlled="rate",
        columns={"time": np.arange(len(rates), dtype=float), "shear_rate": np.asarray(rates), "shear_stress": np.asarray(stresses)},
    )
    return Run(name=name, steps=(step,), metadata={}, findings=(), source=Source(sha256="0" * 64, run=name))


def measured(name, run, at, step="down"):
    entry = CHARACTERISTICS[name]
    return entry.measure(run, run.step(step), at)


RATES = np.geomspace(1.0, 100.0, 21)[::-1]
POWER_LAW = 38.0 * RATES**0.5  # K 38, n 0.5: exact by construction


@pytest.mark.parametrize("rate", [1.0, 2.3456, 10.0, 99.0, 100.0])
def test_a_power_law_is_read_exactly_anywhere(rate):
    run = run_of(RATES, POWER_LAW)
    assert measured("stress_at_rate", run, {"shear_rate": rate}).value == pytest.approx(38.0 * rate**0.5, rel=1e-13)
    assert measured("viscosity_at_rate", run, {"shear_rate": rate}).value == pytest.approx(38.0 * rate**-0.5, rel=1e-13)


def test_the_index_of_a_power_law_over_a_decade():
    # ASTM D2196 / E3070 ratio of viscosities at a 10:1 speed ratio: 10^(1-n), exact mathematics.
    found = measured("shear_thinning_index", run_of(RATES, POWER_LAW), {"shear_rates": (10.0, 100.0)})
    assert found.value == pytest.approx(10**0.5, rel=1e-13)


def test_only_the_two_neighbours_count():
    rates, stresses = np.array([1.0, 2.0, 4.0, 8.0, 16.0]), np.array([7.0, 2.0, 8.0, 1.0, 5.0])
    # Halfway between 2 and 4 on a logarithmic axis the value is the geometric mean of 2 and 8.
    assert measured("stress_at_rate", run_of(rates, stresses), {"shear_rate": 8**0.5}).value == pytest.approx(4.0, rel=1e-13)


def test_a_gap_in_the_points_is_not_bridged():
    rates = np.array([1.0, 2.0, 4.0, 11.0, 20.0, 40.0])
    with pytest.raises(RangeError, match=r"the points nearest to 6\.000 1/s are 4\.00 and 11\.0 1/s, too far apart"):
        measured("stress_at_rate", run_of(rates, rates), {"shear_rate": 6.0})


def test_of_a_stair_the_last_row_at_each_rate_counts():
    rates = np.repeat([1.0, 2.0, 4.0, 8.0, 16.0], 3) * np.tile([1.001, 0.999, 1.0], 5)
    settled = 10.0 * np.repeat([1.0, 2.0, 4.0, 8.0, 16.0], 3) ** 0.5
    transient = settled * np.tile([1.25, 1.1, 1.0], 5)
    assert measured("stress_at_rate", run_of(rates, transient, kind="steady"), {"shear_rate": 4.0}, "steady").value == pytest.approx(20.0)


def test_the_order_of_the_points_does_not_matter():
    shuffled = np.random.default_rng(1).permutation(RATES.size)
    one = measured("viscosity_at_rate", run_of(RATES, POWER_LAW), {"shear_rate": 33.0})
    other = measured("viscosity_at_rate", run_of(RATES[shuffled], POWER_LAW[shuffled]), {"shear_rate": 33.0})
    assert one.value == other.value


def test_equal_rates_are_averaged_and_bad_rows_left_out():
    rates = np.array([5.0, 10.0, 10.0, 20.0, 50.0, 15.0])
    stresses = np.array([1.0, 9.0, 11.0, 100.0, np.nan, -3.0])
    assert measured("stress_at_rate", run_of(rates, stresses), {"shear_rate": 10.0}).value == pytest.approx(10.0, rel=1e-13)


@pytest.mark.parametrize("rate", [0.98, 102.0])
def test_beyond_the_measured_rates_nothing_is_invented(rate):
    with pytest.raises(RangeError, match=r"lies outside the measured 1\.00 to 100 1/s"):
        measured("viscosity_at_rate", run_of(RATES, POWER_LAW), {"shear_rate": rate})


def test_a_set_rate_met_to_half_a_per_cent_counts_as_measured():
    assert measured("stress_at_rate", run_of(RATES * 0.995, POWER_LAW * 0.995**0.5), {"shear_rate": 100.0}).value == pytest.approx(
        380.0, rel=1e-12
    )


def test_its_error_is_that_of_the_readings_scatter():
    # 3000 readings at a point of a noisy curve: their spread is what the error claims, to 10 % (it has 30 degrees of freedom itself).
    generator = np.random.default_rng(3)
    rates = np.geomspace(1, 100, 61)
    found = [
        measured("stress_at_rate", run_of(rates, 38 * rates**0.5 * np.exp(0.01 * generator.standard_normal(61))), {"shear_rate": 10.2})
        for _ in range(3000)
    ]
    spread = np.std([estimate.value for estimate in found])
    claimed = math.sqrt(np.mean([estimate.standard_error**2 for estimate in found]))
    assert claimed == pytest.approx(spread, rel=0.1)


def test_an_index_error_knows_that_a_shared_point_cancels():
    generator = np.random.default_rng(4)
    rates = np.geomspace(1, 100, 61)
    at = {"shear_rates": (10.0, 10.3)}  # between the same two points
    found = [
        measured("shear_thinning_index", run_of(rates, 38 * rates**0.5 * np.exp(0.01 * generator.standard_normal(61))), at)
        for _ in range(2000)
    ]
    spread = np.std([estimate.value for estimate in found])
    assert math.sqrt(np.mean([estimate.standard_error**2 for estimate in found])) == pytest.approx(spread, rel=0.1)


def test_too_few_points_say_so():
    estimate = measured("stress_at_rate", run_of([1.0, 2.0, 4.0], [1.0, 5.0, 10.0]), {"shear_rate": 1.5})
    assert (estimate.standard_error, estimate.reason) == (None, "too few points to see their scatter")
    with pytest.raises(RangeError, match="fewer than two points"):
        measured("stress_at_rate", run_of([1.0, 10.0], [1.0, -5.0]), {"shear_rate": 5.0})


def test_a_batch_without_places_numbers_its_loads():
    runs = tuple(run_of(RATES, POWER_LAW * factor, name=f"loop_load{index}.csv") for index, factor in enumerate((0.99, 1.01), 1))
    batch = Batch(name="T", runs={"loop": runs}, metadata={})
    loads = measure(batch, CHARACTERISTICS["viscosity_at_rate"], test="loop", step="down", at={"shear_rate": 10.0})
    assert [load.load for load in loads] == [1, 2]
    mean = combine_measured(loads, StatedUncertainty(relative=0.02))
    assert mean.value == pytest.approx(38.0 * 10**-0.5, rel=1e-12)
    assert str(mean.conditions["step"]) == "down"
    assert mean.components == {"load": pytest.approx(0.02 * mean.value / 2**0.5)}
    assert combine_measured((), None) is None


def test_a_load_that_cannot_be_measured_is_kept_with_its_reason():
    batch = Batch(name="T", runs={"loop": (run_of(RATES, POWER_LAW, kind="up"),)}, metadata={})
    (load,) = measure(batch, CHARACTERISTICS["viscosity_at_rate"], test="loop", step="down", at={"shear_rate": 10.0})
    assert load.estimate is None
    assert "has no step 'down'" in load.reason
    with pytest.raises(StepError, match="has no step 'down'"):
        batch.runs["loop"][0].step("down")


def test_scatter_beyond_the_stated_repeatability_counts():
    generator = np.random.default_rng(6)
    runs = tuple(run_of(RATES, POWER_LAW * np.exp(0.1 * generator.standard_normal(21)), name=f"loop_load{index}.csv") for index in (1, 2))
    batch = Batch(name="T", runs={"loop": runs}, metadata={})
    loads = measure(batch, CHARACTERISTICS["stress_at_rate"], test="loop", step="down", at={"shear_rate": 10.0})
    mean = combine_measured(loads, StatedUncertainty(relative=0.01))
    assert mean.standard_error == pytest.approx(math.hypot(*(load.estimate.standard_error for load in loads)) / 2)
    assert "repeatability_exceeded" in {finding.check for finding in mean.findings}


def test_a_yield_stress_far_below_the_points_is_not_determined():
    high = np.geomspace(30.0, 100.0, 15)
    flat = measured("yield_stress", run_of(high, 130 + 12 * high**0.68, kind="steady"), {"method": "herschel_bulkley"}, "steady")
    assert (flat.determined, "less than a decade" in flat.reason) == (False, True)
    wide = np.geomspace(10.0, 1000.0, 25)
    low = measured("yield_stress", run_of(wide, 10 + 12 * wide**0.68, kind="steady"), {"method": "herschel_bulkley"}, "steady")
    assert (low.determined, "of the lowest stress measured" in low.reason) == (False, True)
    good = np.geomspace(0.1, 100.0, 16)
    sure = measured("yield_stress", run_of(good, 130 + 12 * good**0.68, kind="steady"), {"method": "herschel_bulkley"}, "steady")
    assert sure.value == pytest.approx(130.0, rel=1e-6)


def test_without_a_repeatability_loads_that_agree_have_the_error_of_their_insides():
    generator = np.random.default_rng(5)
    runs = tuple(run_of(RATES, POWER_LAW * np.exp(0.01 * generator.standard_normal(21)), name=f"loop_load{index}.csv") for index in (1, 2))
    batch = Batch(name="T", runs={"loop": runs}, metadata={})
    loads = measure(batch, CHARACTERISTICS["stress_at_rate"], test="loop", step="down", at={"shear_rate": 10.0})
    mean = combine_measured(loads, None)
    errors = [load.estimate.standard_error for load in loads]
    # Exact for loads whose difference is within their errors: the inverse variances add up.
    assert mean.components == {"fit": pytest.approx(1.0 / math.hypot(*(1.0 / error for error in errors)))}
    assert mean.degrees_of_freedom == pytest.approx(1.0)
    assert "no repeatability is known" in mean.method
