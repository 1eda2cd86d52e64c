"""Ratios to the retained standard: what cancels, what is equivalent, and what must not be compared."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from rheokit.base.errors import ComparisonError
from rheokit.base.estimate import Condition, Estimate
from rheokit.comparison.reference import against_standard, comparison_table


def estimate(value, **parts):
    parts = parts or {"load": 0.02 * value}
    return Estimate(
        name="viscosity_at_rate", value=value, unit="Pa·s", standard_error=math.hypot(*parts.values()), degrees_of_freedom=10.0,
        components=parts, method="test", conditions={"shear_rate": Condition(value=100.0, unit="1/s")},
    )  # fmt: skip


def one(ours, theirs, **given):
    return against_standard({"viscosity_at_rate": ours}, {"viscosity_at_rate": theirs}, **given)["viscosity_at_rate"]


def test_the_ratio_holds_what_does_not_cancel():
    ours, theirs = estimate(3.9, load=0.06, geometry=0.2, temperature=0.1), estimate(3.8, load=0.05, geometry=0.2, temperature=0.1)
    found = one(ours, theirs)
    assert found.ratio.value == pytest.approx(3.9 / 3.8, rel=1e-15)
    assert found.ratio.relative_standard_error == pytest.approx(math.hypot(0.06 / 3.9, 0.05 / 3.8), rel=1e-12)
    # Welch & Satterthwaite by hand: 10 d.f. each.
    a, b = (0.06 / 3.9) ** 2, (0.05 / 3.8) ** 2
    assert found.ratio.degrees_of_freedom == pytest.approx((a + b) ** 2 / (a**2 / 10 + b**2 / 10), rel=1e-12)
    assert "cancel" in found.ratio.method


@pytest.mark.parametrize(
    ("value", "verdict"),
    [(3.85, "equivalent"), (4.0, "not shown"), (4.5, "different"), (3.3, "different")],
)
def test_verdicts(value, verdict):
    assert one(estimate(value), estimate(3.8)).verdict == verdict


def test_equivalence_agrees_with_its_interval_and_errs_rarely():
    # True ratio at the bound: the test may call it equivalent in 5 % of draws; 400 draws, exact binomial below 0.078 with probability 0.99.
    rng = np.random.default_rng(2)
    called = 0
    for _ in range(400):
        ours, theirs = 3.8 * 1.10 * math.exp(0.02 * rng.standard_normal()), 3.8 * math.exp(0.02 * rng.standard_normal())
        exact = replace(estimate(ours), degrees_of_freedom=math.inf), replace(estimate(theirs), degrees_of_freedom=math.inf)
        called += one(*exact).verdict == "equivalent"
    assert called / 400 <= 0.078


@pytest.mark.parametrize(
    ("ours", "theirs", "message"),
    [
        (
            estimate(3.8),
            replace(estimate(3.8), conditions={"shear_rate": Condition(value=50.0, unit="1/s")}),
            "the condition shear_rate differs",
        ),
        (
            replace(estimate(3.8), determined=False, reason="too far"),
            estimate(3.8),
            r"is not determined \(too far\); it cannot be compared$",
        ),
        (estimate(3.8, geometry=0.1), estimate(3.8), "nothing but what cancels is in its budget"),
        (replace(estimate(3.8), value=-1.0), estimate(3.8), "needs a value above zero and a standard error"),
    ],
)
def test_what_must_not_be_compared_is_refused(ours, theirs, message):
    with pytest.raises(ComparisonError, match=message):
        one(ours, theirs)


def test_a_consistency_is_never_compared_across_flow_indices():
    ours, theirs = (replace(estimate(30.0), name="consistency", unit="Pa·s^n", conditions={}) for _ in range(2))
    with pytest.raises(ComparisonError, match=r"^a consistency is compared only at one flow index"):
        against_standard({"consistency": ours}, {"consistency": theirs})
    at = [{"flow_index": Condition(value=index, unit="1")} for index in (0.5, 0.6)]
    with pytest.raises(ComparisonError, match="the condition flow_index differs"):
        against_standard({"consistency": replace(ours, conditions=at[0])}, {"consistency": replace(theirs, conditions=at[1])})


def test_a_missing_standard_or_bound_is_named():
    with pytest.raises(ComparisonError, match=r"^viscosity_at_rate was not measured on the standard; measure it in the same session$"):
        against_standard({"viscosity_at_rate": estimate(3.8)}, {})
    with pytest.raises(ComparisonError, match=r"^viscosity_at_rate: equivalence needs a bound above zero, such as 0\.10$"):
        one(estimate(3.8), estimate(3.8), bounds={"other": 0.1})


def test_the_table_says_all():
    text = str(comparison_table({"viscosity_at_rate": one(estimate(3.85), estimate(3.8))}))
    assert "equivalent" in text
    assert "0.909 to 1.100" in text
