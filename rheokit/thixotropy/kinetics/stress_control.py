"""Structure under a programme of stress: the rate that carries the stress is found at every moment, the structure followed in steps."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from rheokit.base.errors import FitError
from rheokit.base.show import number
from rheokit.thixotropy.kinetics.programme import Piece

__all__ = ["StressControl"]

_TOLERANCE, _MOST_STEPS = 1e-9, 100_000
_ROUNDING, _MOST_NEWTON = 1e-14, 60
# Dormand & Prince, J. Comput. Appl. Math. 6 (1980) 19, the pair of orders 5 and 4 (from memory; a test holds its order).
_NODES = (0.0, 1.0 / 5.0, 3.0 / 10.0, 4.0 / 5.0, 8.0 / 9.0, 1.0, 1.0)
_TABLE = (
    (),
    (1.0 / 5.0,),
    (3.0 / 40.0, 9.0 / 40.0),
    (44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0),
    (19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0),
    (9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0),
    (35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0),
)
_FOURTH = (5179.0 / 57600.0, 0.0, 7571.0 / 16695.0, 393.0 / 640.0, -92097.0 / 339200.0, 187.0 / 2100.0, 1.0 / 40.0)


class StressControl:
    """An ink, without elastic strain, whose stress is held to a programme."""

    def __init__(self, parameters: Mapping[str, float]) -> None:
        self.a, self.b, self.m = parameters["build_up_rate"], parameters["breakdown_coefficient"], parameters["breakdown_exponent"]
        self.n, self.plateau = parameters["flow_index"], parameters["infinite_shear_viscosity"]
        self.yields = parameters["broken_yield_stress"], parameters["structure_yield_stress"]
        self.consistencies = parameters["broken_consistency"], parameters["structure_consistency"]

    def rate(self, stress: float, structure: float) -> float:
        """Return the shear rate [1/s] at which a structure carries a stress [Pa]; 0 up to its yield stress.

        Raises
        ------
        FitError
            When nothing resists the flow beyond the yield stress.
        """
        left = stress - self.yields[0] - self.yields[1] * structure
        if left <= 0.0:
            return 0.0
        consistency = self.consistencies[0] + self.consistencies[1] * structure
        if consistency <= 0.0 and self.plateau <= 0.0:
            raise FitError(f"beyond its yield stress, at {number(stress)} Pa, nothing resists the flow of this ink")
        if consistency <= 0.0:
            return left / self.plateau
        high = float((left / consistency) ** (1.0 / self.n))
        if self.plateau <= 0.0:
            return high
        high = min(high, left / self.plateau)
        # Newton in the logarithm of the rate: the stress is convex in it and too high at the start, so each step falls towards the root.
        log = math.log(high)
        for _ in range(_MOST_NEWTON):
            rate = math.exp(log)
            power = consistency * rate**self.n
            step = (power + self.plateau * rate - left) / (self.n * power + self.plateau * rate)
            log -= step
            if abs(step) < _ROUNDING:
                break
        return math.exp(log)

    def change(self, stress: float, structure: float) -> float:
        """Return the rate of change of the structure [1/s]."""
        rate = self.rate(stress, structure)
        return float(self.a * (1.0 - structure) - self.b * rate**self.m * structure)

    def advance(self, piece: Piece, begin: float, end: float, structure: float) -> float:
        """Return the structure at one time [s] of a piece from that at another, by steps whose error is held.

        Raises
        ------
        FitError
            When too many steps would be needed.
        """
        time, value, step = begin, structure, min(end - begin, 0.1 * (end - begin) + 1e-3)
        for _ in range(_MOST_STEPS):
            step = min(step, end - time)
            slopes: list[float] = []
            for node, row in zip(_NODES, _TABLE, strict=True):
                inner = value + step * sum(weight * slope for weight, slope in zip(row, slopes, strict=True))
                slopes.append(self.change(float(piece.at(np.array(time + node * step))), min(max(inner, 0.0), 1.0)))
            best = value + step * sum(weight * slope for weight, slope in zip(_TABLE[-1], slopes[:-1], strict=True))
            other = value + step * sum(weight * slope for weight, slope in zip(_FOURTH, slopes, strict=True))
            error = abs(best - other) / (_TOLERANCE * (abs(best) + 1e-3))
            if error <= 1.0 or step < 1e-12 * (end - begin):
                time, value = time + step, min(max(best, 0.0), 1.0)
                if time >= end * (1.0 - 1e-15):
                    return value
            step *= min(5.0, max(0.2, 0.9 * max(error, 1e-10) ** -0.2))
        raise FitError(f"the structure of the {piece.kind} piece needs more than {_MOST_STEPS} steps; shorten it")
