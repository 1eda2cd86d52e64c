"""What is to be known before the numbers of a structure fit are used: what is not determined, and whether one structure is enough."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.base.show import number
from rheokit.fitting.identify import few_points, twins
from rheokit.fitting.request import Request
from rheokit.statistics.runs import runs_probability
from rheokit.thixotropy.kinetics.problem import Problem
from rheokit.thixotropy.kinetics.solving import Solved

__all__ = ["findings_of", "smooth_part"]

# Chance of so few runs below which residuals are not taken for independent: one false alarm in a thousand loads.
_STREAKS = 1e-3
# Smooth part of the residuals over the scatter of single points from which it counts as misfit: it is then the larger of the two.
_MISFIT = 1.0
# Points of a load that are enough to tell.
_ENOUGH = 10


def findings_of(problem: Problem, asked: Request, solved: Solved, estimates: Mapping[str, Estimate]) -> tuple[Finding, ...]:
    """Return them."""
    found = []
    if not solved.solution.converged:
        reason = f"the {problem.law.name} structure law did not converge; give a start, fix a parameter or take a law with fewer"
        found.append(Finding(check="fit_not_converged", severity="caution", reason=reason))
    for name, estimate in estimates.items():
        words, relative = name.replace("_", " "), estimate.relative_standard_error
        if not estimate.determined:
            reason = f"{words} is not determined: {estimate.reason}"
            found.append(Finding(check="parameter_not_determined", severity="caution", reason=reason, source=name))
        elif relative is not None and relative > 1.0:
            reason = f"{words} is barely determined: its standard error exceeds its value"
            found.append(
                Finding(check="parameter_barely_determined", severity="caution", reason=reason, value=relative, limit=1.0, source=name)
            )
    found += twins(problem.as_law, solved.solution.point, solved.spread.covariance)
    found += few_points(asked.y.size - int(asked.free.sum()), scale_known=False)
    found += _residuals(problem, solved)
    return tuple(found)


def _residuals(problem: Problem, solved: Solved) -> list[Finding]:
    """Return what the residuals say of each load: whether they go in streaks, and how large their smooth part is."""
    found: list[Finding] = []
    if solved.memory == 1.0:  # neighbours that are not alike do not go in streaks
        return found
    for index, name in enumerate(problem.factors):
        rows = np.flatnonzero(problem.shared.load == index)
        if rows.size < _ENOUGH:
            continue
        residual = solved.solution.residual[rows]
        chance = runs_probability(residual)
        if chance >= _STREAKS:
            continue
        smooth, single = smooth_part(residual)
        words = name.replace("_", " ")
        widened = f"; intervals are widened by {number(solved.memory**0.5, 2)}" if solved.memory > 1.0 else ""
        if smooth > _MISFIT * single:
            reason = (
                f"{words}: the {problem.law.name} law misses the stress by {number(100.0 * smooth, 2)} % in a smooth way, more than "
                f"single points scatter ({number(100.0 * single, 2)} %): one structure of this kind is not enough, or the load "
                f"drifted{widened}"
            )
            found.append(
                Finding(
                    check="misfit",
                    severity="caution",
                    reason=reason,
                    value=smooth / max(single, 1e-300),
                    limit=_MISFIT,
                    unit="1",
                    source=name,
                )
            )
        else:
            reason = (
                f"{words}: residuals go in streaks (chance {number(chance, 2)}) of {number(100.0 * smooth, 2)} % of the stress{widened}"
            )
            found.append(
                Finding(check="correlated_residuals", severity="info", reason=reason, value=chance, limit=_STREAKS, unit="1", source=name)
            )
    return found


def smooth_part(residual: FloatArray) -> tuple[float, float]:
    """Return the root mean squares of the smooth part of residuals (N,) and of the scatter of single points.

    The second is that of second differences, over the root of 6; what exceeds it in the whole is smooth.
    """
    second = residual[2:] - 2.0 * residual[1:-1] + residual[:-2]
    single = float(np.mean(second**2)) / 6.0
    return max(float(np.mean(residual**2)) - single, 0.0) ** 0.5, single**0.5
