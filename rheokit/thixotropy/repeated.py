"""Repeated loops of one run: what each cycle leaves of the area of the first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rheokit.base.carry import Carried
from rheokit.base.errors import ComparisonError, StepError, printable
from rheokit.base.estimate import Condition, Estimate, Interval
from rheokit.base.finding import Finding
from rheokit.base.look import HUES, INK, TINT, dress
from rheokit.base.quantities import quantity
from rheokit.base.run import Run, Step
from rheokit.base.show import Table, number, resolve_axes, value_and_error
from rheokit.statistics.student import student_quantile
from rheokit.thixotropy.loop import METHOD, HysteresisLoop, loop_of_run

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["RepeatedLoops", "repeated_loops"]

_LEVEL = 0.95
_METHOD = "area of the loop over that of the first of the same load, so that what scales all stresses alike cancels; interval by Fieller"


@dataclass(frozen=True, kw_only=True, eq=False)
class RepeatedLoops(Carried):
    """The loops of one run, of one and the same ramp, in the order measured.

    Attributes
    ----------
    loops
        At least two; the areas from the second on carry `cycle` as a condition.
    ratios
        Estimates `loop_area_ratio` [1] of the second loop and those after it, each over the first; none where the first encloses
        nothing.
    findings
        What was seen on the way.
    """

    loops: tuple[HysteresisLoop, ...]
    ratios: tuple[Estimate, ...]
    findings: tuple[Finding, ...]

    @property
    def areas(self) -> tuple[Estimate, ...]:
        """Loop areas [Pa/s] by cycle."""
        return tuple(loop.area for loop in self.loops)

    def table(self) -> Table:
        """Return areas, relative areas and ratios as a table."""
        rows = []
        for cycle, loop in enumerate(self.loops, 1):
            ratio = self.ratios[cycle - 2] if cycle > 1 and self.ratios else None
            cells = [cell for one in (loop.area, loop.relative_area, ratio) for cell in _cells(one)]
            rest = loop.method.history.rest if loop.method.history else None
            rows.append((str(cycle), *cells, "none" if rest is None else str(rest)))
        notes = [f"ramp {self.loops[0].ramp}", METHOD, *([_METHOD] if self.ratios else [])]
        notes += [f"cycle {cycle}: {ratio.reason}" for cycle, ratio in enumerate(self.ratios, 2) if ratio.reason]
        notes += [f"{finding.severity}: {finding}" for finding in self.findings]
        numbers = ("cycle", "area [Pa/s]", "error", "relative area", "its error", "over the first", "error of it")
        return Table(title="repeated loops", columns=(*numbers, "rest before"), rows=tuple(rows), notes=tuple(notes), right=numbers)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw all loops on the axes given, else on a new figure, each named at its up leg, and return the axes."""
        ax = resolve_axes(ax)
        dress(ax, logarithmic="x" if self.loops[0].ramp.course == "logarithmic" else "neither")
        words = [f"loop 1: {_with_error(self.areas[0])} Pa/s"]
        words += [f"loop {cycle}: {_with_error(ratio)} of it" for cycle, ratio in enumerate(self.ratios, 2)]
        for cycle, loop in enumerate(self.loops, 1):
            hue = HUES[(cycle - 1) % len(HUES)]
            ax.fill_between(loop.shear_rate, loop.up, loop.down, color=hue, alpha=TINT / cycle, linewidth=0.0)
            for stress, mark in ((loop.up, "^"), (loop.down, "v")):
                ax.plot(loop.shear_rate, stress, color=hue, marker=mark, markerfacecolor="white", markersize=3.5, linewidth=1.0)
            # Later loops lie one on the other: each is named further along its up leg.
            place = min(loop.up.size * (1 + cycle) // 10, loop.up.size - 1)
            ax.annotate(
                f"{cycle}", (loop.shear_rate[place], loop.up[place]), xytext=(-7.0, 6.0), textcoords="offset points", color=hue,
                fontweight="bold", horizontalalignment="right",
            )  # fmt: skip
        words.append(f"ramp {self.loops[0].ramp}\n△ up, ▽ down")
        ax.text(0.98, 0.04, "\n".join(words), transform=ax.transAxes, color=INK, fontsize="small", horizontalalignment="right")
        ax.set_xlabel(quantity("shear_rate").label)
        ax.set_ylabel(quantity("shear_stress").label)
        return ax


def repeated_loops(run: Run) -> RepeatedLoops:
    """Return the loops of a run that repeats its ramp, with their areas by cycle and the ratio of each to the first.

    Up and down legs are paired in the order measured: a down leg belongs to the last up leg before it. Range, duration, course and
    points of the ramps and the hold at the top are the same in all loops, or nothing is compared.

    Parameters
    ----------
    run
        Read by `read_run`.

    Returns
    -------
    RepeatedLoops
        Areas, ratios, table and figure.

    Raises
    ------
    StepError
        When the run has fewer than two loops.
    ComparisonError
        When a loop was measured by another method than the first; the message names everything that differs.
    FitError
        When a leg has too few points, runs the wrong way or turns back.

    References
    ----------
    Fieller, J. R. Stat. Soc. B 16 (1954) 175, for the interval of a ratio (from memory).
    """
    pairs, findings = _pairs(run)
    if len(pairs) < 2:
        listed = ", ".join(f"{step.number} {step.kind}" for step in run.steps)
        raise StepError(f"{printable(run.name)} has {len(pairs)} loops of an up and a down leg; two or more are compared (steps: {listed})")
    loops = [loop_of_run(run, *pair) for pair in pairs]
    for pair, loop in zip(pairs[1:], loops[1:], strict=True):
        _require_like(pairs[0], loops[0], pair, loop)
    named = [loops[0], *(_of_cycle(loop, cycle) for cycle, loop in enumerate(loops[1:], 2))]
    findings += _unlike_rests(loops)
    findings += tuple(seen.at(f"loop {cycle}") for cycle, loop in enumerate(loops, 1) for seen in loop.findings)
    first = loops[0].area
    if first.value == 0.0:
        reason = "the first loop encloses nothing, so no ratio to it is formed"
        return RepeatedLoops(
            loops=tuple(named), ratios=(), findings=(*findings, Finding(check="first_area", severity="caution", reason=reason))
        )
    return RepeatedLoops(loops=tuple(named), ratios=tuple(_ratio(loop.area, first) for loop in named[1:]), findings=findings)


def _pairs(run: Run) -> tuple[list[tuple[int, int]], tuple[Finding, ...]]:
    """Return the step numbers of up and down legs that belong together, and what is said of legs left over."""
    pairs: list[tuple[int, int]] = []
    alone: list[Step] = []
    rising: Step | None = None
    for step in run.steps:
        if step.kind == "up":
            alone += [rising] if rising else []
            rising = step
        elif step.kind == "down":
            if rising:
                pairs.append((rising.number, step.number))
            else:
                alone.append(step)
            rising = None
    alone += [rising] if rising else []
    return pairs, tuple(
        Finding(
            check="leg_alone",
            severity="caution",
            reason=f"step {step.number} ({step.kind}) has no {'down leg after' if step.kind == 'up' else 'up leg before'} it: no loop",
            rows=step.rows,
        )
        for step in alone
    )


def _require_like(first: tuple[int, int], reference: HysteresisLoop, pair: tuple[int, int], loop: HysteresisLoop) -> None:
    one, other = reference.method, loop.method
    found = [f"up leg: {words}" for words in one.up.differences(other.up)]
    found += [f"down leg: {words}" for words in one.down.differences(other.down)]
    if one.history is not None and other.history is not None:
        # A rest and a pre-shear belong before the first loop; before the others there is what the run has there.
        found += [words for words in one.history.differences(other.history) if words.startswith("the hold")]
    if found:
        raise ComparisonError(
            f"the loop of steps {pair[0]} and {pair[1]} is not like that of steps {first[0]} and {first[1]}, so their areas are not "
            f"compared; they differ in {'; '.join(found)}"
        )


def _unlike_rests(loops: list[HysteresisLoop]) -> tuple[Finding, ...]:
    """Say when the loops after the first did not have the same rest or shear before them."""
    after = [loop.method.history for loop in loops[1:] if loop.method.history is not None]
    unlike = [words for other in after[1:] for words in after[0].differences(other) if not words.startswith("the hold")]
    if not unlike:
        return ()
    reason = f"the loops after the first do not follow alike; they differ in {'; '.join(dict.fromkeys(unlike))}"
    return (Finding(check="pauses_unlike", severity="caution", reason=reason),)


def _of_cycle(loop: HysteresisLoop, cycle: int) -> HysteresisLoop:
    """Return a loop whose areas say which cycle they are of."""
    said = {"cycle": Condition(value=float(cycle), unit="1")}
    area, relative = (replace(one, conditions={**one.conditions, **said}) for one in (loop.area, loop.relative_area))
    return replace(loop, area=area, relative_area=relative)


def _ratio(area: Estimate, first: Estimate) -> Estimate:
    """Return the ratio of two independent areas with its interval."""
    value = area.value / first.value
    plain = Estimate(
        name="loop_area_ratio",
        value=value,
        unit=quantity("loop_area_ratio").unit,
        standard_error=None,
        reason=area.reason or first.reason or "an area has no standard error",
        method=_METHOD,
        conditions=area.conditions,
        sources=(*first.sources, *area.sources),
    )
    if area.standard_error is None or first.standard_error is None or not area.degrees_of_freedom or not first.degrees_of_freedom:
        return plain
    parts = (area.standard_error / first.value) ** 2, (value * first.standard_error / first.value) ** 2
    error = sum(parts) ** 0.5
    # Welch-Satterthwaite (JCGM 100:2008, G.4.1).
    freedom = sum(parts) ** 2 / (parts[0] ** 2 / area.degrees_of_freedom + parts[1] ** 2 / first.degrees_of_freedom)
    known = replace(plain, reason="", standard_error=error, degrees_of_freedom=freedom, components={"fit": error})
    t = student_quantile(0.5 + 0.5 * _LEVEL, freedom)
    unsure = (t * first.standard_error / first.value) ** 2
    if unsure >= 1.0:
        said = f"the first area, {_with_error(first)} Pa/s, is not told from zero"
        return replace(known, determined=False, reason=said)
    half = t * (parts[0] * (1.0 - unsure) + parts[1]) ** 0.5
    ends = ((value - half) / (1.0 - unsure), (value + half) / (1.0 - unsure))
    return replace(known, interval=Interval(lower=ends[0], upper=ends[1], level=_LEVEL))


def _with_error(estimate: Estimate) -> str:
    value, error = value_and_error(estimate.value, estimate.standard_error)
    return f"{value} ± {error}" if error else number(estimate.value)


def _cells(estimate: Estimate | None) -> tuple[str, str]:
    if estimate is None:
        return "", ""
    value, error = value_and_error(estimate.value, estimate.standard_error)
    return (value, error or "none") if estimate.determined else (f"({value})", "not determined")
