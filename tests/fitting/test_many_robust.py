"""Hard curves among many: none crashes, none spoils its neighbours, and none claims what its points do not determine."""

import numpy as np
import pytest
from fitting.many_curves import RATES, TRUTH, curves

import rheokit as rk

NOISE = np.random.default_rng(11).standard_normal(RATES.size)
STRESS = (30.0 + 12.0 * RATES**0.4) * (1.0 + 0.01 * NOISE)
HARD = {
    "constant": np.full(30, 5.0),
    "yield truly 0": 12.0 * RATES**0.4 * (1.0 + 0.05 * NOISE),
    "yield 0 and no scatter": 12.0 * RATES**0.4,
    "no plateau": (30.0 + 14.0 * RATES**0.4) * (1.0 + 0.03 * NOISE),
    "index near 1e-4": 30.0 + 12.0 * RATES**1e-4 * (1.0 + 0.001 * NOISE),
    "five per cent": (30.0 + 12.0 * RATES**0.4) * (1.0 + 0.05 * NOISE),
    "one outlier": np.where(np.arange(30) == 4, 1000.0, 1.0) * STRESS,
    "falling": STRESS[::-1],
    "perfect": 30.0 + 12.0 * RATES**0.5,
    "nearly perfect": (30.0 + 12.0 * RATES**0.5) * (1.0 + 1e-9 * NOISE),
    "tiny": 1e-60 * STRESS,
    "huge": 1e60 * STRESS,
    "gaps": np.where(np.arange(30) % 4 == 0, np.nan, STRESS),
    "nothing": np.full(30, np.nan),
    "zero": np.zeros(30),
    "half negative": np.where(RATES < 1.0, -1.0, STRESS),
    "one near zero": np.where(np.arange(30) == 5, 1e-9, STRESS),
}
# Points for which several parameters do: which of them the search happens to call determined is rounding.
OPEN = {"constant", "zero", "half negative", "one near zero", "yield 0 and no scatter"}


@pytest.mark.parametrize("name", TRUTH)
@pytest.mark.parametrize("weighting", ["relative", "absolute"])
def test_hard_curves_are_as_good_as_alone_and_their_neighbours_untouched(name, weighting):
    stresses = np.array(list(HARD.values()))
    plain, _ = curves(name, len(HARD))
    both = np.empty((2 * len(HARD), 30))
    both[::2], both[1::2] = stresses, plain
    many = rk.fit_many(RATES, both, name, weighting=weighting)
    for index, (label, stress) in enumerate(HARD.items()):
        try:
            with np.errstate(over="ignore"):  # where half of the stresses are negative, the relative deviation has no best value
                one = many[2 * index]
        except rk.FitError:
            assert np.isnan(many.values[2 * index]).all(), label
            assert not many.converged[2 * index], label
            continue
        if one.converged:
            assert many.converged[2 * index], label
        # A millionth of the sum of squares, or residuals of 1e-6 of the stress, are nothing that a person could see.
        size = np.nansum((stress / one.deviations[0] if weighting == "absolute" else np.ones(30)) ** 2)
        if weighting == "absolute" or label not in OPEN:
            assert many.sum_of_squares[2 * index] <= one.sum_of_squares * (1.0 + 1e-3) + 1e-12 * size, label
    alone = rk.fit_many(RATES, plain, name, weighting=weighting)
    # Ends with an offset below 1e-6, as alone: so many standard errors, times the root of 29 degrees of freedom, and a margin of two.
    small = 1e-5 * np.nan_to_num(alone.errors, nan=np.inf)
    assert (np.abs(many.values[1::2] - alone.values) <= small).all()


def test_a_yield_stress_at_its_bound_is_not_determined():
    stresses = 12.0 * RATES**0.4 * (1.0 - 0.02 * (RATES < 1.0)) * np.ones((3, 1))
    many = rk.fit_many(RATES, stresses, "herschel_bulkley")
    assert (many.values[:, 0] == 0.0).all()
    assert not many.determined[:, 0].any()
    assert np.isnan(many.errors[:, 0]).all()
    assert many.determined[:, 1:].all()
    (finding,) = many.findings
    assert str(finding) == "3 of 3 curves do not determine yield stress"


def test_a_constant_stress_is_a_yield_stress_and_nothing_else():
    for weighting in ("relative", "absolute"):
        many = rk.fit_many(RATES, np.full((2, 30), 5.0), "herschel_bulkley", weighting=weighting)
        assert many.values[:, 0] == pytest.approx(5.0, rel=1e-12)
        assert not many.determined[:, 1:].any()


def test_as_many_points_as_parameters_and_fewer():
    stresses = np.array([[13.0, 16.0, 22.0], [13.0, 16.0, np.nan], [np.nan, np.nan, np.nan], [np.nan, 16.0, 22.0]])
    many = rk.fit_many([1.0, 4.0, 16.0], stresses, "herschel_bulkley")
    assert many.values[0] == pytest.approx([10.0, 3.0, 0.5], rel=1e-10)
    assert not many.determined[0].any()
    assert np.isnan(many.values[1:]).all()
    assert many.converged.tolist() == [True, False, False, False]
    checks = {finding.check: str(finding) for finding in many.findings}
    assert checks["too_few_points"] == "3 of 4 curves have fewer than 3 usable points and no fit"
    with pytest.raises(rk.FitError, match="2 usable points for the 3 free parameters"):
        _ = many[1]


