"""Many curves: each gets what it would get as a single one, whatever the law, the weights and the gaps."""

import pickle

import numpy as np
import pytest
from fitting.many_curves import RATES, TRUTH, curves

import rheokit as rk

every_law = pytest.mark.parametrize("name", TRUTH)
# Where the offset is below 1e-6 the end is so many standard errors away, times the root of 29 degrees of freedom; and a margin of two.
SAME = 1e-5


def assert_same(many, index, one, digits=SAME):
    """Hold one of many curves to its single fit: values in parts of a standard error, and what is determined."""
    determined = [estimate.determined for estimate in one.parameters.values()]
    assert many.determined[index].tolist() == determined
    assert many.converged[index] == one.converged
    for value, error, estimate in zip(many.values[index], many.errors[index], one.parameters.values(), strict=True):
        if estimate.standard_error is None:
            assert np.isnan(error)
        else:
            assert value == pytest.approx(estimate.value, abs=digits * estimate.standard_error)
            # The error of an error: second derivatives over the distance of the two ends.
            assert error == pytest.approx(estimate.standard_error, rel=1e-5)


@every_law
@pytest.mark.parametrize("weighting", ["relative", "absolute", "given", "floor"])
def test_each_curve_gets_what_it_would_get_alone(name, weighting):
    stresses, deviations = curves(name, 12)
    options = {"floor": {"floor": 4.0}, "given": {"weighting": deviations}}.get(weighting, {"weighting": weighting})
    many = rk.fit_many(RATES, stresses, name, **options)
    assert many.converged.all()
    assert len(many) == 12
    for index in range(12):
        assert_same(many, index, many[index])
        assert many.sum_of_squares[index] == pytest.approx(many[index].sum_of_squares, rel=1e-7)


def test_relative_weights_settle_at_the_same_point_to_eight_digits():
    stresses, _ = curves("herschel_bulkley", 200)
    many = rk.fit_many(RATES, stresses, "herschel_bulkley")
    for index in range(200):
        assert many.values[index] == pytest.approx(many[index].values, rel=1e-8)


def test_relative_weights_are_those_of_the_fitted_stress():
    stresses, _ = curves("herschel_bulkley", 50, noise=0.1)
    many = rk.fit_many(RATES, stresses, "herschel_bulkley")
    law = rk.MODELS["herschel_bulkley"]
    for values, stress in zip(many.values, stresses, strict=True):
        fitted = law.value(RATES, *values)
        residual, jacobian = stress / fitted - 1.0, law.complex_step_jacobian(RATES, *values) / fitted[:, None]
        cosine = residual @ jacobian / np.linalg.norm(jacobian, axis=0) / np.linalg.norm(residual)
        assert np.abs(cosine[values > 0.0]).max() < 1e-7


@every_law
def test_rates_of_its_own_for_every_curve(name):
    rates = RATES * np.exp(0.2 * np.random.default_rng(4).standard_normal((6, 30)))
    stresses = np.array([curves(name, 1, seed=row, rates=rates[row])[0][0] for row in range(6)])
    many = rk.fit_many(rates, stresses, name)
    for index in range(6):
        assert_same(many, index, many[index])


def test_missing_points_are_left_out_and_counted():
    stresses, deviations = curves("herschel_bulkley", 8)
    stresses[1, [0, 5, 29]] = np.nan
    stresses[2, 10:] = np.nan
    deviations[1, 0] = -1.0  # belongs to a missing point
    for weighting in ("relative", "absolute", deviations):
        many = rk.fit_many(RATES, stresses, "herschel_bulkley", weighting=weighting)
        assert many.used.tolist() == [30, 27, 10, 30, 30, 30, 30, 30]
        for index in range(8):
            assert_same(many, index, many[index])
        (finding,) = (finding for finding in many.findings if finding.check == "rows_left_out")
        assert str(finding) == "23 of 240 points have no positive shear rate or no number"


