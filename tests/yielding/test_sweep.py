"""The amplitude sweep: limit of the linear range and flow point."""

from math import hypot, sqrt

import matplotlib.pyplot as plt
import numpy as np
import pytest
from yielding.made import softened, step

import rheokit as rk
from rheokit.yielding.growth import GROWTH
from rheokit.yielding.linear_limit import SOFTENING


def with_moduli(storage, loss, strain):
    return step("amplitude_sweep", "strain", shear_strain=strain, storage_modulus=storage, loss_modulus=loss)


@pytest.mark.parametrize(("law", "at"), [(SOFTENING, (900.0, 0.1, 1.7)), (GROWTH, (90.0, 12.0))], ids=["softening", "growth"])
def test_the_laws_have_the_derivatives_and_the_basis_they_say(law, at):
    x = np.geomspace(1e-3, 1.0, 20)
    proved = law.complex_step_jacobian(x, *at)
    assert law.jacobian(x, *at) == pytest.approx(proved, rel=1e-12, abs=1e-12)
    linear = [value for name, value in zip(law.names, at, strict=True) if name in law.linear]
    others = [value for name, value in zip(law.names, at, strict=True) if name in law.nonlinear]
    assert law.basis(x, *others) @ linear == pytest.approx(law.value(x, *at), rel=1e-12)


def test_the_error_of_the_limit_follows_from_that_of_the_fit():
    found = rk.linear_limit(softened(relative=0.01), tolerance=0.05)

    def log_limit(parameters):
        return np.log(parameters[1]) + np.log(0.05 / 0.95) / parameters[2]

    values, steps = found.fit.values, 1e-5 * found.fit.values
    by = np.array([(log_limit(values + move) - log_limit(values - move)) / (2.0 * move.sum()) for move in np.diag(steps)])
    # Central differences over a part in 1e5: their own error is a part in 1e10.
    assert found.limit_strain.relative_standard_error == pytest.approx(np.sqrt(by @ found.fit.covariance @ by), rel=1e-6)


@pytest.mark.parametrize("tolerance", [0.02, 0.05, 0.1])
def test_the_limit_is_where_the_closed_form_has_it(tolerance):
    found = rk.linear_limit(softened(), tolerance=tolerance, rest=300.0)
    # (10 strain)^2 = p/(1 - p), by construction.
    strain = 0.1 * sqrt(tolerance / (1.0 - tolerance))
    assert found.limit_strain.value == pytest.approx(strain, rel=1e-6)
    storage = 1000.0 * (1.0 - tolerance)
    # The stress is read between points a factor of 1.26 apart; it bends by less than 0.5 % there.
    assert found.stress.value == pytest.approx(strain * hypot(storage, storage * (0.2 + 4.0 * strain)), rel=5e-3)
    assert str(found.stress.conditions["tolerance"]) == number_of(tolerance)
    assert (found.stress.name, found.limit_strain.name) == ("linear_limit_stress", "linear_limit_strain")


def number_of(tolerance):
    return f"{tolerance:.5f}"[: 7 if tolerance < 0.1 else 6]


def test_the_flow_point_is_where_the_closed_form_has_it():
    found = rk.flow_point(softened(), rest=300.0)
    assert found.flow_strain.value == pytest.approx(0.2, rel=2e-3)  # the parabola misses the curve by less
    assert found.stress.value == pytest.approx(sqrt(2.0) * 1000.0 / 5.0 * 0.2, rel=5e-3)


def test_a_modulus_that_does_not_fall_is_a_bound():
    found = rk.linear_limit(softened(strains=(1e-5, 1e-3), relative=0.002))
    assert not found.stress.determined
    assert "does not fall by 5.0 % up to the last strain, 0.00100; sweep further" in found.stress.reason
    assert found.limit_strain.interval.lower == pytest.approx(1e-3)
    assert found.limit_strain.interval.upper == np.inf
    assert found.stress.interval.lower == pytest.approx(1.0, rel=0.05)


def test_a_sweep_that_begins_too_high_shows_no_plateau():
    found = rk.linear_limit(softened(strains=(0.05, 1.0), relative=0.002))
    assert not found.stress.determined
    assert "no plateau is seen" in found.stress.reason
    assert found.limit_strain.interval.lower == 0.0


@pytest.mark.parametrize("seed", range(5))
def test_scatter_beyond_the_tolerance_hides_the_limit(seed):
    found = rk.linear_limit(softened(relative=0.12, seed=seed)).stress
    assert not found.determined


