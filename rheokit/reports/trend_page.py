"""A trend as one HTML page that needs nothing else: no network, no script. The same numbers give the same bytes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from rheokit.base.errors import printable
from rheokit.base.show import LONGEST_CELL
from rheokit.comparison.trend import RequirementTrend, Trend
from rheokit.reports.trend_figures import trend_figures

if TYPE_CHECKING:
    from jinja2 import Template

__all__ = ["trend_page"]

_LISTED = 20
"""Alarms that are listed, the last ones."""


def trend_page(found: Trend, *, title: str, source: str) -> str:
    """Return the page of a trend; `source` says where its numbers are from."""
    sections = [_section(one) for one in found.requirements.values()]
    return _template().render(title=title, source=source, summary=found.table(), sections=sections)


def _section(one: RequirementTrend) -> Mapping[str, Any]:
    listed = [(alarm.batch, alarm.chart) for alarm in one.alarms][-_LISTED:]
    before = len(one.alarms) - len(listed)
    return {"id": one.requirement, "facts": list(_facts(one)), "figures": trend_figures(one), "alarms": listed, "before": before}


def _facts(one: RequirementTrend) -> Iterator[tuple[str, str]]:
    known = one.capability
    if known is None:
        yield "capability", f"none: {one.reasons.get('capability', '')}"
    else:
        both = "" if known.cp is None or known.cp_interval is None else (
            f"Cp {known.cp:.2f} ({known.cp_interval[0]:.2f} to {known.cp_interval[1]:.2f}), ")  # fmt: skip
        low, high = known.cpk_interval
        yield (
            "capability",
            f"{both}Cpk {known.cpk:.2f} ({low:.2f} to {high:.2f}, 95 %), {known.count} batches; 1.33 is usual (common practice)",
        )
    yield "drift", one.drift_said
    if one.proposed is None:
        yield "limits from history", f"none: {one.reasons.get('proposed', '')}"
    else:
        yield "limits from history", f"{_ends(one)}: {one.proposed.method}. The function of the ink comes first; history only narrows it"
    if one.risk is None:
        yield "global risk", f"none: {one.reasons.get('risk', '')}"
    else:
        accept, reject = 100.0 * one.risk.false_accept, 100.0 * one.risk.false_reject
        yield (
            "global risk",
            (
                f"of all batches {accept:.2g} % are outside the limits and accepted, {reject:.2g} % inside and rejected, where a result is "
                "accepted by 1.645 of its standard uncertainties inside a limit and rejected as far outside"
            ),
        )
    if "settled" in one.reasons:
        yield "caution", one.reasons["settled"]


def _ends(one: RequirementTrend) -> str:
    assert one.proposed is not None  # asked before
    lower, upper = one.proposed.lower, one.proposed.upper
    if lower is None or upper is None:
        return f"at least {one.shown(lower)}" if lower is not None else f"at most {one.shown(upper or 0.0)}"
    return f"{one.shown(lower)} to {one.shown(upper)}"


@cache
def _template() -> Template:
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - only wanted where a page is made

    environment = Environment(loader=PackageLoader("rheokit.reports"), autoescape=True, undefined=StrictUndefined)
    environment.filters["p"] = lambda value: printable(value, LONGEST_CELL)
    return environment.get_template("trend.html")
