"""What the ink does under a stress: the drive sets the torque, the ink answers with a rate.

The same ink as under a set rate, turned round: the part of the stress that the elastic start has not taken up drives the flow::

    stress - (tau_y0 + tau_y1 L) (1 - exp(-strain/elastic_strain)) = (K + dK L) rate^n + eta_inf rate

Below the yield stress of the rested ink the strain runs to a limit and the ink stops; above it the structure breaks and the ink
flows ever faster. Between the two lies one stress, ``creep_limit``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import exp
from typing import Literal

import numpy as np

from .ink import FloatArray, Ink
from .simulation import solved

StressCourse = Literal["constant", "linear", "logarithmic"]
_COLUMNS = ("step", "time", "step_time", "rate", "strain", "structure", "stress")


@dataclass(frozen=True, kw_only=True)
class StressSegment:
    """One stretch under a set stress.

    Parameters
    ----------
    step : int
        Number of the exported step, from 1; each segment is a step of its own and starts from a rested sample.
    duration : float
        [s]
    start_stress, end_stress : float
        [Pa] at the two ends, above zero.
    course : {"constant", "linear", "logarithmic"}
        How the stress goes from one to the other.
    recorded : tuple of float
        Times [s] from the start of the segment at which a point is recorded, rising, above zero.

    Raises
    ------
    ValueError
        If a duration, stress or time makes no sense.
    """

    step: int
    duration: float
    start_stress: float
    end_stress: float
    course: StressCourse
    recorded: tuple[float, ...]

    def __post_init__(self) -> None:
        if not self.duration > 0.0:
            raise ValueError(f"duration is {self.duration} s; it must be above zero")
        if not min(self.start_stress, self.end_stress) > 0.0:
            raise ValueError(f"stresses are {self.start_stress} and {self.end_stress} Pa; they must be above zero")
        if self.course == "constant" and self.start_stress != self.end_stress:
            raise ValueError("a constant segment has two different stresses")
        if not self.recorded or list(self.recorded) != sorted(set(self.recorded)):
            raise ValueError("the recorded times do not rise")
        if not (self.recorded[0] > 0.0 and self.recorded[-1] <= self.duration):
            raise ValueError("a recorded time lies outside the segment")

    def stress_at(self, time: float) -> float:
        """Stress [Pa] at a time [s] from the start of the segment."""
        passed = time / self.duration
        if self.course == "logarithmic":
            return float(self.start_stress * (self.end_stress / self.start_stress) ** passed)
        return self.start_stress * (1.0 - passed) + self.end_stress * passed


@dataclass(frozen=True, kw_only=True, eq=False)
class StressHistory:
    """Recorded points of a noise-free run under stress; every array has the shape (N,).

    ``step`` (from 1), ``time`` and ``step_time`` [s], ``rate`` [1/s], ``strain`` since the step began, ``structure``, ``stress`` [Pa].
    """

    step: FloatArray
    time: FloatArray
    step_time: FloatArray
    rate: FloatArray
    strain: FloatArray
    structure: FloatArray
    stress: FloatArray


def stress_ramp(
    stresses: tuple[float, float], duration: float, points: int, *, step: int = 1, course: StressCourse = "linear"
) -> StressSegment:
    """Ramp the stress [Pa] from the first to the second of ``stresses``, with points at the end of equal intervals."""
    recorded = tuple(duration * (index + 1) / points for index in range(points))
    return StressSegment(step=step, duration=duration, start_stress=stresses[0], end_stress=stresses[1], course=course, recorded=recorded)


def creep_steps(stresses: Iterable[float], duration: float, points: int) -> tuple[StressSegment, ...]:
    """Hold each stress [Pa] on a fresh rested sample, with points even in the logarithm of time over three decades."""
    times = tuple(float(time) for time in np.geomspace(duration / 1000.0, duration, points))
    return tuple(
        StressSegment(step=number, duration=duration, start_stress=stress, end_stress=stress, course="constant", recorded=times)
        for number, stress in enumerate(stresses, 1)
    )


def rested_structure(ink: Ink, rest: float, *, pre_shear: float = 100.0) -> float:
    """Structure parameter after long shearing at a rate [1/s] and a rest [s]."""
    sheared = float(ink.equilibrium_structure(pre_shear))
    return 1.0 - (1.0 - sheared) * exp(-ink.build_up_rate * rest)


def driven_rate(ink: Ink, stress: float, structure: float, strain: float) -> float:
    """Shear rate [1/s] that a stress [Pa] drives, zero where the elastic start takes it all up.

    Newton's steps on a rising concave-up excess, from a rate that is surely too high: each step stays above the root.
    """
    excess = stress - float(ink.stress(0.0, structure, strain))
    if excess <= 0.0:
        return 0.0
    thick, index, thin = ink.broken_consistency + ink.structure_consistency * structure, ink.flow_index, ink.infinite_shear_viscosity
    by_power = (excess / thick) ** (1.0 / index) if thick > 0.0 else np.inf
    rate = min(by_power, excess / thin if thin > 0.0 else np.inf)
    if not np.isfinite(rate):
        raise ValueError("the ink has no viscosity, so a stress above its yield stress drives no finite rate")
    low, high = 0.0, float(rate)
    for _ in range(60):
        middle = 0.5 * (low + high)
        if thick * middle**index + thin * middle > excess:
            high = middle
        else:
            low = middle
        if high - low <= 1e-13 * high:
            break
    return 0.5 * (low + high)


def simulate_stress(ink: Ink, segments: Sequence[StressSegment], *, structure: float) -> StressHistory:
    """Run an ink through steps of stress, each from a sample with that structure and no strain.

    Raises
    ------
    ValueError
        If the structure lies outside 0 to 1, or the ink has neither elastic strain nor viscosity.
    """
    if not 0.0 <= structure <= 1.0:
        raise ValueError(f"structure is {structure}; it must lie between 0 and 1")
    blocks, begun = [], 0.0
    for segment in segments:

        def change(time: float, values: FloatArray, segment: StressSegment = segment) -> tuple[float, float]:
            rate = driven_rate(ink, segment.stress_at(time), values[0], values[1])
            return ink.structure_change(rate, values[0]), rate

        built, strain = solved(change, (structure, 0.0), segment.recorded, method="LSODA")
        stress = np.array([segment.stress_at(at) for at in segment.recorded])
        rate = [driven_rate(ink, *point) for point in zip(stress.tolist(), built.tolist(), strain.tolist(), strict=True)]
        times = np.array(segment.recorded)
        blocks.append(np.column_stack([np.full(times.size, float(segment.step)), begun + times, times, rate, strain, built, stress]))
        begun += segment.duration
    return StressHistory(**dict(zip(_COLUMNS, np.vstack(blocks).T.copy(), strict=True)))


def creep_limit(ink: Ink, *, structure: float, duration: float = 3600.0, within: float = 1e-3) -> float:
    """Stress [Pa] between stopping and flowing, by halving: it flows where the rate at the end is above that of the last tenth before.

    ``within`` is the relative width at which halving ends.
    """
    low, high = 1e-3, 10.0 * float(ink.stress(0.0, 1.0))
    while high - low > within * high:
        middle = 0.5 * (low + high)
        held = StressSegment(
            step=1, duration=duration, start_stress=middle, end_stress=middle, course="constant", recorded=(0.9 * duration, duration)
        )
        rate = simulate_stress(ink, (held,), structure=structure).rate
        low, high = (low, middle) if rate[1] >= 0.99 * rate[0] > 0.0 else (middle, high)
    return 0.5 * (low + high)
