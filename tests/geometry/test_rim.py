"""Parallel plates: true stress at the rim against a printed table, and the single-point rule against the power law."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from reference_data import reference

from rheokit.base.errors import GeometryError
from rheokit.geometry import ParallelPlates, rim_flow, single_point_factor, single_point_flow

PRINTED = reference("steffe_parallel_plates")
PLATES = ParallelPlates(radius=PRINTED["radius"], gap=PRINTED["gap"])
RATES = np.geomspace(0.1, 100.0, 31)


def power_law_torque(index: float, consistency: float = 20.0) -> np.ndarray:
    """Exact: M = 2 π R³ stress/(n + 3)."""
    return 2.0 * np.pi * PLATES.radius**3 * consistency * RATES**index / (index + 3.0)


def test_one_slope_reproduces_the_sixteen_printed_stresses():
    flow = rim_flow(PRINTED["torque"], PRINTED["rim_rate"], PLATES, slope="global")
    assert flow.slope == pytest.approx(PRINTED["global_slope"], abs=5e-6)  # five digits
    # Half of the last printed digit: 0.05 Pa, 0.5 Pa for the last, which has no decimal.
    assert np.all(np.abs(flow.shear_stress - PRINTED["rim_stress"]) <= np.where(np.arange(16) == 15, 0.5, 0.05))


def test_local_slopes_give_a_lower_stress_at_the_top():
    flow = rim_flow(PRINTED["torque"], PRINTED["rim_rate"], PLATES)
    # The slope between the two top points is 0.529; by hand M/(2 π R³) 3.529 = 134.2 Pa.
    assert flow.shear_stress[-1] == pytest.approx(134.0, abs=0.5)
    assert flow.slope[0] > flow.slope[-1]


@pytest.mark.parametrize("index", [1.0, 0.5, 0.2])
@pytest.mark.parametrize("slope", ["local", "global"])
def test_a_power_law_is_found_exactly_by_both_rules(index, slope):
    flow = rim_flow(power_law_torque(index), RATES, PLATES, slope=slope)
    np.testing.assert_allclose(flow.shear_stress, 20.0 * RATES**index, rtol=1e-12)  # rounding
    np.testing.assert_allclose(flow.viscosity, 20.0 * RATES ** (index - 1.0), rtol=1e-12)


@pytest.mark.parametrize("index", [1.0, 0.5, 0.2, 0.0])
def test_the_single_point_rule_is_exact_for_a_power_law_of_known_index(index):
    flow = single_point_flow(power_law_torque(index), RATES, PLATES, flow_index=index)
    np.testing.assert_allclose(flow.shear_stress, 20.0 * flow.shear_rate**index, rtol=1e-12)


def test_the_factor_of_the_single_point_rule():
    assert single_point_factor(0.5) == (pytest.approx(0.765625, abs=1e-15), 0.0)  # (3.5/4)^2, exact
    factor, error = single_point_factor()
    every = [single_point_factor(index)[0] for index in np.linspace(0.0, 1.0, 101)]
    assert max(abs(factor - one) for one in every) <= np.sqrt(3.0) * error * (1.0 + 1e-12)
    assert single_point_factor(1.0)[0] == pytest.approx(single_point_factor(1.0 - 1e-5)[0], rel=1e-5)
    with pytest.raises(GeometryError, match=r"^the flow index is 1\.2; the single-point rule is for 0 to 1$"):
        single_point_factor(1.2)


def test_the_error_of_a_torque_is_carried_through_the_slope():
    torque = power_law_torque(0.4)
    flow = rim_flow(torque, RATES, PLATES, torque_error=0.01)
    moved = []
    for place in range(torque.size):
        pushed = torque.copy()
        pushed[place] *= np.exp(1e-6)
        moved.append(np.log(rim_flow(pushed, RATES, PLATES).shear_stress / flow.shear_stress) / 1e-6)
    # Central: first-order, so the difference quotient leaves 1e-6 relative.
    np.testing.assert_allclose(flow.relative_standard_error, 0.01 * np.linalg.norm(moved, axis=0), rtol=1e-5)


@pytest.mark.parametrize("index", [1.0, 0.4])
def test_one_per_cent_of_radius_is_three_per_cent_of_stress_and_three_plus_n_of_viscosity(index):
    assert PLATES.powers["radius"].stress == -3.0
    wrong = replace(PLATES, radius=PLATES.radius * 1.01)
    speed = PLATES.angular_velocity(RATES)
    torque = power_law_torque(index)
    believed = rim_flow(torque, wrong.shear_rate(speed), wrong)
    at_stated = np.exp(np.interp(np.log(10.0), np.log(believed.shear_rate), np.log(believed.shear_stress)))
    # Exact for a power law: the line in log-log moves by -(3 + n) ln 1.01.
    assert np.log(at_stated / (20.0 * 10.0**index)) == pytest.approx(-(3.0 + index) * np.log(1.01), abs=1e-9)
    flow = rim_flow(torque, RATES, PLATES, dimension_errors={"radius": 0.01})
    assert flow.relative_standard_error == pytest.approx(0.01 * (3.0 + index), rel=1e-12)


def test_errors_are_zero_and_named_so_where_none_was_given():
    flow = rim_flow(power_law_torque(0.4), RATES, PLATES)
    assert not flow.relative_standard_error.any()
    assert {row[-1] for row in flow.table().rows} == {"not given"}


@pytest.mark.parametrize(
    ("torque", "rate", "message"),
    [
        ([1e-3, -1e-3, 1e-3], [1.0, 2.0, 3.0], r"^the torque of point 2 is not positive; leave out the points where nothing flows$"),
        ([1e-3, 2e-3], [1.0, 2.0], r"^a slope needs at least three points, not 2$"),
        ([1e-3, 2e-3, 3e-3], [1.0, 3.0, 2.0], r"^local slopes need points whose rates rise or fall throughout"),
        ([1e-3, 2e-3, 3e-3], [1.0, 2.0], r"^columns of unequal length: torque 3, shear rate at the rim 2$"),
    ],
)
def test_what_cannot_be_corrected_is_refused(torque, rate, message):
    with pytest.raises(GeometryError, match=message):
        rim_flow(torque, rate, PLATES)


def test_an_unknown_dimension_or_rule_is_refused():
    with pytest.raises(GeometryError, match=r"^there is no dimension 'angle'; the geometry has radius, gap$"):
        rim_flow(power_law_torque(0.4), RATES, PLATES, dimension_errors={"angle": 0.01})
    with pytest.raises(GeometryError, match=r"^a slope is taken by the rule 'local', 'smoothed' or 'global', not 'middle'$"):
        rim_flow(power_law_torque(0.4), RATES, PLATES, slope="middle")


def test_the_figure_names_both_curves_and_the_rule():
    axes = rim_flow(PRINTED["torque"], PRINTED["rim_rate"], PLATES, torque_error=0.01).plot()
    said = {text.get_text() for text in axes.texts}
    assert {"apparent", "corrected"} < said
    assert "local slope" in str(said)