def test_rates_that_are_not_positive_are_left_out():
    stresses, _ = curves("bingham", 4)
    padded = np.concatenate([np.full((4, 3), 5.0), stresses], axis=1)
    shared = rk.fit_many(np.concatenate([[0.0, -1.0, np.nan], RATES]), padded, "bingham")
    own = rk.fit_many(np.tile(np.concatenate([[0.0, -1.0, np.nan], RATES]), (4, 1)), padded, "bingham")
    plain = rk.fit_many(RATES, stresses, "bingham")
    assert np.array_equal(shared.values, plain.values)
    assert np.array_equal(own.values, plain.values)
    assert shared.used.tolist() == [30] * 4


def test_the_order_of_the_points_does_not_matter():
    stresses, _ = curves("herschel_bulkley", 5)
    order = np.random.default_rng(2).permutation(30)
    plain, mixed = rk.fit_many(RATES, stresses, "herschel_bulkley"), rk.fit_many(RATES[order], stresses[:, order], "herschel_bulkley")
    assert np.abs(mixed.values / plain.values - 1.0).max() < 1e-9


def test_a_curve_does_not_depend_on_its_neighbours():
    stresses, deviations = curves("cross", 3000)
    whole = rk.fit_many(RATES, stresses, "cross", weighting=deviations)
    part = rk.fit_many(RATES, stresses[1000:1100], "cross", weighting=deviations[1000:1100])
    # Products of matrices may be rounded otherwise in another place; both ends are stationary.
    assert (np.abs(part.values - whole.values[1000:1100]) <= SAME * np.nan_to_num(whole.errors[1000:1100], nan=np.inf)).all()


def test_fixed_values_and_bounds_hold_for_all():
    stresses, _ = curves("herschel_bulkley", 6)
    options = [
        {"fixed": {"flow_index": 0.4}},
        {"fixed": {"yield_stress": 10.0}},
        {"fixed": {"yield_stress": 0.0, "flow_index": 0.5}},
        {"fixed": {"yield_stress": 40.0, "consistency": 14.0, "flow_index": 0.45}},
        {"bounds": {"flow_index": (0.5, 0.6)}},
        {"bounds": {"yield_stress": (50.0, 60.0), "consistency": (1.0, 5.0)}},
    ]
    for option in options:
        for weighting in ("relative", "absolute"):
            many = rk.fit_many(RATES, stresses, "herschel_bulkley", weighting=weighting, **option)
            for index in range(6):
                one = many[index]
                assert_same(many, index, one)
                at_end = [estimate.reason.startswith(("at its", "fixed")) for estimate in one.parameters.values()]
                assert many.values[index][at_end].tolist() == one.values[at_end].tolist()


def test_bounds_of_a_time_constant():
    stresses, deviations = curves("cross", 6)
    for option in (
        {"bounds": {"time_constant": (0.1, 2.0)}},
        {"fixed": {"time_constant": 3.0}},
        {"fixed": {"zero_shear_viscosity": 900.0}},
    ):
        many = rk.fit_many(RATES, stresses, "cross", weighting=deviations, **option)
        for index in range(6):
            assert_same(many, index, many[index])


def test_known_deviations_are_taken_at_their_word():
    stresses, deviations = curves("herschel_bulkley", 5)
    many = rk.fit_many(RATES, stresses, "herschel_bulkley", weighting=2.0 * deviations, scale="known")
    for index in range(5):
        assert_same(many, index, many[index])
    estimated = rk.fit_many(RATES, stresses, "herschel_bulkley", weighting=2.0 * deviations)
    ratio = many.errors / estimated.errors
    assert ratio == pytest.approx(np.sqrt(27.0 / estimated.sum_of_squares)[:, None] * np.ones(3), rel=1e-9)


