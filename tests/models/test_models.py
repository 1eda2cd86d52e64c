"""One contract for every flow law."""

import numpy as np
import pytest

from rheokit.base.quantities import QUANTITIES
from rheokit.models import MODELS

# Ordinary values of an ink; every law takes those it knows.
VALUES = {
    "viscosity": 2.0,
    "yield_stress": 30.0,
    "consistency": 12.0,
    "flow_index": 0.43,
    "plastic_viscosity": 3.0,
    "casson_yield_stress": 20.0,
    "casson_viscosity": 1.5,
    "zero_shear_viscosity": 500.0,
    "infinite_shear_viscosity": 0.7,
    "time_constant": 3.0,
    "rate_index": 0.7,
    "transition_index": 1.7,
}
RATES = np.geomspace(1e-6, 1e6, 37)
every_law = pytest.mark.parametrize("law", MODELS.values(), ids=list(MODELS))


def values_of(law, **other):
    return [(VALUES | other)[name] for name in law.names]


def test_the_nine_laws_are_listed_and_the_list_is_read_only():
    assert list(MODELS) == [
        "newtonian", "power_law", "bingham", "herschel_bulkley", "casson", "cross", "carreau_yasuda", "sisko", "herschel_bulkley_plateau",
    ]  # fmt: skip
    with pytest.raises(TypeError):
        MODELS["mine"] = MODELS["bingham"]


@every_law
@pytest.mark.parametrize(
    "other", [{}, {"flow_index": 1e-4}, {"flow_index": 2.0}, {"time_constant": 1e9}, {"time_constant": 1e-9}, {"transition_index": 9.0}]
)
def test_the_jacobian_is_the_complex_step_derivative(law, other):
    values = values_of(law, **other)
    exact = law.complex_step_jacobian(RATES, *values)
    # Both sides are a few roundings (2e-16 each) away from the truth; the logarithm of the rate, up to 14, multiplies that of a power.
    # What underflows beside a column of size 1 is not compared digit by digit.
    assert law.jacobian(RATES, *values) == pytest.approx(exact, rel=1e-13, abs=1e-13 * 1e-6 * np.abs(exact).max())


@every_law
def test_the_basis_times_the_linear_parameters_is_the_value(law):
    if law.basis is None:
        assert law.linear == ()
        return
    values = dict(zip(law.names, values_of(law), strict=True))
    found = law.basis(RATES, *(values[name] for name in law.nonlinear)) @ [values[name] for name in law.linear]
    # Sums of at most three terms of the size of the stress or below.
    assert found == pytest.approx(law.value(RATES, *values.values()), rel=1e-14)


def test_only_casson_is_linear_in_nothing():
    assert [law.name for law in MODELS.values() if not law.linear] == ["casson"]


@every_law
@pytest.mark.parametrize("noise", [0.0, 0.3])
def test_the_guess_lies_inside_the_bounds(law, noise):
    scatter = np.random.default_rng(1).standard_normal(RATES.size)
    for other in ({}, {"flow_index": 1.9}, {"yield_stress": 0.0}, {"casson_yield_stress": 0.0}, {"time_constant": 1e5}):
        stress = law.value(RATES, *values_of(law, **other)) * (1.0 + noise * scatter)
        guess = law.guess(RATES, stress)
        assert set(guess) == set(law.names)
        for parameter in law.parameters:
            assert parameter.lower <= guess[parameter.name] <= parameter.upper, parameter.name


@every_law
@pytest.mark.parametrize("stress", [np.zeros(4), np.full(4, 5.0), np.array([3.0, -1.0, 0.0, 2.0]), np.full(4, -2.0)])
def test_a_guess_is_finite_for_any_data(law, stress):
    guess = law.guess(np.array([0.1, 1.0, 10.0, 100.0]), stress)
    for parameter in law.parameters:
        assert parameter.lower <= guess[parameter.name] <= parameter.upper
        assert np.isfinite(guess[parameter.name])


# How a parameter changes when stresses are counted in a unit c times and rates in one s times smaller: by its unit alone.
SCALING = {
    "Pa": lambda c, _s, _n: c,
    "Pa·s": lambda c, s, _n: c / s,
    "Pa·s^n": lambda c, s, n: c / s**n,
    "s": lambda _c, s, _n: 1.0 / s,
    "1": lambda _c, _s, _n: 1.0,
}


