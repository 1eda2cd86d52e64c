"""A short run of the prediction study, with a negative control."""

import numpy as np
import pytest

from rheokit import virtual
from studies.structure_prediction import ARMS, draw_ink, limits, study, table

# 250 batches tell 95 % from the 87 % that errors divided by 1.3 leave.
LOADS = study(250, 7, arms=ARMS[:1], ramps=(30.0,))
NOISE = study(40, 7, arms=ARMS[1:2])
RICHER = study(15, 7, arms=[arm for arm in ARMS if arm.apart == 4.0 and not arm.loop_only], ramps=(30.0,))


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
    (outcome,) = RICHER
    assert outcome.median_error <= 0.08
    assert outcome.found("misfit") == 15


def test_the_page_tells_every_arm_at_every_ramp():
    text = table((*LOADS, *NOISE, *RICHER))
    assert len(text.splitlines()) == 2 + 1 + 2 + 1
    assert "with errors / 1.3" in text


def test_inks_differ_and_the_same_seed_gives_the_same():
    one, same, other = (draw_ink(np.random.default_rng(seed)) for seed in (1, 1, 2))
    assert one == same
    assert one.build_up_rate != other.build_up_rate
    assert one.build_up_rate != pytest.approx(virtual.slate_grey_ink().build_up_rate, rel=1e-6)
