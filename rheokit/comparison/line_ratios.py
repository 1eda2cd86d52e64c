"""Candidates over a chosen base, line by line and along the flow curve; a number of another method is refused by name, never divided."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, HasFlow
from rheokit.base.errors import ComparisonError
from rheokit.base.estimate import Estimate, Interval
from rheokit.base.show import Table
from rheokit.comparison.curve_ratio import CurveRatio, curve_ratio
from rheokit.comparison.feasible import Candidates, require_one_kind
from rheokit.statistics.student import student_quantile

__all__ = ["LineRatios", "curve_ratios", "line_ratios"]


@dataclass(frozen=True, kw_only=True, repr=False)
class LineRatios(Carried):
    """Ratios to the base, candidate to line to Estimate, and why a ratio was not formed."""

    base: str
    ratios: Mapping[str, Mapping[str, Estimate]]
    refused: Mapping[str, Mapping[str, str]]

    def table(self) -> Table:
        """Return ratios with their 95 % intervals; a star marks what differs from the base."""
        lines = tuple(dict.fromkeys(line for held in (*self.ratios.values(), *self.refused.values()) for line in held))
        rows = [
            (name, *(_cell(held.get(line), line in self.refused.get(name, {})) for line in lines)) for name, held in self.ratios.items()
        ]
        said = [f"{name}, {line}: {reason}" for name, held in self.refused.items() for line, reason in held.items()]
        notes = ("in brackets the 95 % interval; * marks one that leaves out 1", *dict.fromkeys(said))
        title = f"over {self.base}"
        return Table(title=title, columns=("candidate", *lines), rows=tuple(rows), notes=notes, right=lines)

    def __str__(self) -> str:
        return str(self.table())

    __repr__ = __str__  # the fields themselves fill pages

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _cell(ratio: Estimate | None, refused: bool) -> str:
    if ratio is None or ratio.interval is None:
        return "not compared" if refused else ""
    low, high = ratio.interval.lower, ratio.interval.upper
    return f"{ratio.value:.2f} [{low:.2f}, {high:.2f}]{'' if low <= 1.0 <= high else ' *'}"


def line_ratios(candidates: Candidates, base: str) -> LineRatios:
    """Return every line of every candidate over that of the base.

    Raises
    ------
    ComparisonError
        When the base is no candidate.
    """
    if base not in candidates:
        raise ComparisonError(f"{base!r} is no candidate; they are {', '.join(candidates)}")
    standard = candidates[base]
    ratios: dict[str, dict[str, Estimate]] = {}
    refused: dict[str, dict[str, str]] = {}
    for name, numbers in candidates.items():
        if name == base:
            continue
        ratios[name] = {}
        for line, ours in numbers.items():
            try:
                ratios[name][line] = _ratio(ours, standard.get(line), base)
            except ComparisonError as error:
                refused.setdefault(name, {})[line] = str(error)
    return LineRatios(base=base, ratios=ratios, refused=refused)


def _ratio(ours: Estimate, theirs: Estimate | None, base: str) -> Estimate:
    if theirs is None:
        raise ComparisonError(f"{base} has no number for it")
    require_one_kind([theirs, ours])
    parts = []
    for one in (ours, theirs):
        relative, freedom = one.relative_standard_error, one.degrees_of_freedom
        if not one.determined or relative is None or freedom is None or not one.value > 0.0:
            raise ComparisonError(f"a ratio needs values above zero with errors ({one.reason or 'not positive'})")
        parts.append((relative, freedom))
    error = math.hypot(*(relative for relative, _ in parts))
    spent = math.fsum(relative**4 / freedom for relative, freedom in parts)
    freedom = error**4 / spent if spent > 0.0 else math.inf
    value = ours.value / theirs.value
    reach = student_quantile(0.975, freedom) * error
    return Estimate(
        name=f"{ours.name}_ratio",
        value=value,
        unit="1",
        standard_error=value * error,
        degrees_of_freedom=freedom,
        interval=Interval(lower=value * math.exp(-reach), upper=value * math.exp(reach), level=0.95),
        method=f"over {base}; nothing is taken to cancel",
        conditions=ours.conditions,
        sources=(*ours.sources, *theirs.sources),
    )


def curve_ratios(curves: Mapping[str, Sequence[HasFlow]], base: str) -> tuple[dict[str, CurveRatio], dict[str, str]]:
    """Return the flow curve of every candidate over that of the base, with bands that hold at all rates at once, and why one is missing.

    Parameters
    ----------
    curves
        Candidate to the flow curves of its loads. The scatter between loads is pooled over all candidates, which know it better than two
        loads each.
    base
        The candidate below the line.

    Raises
    ------
    ComparisonError
        When the base has no flow curve.
    """
    if not curves.get(base):
        raise ComparisonError(f"{base} has no flow curve, so no curve can be held against it")
    scatter, freedom = _pooled(curves)
    found: dict[str, CurveRatio] = {}
    missing: dict[str, str] = {}
    for name, loads in curves.items():
        if name == base:
            continue
        try:
            stated = scatter if freedom >= 1.0 else None
            one = curve_ratio(loads, curves[base], load_scatter=stated, degrees_of_freedom=freedom, names=(name, base))
            said = one.method if stated is None else one.method.replace("as stated", f"by all candidates ({freedom:g} degrees of freedom)")
            found[name] = replace(one, method=said)
        except ComparisonError as error:
            missing[name] = str(error)
    return found, missing


def _pooled(curves: Mapping[str, Sequence[HasFlow]]) -> tuple[float, float]:
    """Return the relative scatter between loads, pooled over candidates, and its degrees of freedom."""
    squares, freedom = 0.0, 0
    for loads in curves.values():
        if len(loads) < 2:
            continue
        levels = [_level(load, loads) for load in loads]
        squares += float(np.sum((np.array(levels) - np.mean(levels)) ** 2))
        freedom += len(loads) - 1
    return (math.sqrt(squares / freedom), float(freedom)) if freedom and squares > 0.0 else (0.0, 0.0)


def _level(load: HasFlow, loads: Sequence[HasFlow]) -> float:
    """Return the mean ln stress of a load over the rates that all loads of its candidate share."""
    ends = [(np.min(positive), np.max(positive)) for one in loads if (positive := _rates(one)).size]
    low, high = max(end[0] for end in ends), min(end[1] for end in ends)
    rate, stress = np.asarray(load.shear_rate, dtype=np.float64), np.asarray(load.shear_stress, dtype=np.float64)
    kept = (rate > 0.0) & (stress > 0.0)
    order = np.argsort(rate[kept])
    grid = np.linspace(math.log(low), math.log(high), 20)
    return float(np.mean(np.interp(grid, np.log(rate[kept][order]), np.log(stress[kept][order]))))


def _rates(load: HasFlow) -> FloatArray:
    rate = np.asarray(load.shear_rate, dtype=np.float64)
    return rate[(rate > 0.0) & (np.asarray(load.shear_stress) > 0.0)]
