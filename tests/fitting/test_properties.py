"""What must hold for any data: units do not matter, starts do not matter, order does not matter."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import rheokit as rk

RATES = np.geomspace(0.1, 100.0, 15)
NOISE = np.random.default_rng(3).standard_normal(15)

inks = st.tuples(st.floats(5.0, 200.0), st.floats(2.0, 50.0), st.floats(0.25, 0.9))
powers_of_ten = st.floats(-6.0, 6.0).map(lambda power: 10.0**power)
weightings = st.sampled_from(["relative", "absolute"])
# Rounding of the scaled data (2e-16) times the condition of the fit, below 1e4 for these inks, and the engine's own 1e-11.
TOLERANCE = 1e-8
brief = settings(max_examples=40, deadline=None, derandomize=True)


def fit_of(rates, stress, weighting, **options):
    return rk.fit_flow_curve(rk.FlowCurve(rates, stress), "herschel_bulkley", weighting=weighting, **options)


def stress_of(ink):
    return rk.MODELS["herschel_bulkley"].value(RATES, *ink) * (1.0 + 0.01 * NOISE)


@brief
@given(ink=inks, factor=powers_of_ten, weighting=weightings)
def test_scaling_the_stress_scales_yield_stress_and_consistency(ink, factor, weighting):
    plain, scaled = fit_of(RATES, stress_of(ink), weighting), fit_of(RATES, factor * stress_of(ink), weighting)
    assert scaled.values == pytest.approx(plain.values * [factor, factor, 1.0], rel=TOLERANCE, abs=TOLERANCE * factor)
    for name, times in (("yield_stress", factor), ("consistency", factor), ("flow_index", 1.0)):
        one, other = plain.parameters[name].standard_error, scaled.parameters[name].standard_error
        assert (one is None) == (other is None)
        if one is not None:
            assert other == pytest.approx(one * times, rel=1e-6)


@brief
@given(ink=inks, factor=powers_of_ten, weighting=weightings)
def test_scaling_the_rate_leaves_yield_stress_and_flow_index(ink, factor, weighting):
    plain, scaled = fit_of(RATES, stress_of(ink), weighting), fit_of(factor * RATES, stress_of(ink), weighting)
    index = plain.parameters["flow_index"].value
    expected = [plain.values[0], plain.values[1] * factor**-index, index]
    # An error e of the index is e ln(factor), up to 14 e, in the consistency.
    assert scaled.values == pytest.approx(expected, rel=15.0 * TOLERANCE, abs=TOLERANCE)


@brief
@given(ink=inks, seed=st.integers(0, 1000), weighting=weightings)
def test_the_order_of_the_points_does_not_matter(ink, seed, weighting):
    order = np.random.default_rng(seed).permutation(RATES.size)
    plain, mixed = fit_of(RATES, stress_of(ink), weighting), fit_of(RATES[order], stress_of(ink)[order], weighting)
    assert mixed.values == pytest.approx(plain.values, rel=TOLERANCE, abs=TOLERANCE)


@brief
@given(ink=inks, start=st.floats(0.01, 1.9), weighting=weightings)
def test_the_start_does_not_matter(ink, start, weighting):
    plain, begun = fit_of(RATES, stress_of(ink), weighting), fit_of(RATES, stress_of(ink), weighting, start={"flow_index": start})
    assert begun.values == pytest.approx(plain.values, rel=TOLERANCE, abs=TOLERANCE)


@brief
@given(ink=inks, weighting=weightings)
def test_fixing_a_parameter_at_its_best_value_changes_nothing(ink, weighting):
    plain = fit_of(RATES, stress_of(ink), weighting)
    held = fit_of(RATES, stress_of(ink), weighting, fixed={"flow_index": plain.parameters["flow_index"].value})
    assert held.values == pytest.approx(plain.values, rel=TOLERANCE, abs=TOLERANCE)
    assert held.degrees_of_freedom == plain.degrees_of_freedom + 1
