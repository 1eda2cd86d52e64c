"""What is to be known before the numbers of a structure fit are used: what is not determined, and whether one structure is enough."""

from __future__ import annotations

from collections.abc import Mapping

from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.base.show import number
from rheokit.fitting.identify import few_points, twins
from rheokit.fitting.request import Request
from rheokit.thixotropy.kinetics.problem import Problem
from rheokit.thixotropy.kinetics.solving import Solved
from rheokit.thixotropy.kinetics.streaks import STREAKS, streaks

__all__ = ["findings_of"]


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
    """Return a finding when residuals go in streaks: about the load whose smooth part is largest."""
    load, size = problem.shared.load, problem.shared.rate.size
    residual = solved.solution.residual[:size]
    whole = streaks(residual, load)
    if solved.memory == 1.0 or whole.deviate < STREAKS:
        return []
    parts = {name: streaks(residual[load == index], load[load == index]) for index, name in enumerate(problem.factors)}
    worst = max(parts, key=lambda name: parts[name].smooth)
    part = parts[worst]
    reason = (
        f"{worst.replace('_', ' ')}: the {problem.law.name.replace('_', ' ')} law misses the stress by {_percent(part.smooth)} in a smooth "
        f"way (single points scatter by {_percent(part.single)}): one structure of this kind is not enough, the load drifted, or its noise "
        f"remembers; predictions are worth less than their bands, which are widened by {number(solved.memory**0.5, 2)}"
    )
    return [Finding(check="misfit", severity="caution", reason=reason, value=whole.deviate, limit=STREAKS, unit="1", source=worst)]


def _percent(part: float) -> str:
    return f"{number(100.0 * part, 2)} %"
