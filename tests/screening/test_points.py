"""Scatter and spikes: exact heights on either side of the limits."""

import numpy as np
import pytest
from screening.made_runs import found, run, step

from rheokit.screening import screen

RATES = np.geomspace(1.0, 100.0, 41)


@pytest.mark.parametrize(("scatter", "count"), [(0.0499, 0), (0.0501, 1)])
def test_points_that_alternate_about_a_straight_line(scatter, count):
    # ln τ alternates by ± e: a point lies 2 e from the line through its neighbours, of variance 1.5 s².
    swing = scatter * np.sqrt(1.5) / 2.0 * np.resize([1.0, -1.0], 41)
    given = found(screen(run(step(1, "down", RATES[::-1], (100.0 * RATES**0.5 * np.exp(swing))[::-1]))), "point_scatter")
    assert len(given) == count
    if count:
        assert str(given[0]) == "step 1 (down): the points scatter by 5.0% about their neighbours; look for slip, air or a rough edge"


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(("height", "count"), [(0.0499, 0), (0.0501, 1)])
def test_a_point_that_sticks_out(height, sign, count):
    stress = np.full(40, 100.0)
    stress[20] *= (1.0 + height) ** sign
    given = found(screen(run(step(1, "hold", 100.0, stress))), "spikes")
    assert len(given) == count
    if count:
        assert given[0].value == pytest.approx(height, rel=1e-9)
        assert "Pa sticks out by 5.0% from its neighbours; look for particles or air, and measure again" in str(given[0])


def test_neither_a_jump_nor_a_peak_sticks_out():
    jump = np.r_[np.full(20, 100.0), np.full(20, 150.0)]
    peak = 100.0 + 100.0 * np.exp(-(((np.arange(40.0) - 15.0) / 6.0) ** 2))
    for stress in (jump, peak):
        assert found(screen(run(step(1, "hold", 100.0, stress))), "spikes") == []


@pytest.mark.parametrize(("moved", "count"), [(0.499, 0), (0.501, 1)])
def test_a_temperature_that_moves(moved, count):
    warm = step(1, "shear", 100.0, np.full(30, 380.0), temperature=296.15 + np.linspace(0.0, moved, 30))
    assert len(found(screen(run(warm)), "temperature_known")) == count


def test_a_point_on_the_edge_of_a_jump_sticks_out_by_the_lesser_side():
    stress = np.r_[np.full(20, 100.0), 110.0, np.full(20, 110.0 / 1.0499)]
    assert found(screen(run(step(1, "hold", 100.0, stress))), "spikes") == []
    stress[21:] = 110.0 / 1.0501
    assert len(found(screen(run(step(1, "hold", 100.0, stress))), "spikes")) == 1