@pytest.mark.parametrize("seed", range(5))
def test_flat_noise_has_no_limit_and_no_crossing(seed):
    strain = np.geomspace(1e-4, 1.0, 41)
    random = np.random.default_rng(seed)
    flat = with_moduli(1000.0 * (1 + 0.01 * random.standard_normal(41)), 200.0 * (1 + 0.01 * random.standard_normal(41)), strain)
    assert not rk.linear_limit(flat).stress.determined
    assert not rk.flow_point(flat).stress.determined


def test_moduli_that_do_not_cross_inside_the_sweep_are_a_bound():
    found = rk.flow_point(softened(strains=(1e-4, 0.1)))
    assert not found.stress.determined
    assert "the storage modulus is the larger up to the last strain, 0.100; sweep further" in found.stress.reason
    assert found.flow_strain.interval.lower == pytest.approx(0.1)
    assert found.flow_strain.interval.upper == np.inf
    strain = np.geomspace(1e-3, 1.0, 30)
    liquid = rk.flow_point(with_moduli(10.0 * strain**-0.1, 100.0 * strain**-0.1, strain))
    assert "the loss modulus is the larger from the first strain on" in liquid.stress.reason
    assert liquid.flow_strain.interval.upper == pytest.approx(1e-3)


def test_moduli_that_cross_beside_the_last_point_are_a_bound():
    found = rk.flow_point(softened(strains=(1e-4, 0.205)))
    assert "cross beside the first or last points" in found.stress.reason
    assert found.flow_strain.interval.lower < 0.2 < found.flow_strain.interval.upper


def test_a_second_crossing_is_said():
    strain = np.geomspace(1e-3, 10.0, 60)
    loss = 100.0 * np.exp(0.5 * np.sin(2.0 * np.log10(strain) * np.pi / 1.6))
    found = rk.flow_point(with_moduli(np.full(60, 100.0), loss, strain))
    assert "moduli_cross_again" in {finding.check for finding in found.findings}


@pytest.mark.parametrize("tolerance", [0.0, 0.3, -0.1])
def test_a_tolerance_out_of_range_is_refused(tolerance):
    with pytest.raises(rk.FitError, match="the tolerance of the linear range lies between 0 and 0.25".replace(".", r"\.")):
        rk.linear_limit(softened(), tolerance=tolerance)


def test_bad_rows_are_left_out_and_too_few_refused():
    made = softened()
    spoilt = {name: values.copy() for name, values in made.columns.items()}
    spoilt["storage_modulus"][3], spoilt["loss_modulus"][5] = np.nan, -1.0
    assert rk.flow_point(step("amplitude_sweep", "strain", **spoilt)).strain.size == 39
    with pytest.raises(rk.FitError, match="the amplitude sweep has 5 points"):
        rk.flow_point(softened(points=5))
    with pytest.raises(rk.StepError, match="has no column 'storage_modulus'"):
        rk.flow_point(step("amplitude_sweep", "strain", shear_strain=np.geomspace(0.1, 1, 9)))


def test_scaling_the_moduli_scales_the_stress_and_not_the_strain():
    made = softened(relative=0.01)
    scaled = step("amplitude_sweep", "strain", **{
        **made.columns, "storage_modulus": 50.0 * made.column("storage_modulus"), "loss_modulus": 50.0 * made.column("loss_modulus"),
    })  # fmt: skip
    for method in (rk.linear_limit, rk.flow_point):
        one, other = method(made).estimates, method(scaled).estimates
        # The fit of the limit is iterated to a part in a million.
        assert other[0].value == pytest.approx(50.0 * one[0].value, rel=1e-6)
        assert other[1].value == pytest.approx(one[1].value, rel=1e-6)
        assert other[1].standard_error == pytest.approx(one[1].standard_error, rel=1e-4)


def test_figures():
    for found in (rk.linear_limit(softened(relative=0.01)), rk.flow_point(softened(relative=0.01))):
        figure, axes = plt.subplots()
        assert found.plot(axes) is axes
        assert {"G′", "G″"} <= {text.get_text() for text in axes.texts}
        plt.close(figure)


def test_a_modulus_that_never_changes_has_no_limit():
    strain = np.geomspace(1e-4, 1.0, 20)
    flat = step("amplitude_sweep", "strain", shear_strain=strain, storage_modulus=np.full(20, 1000.0), loss_modulus=np.full(20, 100.0))
    with pytest.raises(rk.FitError, match=r"one number up to the last strain, 1.00: its fall is not seen; sweep further"):
        rk.linear_limit(flat)
