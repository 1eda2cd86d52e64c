"""Loads of one test beside each other: repeats at a high rate, and two gaps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.base.run import Run
from rheokit.base.show import number
from rheokit.screening.check import Check, Look, Seen, judge
from rheokit.screening.limits import limit_of, require_limits
from rheokit.screening.slip import TWO_GAPS, gap_findings
from rheokit.screening.steps import flowing, sheared

__all__ = ["LOAD_CHECKS", "REPEAT_LOADS", "screen_loads"]

HIGH = 0.5
"""Of the highest rate that all loads reach: from here on the stresses of two loads are compared."""


def repeated_loads(runs: Sequence[Run]) -> Look:
    """Take the largest difference between the mean stresses of loads at their shared high rates, over the mean of all."""
    curves = [curve for run in runs if (curve := _curve(run)) is not None]
    if len(curves) < 2:
        return Look(idle="there are no two loads with a down leg or a steady step")
    top = min(float(rate[-1]) for rate, _ in curves)
    bottom = max(HIGH * top, *(float(rate[0]) for rate, _ in curves))
    if not bottom < top:
        return Look(idle="the loads share no rates in the upper half of their range")
    rates = np.geomspace(bottom, top, 9)
    means = [float(np.mean(np.interp(rates, rate, stress))) for rate, stress in curves]
    apart = (max(means) - min(means)) / float(np.mean(means))
    words = (
        f"from {number(bottom, 3)} to {number(top, 3)} 1/s the stresses of {len(curves)} loads lie {apart:.1%} of their mean apart; "
        "load fresh sample and measure again"
    )
    # A pair that is 7 % apart on paper counts, whatever its binary digits.
    return Look(seen=(Seen(value=apart, words=words, margin=-1e-9),))


def _curve(run: Run) -> tuple[FloatArray, FloatArray] | None:
    """Return rates and stresses of the steady step or else the down leg, by rising rate."""
    steps = [*flowing(run, "steady"), *flowing(run, "down")]
    if not steps:
        return None
    rate, stress = sheared(steps[0])
    order = np.argsort(rate, kind="stable")
    return (rate[order], stress[order]) if rate.size >= 3 else None


REPEAT_LOADS = Check(
    name="repeat_loads",
    kinds=("down", "steady"),
    number="range of the stresses of loads at high rates over their mean",
    look=lambda run, known: Look(idle="one run is one load: give the loads of a test to screen_loads"),  # noqa: ARG005
    limit=0.07,
    unit="1",
    source="ASTM D4287: pairs that differ by 7 % or more are repeated",
)

LOAD_CHECKS: tuple[Check, ...] = (TWO_GAPS, REPEAT_LOADS)
"""Checks that take several loads."""


def screen_loads(runs: Sequence[Run], *, limits: Mapping[str, float] | None = None) -> tuple[Finding, ...]:
    """Return what the loads of one test show beside each other: repeats that lie too far apart, and slip between two gaps.

    Parameters
    ----------
    runs
        The loads of one test of one batch.
    limits
        Check name to a limit of one's own.

    Returns
    -------
    tuple of Finding
        Cautions; empty where nothing is seen or there are no two loads.

    Raises
    ------
    RangeError
        When a limit is named that no check has, or lies outside the range of its check.
    """
    require_limits(limits or {}, LOAD_CHECKS)
    found = judge(REPEAT_LOADS, repeated_loads(runs), limit_of(REPEAT_LOADS, limits))
    return (*gap_findings(runs, limits=limits), *found)