def test_repeated_points_count_as_often_as_they_stand():
    stresses, _ = curves("herschel_bulkley", 4)
    twice = rk.fit_many(np.repeat(RATES, 2), np.repeat(stresses, 2, axis=1), "herschel_bulkley")
    once = rk.fit_many(RATES, stresses, "herschel_bulkley")
    assert twice.values == pytest.approx(once.values, rel=1e-7)
    assert twice.errors == pytest.approx(once.errors * np.sqrt(27.0 / 57.0), rel=1e-6)


@pytest.mark.parametrize("name", TRUTH)
@pytest.mark.parametrize("weighting", ["relative", "absolute"])
def test_a_power_of_two_in_the_stress_changes_no_digit(name, weighting):
    stresses, _ = curves(name, 10)
    plain, scaled = (rk.fit_many(RATES, factor * stresses, name, weighting=weighting) for factor in (1.0, 2.0**40))
    # Sums of squares, and a search that compares them, scale as well: no digit may differ.
    by_stress = np.array([parameter.unit.startswith("Pa") for parameter in rk.MODELS[name].parameters])
    assert np.array_equal(scaled.values, plain.values * np.where(by_stress, 2.0**40, 1.0))
    assert np.array_equal(scaled.errors, plain.errors * np.where(by_stress, 2.0**40, 1.0), equal_nan=True)


@pytest.mark.parametrize("name", TRUTH)
@pytest.mark.parametrize("factor", [1e-12, 1e12])
def test_twelve_decades_of_stress_and_of_rate(name, factor):
    stresses, deviations = curves(name, 10)
    law = rk.MODELS[name]
    plain = rk.fit_many(RATES, stresses, name, weighting=deviations)
    taller = rk.fit_many(RATES, factor * stresses, name, weighting=factor * deviations)
    wider = rk.fit_many(factor * RATES, stresses, name, weighting=deviations)
    at = np.geomspace(0.1, 100.0, 5)
    curve = law.value(at, *plain.values.T[:, :, None])
    # Ends apart by a millionth of a standard error, of curves whose error is some per cent, and rounding of rates times their condition.
    assert law.value(at, *taller.values.T[:, :, None]) == pytest.approx(factor * curve, rel=1e-7)
    assert law.value(factor * at, *wider.values.T[:, :, None]) == pytest.approx(curve, rel=1e-7)
    assert taller.sum_of_squares == pytest.approx(plain.sum_of_squares, rel=1e-9)
    assert wider.sum_of_squares == pytest.approx(plain.sum_of_squares, rel=1e-9)
    assert wider.converged.all()
    assert taller.converged.all()


def test_a_time_constant_far_beyond_the_rates():
    # 1e9 times the inverse rate and more: a narrow range of the time constant would leave a worse fit than the power law within the law.
    stresses = 14.0 * RATES**0.4 * (1.0 + 0.03 * np.random.default_rng(3).standard_normal((20, 30)))
    cross, power = (rk.fit_many(RATES, stresses, name, weighting=0.03 * stresses) for name in ("cross", "power_law"))
    # The search goes 25 decades beyond the rates, where the plateau lifts the curve by 1e-25 to the power 0.6 of itself.
    assert (cross.sum_of_squares <= power.sum_of_squares * (1.0 + 1e-9)).all()


@pytest.mark.parametrize("factor", [1e-30, 1e30])
def test_bounds_and_fixed_values_scale_with_extreme_stresses(factor):
    stresses, _ = curves("herschel_bulkley", 4)
    bounds = {"yield_stress": (50.0, 60.0), "consistency": (1.0, 12.0)}
    plain = rk.fit_many(RATES, stresses, "herschel_bulkley", bounds=bounds)
    high = {name: (low * factor, top * factor) for name, (low, top) in bounds.items()}
    scaled = rk.fit_many(RATES, factor * stresses, "herschel_bulkley", bounds=high)
    assert scaled.values == pytest.approx(plain.values * [factor, factor, 1.0], rel=1e-7)
    assert np.array_equal(scaled.determined, plain.determined)
    held = rk.fit_many(RATES, factor * stresses, "herschel_bulkley", fixed={"yield_stress": 40.0 * factor})
    expected = rk.fit_many(RATES, stresses, "herschel_bulkley", fixed={"yield_stress": 40.0})
    assert (held.values[:, 0] == 40.0 * factor).all()
    assert held.values[:, 1:] == pytest.approx(expected.values[:, 1:] * [factor, 1.0], rel=1e-7)


def test_perfect_points_determine_their_law_but_no_errors():
    many = rk.fit_many(RATES, (30.0 + 12.0 * RATES**0.5) * np.ones((2, 1)), "herschel_bulkley")
    assert many.determined.all()
    assert np.isnan(many.errors).all()
    assert many.values == pytest.approx(np.array([[30.0, 12.0, 0.5]] * 2), rel=1e-12)
