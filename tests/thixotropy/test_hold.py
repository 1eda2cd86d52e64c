"""Breakdown during a hold: numbers exact by construction, and what is not determined."""

import pickle

import matplotlib.pyplot as plt
import numpy as np
import pytest
from scipy import stats
from thixotropy.loop_runs import measured_run, single_loop, step

import rheokit as rk
from rheokit.virtual import Faults, Ink, Protocol, constant, evenly

TIMES = np.arange(1, 61) * 5.0
EXPONENTIAL = 300.0 + 80.0 * np.exp(-TIMES / 40.0)
WELTMANN = 380.0 - 20.0 * np.log(TIMES)


def hold(stress, *, times=TIMES, rate=100.0, noise=0.0, seed=0, number=4, **columns):
    """Return a hold with its step time; the clock of the run began 480 s before."""
    noisy = stress * (1.0 + noise * np.random.default_rng(seed).standard_normal(times.size))
    rates = rate * np.ones(times.size)
    return step(number, "hold", 480.0 + times, rates, noisy, **({"step_time": times} | columns))


def checks(found):
    return [finding.check for finding in found.findings]


def test_an_exponential_hold_is_read_exactly():
    found = rk.hold_breakdown(hold(EXPONENTIAL))
    assert found.comparison.best.law.name == "exponential_breakdown"
    # The fit settles on points exact to rounding.
    assert (found.breakdown_time.value, found.breakdown_time.unit) == (pytest.approx(40.0, rel=1e-7), "s")
    assert (found.stress_drop.value, found.stress_drop.unit) == (pytest.approx(80.0, rel=1e-7), "Pa")
    assert found.relative_drop.value == pytest.approx(1.0 - EXPONENTIAL[-1] / EXPONENTIAL[0], rel=1e-14)
    assert not found.weltmann_coefficient.determined
    assert "the exponential breakdown law describes the hold better (AICc by" in found.weltmann_coefficient.reason
    assert found.findings == ()
    assert {name: held.value for name, held in found.relative_drop.conditions.items()} == {
        "shear_rate": 100.0, "from_time": 5.0, "to_time": 300.0,
    }  # fmt: skip


def test_a_weltmann_hold_is_read_exactly_and_names_its_reference_time():
    found = rk.hold_breakdown(hold(WELTMANN))
    assert found.weltmann_coefficient.value == pytest.approx(20.0, rel=1e-10)
    assert found.weltmann_coefficient.conditions["reference_time"].value == 1.0
    assert "stress A at 1 s after the hold began" in found.weltmann_coefficient.method
    assert not found.breakdown_time.determined
    assert not found.stress_drop.determined
    assert {one.name for one in found.comparison.candidates} == {"steady_stress", "weltmann", "exponential_breakdown"}


def test_moore_at_a_constant_rate_is_exponential():
    # dL/dt = a (1 - L) - b g L at a held rate: t_b = 1/(a + b g), and the stress falls by c g (L0 - Lss). a 0.01, b 0.0005, g 100.
    ink = Ink(
        broken_yield_stress=0.0, structure_yield_stress=0.0, broken_consistency=1.0, structure_consistency=2.0, flow_index=1.0,
        infinite_shear_viscosity=0.0, build_up_rate=0.01, breakdown_rate=0.0005,
    )  # fmt: skip
    protocol = Protocol(name="hold", segments=(constant(1, 0.0, 2000.0, evenly(2000.0, 5)), constant(2, 100.0, 120.0, evenly(120.0, 60))))
    run = measured_run(protocol, ("rest", "hold"), ink=ink, faults=Faults())
    found = rk.hold_breakdown(run.step("hold"))
    rested = 1.0 - 0.2 * np.exp(-0.01 * 2000.0)  # the virtual run begins at 0.8
    assert found.breakdown_time.value == pytest.approx(1.0 / 0.06, rel=1e-5)  # integrated to 1e-9
    assert found.stress_drop.value == pytest.approx(2.0 * 100.0 * (rested - 0.01 / 0.06), rel=1e-5)


def test_the_errors_are_those_of_the_scatter():
    found = rk.hold_breakdown(hold(EXPONENTIAL, noise=0.005, seed=3))
    for estimate in (found.relative_drop, found.stress_drop, found.breakdown_time):
        assert estimate.determined
        assert 0.0 < estimate.standard_error < 0.1 * estimate.value
    # Two points of 0.5 % each; the factor is what is left of the viscosity.
    assert found.relative_drop.standard_error == pytest.approx(0.81 * 2.0**0.5 * 0.005, rel=0.3)


