"""One leg of a loop made ready: rates that rise, each once, with the ramp and the scatter of its points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray, HasLeg
from rheokit.base.errors import FitError
from rheokit.base.finding import Finding, Severity
from rheokit.base.show import number

__all__ = ["Ramp", "ReadyLeg", "ready_leg"]

_FEWEST_POINTS = 3
# Share of its range by which a rate may run back: noise of a motor or a tachometer, not another step.
_RUNS_BACK = 0.02


@dataclass(frozen=True, kw_only=True)
class Ramp:
    """How the rate was swept: lowest and highest rate [1/s] and duration [s], from the points recorded."""

    lowest_rate: float
    highest_rate: float
    duration: float

    @property
    def span(self) -> float:
        """Highest less lowest rate [1/s]."""
        return self.highest_rate - self.lowest_rate

    @property
    def rate_per_second(self) -> float:
        """Mean change of the rate per second [1/s²]."""
        return self.span / self.duration

    def __str__(self) -> str:
        return f"{number(self.lowest_rate)} to {number(self.highest_rate)} 1/s in {number(self.duration)} s"


@dataclass(frozen=True, kw_only=True, eq=False)
class ReadyLeg:
    """Rates [1/s] that rise, each once, stresses [Pa] and the ramp; `findings` say what was put right."""

    rate: FloatArray
    stress: FloatArray
    ramp: Ramp
    findings: tuple[Finding, ...]

    def area_variances(self, lowest: float, highest: float) -> FloatArray | None:
        """Return what the scatter of each point adds to the variance of the area between two rates, or None for too few points.

        Each inner point is held against the piece between its neighbours; the scatter found there is taken for its own, so it may
        differ along the leg. It counts with half the distance of the neighbours, as in the trapezoid rule.
        """
        inside = (self.rate >= lowest) & (self.rate <= highest)
        rate, stress = self.rate[inside], self.stress[inside]
        if rate.size < _FEWEST_POINTS + 2:
            return None
        powers = (rate[:-2] > 0.0) & (stress[:-2] > 0.0) & (stress[1:-1] > 0.0) & (stress[2:] > 0.0)
        x = np.log(np.where(rate > 0.0, rate, 1.0))
        place = np.where(powers, (x[1:-1] - x[:-2]) / (x[2:] - x[:-2]), (rate[1:-1] - rate[:-2]) / (rate[2:] - rate[:-2]))
        behind, ahead = np.where(powers, stress[:-2], 1.0), np.where(powers, stress[2:], 1.0)
        curved = behind * (ahead / behind) ** place
        expected = np.where(powers, curved, (1.0 - place) * stress[:-2] + place * stress[2:])
        by_behind = (1.0 - place) * np.where(powers, curved / behind, 1.0)
        by_ahead = place * np.where(powers, curved / ahead, 1.0)
        inner = (stress[1:-1] - expected) ** 2 / (1.0 + by_behind**2 + by_ahead**2)
        squares = np.concatenate([inner[:1], inner, inner[-1:]])
        steps = np.diff(rate)
        weights = 0.5 * (np.concatenate([[0.0], steps]) + np.concatenate([steps, [0.0]]))
        return np.asarray(squares * weights**2)


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
    if rate.size < _FEWEST_POINTS:
        raise FitError(f"the {which} leg has {rate.size} usable points; a loop needs at least {_FEWEST_POINTS} on each leg")
    findings += _finding(
        "rows_out_of_order", which, _check_direction(rate, which, rises=rises), rate.size, "run back and are sorted by rate"
    )
    ramp = Ramp(lowest_rate=float(rate.min()), highest_rate=float(rate.max()), duration=float(time[-1] - time[0]))
    if not ramp.duration > 0.0:
        raise FitError(f"the {which} leg ends {number(-ramp.duration)} s before it begins; its times must rise")
    once, place, counts = np.unique(rate, return_inverse=True, return_counts=True)
    findings += _finding("rates_repeated", which, int(rate.size - once.size), rate.size, "repeat a rate; their stresses are averaged")
    if once.size < _FEWEST_POINTS:
        raise FitError(f"the {which} leg has {once.size} different rates; a loop needs at least {_FEWEST_POINTS} on each leg")
    return ReadyLeg(rate=once, stress=np.bincount(place, weights=stress) / counts, ramp=ramp, findings=findings)


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
    if back[worst] > _RUNS_BACK * (run.max() - run.min()):
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
