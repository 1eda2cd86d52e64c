"""What the ink does under a protocol, before any instrument: structure and stress against time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from .ink import FloatArray, Ink
from .protocol import Protocol, Segment

RELATIVE_TOLERANCE = 1e-9
"""Of the integration: five orders finer than the five printed digits, so it never shows in an export."""


@dataclass(frozen=True, kw_only=True, eq=False)
class History:
    """Recorded points of a noise-free run; every array has the shape (N,).

    ``step`` (from 1), ``time`` and ``step_time`` [s], ``apparent_rate`` and ``true_rate`` [1/s],
    ``rate_change`` of the apparent rate [1/s²], ``structure``, ``stress`` [Pa].
    """

    step: FloatArray
    time: FloatArray
    step_time: FloatArray
    apparent_rate: FloatArray
    true_rate: FloatArray
    rate_change: FloatArray
    structure: FloatArray
    stress: FloatArray


def simulate(ink: Ink, protocol: Protocol, *, initial_structure: float = 0.8, slip: float = 0.0) -> History:
    """Run an ink through a protocol.

    Parameters
    ----------
    ink : Ink
        At the temperature of the run.
    protocol : Protocol
        What the drive does.
    initial_structure : float
        Structure parameter when the first segment starts. Loading breaks a gel partly, hence 0.8
        (invented; conditioning removes it).
    slip : float
        Apparent shear rate that wall slip adds per stress [1/(s·Pa)].

    Raises
    ------
    ValueError
        If the initial structure lies outside 0 to 1.
    """
    if not 0.0 <= initial_structure <= 1.0:
        raise ValueError(f"initial_structure is {initial_structure}; it must lie between 0 and 1")
    state = (initial_structure, np.inf)
    blocks: list[FloatArray] = []
    time = step_start = 0.0
    step = protocol.segments[0].step
    for segment in protocol.segments:
        if segment.step != step:
            step, step_start = segment.step, time
        points, state = _run_segment(ink, segment, state, slip)
        stamps = np.array([[float(step), time + at, time - step_start + at] for at in segment.recorded])
        blocks.append(np.hstack([stamps.reshape(-1, 3), points]))
        time += segment.duration
    return History(
        **dict(
            zip(
                ("step", "time", "step_time", "apparent_rate", "true_rate", "rate_change", "structure", "stress"),
                np.vstack(blocks).T.copy(),
                strict=True,
            )
        )
    )


def _run_segment(ink: Ink, segment: Segment, state: tuple[float, float], slip: float) -> tuple[FloatArray, tuple[float, float]]:
    """Return the points of one segment as columns (rate, true rate, rate change, structure, stress), and its end state."""
    structure, strain = _integrate(ink, segment, state, slip)
    rows = []
    for index, at in enumerate(segment.recorded):
        apparent = segment.rate_at(at)
        true = sheared_rate(ink, apparent, structure[index], strain[index], slip)
        rows.append((apparent, true, segment.rate_change_at(at), structure[index], 0.0))
    points = np.array(rows, dtype=np.float64).reshape(-1, 5)
    if not segment.is_rest:
        points[:, 4] = _stress_at_wall(ink, points, strain[: len(rows)], slip)
    # In a rest the head is free: the stress is released, and the next start-up strains from zero.
    return points, (structure[-1], 0.0 if segment.is_rest else strain[-1])


def _stress_at_wall(ink: Ink, points: FloatArray, strain: FloatArray, slip: float) -> FloatArray:
    """Stress [Pa] of each point: that of the flowing ink, or of the slipping wall while the ink stands still."""
    apparent, true = points[:, 0], points[:, 1]
    flowing = ink.stress(true, points[:, 3], strain)
    if slip == 0.0:
        return flowing
    return np.where(true > 0.0, flowing, apparent / slip)


def _integrate(ink: Ink, segment: Segment, state: tuple[float, float], slip: float) -> tuple[FloatArray, FloatArray]:
    """Structure and strain at the recorded times and, last, at the end of the segment."""
    start, strain_start = state
    settled = np.isinf(strain_start)
    ends_recorded = segment.recorded[-1:] == (segment.duration,)
    times = segment.recorded if ends_recorded else (*segment.recorded, segment.duration)

    def change(time: float, values: FloatArray) -> tuple[float, float]:
        strain = np.inf if settled else values[1]
        rate = sheared_rate(ink, segment.rate_at(time), values[0], strain, slip)
        return ink.structure_change(rate, values[0]), rate

    structure, strain = solved(change, (start, 0.0 if settled else strain_start), times)
    return structure, np.full_like(strain, np.inf) if settled else strain


def solved(
    change: Callable[[float, FloatArray], tuple[float, float]],
    start: tuple[float, float],
    times: tuple[float, ...],
    *,
    method: Literal["DOP853", "LSODA"] = "DOP853",
) -> tuple[FloatArray, FloatArray]:
    """Structure and strain at rising times [s], from their start at time zero; the last time ends the integration.

    Raises
    ------
    ArithmeticError
        If the structure equation was not integrated.
    """
    from scipy.integrate import solve_ivp  # noqa: PLC0415  heavy, and nothing else here needs it

    solution = solve_ivp(change, (0.0, times[-1]), start, t_eval=times, method=method, rtol=RELATIVE_TOLERANCE, atol=1e-12)
    if not solution.success:
        raise ArithmeticError(f"the structure equation was not integrated up to {times[-1]} s: {solution.message}")
    structure, strain = solution.y
    return structure, strain


def sheared_rate(ink: Ink, apparent_rate: float, structure: float, strain: float, slip: float) -> float:
    """Shear rate [1/s] that the ink itself sees when the walls slip.

    Solves ``apparent_rate = rate + slip * stress(rate)`` by halving; 0 when slip alone takes up the
    apparent rate below the yield stress (the ink moves as a plug).
    """
    if slip == 0.0 or apparent_rate == 0.0:
        return apparent_rate
    low, high = 0.0, apparent_rate
    if slip * float(ink.stress(0.0, structure, strain)) >= apparent_rate:
        return 0.0
    for _ in range(50):  # 2^-50 of the apparent rate is below the rounding of a float's last digits
        middle = 0.5 * (low + high)
        if middle + slip * float(ink.stress(middle, structure, strain)) > apparent_rate:
            high = middle
        else:
            low = middle
    return 0.5 * (low + high)
