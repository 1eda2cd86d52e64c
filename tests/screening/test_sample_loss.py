"""Edge fracture takes both signs; either alone is thixotropy or something else."""

import numpy as np
import pytest
from screening.made_runs import found, run, step

from rheokit.screening import screen, screening_table, unseen

RATES = np.linspace(2.0, 100.0, 50)
CURVE = 60.0 + 30.0 * RATES**0.5


def loop(*, down, reference):
    """Return a loop whose down leg and repeated conditioning are scaled."""
    return run(
        step(1, "shear", 100.0, np.full(30, 380.0)),
        step(3, "up", RATES, CURVE),
        step(5, "down", RATES[::-1], down * CURVE[::-1]),
        step(6, "shear", 100.0, np.full(30, reference * 380.0)),
    )


@pytest.mark.parametrize(
    ("down", "reference", "severities"),
    [
        (0.9, 0.949, ["invalid"]),
        (0.9, 0.951, []),  # thixotropy alone
        (0.949, 0.9, ["invalid"]),
        (0.951, 0.9, []),  # low at the repeated point alone: said by that check
        (1.2, 0.9, []),
        (0.5, 1.0, []),
    ],
)
def test_both_falls_make_an_edge_fracture(down, reference, severities):
    assert [one.severity for one in found(screen(loop(down=down, reference=reference)), "edge_fracture")] == severities


def test_the_number_is_the_smaller_fall_and_the_words_name_both():
    (finding,) = found(screen(loop(down=0.8, reference=0.75)), "edge_fracture")
    assert finding.value == pytest.approx(0.2, rel=1e-9)
    assert str(finding) == (
        "the stress of the down leg is 20.0% below the up leg in the upper half of its rates, and the conditioning repeated in step 6 is "
        "still 25.0% low: the edge of the sample broke; load fresh sample and measure at lower rates"
    )


def test_a_rested_gel_is_information_only():
    overshoot = CURVE * (1.0 + 2.0 * np.exp(-RATES / 30.0))
    rested = run(step(3, "up", RATES, overshoot), step(5, "down", RATES[::-1], CURVE[::-1]))
    assert screen(rested) == ()
    assert "could not look: no shear at one rate is repeated" in str(screening_table(rested))
    assert any(
        "lost sample looks like thixotropy: repeat the conditioning at the end" in str(one)
        for one in found(unseen(rested), "edge_fracture")
    )


TIME = np.arange(3.0, 63.0, 3.0)


def conditioned(first, second):
    return run(step(1, "shear", 100.0, first, step_time=TIME), step(2, "shear", 100.0, second, step_time=TIME))


def test_a_conditioning_that_had_not_levelled_off_explains_its_own_fall():
    # Falls with a time constant of 36 s by 30 % of its end: in the last third it is still 7 % above, and no fault.
    pace = 0.6309573444801932  # 10^-0.2 of the length between first and last point: one of those that are tried
    falling = 380.0 * (1.0 + 0.3 * np.exp(-(TIME - 3.0) / (pace * 57.0)))
    ended = np.full(20, 380.0)
    above = np.median(falling[-6:]) / 380.0 - 1.0
    assert above > 0.07
    assert found(screen(conditioned(falling, ended)), "reference_point") == []
    (lost,) = found(screen(conditioned(falling, 0.9 * ended)), "reference_point")
    assert lost.value == pytest.approx(0.9 / (1.0 + above) - 1.0, rel=1e-12)


def test_a_later_one_that_still_falls_explains_that_it_is_higher_and_nothing_else():
    pace = 0.6309573444801932
    falling = 380.0 * (1.0 + 0.3 * np.exp(-(TIME - 3.0) / (pace * 57.0)))
    ended = np.full(20, 380.0)
    assert found(screen(conditioned(ended, falling)), "reference_point") == []
    assert len(found(screen(conditioned(ended, 1.1 * falling)), "reference_point")) == 1
    # Still falling, and yet lower than the first: that is no thixotropy.
    assert len(found(screen(conditioned(ended, 0.8 * falling)), "reference_point")) == 1


def test_an_edge_does_not_break_by_a_conditioning_that_had_not_levelled_off():
    falling = 380.0 * (1.0 + 0.3 * np.exp(-(TIME - 3.0) / (0.6309573444801932 * 57.0)))
    whole = loop(down=0.8, reference=1.0)
    unsettled = run(step(1, "shear", 100.0, falling, step_time=TIME), *whole.steps[1:])
    assert found(screen(unsettled), "edge_fracture") == []
    broken = run(step(1, "shear", 100.0, falling, step_time=TIME), *loop(down=0.8, reference=0.9).steps[1:])
    assert len(found(screen(broken), "edge_fracture")) == 1
