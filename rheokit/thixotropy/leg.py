"""One leg of a loop made ready: rates that rise, each once, with the ramp and the scatter of its points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray, HasLeg
from rheokit.base.errors import FitError
from rheokit.base.finding import Finding, Severity
from rheokit.base.show import number
from rheokit.thixotropy.ramp import Ramp, ramp_of

__all__ = ["FEWEST_POINTS", "RUNS_BACK", "ReadyLeg", "ready_leg"]

FEWEST_POINTS = 3
"""Fewest points of a leg."""
RUNS_BACK = 0.02
"""Share of its range by which a rate may run back: noise of a motor or a tachometer, not another step."""


@dataclass(frozen=True, kw_only=True, eq=False)
class ReadyLeg:
    """Rates [1/s] that rise, each once, stresses [Pa] and the ramp; `findings` say what was put right."""

    rate: FloatArray
    stress: FloatArray
    ramp: Ramp
    findings: tuple[Finding, ...]


def ready_leg(leg: HasLeg, which: str, *, rises: bool) -> ReadyLeg:
    """Return a leg made ready.

    Raises
    ------
    FitError
        When it has too few points, runs the other way or back, or has no duration.
    """
    time, rate, stress = (np.asarray(values, dtype=np.float64) for values in (leg.time, leg.shear_rate, leg.shear_stress))
    if not time.shape == rate.shape == stress.shape or rate.ndim != 1:
        raise FitError(
            f"the {which} leg has columns of unequal length: time {time.size}, shear rate {rate.size}, shear stress {stress.size}"
        )
    kept = np.isfinite(time) & np.isfinite(rate) & np.isfinite(stress) & (rate >= 0.0)
    findings = _finding("rows_left_out", which, int((~kept).sum()), rate.size, "have a negative rate or no number and are left out")
    time, rate, stress = time[kept], rate[kept], stress[kept]
    if rate.size < FEWEST_POINTS:
        raise FitError(f"the {which} leg has {rate.size} usable points; a loop needs at least {FEWEST_POINTS} on each leg")
    findings += _finding(
        "rows_out_of_order", which, _check_direction(rate, which, rises=rises), rate.size, "run back and are sorted by rate"
    )
    if not time[-1] > time[0]:
        raise FitError(f"the {which} leg ends {number(float(time[0] - time[-1]))} s before it begins; its times must rise")
    once, place, counts = np.unique(rate, return_inverse=True, return_counts=True)
    findings += _finding("rates_repeated", which, int(rate.size - once.size), rate.size, "repeat a rate; their stresses are averaged")
    if once.size < FEWEST_POINTS:
        raise FitError(f"the {which} leg has {once.size} different rates; a loop needs at least {FEWEST_POINTS} on each leg")
    return ReadyLeg(rate=once, stress=np.bincount(place, weights=stress) / counts, ramp=ramp_of(time, rate), findings=findings)


def _check_direction(rate: FloatArray, which: str, *, rises: bool) -> int:
    """Return how many rows run back by no more than noise."""
    run = rate if rises else -rate
    if run[-1] <= run[0]:
        way = "falls" if rises else "rises"
        raise FitError(
            f"the {which} leg {way} from {number(rate[0])} to {number(rate[-1])} 1/s; give the rising leg first, then the falling"
        )
    back = np.maximum.accumulate(run) - run
    worst = int(np.argmax(back))
    if back[worst] > RUNS_BACK * (run.max() - run.min()):
        raise FitError(
            f"the {which} leg runs back by {number(float(back[worst]))} 1/s at its point {worst + 1} of {rate.size}; "
            "a leg goes one way: cut it into steps where it turns"
        )
    return int((np.diff(run) < 0.0).sum())


def _finding(check: str, which: str, count: int, size: int, said: str) -> tuple[Finding, ...]:
    if not count:
        return ()
    reason = f"{count} of {size} points of the {which} leg {said}"
    severity: Severity = "caution" if check == "rows_left_out" and count > 0.1 * size else "info"
    return (Finding(check=check, severity=severity, reason=reason, value=float(count), unit="1", source=which),)
