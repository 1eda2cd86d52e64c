"""A batch's numbers over those of its retained standard, measured in the same session: ratios with intervals, and equivalence."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from rheokit.base.carry import Carried
from rheokit.base.errors import ComparisonError
from rheokit.base.estimate import Estimate, Interval
from rheokit.base.show import Table, number
from rheokit.statistics.equivalence import Equivalence, two_one_sided_tests

__all__ = ["CANCELS", "AgainstStandard", "against_standard", "comparison_table"]

CANCELS = ("calibration", "geometry", "temperature", "day")
"""Parts of a budget that stand in both numbers of one session and leave their ratio."""


@dataclass(frozen=True, kw_only=True, eq=False)
class AgainstStandard(Carried):
    """One characteristic of a batch over that of its standard.

    Attributes
    ----------
    batch, standard
        The two Estimates.
    ratio
        Estimate of the quotient [1]; its error holds what does not cancel.
    test
        Two one-sided tests of ln ratio against the bounds asked for.
    """

    batch: Estimate
    standard: Estimate
    ratio: Estimate
    test: Equivalence

    @property
    def verdict(self) -> str:
        """`equivalent`, `different` (the 95 % interval leaves out 1 and the test fails) or `not shown`."""
        if self.test.equivalent:
            return "equivalent"
        low, high = self.interval
        return "different" if low > 1.0 or high < 1.0 else "not shown"

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval of the ratio."""
        held = self.ratio.interval
        assert held is not None  # made with it
        return held.lower, held.upper


def against_standard(
    batch: Mapping[str, Estimate],
    standard: Mapping[str, Estimate],
    *,
    bounds: Mapping[str, float] | float = 0.10,
    alpha: float = 0.05,
    pooled: Mapping[str, float] | None = None,
) -> dict[str, AgainstStandard]:
    """Return each characteristic of a batch over that of its standard.

    Parameters
    ----------
    batch, standard
        Name to Estimate, of one session: equal units and conditions.
    bounds
        Relative bounds of equivalence by name, or one for all: 0.10 asks for 1/1.10 to 1.10.
    alpha
        Of each one-sided test.
    pooled
        Degrees of freedom, by name, of one pooled standard deviation on which both errors rest, such as a stated repeatability: it is
        known no better for being used twice. Where it is not, each error has its own (Welch and Satterthwaite).

    Raises
    ------
    ComparisonError
        When a characteristic is missing from the standard, conditions differ, a value is not positive, not determined or has no error,
        or a consistency of another flow index is compared.
    """
    found = {}
    for name, ours in batch.items():
        theirs = standard.get(name)
        if theirs is None:
            raise ComparisonError(f"{name} was not measured on the standard; measure it in the same session")
        asked = bounds if isinstance(bounds, float | int) else bounds.get(name)
        if asked is None or not asked > 0.0:
            raise ComparisonError(f"{name}: equivalence needs a bound above zero, such as 0.10")
        found[name] = _compared(ours, theirs, math.log1p(asked), alpha, (pooled or {}).get(name))
    return found


def _compared(ours: Estimate, theirs: Estimate, bound: float, alpha: float, pooled: float | None) -> AgainstStandard:
    ours.require_comparable(theirs)
    if ours.name == "consistency" and "flow_index" not in ours.conditions:
        raise ComparisonError("a consistency is compared only at one flow index; fix it in both fits and name it as a condition")
    for estimate in (ours, theirs):
        if not estimate.determined:
            raise ComparisonError(f"{estimate.name} is not determined ({estimate.reason}); it cannot be compared")
        if not estimate.value > 0.0 or estimate.standard_error is None:
            raise ComparisonError(
                f"{estimate.name} needs a value above zero and a standard error to be compared ({estimate.reason or 'none'})"
            )
    parts = [_own(estimate) for estimate in (ours, theirs)]
    error = math.hypot(*(size for size, _ in parts))
    spent = math.fsum(size**4 / freedom for size, freedom in parts)
    freedom = pooled or (math.inf if spent == 0.0 else error**4 / spent)
    logarithm = math.log(ours.value / theirs.value)
    test = two_one_sided_tests(logarithm, error, freedom, bounds=(-bound, bound), alpha=alpha)
    wide = two_one_sided_tests(logarithm, error, freedom, bounds=(-bound, bound), alpha=0.025).interval
    return AgainstStandard(batch=ours, standard=theirs, ratio=_ratio(ours, theirs, error, freedom, wide), test=test)


def _own(estimate: Estimate) -> tuple[float, float]:
    """Return the relative error that does not cancel, and its degrees of freedom."""
    assert estimate.standard_error is not None  # asked before
    kept = [size for part, size in estimate.components.items() if part not in CANCELS]
    error = math.hypot(*kept) if estimate.components else estimate.standard_error
    if error == 0.0:
        raise ComparisonError(f"{estimate.name}: nothing but what cancels is in its budget; its scatter between loads is not known")
    return error / estimate.value, estimate.degrees_of_freedom or math.inf


def _ratio(ours: Estimate, theirs: Estimate, error: float, freedom: float, ends: tuple[float, float]) -> Estimate:
    value = ours.value / theirs.value
    return Estimate(
        name=f"{ours.name}_ratio",
        value=value,
        unit="1",
        standard_error=value * error,
        degrees_of_freedom=freedom,
        components={"load": value * error},
        interval=Interval(lower=math.exp(ends[0]), upper=math.exp(ends[1]), level=0.95),
        method="batch over retained standard of the same session; geometry, calibration, temperature and day stand in both and cancel",
        conditions=ours.conditions,
        sources=(*ours.sources, *theirs.sources),
    )


def comparison_table(found: Mapping[str, AgainstStandard]) -> Table:
    """Return ratios, intervals and verdicts as a table."""
    rows = []
    for name, one in found.items():
        low, high = one.interval
        bound = math.exp(one.test.bounds[1])
        rows.append((name.replace("_", " "), f"{one.ratio.value:.3f}", f"{low:.3f} to {high:.3f}", f"{1.0 / bound:.3f} to {bound:.3f}",
                     number(one.test.probability, 2), one.verdict))  # fmt: skip
    columns = ("characteristic", "batch / standard", "95 %", "bounds", "p", "verdict")
    return Table(title="against the retained standard", columns=columns, rows=tuple(rows), right=columns[1:5])
