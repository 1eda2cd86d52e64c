"""The way out of the refill, segment after segment: what a stress holds and what a flow needs, at draws of the dimensions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import FloatArray
from rheokit.refill.description import Segment
from rheokit.refill.duct import Flowing, wall_rate_in_slot, wall_rate_in_tube

__all__ = ["flow_pressure", "pressure_per_stress"]


def pressure_per_stress(
    segments: Sequence[Segment], which: str, draws: Mapping[str, FloatArray], *, widened: ArrayLike = 1.0
) -> FloatArray:
    """Return the pressure that segments in series hold for each pascal of wall stress, (S,): Σ 2 L/h of slots and Σ 2 L/R of tubes.

    Parameters
    ----------
    segments, which
        The segments and where their draws stand: `seal` or `feed`.
    draws
        Of `Refill.draws`.
    widened
        Factor on the gap of slots: an eccentric ball leaves a gap up to twice the mean on one side, and there it gives way.
    """
    total, wide = np.zeros(next(iter(draws.values())).shape), np.asarray(widened, dtype=np.float64)
    for index, segment in enumerate(segments):
        slot = segment.kind == "slot"
        narrow = draws[f"{which}.{index}.{'gap' if slot else 'radius'}"]
        total = total + 2.0 * draws[f"{which}.{index}.length"] / (narrow * wide if slot else narrow)
    return total


def flow_pressure(
    segments: Sequence[Segment], which: str, draws: Mapping[str, FloatArray], flowing: Flowing, volume_flow: ArrayLike
) -> FloatArray:
    """Return the pressure [Pa] that segments in series take of a volume flow [m³/s], (S,)."""
    flow = np.broadcast_to(np.asarray(volume_flow, dtype=np.float64), next(iter(draws.values())).shape)
    total = np.zeros(flow.shape)
    for index, segment in enumerate(segments):
        size = {name: draws[f"{which}.{index}.{name}"] for name in segment.dimensions}
        # Flow through a duct scales with its size, so that one call solves all draws for a duct of size one.
        if segment.kind == "slot":
            wall, narrow = wall_rate_in_slot(flowing, flow / (size["width"] * size["gap"] ** 2), 1.0, 1.0), size["gap"]
        else:
            wall, narrow = wall_rate_in_tube(flowing, flow / size["radius"] ** 3, 1.0), size["radius"]
        total = total + 2.0 * size["length"] / narrow * flowing.stress(wall)
    return total
