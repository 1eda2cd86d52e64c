"""The loop against exact mathematics, and what holds for every loop."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from reference_data import reference
from scipy.integrate import quad
from scipy.special import erfi
from thixotropy.loop_runs import measured_run, single_loop

import rheokit as rk
from rheokit.virtual import Faults, Ink, loop_protocol

EXACT = reference("breakdown_loop")


def closed_form(depth, beta, b, highest):
    """Area of the breakdown loop; see the reference file."""
    return depth * (beta / b) * np.expm1(-b * highest**2 / (2.0 * beta)) ** 2


def breakdown_area(depth, beta, b, highest, points=4000):
    """Area of the breakdown loop by its points."""
    rate = np.linspace(0.0, highest, points)
    up = (3.0 + depth * np.exp(-b * rate**2 / (2.0 * beta))) * rate
    down = (3.0 + depth * np.exp(-b * (2.0 * highest**2 - rate**2) / (2.0 * beta))) * rate
    time = rate / beta
    return rk.hysteresis_loop(rk.Leg(time, rate, up), rk.Leg(2.0 * time[-1] - time[::-1], rate[::-1], down[::-1])).area.value


def test_the_closed_form_is_that_of_the_reference():
    assert closed_form(*(EXACT[name] for name in ("D", "beta", "b", "g_m"))) == pytest.approx(EXACT["area"], rel=1e-11)


@pytest.mark.parametrize("x", [1e-3, 0.1, 1.0, 5.0, 30.0])
def test_the_breakdown_loop_at_any_ramp(x):
    # X = b g_m²/(2 beta): a quick ramp breaks nothing, a slow one all on the way up. The largest error is that of the pieces near rate 0
    # at X 30, where 4000 points share the fall among 400 of them.
    depth, b, highest = 2.0, 0.001, 100.0
    beta = b * highest**2 / (2.0 * x)
    assert breakdown_area(depth, beta, b, highest) == pytest.approx(closed_form(depth, beta, b, highest), rel=1e-5)


def test_both_limits():
    depth, b, highest = 2.0, 0.001, 100.0
    slow, quick = b * highest**2 / (2.0 * 30.0), b * highest**2 / (2.0 * 1e-3)
    assert breakdown_area(depth, slow, b, highest) == pytest.approx(depth * slow / b, rel=1e-5)
    # (1 - exp(-X))² is X² (1 - X + ...).
    assert breakdown_area(depth, quick, b, highest) == pytest.approx(depth * b * highest**4 / (4.0 * quick), rel=1.1e-3)


def test_the_area_passes_through_a_maximum_as_the_ramp_gets_slower():
    # (1 - exp(-X))²/X is largest where 2 X exp(-X) = 1 - exp(-X): X 1.25643.
    ramps = np.array([0.5, 1.25643, 3.0])
    areas = [breakdown_area(2.0, 0.001 * 1e4 / (2.0 * x), 0.001, 100.0, points=500) for x in ramps]
    assert areas[1] > max(areas[0], areas[2])


def test_a_loop_of_moore_with_rebuilding():
    # dL/dt = a (1 - L) - b g L on a triangle: with c = b beta/2 the up leg is L = exp(-(a t + c t²)) (L0 + a times the integral of
    # exp(a s + c s²)), an erfi; the down leg is the same backwards in the exponent, an erf, here by quadrature to 1e-12.
    a, b, depth, beta, highest, eta = 0.02, 0.001, 2.0, 5.0, 100.0, 3.0
    c, top = 0.5 * b * beta, highest / beta

    def rising(t):
        factor = np.sqrt(np.pi) / (2.0 * np.sqrt(c)) * np.exp(-(a**2) / (4.0 * c))
        built = a * factor * (erfi(np.sqrt(c) * (t + a / (2.0 * c))) - erfi(a / (2.0 * np.sqrt(c))))
        return np.exp(-(a * t + c * t**2)) * (1.0 + built)

    def spent(t):  # integral of a + b g from the top on, g = highest - beta t
        return a * t + b * (highest * t - 0.5 * beta * t**2)

    def falling(t):
        built = quad(lambda s: a * np.exp(spent(s) - spent(t)), 0.0, t, epsabs=0.0, epsrel=1e-12)[0] if t else 0.0
        return rising(top) * np.exp(-spent(t)) + built

    times = np.linspace(0.0, top, 1500)
    rate = beta * times
    legs = (eta + depth * rising(times)) * rate, (eta + depth * np.array([falling(t) for t in times])) * rate[::-1]
    loop = rk.hysteresis_loop(rk.Leg(times, rate, legs[0]), rk.Leg(top + times, rate[::-1], legs[1]))
    # Over time: dg is beta dt up and -beta dt down.
    under = (
        quad(lambda t: rising(t) * beta * t * beta, 0.0, top)[0],
        quad(lambda t: falling(t) * (highest - beta * t) * beta, 0.0, top)[0],
    )
    assert loop.area.value == pytest.approx(depth * (under[0] - under[1]), rel=1e-5)
    assert 0.0 < loop.area.value < EXACT["area"]


def test_straight_where_a_stress_is_not_positive():
    rate = np.array([1.0, 2.0, 4.0, 8.0, 9.0, 10.0])
    up, down = np.array([5.0, 7.0, 9.0, 12.0, 13.0, 14.0]), np.array([-2.0, -1.0, -3.0, -1.0, -2.0, -1.0])
    loop = rk.hysteresis_loop(rk.Leg(rate, rate, up), rk.Leg(20.0 - rate[::-1], rate[::-1], down[::-1]))
    trapezoids = 0.5 * (down[1:] + down[:-1]) @ np.diff(rate)
    exponents = np.diff(np.log(up)) / np.diff(np.log(rate)) + 1.0
    powers = float((up[:-1] * rate[:-1] / exponents * ((rate[1:] / rate[:-1]) ** exponents - 1.0)).sum())
    assert loop.area.value == pytest.approx(powers - trapezoids, rel=1e-11)


# --- what holds for every loop -----------------------------------------------------------------------------------------------------

PROPERTY = settings(deadline=None, max_examples=60, phases=(Phase.explicit, Phase.generate))


@st.composite
def loops(draw, least=-20.0):
    """Legs on points of their own between rate 0 or 0.5 and 100; some stresses of the down leg may not be positive."""
    legs = []
    for low in (0.01, least):
        inner = draw(st.lists(st.floats(1.0, 99.0), min_size=4, max_size=12, unique_by=lambda rate: round(rate, 2)))
        rate = np.array(sorted([draw(st.sampled_from([0.0, 0.5])), *inner, 100.0]))
        stress = np.array(draw(st.lists(st.floats(low, 1e4), min_size=rate.size, max_size=rate.size)))
        # Numbers so small that a float has not all of its digits cannot be scaled exactly.
        stress[np.abs(stress) < 1e-200] = 0.0
        legs.append((rate, stress))
    return legs


def loop_of(legs):
    # Linear in time, so that both legs have one course.
    (up, above), (down, below) = legs
    return rk.hysteresis_loop(rk.Leg(up, up, above), rk.Leg(200.0 - down[::-1], down[::-1], below[::-1]))


def size_of(legs):
    return 100.0 * max(np.abs(stress).max() for _, stress in legs)


@PROPERTY
@given(loops(), st.floats(1e-3, 1e3))
def test_scaling_the_stress_scales_the_area(legs, factor):
    plain, scaled = loop_of(legs), loop_of([(rate, factor * stress) for rate, stress in legs])
    # Roundings of terms as large as the area under a leg.
    assert scaled.area.value == pytest.approx(factor * plain.area.value, rel=1e-9, abs=1e-12 * factor * size_of(legs))
    assert scaled.relative_area.value == pytest.approx(plain.relative_area.value, rel=1e-9, abs=1e-9)
    if plain.area.standard_error is not None:
        assert scaled.area.standard_error == pytest.approx(factor * plain.area.standard_error, rel=1e-7, abs=1e-9 * factor)


@PROPERTY
@given(loops(least=0.01))
def test_swapping_the_legs_changes_the_sign(legs):
    assert loop_of(legs[::-1]).area.value == pytest.approx(-loop_of(legs).area.value, rel=1e-9, abs=1e-12 * size_of(legs))


@PROPERTY
@given(loops(), st.lists(st.floats(0.6, 99.9), min_size=1, max_size=8, unique=True))
def test_more_points_on_the_same_pieces_change_nothing(legs, more):
    plain = loop_of(legs)
    denser = []
    for rate, stress in legs:
        added = np.setdiff1d(more, rate)
        all_rates = np.union1d(rate, added)
        # Power law where both ends and the rate allow it, else straight; a straight piece is left as it is, since positive parts of it
        # would be power laws of their own.
        values, kept = [], []
        for g in all_rates:
            k = min(max(int(np.searchsorted(rate, g, side="right")) - 1, 0), rate.size - 2)
            ends = rate[k], rate[k + 1], stress[k], stress[k + 1]
            if g in rate:
                values.append(stress[int(np.searchsorted(rate, g))])
            elif min(ends[0], ends[2], ends[3]) > 0.0:
                place = np.log(g / ends[0]) / np.log(ends[1] / ends[0])
                values.append(np.exp((1.0 - place) * np.log(ends[2]) + place * np.log(ends[3])))
            else:
                continue
            kept.append(g)
        denser.append((np.array(kept), np.array(values)))
    found = loop_of(denser)
    assert found.area.value == pytest.approx(plain.area.value, rel=1e-9, abs=1e-11 * size_of(legs))


@PROPERTY
@given(loops())
def test_lobes_add_up_and_change_sign(legs):
    loop = loop_of(legs)
    areas = [lobe.area for lobe in loop.lobes]
    assert sum(areas) == pytest.approx(loop.area.value, rel=1e-9, abs=1e-11 * size_of(legs))
    # Signs, and not products, which may underflow.
    assert all((one < 0.0) != (other < 0.0) for one, other in pairwise(areas))
    assert all(one.highest_rate <= other.lowest_rate for one, other in pairwise(loop.lobes))


@PROPERTY
@given(loops())
def test_points_of_the_other_leg_do_not_move_an_area(legs):
    # The up leg against one of nothing but zeros, on unlike points: what lies under it alone.
    (rate, stress), (other, _) = legs
    alone = loop_of([(rate, stress), (rate, np.zeros(rate.size))]).area.value
    lowest = max(rate[0], other[0])
    beside = loop_of([(rate, stress), (other, np.zeros(other.size))]).area.value
    first = min(rate[0], other[0])
    if rate[0] == lowest == first:
        assert beside == pytest.approx(alone, rel=1e-12)


# --- a good gel is no fault --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(5))
def test_a_rested_gel_with_an_overshoot_is_no_finding(seed):
    gel = Ink(
        broken_yield_stress=20.0, structure_yield_stress=400.0, broken_consistency=8.0, structure_consistency=2.0, flow_index=0.5,
        infinite_shear_viscosity=0.2, build_up_rate=0.004, breakdown_rate=0.02, breakdown_exponent=0.9, elastic_strain=6.0,
    )  # fmt: skip
    faults = Faults(point_noise_sd=0.005, load_factor_sd=0.02, torque_floor=2e-7, temperature_scatter=0.02)
    run = measured_run(loop_protocol(rest=900.0), ("shear", "rest", "up", "hold", "down", "shear"), seed, gel, faults)
    up, down = run.step("up"), run.step("down")
    peak = int(np.argmax(up.shear_stress))
    assert 0 < peak < 20
    assert up.shear_stress.min() < 0.75 * up.shear_stress[peak]  # it falls while the rate rises
    assert np.interp(up.shear_rate[peak], down.shear_rate[::-1], down.shear_stress[::-1]) < 0.4 * up.shear_stress[peak]
    loop = rk.loop_of_run(run)
    assert loop.relative_area.value > 0.15
    assert loop.findings == ()
    assert [finding for finding in rk.screen(run) if finding.severity == "invalid"] == []
    assert [finding for finding in rk.hold_breakdown(run.step("hold")).findings if finding.severity == "invalid"] == []


def test_the_ink_of_the_scenario_is_no_finding():
    run = single_loop(seed=3)
    assert rk.loop_of_run(run).findings == ()
    assert [finding for finding in rk.screen(run) if finding.severity == "invalid"] == []
