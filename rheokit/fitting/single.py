"""One curve under a law with a power term: yield stress or plateau and consistency in closed form, the flow index by Newton steps.

The same projected problem as in `projection`, in plain numbers instead of arrays of problems: a start near the floor for a tenth of the
time. Only a start: the descent in all parameters decides, as for every law.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_algebra import nonnegative_reduction
from rheokit.fitting.many_power import NODES, SUMS
from rheokit.fitting.request import Request
from rheokit.models import MODELS

__all__ = ["power_start"]

_MOST_STEPS = 12
# Offset at which the steps end; what is left the descent in all parameters takes away in one or two.
_NEAR = 1e-10
# Share of a pivot that is rounding.
_DEAD = 1e-13


def power_start(request: Request, deviations: FloatArray) -> FloatArray | None:
    """Return a point (p,) near the floor for given standard deviations (N,), or None where law, bounds or points are not of the kind."""
    law = request.law
    terms = SUMS.get(law.name, ())
    if "power" not in terms or len(terms) > 2 or MODELS.get(law.name) != law or not request.free.all():
        return None
    linear = [law.names.index(name) for name in law.linear]
    index = law.names.index("flow_index")
    if request.lower[linear].any() or np.isfinite(request.upper[linear]).any() or not (request.x > 0.0).all():
        return None
    nodes = NODES[(request.lower[index] < NODES) & (request.upper[index] > NODES)]
    size = float(np.abs(request.y).max())
    if nodes.size < 3 or not 0.0 < size < math.inf:
        return None
    problem = _Problem.of(request, deviations, size, terms)
    n = problem.near_floor(problem.best_node(nodes), float(request.lower[index]), float(request.upper[index]))
    found = problem.look(n)
    if found is None or not math.isfinite(found.cost):
        return None
    values = {
        "power": found.power * math.exp(-n * problem.centre),
        "yield": found.other,
        "plateau": found.other * math.exp(-problem.centre),
    }
    point = np.empty(len(law.names))
    point[index] = n
    point[linear] = [size * values[term] for term in terms]
    return point


class _Look(NamedTuple):
    """What holds at one flow index: both coefficients, sum of squares, half its slope and half its curvature to first order."""

    other: float
    power: float
    cost: float
    slope: float
    bend: float


class _Problem:
    """Weighted points, rates over their geometric mean, and the column that is not the power term (zeros where there is none)."""

    def __init__(self, log_x: FloatArray, weight: FloatArray, target: FloatArray, column: FloatArray, centre: float) -> None:
        self.log_x, self.weight, self.target, self.column, self.centre = log_x, weight, target, column, centre
        self.total, self.whole, self.along = float(target @ target), float(column @ column), float(column @ target)

    @classmethod
    def of(cls, request: Request, deviations: FloatArray, size: float, terms: tuple[str, ...]) -> _Problem:
        log_x = np.log(request.x)
        centre = float(log_x.mean())
        log_x -= centre
        weight = deviations.min() / deviations
        column = weight if "yield" in terms else weight * np.exp(log_x) if "plateau" in terms else np.zeros(weight.size)
        return cls(log_x, weight, request.y / size * weight, column, centre)

    def best_node(self, nodes: FloatArray) -> float:
        """Return the lowest node, moved to the vertex of a parabola where the nodes are equally spaced."""
        powers = np.exp(np.multiply.outer(nodes, self.log_x)) * self.weight
        squares, onto = np.einsum("gn,gn->g", powers, powers), powers @ self.target
        if self.whole:
            crossed = powers @ self.column
            one, along = np.full(nodes.size, self.whole), np.full(nodes.size, self.along)
            gains = nonnegative_reduction([[one, crossed], [crossed, squares]], [along, onto])
        else:
            gains = nonnegative_reduction([[squares]], [onto])
        best = int(np.argmax(np.where(np.isfinite(gains), gains, -np.inf)))
        if not 0 < best < nodes.size - 1:
            return float(nodes[best])
        below, here, above = map(float, gains[best - 1 : best + 2])
        bend, spacing = below - 2.0 * here + above, float(nodes[best] - nodes[best - 1])
        regular = abs(float(nodes[best + 1] - nodes[best]) - spacing) < 1e-9
        return float(nodes[best]) + (0.5 * spacing * (below - above) / bend if regular and bend < 0.0 else 0.0)

    def look(self, n: float) -> _Look | None:
        """Return what holds at a flow index; None where the power term is no number."""
        power = np.exp(n * self.log_x) * self.weight
        steep = power * self.log_x
        crossed, squares, onto = float(self.column @ power), float(power @ power), float(power @ self.target)
        if not (squares > 0.0 and math.isfinite(squares)):
            return None
        other, height, inside = 0.0, max(onto, 0.0) / squares, False
        if self.whole:
            left = squares - crossed * crossed / self.whole
            if left > _DEAD * squares:
                height = (onto - crossed * self.along / self.whole) / left
            other = (self.along - crossed * height) / self.whole
            inside = height > 0.0 and other > 0.0
            if not inside:
                alone = max(onto, 0.0) / squares, max(self.along, 0.0) / self.whole
                other, height = (0.0, alone[0]) if alone[0] * onto >= alone[1] * self.along else (alone[1], 0.0)
        cost = self.total - other * (2.0 * self.along - other * self.whole) - height * (2.0 * onto - height * squares)
        cost += 2.0 * other * height * crossed
        by_column, by_power = float(steep @ self.column), float(steep @ power)
        slope = -height * (float(steep @ self.target) - other * by_column - height * by_power)
        bend = float(steep @ steep) - by_power * by_power / squares
        if inside:
            turned = by_column - crossed * by_power / squares
            apart = self.whole - crossed * crossed / squares
            bend -= turned * turned / apart if apart > 0.0 else 0.0  # nothing tells column and power apart at one rate
        return _Look(other, height, max(cost, 0.0), slope, height * height * bend)

    def near_floor(self, n: float, lower: float, upper: float) -> float:
        """Return the flow index after Newton steps from a start; a step that does not lower the sum of squares is halved."""
        n = min(max(n, lower), upper)
        here, curvature = self.look(n), 0.0
        for _ in range(_MOST_STEPS):
            if here is None or here.bend <= 0.0 or here.slope**2 <= _NEAR**2 * here.cost * here.bend:
                break
            steep = here.bend + (curvature if -0.7 * here.bend < curvature < here.bend else 0.0)
            target = min(max(n - here.slope / steep, lower), upper)
            there = self.look(target)
            for _ in range(_MOST_STEPS):
                if target == n or (there is not None and there.cost < here.cost + 1e-14 * self.total):
                    break
                target = 0.5 * (n + target)
                there = self.look(target)
            if there is None or target == n:
                break
            # What the change of the slope shows beyond first order.
            curvature = (there.slope - here.slope) / (target - n) - there.bend
            n, here = target, there
        return n
