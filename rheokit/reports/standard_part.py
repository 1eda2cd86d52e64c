"""What a record's page shows of the retained standard that was measured beside the batch: tables and a drawing, from the document alone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from rheokit.base.errors import ComparisonError
from rheokit.base.quantities import quantity
from rheokit.base.show import Table
from rheokit.comparison.curve_ratio import CurveRatio
from rheokit.comparison.with_standard import compare_with_standard
from rheokit.reports.svg import Axis, Plot

__all__ = ["standard_figures", "standard_tables"]

Json = Mapping[str, Any]
TITLE = "Against the retained standard"


def standard_tables(document: Json) -> list[Table]:
    """Return the ratios and what the difference looks like, or why there is no comparison; nothing without a standard."""
    try:
        found = compare_with_standard(document)
    except ComparisonError as error:
        return [Table(title=TITLE, columns=("no comparison",), rows=((str(error),),))]
    if found is None:
        return []
    held = found.table()
    note = "A ratio of one session: most of what a day does to an instrument stands in both. It is compared with, never judged."
    tables = [Table(title=TITLE, columns=held.columns, rows=held.rows, notes=(note,), right=held.right)]
    if found.left_out:
        rows = tuple(found.left_out.items())
        tables.append(Table(title="Not compared with the standard", columns=("what", "why"), rows=rows))
    if found.why is not None:
        why = found.why.table()
        # The words last: that column is the wide one.
        columns = (why.columns[0], *why.columns[2:], why.columns[1])
        said = (*((name, size, left, members) for name, members, size, left in why.rows), ("in words", "", "", found.why.sentence))
        tables.append(Table(title="Why it differs", columns=columns, rows=said, right=why.right))
    return tables


def standard_figures(document: Json) -> list[tuple[str, str]]:
    """Return (SVG, caption) of the ratio along the flow curve, where there is one."""
    try:
        found = compare_with_standard(document)
    except ComparisonError:
        return []  # the tables say why
    return [] if found is None or found.curve is None else [_ratio(found.curve)]


def _ratio(curve: CurveRatio) -> tuple[str, str]:
    low, high = curve.band()
    rates, ratio = curve.shear_rate, np.exp(curve.log_ratio)
    x = Axis.over(quantity("shear_rate").label, rates.tolist(), log=True)
    y = Axis.over("shear stress, batch / standard", [1.0, *low.tolist(), *high.tolist()])
    plot = Plot(title="Batch over standard", x=x, y=y)

    def pairs(values: np.ndarray[Any, np.dtype[np.float64]]) -> list[tuple[float, float]]:
        return list(zip(rates.tolist(), values.tolist(), strict=True))

    plot.band(pairs(low), pairs(high))
    plot.level(1.0, "standard")
    plot.line(pairs(ratio))
    plot.marks(pairs(ratio))
    apart = (low > 1.0) | (high < 1.0)
    plot.marks([point for point, one in zip(pairs(ratio), apart.tolist(), strict=True) if one], mark="diamond", hue=3, filled=True)
    said = f"{int(apart.sum())} of {apart.size} rates differ" if apart.any() else "no rate differs"
    return plot.svg(), f"Tint: 95 % for all rates at once; {said} (filled). {curve.method[:1].upper()}{curve.method[1:]}."
