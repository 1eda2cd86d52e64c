"""Flow point of an amplitude sweep: where the storage and the loss modulus cross."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.finding import Finding
from rheokit.base.look import HUES
from rheokit.base.run import Step
from rheokit.base.show import number
from rheokit.yielding.drawing import stress_line
from rheokit.yielding.reading_off import not_determined, positive, stated
from rheokit.yielding.sweep import Sweep, SweepReading, sweep_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["REACH", "FlowPoint", "flow_point"]

REACH = 2.5
"""Factor of strain on either side of the crossing over which the curve goes that reads it (our own setting)."""

_BESIDE, _FOR_PARABOLA = 2, 6
_METHOD = (
    "crossing of the storage and the loss modulus, by a parabola through the logarithm of their ratio within a factor of {} in strain; "
    "error from the points' scatter about it"
)


@dataclass(frozen=True, kw_only=True, eq=False)
class FlowPoint(SweepReading):
    """The flow point: stress [Pa] and strain."""

    @property
    def flow_strain(self) -> Estimate:
        """The strain at the flow point."""
        return self.estimates[1]

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw both moduli and where they cross on the axes given, else on a new figure, and return the axes."""
        ax = self._panel(ax)
        stress_line(ax, self.flow_strain, HUES[3], place=0.12)
        return ax


def flow_point(step: Step, *, rest: float | None = None) -> FlowPoint:
    """Return the flow point of an amplitude sweep, G′ = G″, as stress and strain.

    Parameters
    ----------
    step
        With `shear_strain`, `storage_modulus` [Pa] and `loss_modulus` [Pa].
    rest
        How long the sample rested before [s].

    Returns
    -------
    FlowPoint
        Not determined, with the bound that the data give, where the moduli do not cross inside them.

    Raises
    ------
    FitError
        When there are too few points.
    """
    sweep = sweep_of(step)
    conditions = stated("amplitude sweep, flow point", rest=rest)
    u, difference = np.log(sweep.strain), np.log(sweep.storage / sweep.loss)
    course = _medians(difference)
    down = np.flatnonzero((course[:-1] > 0.0) & (course[1:] <= 0.0))
    reason, low, high = _why_not(sweep, course, down)
    found: tuple[Finding, ...] = ()
    if reason:
        estimates = _open(sweep, reason, (low, high), conditions)
    else:
        centre = _first_guess(u, course, int(down[0]))
        estimates = _crossing(u, difference, np.log(sweep.stress), centre, conditions)
        found = _again(u, down, centre)
    return FlowPoint(
        estimates=estimates, findings=(*estimates[0].findings, *found), strain=sweep.strain, storage=sweep.storage, loss=sweep.loss
    )


def _medians(difference: FloatArray) -> FloatArray:
    """Return medians of five, the ends repeated: a point or two that stray make no crossing, and what falls all the way is unchanged."""
    padded = np.concatenate([difference[:1].repeat(2), difference, difference[-1:].repeat(2)])
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1))


def _why_not(sweep: Sweep, difference: FloatArray, down: NDArray[np.intp]) -> tuple[str, int, int]:
    """Return why the moduli do not cross, or nothing, and the points between which they would, -1 or N standing for open ends."""
    count = difference.size
    if difference[0] <= 0.0 and (difference <= 0.0).mean() > 0.5 and not down.size:
        said = f"the loss modulus is the larger from the first strain on, {number(float(sweep.strain[0]), 3)}: no gel at any strain seen"
        return said, -1, 0
    if not down.size:
        said = f"the storage modulus is the larger up to the last strain, {number(float(sweep.strain[-1]), 3)}; sweep further"
        return said, count - 1, count
    first = int(down[0])
    if first + 1 < _BESIDE or count - first - 1 < _BESIDE:
        said = "the moduli cross beside the first or last points; sweep over a wider range"
        return said, max(first, 0), min(first + 1, count - 1)
    return "", -1, count