def test_the_error_of_the_relative_drop_covers():
    # 300 holds: 95 % intervals by Student's t within the 99.9 % binomial limits; the negative control, errors divided by 1.3, falls to
    # about 86 %.
    truth, repeats = 1.0 - EXPONENTIAL[-1] / EXPONENTIAL[0], 300
    found = [rk.hold_breakdown(hold(EXPONENTIAL, noise=0.01, seed=seed)).relative_drop for seed in range(repeats)]
    off = np.array([abs(one.value - truth) / (stats.t.ppf(0.975, one.degrees_of_freedom) * one.standard_error) for one in found])
    lowest, highest = stats.binom.ppf([0.0005, 0.9995], repeats, 0.95)
    assert lowest <= (off <= 1.0).sum() <= highest
    assert (off <= 1.0 / 1.3).sum() < lowest


@pytest.mark.parametrize("noise", [0.0, 0.005])
def test_a_flat_hold_has_no_time_and_no_drop(noise):
    found = rk.hold_breakdown(hold(300.0 * np.ones(60), noise=noise))
    assert "hold_flat" in checks(found)
    assert not found.breakdown_time.determined
    assert not found.stress_drop.determined
    assert found.relative_drop.determined
    assert abs(found.relative_drop.value) < 0.03
    if noise:
        assert abs(found.weltmann_coefficient.value) < 3.0 * found.weltmann_coefficient.standard_error


def test_few_flat_holds_look_like_breakdown():
    # By chance a law of one parameter more beats a steady stress by an AICc of 2 in about 4 of 100 holds, one of two more in as many.
    broken = sum(rk.hold_breakdown(hold(300.0 * np.ones(60), noise=0.01, seed=seed)).breakdown_time.determined for seed in range(50))
    assert broken <= stats.binom.ppf(0.999, 50, 0.08)


def test_noise_is_said():
    found = rk.hold_breakdown(hold(EXPONENTIAL, noise=0.08))
    assert "hold_noisy" in checks(found)
    assert any("about the best law; a smaller change is not seen" in str(finding) for finding in found.findings)


@pytest.mark.parametrize(
    ("stress", "said"),
    [
        (300.0 + 80.0 * np.exp(-TIMES / 2000.0), "the hold ended (295 s) before the plateau was seen; hold longer"),
        (300.0 + 5000.0 * np.exp(-TIMES / 1.5), "the breakdown was over before the second point (10.0 s); record faster"),
    ],
    ids=["truncated", "too fast"],
)
def test_what_was_not_seen_is_not_determined(stress, said):
    found = rk.hold_breakdown(hold(stress))
    for estimate in (found.breakdown_time, found.stress_drop):
        assert not estimate.determined
        assert estimate.reason == said


@pytest.mark.parametrize(
    "rate",
    [100.0 + 0.1 * TIMES, np.where(TIMES > 200.0, 50.0, 100.0), 100.0 * (1.0 + 0.04 * np.cos(TIMES))],
    ids=["drift", "step", "noise"],
)
def test_a_rate_that_is_not_held_determines_nothing(rate):
    found = rk.hold_breakdown(hold(EXPONENTIAL * (rate / 100.0) ** 0.5, rate=rate))
    (finding,) = (seen for seen in found.findings if seen.check == "rate_not_held")
    assert finding.severity == "invalid"
    assert "the rate was not held" in str(finding)
    for estimate in found.estimates:
        assert not estimate.determined
        assert finding in estimate.findings


def test_points_while_the_drive_settles_are_left_out_and_said():
    rate = np.full(60, 100.0)
    rate[:3] = 70.0, 90.0, 97.0
    found = rk.hold_breakdown(hold(np.where(rate < 99.0, 500.0, EXPONENTIAL), rate=rate))
    assert str(found.findings[0]) == "the first 3 of 60 points are not yet at 100.0 1/s and are left out"
    assert found.breakdown_time.value == pytest.approx(40.0, rel=1e-7)
    assert found.time[0] == 20.0


def test_a_shape_that_no_law_has_is_said():
    found = rk.hold_breakdown(hold(300.0 + 40.0 * np.cos(TIMES / 30.0)))
    assert "hold_shape" in checks(found)
    assert any("go in streaks" in str(finding) for finding in found.findings)