def test_deviations_for_all_curves_in_one_row():
    stresses, _ = curves("sisko", 5)
    row = 0.03 * stresses.mean(axis=0)
    one, many = (rk.fit_many(RATES, stresses, "sisko", weighting=given) for given in (row, np.tile(row, (5, 1))))
    assert np.array_equal(one.values, many.values)
    assert_same(one, 3, one[3])


def line(x, slope, height):
    return height + slope * x


def line_jacobian(x, slope, height):
    return np.stack([x, np.ones(x.shape)], axis=-1)


def test_any_law_goes_through_the_same_door():
    parameters = (rk.Parameter("slope"), rk.Parameter("height"))
    law = rk.Law(name="line", parameters=parameters, value=line, jacobian=line_jacobian)
    stresses, _ = curves("bingham", 4)
    with pytest.raises(rk.FitError, match=r"line has no guess for slope, height; give one with start={'slope': …}"):
        rk.fit_many(RATES, stresses, law)
    many = rk.fit_many(RATES, stresses, law, weighting="absolute", start={"slope": 1.0, "height": 1.0})
    bingham = rk.fit_many(RATES, stresses, "bingham", weighting="absolute")
    assert many.one_by_one.all()
    assert many.values == pytest.approx(bingham.values[:, ::-1], rel=1e-9)
    assert_same(many, 2, many[2])


def test_a_start_leads_to_the_same_end():
    stresses, deviations = curves("cross", 40)
    start = dict(zip(rk.MODELS["cross"].names, TRUTH["cross"], strict=True))
    plain = rk.fit_many(RATES, stresses, "cross", weighting=deviations)
    begun = rk.fit_many(RATES, stresses, "cross", weighting=deviations, start=start)
    assert (np.abs(plain.values - begun.values) <= SAME * np.nan_to_num(plain.errors, nan=np.inf)).all()


def test_what_is_returned():
    stresses, _ = curves("herschel_bulkley", 3)
    seen = []
    many = rk.fit_many(RATES, stresses, "herschel_bulkley", progress=lambda done, whole: seen.append((done, whole)))
    assert seen == [(3, 3)]
    assert list(many.parameters.columns) == ["yield_stress", "consistency", "flow_index"]
    assert np.array_equal(many.parameters.to_numpy(), many.values)
    assert np.array_equal(many.standard_errors.to_numpy(), many.errors)
    assert "3 curves, 3 converged" in str(many)
    assert "<table>" in many._repr_html_()
    with pytest.raises(ValueError, match="read-only"):
        many.values[0] = 0.0
    with pytest.raises(IndexError, match="curve 3 of 3"):
        _ = many[3]
    assert np.array_equal(many[-1].values, many[2].values)
    again = pickle.loads(pickle.dumps(many))
    assert np.array_equal(again.values, many.values)
    assert not again.values.flags.writeable


def test_what_is_refused():
    stresses, deviations = curves("bingham", 3)
    with pytest.raises(rk.FitError, match=r"stresses: an array of shape \(curves, points\) is needed, not \(30,\)"):
        rk.fit_many(RATES, stresses[0], "bingham")
    with pytest.raises(rk.FitError, match=r"rates of shape \(29,\) for stresses of shape \(3, 30\)"):
        rk.fit_many(RATES[1:], stresses, "bingham")
    with pytest.raises(rk.FitError, match="unknown model 'bingam'"):
        rk.fit_many(RATES, stresses, "bingam")
    with pytest.raises(rk.FitError, match="bingham has no parameter 'slope'"):
        rk.fit_many(RATES, stresses, "bingham", fixed={"slope": 1.0})
    with pytest.raises(rk.FitError, match="floor goes with weighting='relative'"):
        rk.fit_many(RATES, stresses, "bingham", weighting=deviations, floor=1.0)
    deviations[2, 7] = 0.0
    with pytest.raises(rk.FitError, match="curve 2 has a standard deviation that is not a positive number"):
        rk.fit_many(RATES, stresses, "bingham", weighting=deviations)
