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