def test_when_the_hold_began():
    bare = step(4, "hold", 480.0 + TIMES, np.full(60, 100.0), WELTMANN)
    taken = rk.hold_breakdown(bare)
    assert taken.weltmann_coefficient.value == pytest.approx(20.0, rel=1e-10)
    assert [str(finding) for finding in taken.findings] == [
        "the export has no step time: the hold is taken to begin 5.00 s, one interval, before its first point; give begin where it is known"
    ]
    given = rk.hold_breakdown(bare, begin=480.0)
    assert given.findings == ()
    assert given.weltmann_coefficient.value == pytest.approx(20.0, rel=1e-10)
    # A point at the start itself has no logarithm of its time.
    at_start = rk.hold_breakdown(hold(np.append(400.0, WELTMANN), times=np.append(0.0, TIMES)))
    assert str(at_start.findings[0]) == "1 of 61 points have no number or stand at the start itself, and are left out"
    assert at_start.weltmann_coefficient.value == pytest.approx(20.0, rel=1e-10)


def test_what_no_hold_can_answer_is_refused():
    with pytest.raises(rk.FitError, match=r"step 4 \(hold\) has 5 usable points; a hold needs at least 6"):
        rk.hold_breakdown(hold(EXPONENTIAL[:5], times=TIMES[:5]))
    with pytest.raises(rk.FitError, match="has stresses that are not positive"):
        rk.hold_breakdown(hold(np.where(TIMES > 280.0, -1.0, EXPONENTIAL)))


def test_scaling_the_stress_scales_what_is_a_stress():
    one, other = (rk.hold_breakdown(hold(factor * EXPONENTIAL, noise=0.005)) for factor in (1.0, 7.0))
    assert other.stress_drop.value == pytest.approx(7.0 * one.stress_drop.value, rel=1e-6)
    assert other.weltmann_coefficient.value == pytest.approx(7.0 * one.weltmann_coefficient.value, rel=1e-9)
    assert other.breakdown_time.value == pytest.approx(one.breakdown_time.value, rel=1e-6)
    assert other.relative_drop.value == pytest.approx(one.relative_drop.value, rel=1e-12)


def test_holds_at_another_rate_or_time_are_not_compared():
    one = rk.hold_breakdown(hold(EXPONENTIAL, noise=0.005)).relative_drop
    one.require_comparable(rk.hold_breakdown(hold(EXPONENTIAL, noise=0.005, seed=1, rate=101.0)).relative_drop)
    with pytest.raises(rk.ComparisonError, match="the condition shear_rate differs"):
        one.require_comparable(rk.hold_breakdown(hold(EXPONENTIAL, noise=0.005, rate=200.0)).relative_drop)
    with pytest.raises(rk.ComparisonError, match="the condition to_time differs"):
        one.require_comparable(rk.hold_breakdown(hold(EXPONENTIAL[:30], times=TIMES[:30], noise=0.005)).relative_drop)


def test_the_hold_of_a_loop_of_a_run():
    found = rk.hold_breakdown(single_loop().step("hold"))
    assert found.shear_rate == pytest.approx(100.0)
    assert not any(finding.severity == "invalid" for finding in found.findings)
    assert 0.0 < found.relative_drop.value < 0.05


def test_table_plot_and_travel():
    found = rk.hold_breakdown(hold(EXPONENTIAL, noise=0.005, seed=3))
    for part in (
        "hold relative drop",
        "weltmann coefficient",
        "not determined",
        "held at 100.0 1/s, 60 points 5.00 to 300 s after it began",
    ):
        assert part in str(found)
    assert "exponential breakdown describes these points best" in str(found)
    assert found.table()._repr_html_() == found._repr_html_()
    figure, axes = plt.subplots()
    assert found.plot(axes) is axes
    words = [text.get_text() for text in axes.texts]
    assert words[:3] == ["exponential breakdown", "weltmann", "steady stress"]
    assert "breakdown time $t_b$ = " in words[3]
    assert "weltmann coefficient $B$: not determined" in words[3]
    plt.close(figure)
    back = pickle.loads(pickle.dumps(found))
    assert back.relative_drop == found.relative_drop
    assert not back.time.flags.writeable


@pytest.mark.parametrize("rate", [0.0, -100.0])
def test_a_hold_at_no_rate_is_refused(rate):
    with pytest.raises(rk.FitError, match=f"is held at {rate:.4g}.* 1/s and shears nothing; give the hold at the top rate"):
        rk.hold_breakdown(hold(EXPONENTIAL, rate=rate))


def test_a_hold_whose_points_are_one_number_needs_no_division_by_zero():
    # Warnings are errors here: a breakdown time of zero would be divided by.
    found = rk.hold_breakdown(hold(200.0 * np.ones(30), times=np.arange(1.0, 31.0)))
    assert not found.breakdown_time.determined