@every_law
def test_the_value_scales_as_the_units_say(law):
    c, s = 1e5, 1e-4
    scaled = [
        value * SCALING[parameter.unit](c, s, VALUES["flow_index"]) for value, parameter in zip(values_of(law), law.parameters, strict=True)
    ]
    assert law.value(RATES * s, *scaled) == pytest.approx(c * law.value(RATES, *values_of(law)), rel=1e-13)


@every_law
def test_a_law_is_odd_in_the_rate_and_finite_at_zero(law):
    values = values_of(law)
    rates = np.array([-10.0, -1.0, 0.0, 1.0, 10.0])
    stress = law.value(rates, *values)
    assert np.array_equal(stress[:2], -stress[:2:-1])
    at_rest = sum(value for name, value in zip(law.names, values, strict=True) if name.endswith("yield_stress"))
    assert stress[2] == pytest.approx(at_rest, rel=1e-15)
    assert np.isfinite(law.jacobian(rates, *values)).all()
    assert np.isfinite(law.complex_step_jacobian(rates, *values)).all()


@every_law
def test_a_law_broadcasts_over_trial_values(law):
    assert law.broadcasts
    many = np.array([values_of(law), values_of(law, flow_index=0.9, yield_stress=3.0, rate_index=0.2)])
    stress = law.value(RATES, *many.T[:, :, None])
    jacobian = law.jacobian(RATES, *many.T[:, :, None])
    assert jacobian.shape == (2, RATES.size, len(law.names))
    for row, values in enumerate(many):
        # One and many values take other code paths of numpy for powers; each is within a few roundings.
        assert stress[row] == pytest.approx(law.value(RATES, *values), rel=1e-14)
        assert jacobian[row] == pytest.approx(law.jacobian(RATES, *values), rel=1e-13)


@every_law
def test_names_symbols_and_units_are_those_of_the_quantities(law):
    for parameter in law.parameters:
        known = QUANTITIES[parameter.name]
        assert (parameter.symbol, parameter.unit, parameter.meaning) == (known.latex, known.unit, known.meaning)
        assert parameter.lower >= 0.0
    assert law.source
    assert law.formula


def test_bounds_of_the_indices():
    assert (MODELS["power_law"].parameter("flow_index").lower, MODELS["power_law"].parameter("flow_index").upper) == (1e-4, 2.0)
    assert (MODELS["cross"].parameter("rate_index").lower, MODELS["cross"].parameter("rate_index").upper) == (0.0, 1.0)


# Values worked out by hand.
@pytest.mark.parametrize(
    ("name", "rate", "parameters", "stress"),
    [
        ("newtonian", 3.0, (2.0,), 6.0),
        ("power_law", 4.0, (3.0, 0.5), 6.0),
        ("bingham", 4.0, (10.0, 3.0), 22.0),
        ("herschel_bulkley", 4.0, (10.0, 3.0, 0.5), 16.0),
        ("casson", 4.0, (9.0, 1.0), 25.0),
        ("cross", 4.0, (10.0, 2.0, 0.25, 0.7), 24.0),
        ("carreau_yasuda", 3.0, (10.0, 2.0, 1.0 / 3.0, 1.0, 0.0 + 1e-300), 18.0),
        ("sisko", 4.0, (2.0, 3.0, 0.5), 14.0),
        ("herschel_bulkley_plateau", 4.0, (10.0, 3.0, 0.5, 2.0), 24.0),
    ],
)
def test_by_hand(name, rate, parameters, stress):
    assert MODELS[name].value(np.array([rate]), *parameters)[0] == pytest.approx(stress, rel=1e-15)


def test_the_casson_derivatives_are_finite_at_yield_zero():
    jacobian = MODELS["casson"].jacobian(RATES, 0.0, 2.0)
    assert np.isfinite(jacobian).all()
    assert jacobian[:, 1] == pytest.approx(RATES, rel=1e-14)
    assert np.isfinite(MODELS["casson"].jacobian(RATES, 2.0, 0.0)).all()


def test_plateaus_are_reached_without_overflow():
    far = np.array([1e-12, 1e12])
    viscosity = MODELS["carreau_yasuda"].value(far, 500.0, 0.7, 3.0, 50.0, 0.1) / far
    assert viscosity == pytest.approx([500.0, 0.7], rel=1e-7)  # (3e12)^-0.9 of 500 is left above the plateau: 3e-9
    viscosity = MODELS["cross"].value(far, 500.0, 0.7, 3.0, 1.0) / far
    assert viscosity == pytest.approx([500.0, 0.7], rel=1e-8)
