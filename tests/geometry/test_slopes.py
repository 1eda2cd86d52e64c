"""The smoothed slope: exact on parabolas, near on the curves of inks, and quiet on a ramp with noise."""

import numpy as np
import pytest

from rheokit.base.errors import GeometryError
from rheokit.geometry import ParallelPlates, rim_flow
from rheokit.geometry.slopes import slope_at, slope_weights

PLATES = ParallelPlates(radius=0.025, gap=0.001)
RAMP = 100.0 * np.arange(1, 61) / 60.0


def test_a_parabola_is_met_exactly():
    x = np.linspace(-1.0, 3.0, 17)
    y = 2.0 - 0.5 * x + 0.25 * x**2
    np.testing.assert_allclose(slope_weights(x, "smoothed") @ y, -0.5 + 0.5 * x, rtol=0.0, atol=1e-12)  # rounding
    assert slope_at(x, y, 0.3) == pytest.approx(-0.35, abs=1e-12)


def test_the_nearest_three_count_where_points_are_far_apart():
    x = np.log([1.0, 10.0, 100.0, 1000.0])
    assert slope_at(x, 0.4 * x, x[1]) == pytest.approx(0.4)
    assert np.count_nonzero(slope_weights(x, "smoothed")[0]) == 3


@pytest.mark.parametrize("rates", [RAMP, np.geomspace(0.1, 100.0, 16)], ids=["ramp", "steady steps"])
@pytest.mark.parametrize(("yield_stress", "consistency", "index"), [(200.0, 1.8, 1.0), (133.0, 60.0, 0.4), (100.0, 30.0, 0.6)])
def test_the_true_stress_of_an_ink_is_found_at_the_rim(rates, yield_stress, consistency, index):
    # By integration over the plate: M = 2 π R³ (τ_y/3 + K rate^n/(3 + n)), so the apparent stress is up to 4/3 of the true one.
    torque = 2.0 * np.pi * PLATES.radius**3 * (yield_stress / 3.0 + consistency * rates**index / (3.0 + index))
    true = yield_stress + consistency * rates**index
    flow = rim_flow(torque, rates, PLATES, slope="smoothed")
    assert np.max(np.abs(flow.shear_stress / true - 1.0)) < 2e-3
    assert np.max(flow.apparent_stress / true) > 1.1  # there is something to correct


def test_it_is_quieter_than_neighbours():
    logs = np.log(RAMP)
    top = {rule: 0.006 * np.linalg.norm(slope_weights(logs, rule)[-1]) for rule in ("local", "smoothed")}
    # By hand for the two last points: 0.006 √2/ln(60/59) = 0.505.
    assert top["local"] == pytest.approx(0.505, abs=1e-3)
    assert top["smoothed"] < 0.021


def test_points_at_one_rate_have_no_slope():
    with pytest.raises(GeometryError, match="three points lie at one rate, which has no slope; average points at one rate"):
        slope_weights(np.log([10.0, 10.001, 10.002, 100.0]), "smoothed")
    with pytest.raises(GeometryError, match="a slope needs at least three points, not 2"):
        slope_at(np.array([0.0, 1.0]), np.array([0.0, 1.0]), 0.5)
