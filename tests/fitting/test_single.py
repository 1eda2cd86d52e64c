"""The quick start of one curve: near the floor that the general search finds, and silent where it does not apply."""

import numpy as np
import pytest
from fitting.many_curves import RATES, curves

import rheokit as rk
from rheokit.fitting.projection import search
from rheokit.fitting.request import request
from rheokit.fitting.single import power_start


def asked(name, stress, **options):
    return request(RATES, stress, rk.MODELS[name], **({"fixed": None, "bounds": None, "start": None} | options))


def cost(one, point, deviations):
    return float((((one.y - one.law.value(one.x, *point)) / deviations) ** 2).sum())


@pytest.mark.parametrize("name", ["power_law", "herschel_bulkley", "sisko"])
def test_it_is_at_the_floor_of_the_deepest_valley(name):
    stresses, deviations = curves(name, 40, noise=0.1)
    arrived = []
    for stress, deviation in zip(stresses, deviations, strict=True):
        for weights in (deviation, np.ones(30)):
            one = asked(name, stress)
            point = power_start(one, weights)
            slow = search(one, weights, one.first_point(np.zeros(len(one.law.names), dtype=bool)))
            assert (point >= one.lower).all()
            assert (point <= one.upper).all()
            # The slower search stops at the vertex of a parabola, which is higher; never lower but for rounding.
            assert cost(one, point, weights) <= cost(one, slow, weights) * (1.0 + 1e-12)
            fit = rk.fit_flow_curve(rk.FlowCurve(RATES, stress), name, weighting=weights)
            # Steps are few, and slow where the law fits badly; most arrive, and the descent in all parameters does for the others.
            assert cost(one, point, weights) <= fit.sum_of_squares * (1.0 + 1e-3)
            arrived.append(cost(one, point, weights) <= fit.sum_of_squares * (1.0 + 1e-12))
    assert np.mean(arrived) > 0.9


@pytest.mark.parametrize("factor", [1e-60, 1e60])
def test_extreme_stresses(factor):
    stress = curves("herschel_bulkley", 1)[0][0]
    plain, scaled = (power_start(asked("herschel_bulkley", size * stress), np.full(30, size)) for size in (1.0, factor))
    assert scaled == pytest.approx(plain * [factor, factor, 1.0], rel=1e-7)


def test_a_falling_curve_has_no_power_term():
    point = power_start(asked("herschel_bulkley", 100.0 - np.arange(30.0)), np.ones(30))
    assert point[0] == pytest.approx((100.0 - np.arange(30.0)).mean(), rel=1e-12)
    assert point[1] == 0.0


def test_where_it_does_not_apply_it_says_nothing():
    stress = curves("herschel_bulkley", 1)[0][0]
    for name, options in (
        ("bingham", {}),
        ("cross", {}),
        ("herschel_bulkley_plateau", {}),
        ("herschel_bulkley", {"fixed": {"yield_stress": 3.0}}),
        ("herschel_bulkley", {"bounds": {"yield_stress": (1.0, 50.0)}}),
        ("herschel_bulkley", {"bounds": {"flow_index": (0.50, 0.51)}}),
    ):
        assert power_start(asked(name, stress, **options), np.ones(30)) is None
    assert power_start(asked("herschel_bulkley", 0.0 * stress), np.ones(30)) is None