def _open(sweep: Sweep, reason: str, between: tuple[int, int], conditions: dict[str, Condition]) -> tuple[Estimate, Estimate]:
    low, high = between
    place = min(max(low, 0), sweep.strain.size - 1) if low >= 0 else 0
    found = []
    for name, values, unit in (("flow_point_stress", sweep.stress, "Pa"), ("flow_point_strain", sweep.strain, "1")):
        ends = (0.0 if low < 0 else float(values[low]), math.inf if high >= values.size else float(values[high]))
        bounds = {"lower": min(ends), "upper": max(ends), "method": _METHOD.format(number(REACH, 2)), "reason": reason}
        found.append(not_determined(name, float(values[place]), unit, conditions=conditions, **bounds))  # type: ignore[arg-type]  # by name
    return found[0], found[1]


def _first_guess(u: FloatArray, difference: FloatArray, left: int) -> float:
    part = difference[left] / (difference[left] - difference[left + 1])
    return float(u[left] + part * (u[left + 1] - u[left]))


def _crossing(
    u: FloatArray, difference: FloatArray, log_stress: FloatArray, centre: float, conditions: dict[str, Condition]
) -> tuple[Estimate, Estimate]:
    """Return stress and strain where a parabola through the points near a first guess, a line through few, crosses zero."""
    inside = np.abs(u - centre) <= math.log(REACH)
    for side in (np.flatnonzero(u <= centre)[-_BESIDE:], np.flatnonzero(u > centre)[:_BESIDE]):
        inside[side] = True
    x = u[inside] - centre
    design = np.vander(x, 3 if x.size > _FOR_PARABOLA else 2, increasing=True)
    ratio, level = (
        np.asarray(np.linalg.lstsq(design, values[inside], rcond=None)[0], dtype=np.float64) for values in (difference, log_stress)
    )
    across, slope = _zero(ratio)
    freedom = x.size - design.shape[1]
    at = across ** np.arange(design.shape[1], dtype=np.float64)
    spread = float(at @ np.linalg.inv(design.T @ design) @ at)
    errors = []
    for values, coefficients in ((difference, ratio), (log_stress, level)):
        rest = values[inside] - design @ coefficients
        errors.append(math.sqrt(float(rest @ rest) / max(freedom, 1) * spread))
    strain_error = errors[0] / abs(slope)
    # Ratio and stress of a point share their moduli, but where they cross the one moves with their difference, the other with their sum.
    stress_error = math.hypot(errors[1], (level[1] + 2.0 * (level[2] if level.size > 2 else 0.0) * across) * strain_error)
    return (
        positive(
            "flow_point_stress", math.exp(float(at @ level)), "Pa", relative_error=stress_error, degrees_of_freedom=float(freedom),
            method=_METHOD.format(number(REACH, 2)), conditions=conditions,
        ),
        positive(
            "flow_point_strain", math.exp(centre + across), "1", relative_error=strain_error, degrees_of_freedom=float(freedom),
            method=_METHOD.format(number(REACH, 2)), conditions=conditions,
        ),
    )  # fmt: skip


def _zero(ratio: FloatArray) -> tuple[float, float]:
    """Return the zero nearest to the first guess of a line or parabola, and the slope there; Newton's steps from the guess."""
    bend = float(ratio[2]) if ratio.size > 2 else 0.0
    place = 0.0
    for _ in range(20):
        place -= (float(ratio[0]) + place * (float(ratio[1]) + place * bend)) / (float(ratio[1]) + 2.0 * place * bend)
    return place, float(ratio[1]) + 2.0 * place * bend


def _again(u: FloatArray, down: NDArray[np.intp], centre: float) -> tuple[Finding, ...]:
    """Return a caution where the moduli cross again outside the range of the curve."""
    later = [int(left) for left in down if abs(float(u[int(left)]) - centre) > math.log(REACH)]
    if not later:
        return ()
    said = f"the moduli cross {len(later) + 1} times, the next near a strain of {number(math.exp(float(u[later[0]])), 2)}; the first counts"
    return (Finding(check="moduli_cross_again", severity="caution", reason=said, value=float(len(later) + 1), unit="1"),)
