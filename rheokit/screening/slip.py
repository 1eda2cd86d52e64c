"""Wall slip: a kink of the flow curve below yield, and a shear rate that depends on the gap at equal stress."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.screening.check import Check, Look, Seen, judge
from rheokit.screening.known import Known, known_of
from rheokit.screening.limits import limit_of
from rheokit.screening.steps import flowing, line_through, sheared
from rheokit.statistics.scatter import scatter_about_neighbours

__all__ = ["TWO_GAPS", "WALL_SLIP", "gap_findings"]

WINDOW = 4
"""Points in a row of which one slope is taken."""
BY_CHANCE = 4.0
"""Standard errors that are taken off the bend: some windows of a curve bend by chance."""


def wall_slip(run: Run, _: Known) -> Look:
    """Take by how much the curve is steeper at its lowest rates than where it is flattest above them, in log-log.

    Above its yield stress an ink without slip becomes flatter and flatter as the rate falls. Where the wall slips, the ink moves as a
    plug at the lowest rates and the stress falls with the rate again. A liquid with a Newtonian plateau at low rates does the same
    without slip, so a kink is never more than a caution.
    """
    seen = []
    for step in flowing(run, "down", "steady"):
        rate, stress = sheared(step)
        order = np.argsort(rate, kind="stable")
        bend = _bend(np.log(rate[order]), np.log(stress[order]))
        if bend is None:
            continue
        below = number(float(rate[order][WINDOW - 1]), 3)
        words = (
            f"step {step.number} ({step.kind}): below {below} 1/s the flow curve falls with the rate again, "
            f"its slope in log-log {number(bend[0], 3)} above the least; the wall may slip: roughen the surfaces or measure at a second gap"
        )
        seen.append(Seen(value=max(bend[0], 0.0), words=words, step=step, margin=BY_CHANCE * bend[1]))
    return Look(seen=tuple(seen)) if seen else Look(idle=f"no down leg or steady step of {3 * WINDOW} points")


def _bend(x: FloatArray, y: FloatArray) -> tuple[float, float] | None:
    """Return the slope of the lowest points less the least slope of the windows above them, with its standard error."""
    if x.size < 3 * WINDOW:
        return None
    lines = [line_through(x[at : at + WINDOW], y[at : at + WINDOW]) for at in range(0, x.size - WINDOW + 1, WINDOW)]
    known = [line for line in lines if line is not None]
    if len(known) < 3 or lines[0] is None:
        return None
    # The scatter of all windows together: four points alone know theirs badly.
    scatters = [line[1] ** 2 * _spread(x[at : at + WINDOW]) for at, line in zip(range(0, x.size, WINDOW), lines, strict=False) if line]
    variance = float(np.median(scatters))
    flattest = min(range(1, len(lines)), key=lambda place: np.inf if (line := lines[place]) is None else line[0])
    above = lines[flattest]
    if above is None:
        return None
    error = np.sqrt(variance / _spread(x[:WINDOW]) + variance / _spread(x[flattest * WINDOW : (flattest + 1) * WINDOW]))
    return lines[0][0] - above[0], float(error)


def _spread(x: FloatArray) -> float:
    return float(np.sum((x - x.mean()) ** 2))


WALL_SLIP = Check(
    name="wall_slip",
    kinds=("down", "steady"),
    number="slope in log-log at the lowest rates less the least above them, less 4 standard errors",
    look=wall_slip,
    limit=0.1,
    unit="1",
    source="our own setting: a yield curve is flattest at its lowest rates",
    highest=2.0,
)


def gap_findings(runs: Sequence[Run], *, limits: Mapping[str, float] | None = None) -> tuple[Finding, ...]:
    """Compare the shear rates at equal stress of runs of one sample at different gaps.

    With `rate = true rate + 2 V/h` two gaps give the slip velocity V at that stress.

    Parameters
    ----------
    runs
        Two or more loads of one test whose preambles give parallel plates or cylinders of different gaps; others are passed over.
    limits
        Check name to a limit of one's own; that of `two_gaps` is the relative difference of the rates at equal stress.

    Returns
    -------
    tuple of Finding
        A caution for each pair of gaps, empty where none differs or there are no two gaps.

    References
    ----------
    Mooney, J. Rheol. 2 (1931) 210, for the slip velocity from two gaps; the limit is common practice without a source.
    """
    held = [(run, gap, curve) for run in runs if (gap := known_of(run).gap) is not None and (curve := _curve(run)) is not None]
    found: list[Finding] = []
    for index, (run, gap, curve) in enumerate(held):
        for other, other_gap, other_curve in held[:index]:
            if abs(gap / other_gap - 1.0) < 0.05:
                continue
            seen = _gap_difference((other, other_gap, other_curve), (run, gap, curve))
            if seen is not None:
                judged = judge(TWO_GAPS, Look(seen=(seen,)), limit_of(TWO_GAPS, limits))
                found += [finding.at(run.name) for finding in judged]
    return tuple(found)


def _curve(run: Run) -> tuple[FloatArray, FloatArray] | None:
    """Return rates and stresses of the steady step or else the down leg, by rising stress."""
    steps: list[Step] = [*flowing(run, "steady"), *flowing(run, "down")]
    if not steps:
        return None
    rate, stress = sheared(steps[0])
    order = np.argsort(stress, kind="stable")
    return (rate[order], stress[order]) if rate.size >= 3 else None


_Held = tuple[Run, float, tuple[FloatArray, FloatArray]]


def _gap_difference(one: _Held, other: _Held) -> Seen | None:
    """Return the relative difference of the rates at the stress, of those that both curves share, where it is surest."""
    (_, narrow_gap, narrow), (_, wide_gap, wide) = sorted((one, other), key=lambda held: held[1])
    lowest, highest = max(narrow[1][0], wide[1][0]), min(narrow[1][-1], wide[1][-1])
    if not lowest < highest:
        return None
    stresses = np.geomspace(lowest, highest, 9)
    logarithms = [np.interp(np.log(stresses), np.log(stress), np.log(rate)) for rate, stress in (narrow, wide)]
    differences = np.expm1(logarithms[0] - logarithms[1])
    # An error of a stress is one of the rate, larger by as much as the curve is flat.
    steepness = np.abs(np.gradient(logarithms[1], np.log(stresses)))
    margins = BY_CHANCE * math.hypot(_scatter(narrow), _scatter(wide)) * steepness
    place = 1 + int(np.argmax((np.abs(differences) - margins)[1:-1]))
    value = float(differences[place])
    velocity = float(np.exp(logarithms[0][place]) - np.exp(logarithms[1][place])) / (2.0 / narrow_gap - 2.0 / wide_gap)
    words = (
        f"at {number(float(stresses[place]), 3)} Pa the shear rate at the gap of {number(narrow_gap * 1e3, 3)} mm is {abs(value):.1%} "
        f"{'higher' if value > 0 else 'lower'} than at {number(wide_gap * 1e3, 3)} mm: "
        + (f"the wall slips by {number(velocity, 2)} m/s; roughen it" if value > 0 else "that is not slip; check gap zero and filling")
    )
    return Seen(value=value, words=words, margin=float(margins[place]))


def _scatter(curve: tuple[FloatArray, FloatArray]) -> float:
    """Return the relative scatter of the stresses of a curve about their neighbours."""
    order = np.argsort(curve[0], kind="stable")
    known = scatter_about_neighbours(np.log(curve[0][order]), np.log(curve[1][order]))
    return 0.0 if known is None else known[0]


TWO_GAPS = Check(
    name="two_gaps",
    kinds=("down", "steady"),
    number="difference of the shear rates at equal stress between two gaps, less 4 standard deviations of chance",
    look=lambda run, known: Look(idle="one run has one gap: give the loads at both gaps to screen_loads"),  # noqa: ARG005
    limit=0.10,
    unit="1",
    source="common practice, no source: 10 % at equal stress",
)
