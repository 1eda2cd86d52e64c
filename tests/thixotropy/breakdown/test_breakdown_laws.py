"""One contract for every breakdown law."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import rheokit as rk
from rheokit.thixotropy.breakdown import BREAKDOWN_LAWS

VALUES = {
    "stress_at_reference_time": 380.0,
    "weltmann_coefficient": 20.0,
    "plateau_stress": 300.0,
    "stress_drop": 80.0,
    "breakdown_time": 40.0,
}
TIMES = np.geomspace(0.1, 1000.0, 60)
every_law = pytest.mark.parametrize("law", BREAKDOWN_LAWS, ids=[law.name for law in BREAKDOWN_LAWS])


def values_of(law, **other):
    return [(VALUES | other)[name] for name in law.names]


def test_the_laws_are_listed():
    assert [law.name for law in BREAKDOWN_LAWS] == ["steady_stress", "weltmann", "exponential_breakdown"]


@every_law
@pytest.mark.parametrize(
    "other", [{}, {"weltmann_coefficient": -3.0, "stress_drop": -50.0}, {"breakdown_time": 1e-3}, {"breakdown_time": 1e6}]
)
def test_the_jacobian_is_the_complex_step_derivative(law, other):
    values = values_of(law, **other)
    exact = law.complex_step_jacobian(TIMES, *values)
    # A few roundings on both sides; t/t_b up to 1e6 multiplies that of the exponential, where it is all but nothing.
    assert law.jacobian(TIMES, *values) == pytest.approx(exact, rel=1e-12, abs=1e-13 * np.abs(exact).max())


@every_law
def test_the_basis_times_the_linear_parameters_is_the_value(law):
    values = dict(zip(law.names, values_of(law), strict=True))
    found = law.basis(TIMES, *(values[name] for name in law.nonlinear)) @ [values[name] for name in law.linear]
    assert found == pytest.approx(law.value(TIMES, *values.values()), rel=1e-14)


@every_law
def test_many_trial_values_at_once(law):
    together = [np.array([[value], [1.5 * value]]) for value in values_of(law)]
    for row, factor in enumerate((1.0, 1.5)):
        alone = [factor * value for value in values_of(law)]
        assert law.value(TIMES, *together)[row] == pytest.approx(law.value(TIMES, *alone), rel=1e-15)
        assert law.jacobian(TIMES, *together)[row] == pytest.approx(law.jacobian(TIMES, *alone), rel=1e-15)


@every_law
def test_a_law_is_found_again_in_its_own_points(law):
    fit = rk.fit_law(TIMES, law.value(TIMES, *values_of(law)), law, weighting="relative")
    # Points exact to 1e-16 of 300 Pa; the non-linear time is settled to the root of that at worst.
    for name in law.names:
        assert fit.parameters[name].value == pytest.approx(VALUES[name], rel=1e-7)


@given(st.floats(1.0, 1e3), st.floats(-30.0, 30.0), st.floats(0.1, 100.0))
def test_weltmann_falls_alike_whenever_the_time_doubles(stress, coefficient, time):
    law = next(law for law in BREAKDOWN_LAWS if law.name == "weltmann")
    first, second, fourth = law.value(np.array([time, 2.0 * time, 4.0 * time]), stress, coefficient)
    # Differences of numbers of up to 1100 Pa.
    assert first - second == pytest.approx(coefficient * np.log(2.0), abs=1e-11)
    assert second - fourth == pytest.approx(first - second, abs=1e-11)
    assert law.value(np.array([1.0]), stress, coefficient)[0] == stress
