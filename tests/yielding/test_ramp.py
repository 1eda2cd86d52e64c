"""The stress ramp: crossing of tangents and viscosity maximum."""

import matplotlib.pyplot as plt
import numpy as np
import pytest
from yielding.made import bent, noise, step

import rheokit as rk
from rheokit.yielding import tangent_crossing


@pytest.mark.parametrize("against", ["shear_strain", "shear_rate"])
@pytest.mark.parametrize("at", [40.0, 90.0])
def test_two_power_laws_cross_where_they_were_made_to(against, at):
    found = rk.static_yield_stress_tangents(bent(at=at), against=against, rest=300.0)
    # Both tangents lie on straight pieces, so that only rounding is left.
    assert found.stress.value == pytest.approx(at, rel=1e-9)
    assert found.lower[1] == pytest.approx(1.0, rel=1e-9)
    assert found.upper[1] == pytest.approx(15.0, rel=1e-9)
    assert found.ranges[0][1] <= found.ranges[1][0]
    assert str(found.stress.conditions["method"]) == f"stress ramp, tangents of the {against.split('_')[1]}"


def test_the_strain_is_taken_where_it_is_there():
    assert rk.static_yield_stress_tangents(bent()).against == "shear_strain"
    columns = {name: values for name, values in bent().columns.items() if name != "shear_strain"}
    assert rk.static_yield_stress_tangents(step("stress_ramp", "stress", **columns)).against == "shear_rate"
    with pytest.raises(rk.FitError, match="against shear_strain or shear_rate, not 'time'"):
        rk.static_yield_stress_tangents(bent(), against="time")


def test_the_same_ramp_gives_the_same_number_and_scaling_scales_it():
    noisy = bent(relative=0.02)
    found = rk.static_yield_stress_tangents(noisy).stress
    assert rk.static_yield_stress_tangents(noisy).stress == found
    scaled = tangent_crossing(1e3 * noisy.shear_stress, 7.0 * noisy.column("shear_strain")).stress
    assert scaled.value == pytest.approx(1e3 * found.value, rel=1e-9)
    assert scaled.standard_error == pytest.approx(1e3 * found.standard_error, rel=1e-6)


def test_a_ramp_that_ends_while_it_gets_steeper_is_a_bound():
    found = rk.static_yield_stress_tangents(bent(at=90.0, top=120.0)).stress
    assert not found.determined
    assert "still about as steep as anywhere where the ramp ends, at 120 Pa; ramp to a higher stress" in found.reason
    assert found.interval.upper == np.inf
    assert found.interval.lower == pytest.approx(90.0, rel=0.05)


@pytest.mark.parametrize("relative", [0.0, 0.03])
@pytest.mark.parametrize("power", [1.0, 2.0])
def test_a_liquid_has_no_bend(relative, power):
    stress = np.linspace(1.0, 200.0, 160)
    found = tangent_crossing(stress, stress**power * noise(160, relative, 3)).stress
    assert not found.determined
    assert "no bend" in found.reason or "ramp to a higher stress" in found.reason


@pytest.mark.parametrize("seed", range(10))
def test_noise_alone_gives_no_number(seed):
    stress = np.linspace(1.0, 200.0, 120)
    strain = np.abs(np.random.default_rng(seed).standard_normal(120)) + 1e-3
    assert not tangent_crossing(stress, strain).stress.determined


def test_few_or_scattered_points_are_refused():
    with pytest.raises(rk.FitError, match="the stress ramp has 6 points"):
        tangent_crossing(np.arange(1.0, 7.0), np.arange(1.0, 7.0))
    with pytest.raises(rk.FitError, match="no 5 points of the ramp lie within a factor of"):
        tangent_crossing(np.geomspace(1e-6, 1e6, 24), np.geomspace(1e-6, 1e6, 24))


def hump(at=60.0, relative=0.0, top=200.0):
    """Return a ramp whose viscosity in its logarithm falls as the square of the logarithm of stress over `at`."""
    stress = np.linspace(2.0, top, 150)
    viscosity = 1e4 * np.exp(-2.0 * np.log(stress / at) ** 2) * noise(150, relative)
    return rk.FlowCurve(stress / viscosity, stress)


def test_the_viscosity_is_highest_where_it_was_made_to_be():
    found = rk.static_yield_stress_viscosity_maximum(hump(), rest=300.0)
    assert found.stress.value == pytest.approx(60.0, rel=1e-9)
    noisy = rk.static_yield_stress_viscosity_maximum(hump(relative=0.01)).stress
    assert noisy.interval.lower < 60.0 < noisy.interval.upper
    assert 0.0 < noisy.relative_standard_error < 0.1


@pytest.mark.parametrize(("at", "said", "open_end"), [(400.0, "ramp to a higher stress", "upper"), (1.0, "begin lower", "lower")])
def test_a_maximum_outside_the_ramp_is_a_bound(at, said, open_end):
    found = rk.static_yield_stress_viscosity_maximum(hump(at=at)).stress
    assert not found.determined
    assert said in found.reason
    assert getattr(found.interval, open_end) == (np.inf if open_end == "upper" else 0.0)


def test_figures():
    for found in (rk.static_yield_stress_tangents(bent(relative=0.02)), rk.static_yield_stress_viscosity_maximum(hump(relative=0.01))):
        figure, axes = plt.subplots()
        assert found.plot(axes) is axes
        assert axes.get_xscale() == "log"
        assert any("Pa (" in text.get_text() for text in axes.texts)
        plt.close(figure)
