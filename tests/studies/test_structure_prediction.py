"""A short run of the prediction study, with a negative control."""

from dataclasses import replace

import numpy as np
import pytest

import rheokit as rk
from rheokit import virtual
from studies.structure_prediction import ARMS, LOOP_KINDS, STEP_KINDS, draw_ink, limits, step_test, steps_of, study, table, truth

# 250 batches tell 95 % from the 87 % that errors divided by 1.3 leave.
LOADS = study(250, 7, arms=ARMS[:1], ramps=(30.0,))
NOISE = study(40, 7, arms=ARMS[1:2])
RICHER = study(15, 7, arms=[arm for arm in ARMS if arm.apart == 4.0 and not arm.loop_only])


def test_the_interval_of_an_unseen_loop_covers_as_often_as_it_says():
    (outcome,) = LOADS
    low, high = limits(250)
    assert low <= outcome.covered() <= high
    assert abs(outcome.bias) < 0.005  # the mean of 250 errors of 2.5 % strays by 0.16 %
    assert outcome.found("misfit") <= 2  # one in a thousand by chance


def test_the_negative_control_fails():
    (outcome,) = LOADS
    assert outcome.covered(1.3) < limits(250)[0]


def test_noise_alone_leaves_an_area_within_a_hundredth():
    for outcome in NOISE:
        assert outcome.median_error <= 0.01


def test_an_ink_of_two_structures_is_predicted_roughly_and_called_a_misfit():
    for outcome in RICHER:
        assert outcome.median_error <= 0.08
        assert outcome.found("misfit") == 15


@pytest.mark.parametrize("seed", range(12))
def test_no_start_at_the_truth_finds_a_lower_sum(seed):
    generator = np.random.default_rng((9, seed))
    ink = draw_ink(generator)
    pace, balance = 10.0 ** generator.uniform(-0.7, 0.7, 2)  # far beyond the inks of the study
    ink = replace(ink, build_up_rate=ink.build_up_rate * pace, breakdown_rate=ink.breakdown_rate * balance)
    loop, step = (virtual.simulate_populations(truth(ink, 1.0), one) for one in (virtual.loop_protocol(), step_test()))
    loads = {
        "loop": steps_of(loop, virtual.noisy(loop, generator, noise=0.006, factor=1.02), LOOP_KINDS),
        "step_test": steps_of(step, virtual.noisy(step, generator, noise=0.006, factor=0.99), STEP_KINDS),
    }
    deviations = 0.01 * np.concatenate([one.shear_stress[one.shear_rate > 0.0] for steps in loads.values() for one in steps])
    start = {
        "build_up_rate": ink.build_up_rate, "breakdown_coefficient": ink.breakdown_rate, "breakdown_exponent": ink.breakdown_exponent,
        "flow_index": ink.flow_index,
    }  # fmt: skip
    found = rk.fit_structure(**loads, weighting=deviations).sum_of_squares
    assert found <= rk.fit_structure(**loads, weighting=deviations, start=start).sum_of_squares * (1.0 + 1e-6)


def test_the_page_tells_every_arm_at_every_ramp():
    text = table((*LOADS, *NOISE, *RICHER))
    assert len(text.splitlines()) == 2 + 1 + 2 + 2
    assert "with errors / 1.3" in text


def test_inks_differ_and_the_same_seed_gives_the_same():
    one, same, other = (draw_ink(np.random.default_rng(seed)) for seed in (1, 1, 2))
    assert one == same
    assert one.build_up_rate != other.build_up_rate
    assert one.build_up_rate != pytest.approx(virtual.slate_grey_ink().build_up_rate, rel=1e-6)
