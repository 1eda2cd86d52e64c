"""The hysteresis loop: area between the up and the down leg of a ramp, in one number, lobe by lobe and relative to the up leg."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, HasLeg
from rheokit.base.errors import ComparisonError, FitError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.finding import Finding
from rheokit.base.look import HUES, INK, TINT, dress
from rheokit.base.quantities import quantity
from rheokit.base.run import Run
from rheokit.base.show import Table, number, resolve_axes, value_and_error
from rheokit.thixotropy.area_scatter import FEWEST_POINTS, area_variances, degrees_of_freedom
from rheokit.thixotropy.leg import ReadyLeg, ready_leg
from rheokit.thixotropy.loop_method import History, LoopMethod, history_of
from rheokit.thixotropy.pieces import areas_between, crossings, cut_areas, stress_at
from rheokit.thixotropy.ramp import Ramp

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["COVERED", "METHOD", "SPANS_ALIKE", "HysteresisLoop", "Lobe", "hysteresis_loop", "loop_of_run"]

SPANS_ALIKE = 0.02
"""Legs whose spans or durations differ by more than this part are not one loop."""
COVERED = 0.9
"""Part of each leg's range that the other must cover."""
_ROUNDING = 1e-13
_UP, _DOWN = HUES[0], HUES[1]

METHOD = (
    "power-law pieces between points, straight where a rate or stress is not positive; "
    "standard error from the scatter of each point about its neighbours"
)


@dataclass(frozen=True, kw_only=True)
class Lobe:
    """A range of rates [1/s] over which one leg lies above the other, and the signed area [Pa/s]: positive with the up leg above."""

    lowest_rate: float
    highest_rate: float
    area: float


@dataclass(frozen=True, kw_only=True, eq=False)
class HysteresisLoop(Carried):
    """What a loop encloses.

    Attributes
    ----------
    area
        Estimate `loop_area` [Pa/s]: positive when the up leg lies above (thixotropic). Its conditions are the range of rates and the
        method (ramp, course, points; with a run also hold, rest and pre-shear): an area means something at its own method only.
    relative_area
        Estimate `relative_loop_area` [1]: area over the area under the up leg.
    lobes
        One for every change of sign, in the order of the rates; their areas add up to that of the loop.
    method
        How it was measured, as far as that is known.
    shear_rate, up, down
        The rates of both legs in their common range [1/s] with the stresses [Pa] of each leg there, (M,).
    findings
        What was put right in the legs.
    """

    area: Estimate
    relative_area: Estimate
    lobes: tuple[Lobe, ...]
    method: LoopMethod
    shear_rate: FloatArray
    up: FloatArray
    down: FloatArray
    findings: tuple[Finding, ...]

    def __post_init__(self) -> None:
        for name in ("shear_rate", "up", "down"):
            values = np.array(getattr(self, name), dtype=np.float64)
            values.setflags(write=False)
            object.__setattr__(self, name, values)

    @property
    def ramp(self) -> Ramp:
        """Ramp of the up leg."""
        return self.method.up

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw both legs and the area between them on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        ax.fill_between(self.shear_rate, self.up, self.down, color=_UP, alpha=TINT, linewidth=0.0)
        for stress, colour, mark, label, side in ((self.up, _UP, "^", "up", "bottom"), (self.down, _DOWN, "v", "down", "top")):
            ax.plot(self.shear_rate, stress, color=colour, marker=mark, markerfacecolor="white", markersize=4.5, linewidth=1.2, label=label)
            place = self.shear_rate.size // 3
            offset = (-6.0, 8.0) if side == "bottom" else (6.0, -8.0)
            ax.annotate(
                label, (self.shear_rate[place], stress[place]), xytext=offset, textcoords="offset points", color=colour, fontweight="bold",
                horizontalalignment="right" if side == "bottom" else "left", verticalalignment=side,
            )  # fmt: skip
        value, error = value_and_error(self.area.value, self.area.standard_error)
        said = f"loop area {value}{' ± ' + error if error else ''} Pa/s\nramp {self.ramp}"
        ax.text(0.98, 0.04, said, transform=ax.transAxes, color=INK, fontsize="small", horizontalalignment="right")
        ax.set_xlabel(quantity("shear_rate").label)
        ax.set_ylabel(quantity("shear_stress").label)
        dress(ax, logarithmic="x" if self.ramp.course == "logarithmic" else "neither")
        return ax

    def table(self) -> Table:
        """Return area, relative area and lobes as a table."""
        between = f"{number(float(self.shear_rate[0]))} to {number(float(self.shear_rate[-1]))} 1/s"
        rows = []
        for one in (self.area, self.relative_area):
            value, error = value_and_error(one.value, one.standard_error)
            rows.append((one.name.replace("_", " "), value, error or f"none: {one.reason}", one.unit, between))
        for index, lobe in enumerate(self.lobes, 1):
            span = f"{number(lobe.lowest_rate)} to {number(lobe.highest_rate)} 1/s"
            rows.append((f"lobe {index}", value_and_error(lobe.area, self.area.standard_error)[0], "", "Pa/s", span))
        notes = (str(self.method), METHOD, *self._lobes_in_scatter(), *(f"{finding.severity}: {finding}" for finding in self.findings))
        columns = ("quantity", "value", "standard error", "unit", "shear rates")
        return Table(title="hysteresis loop", columns=columns, rows=tuple(rows), notes=notes, right=columns[1:3])

    def _lobes_in_scatter(self) -> tuple[str, ...]:
        """Say which crossings the scatter of the points alone may make, or nothing: lobes no larger than the error of the area."""
        small = sum(1 for lobe in self.lobes if abs(lobe.area) <= (self.area.standard_error or 0.0))
        if not small:
            return ()
        said = f"{small} of {len(self.lobes)} lobes are" if small > 1 else f"1 of {len(self.lobes)} lobes is"
        return (f"{said} no larger than the standard error of the loop area: scatter alone may make the legs cross there",)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def hysteresis_loop(up: HasLeg, down: HasLeg) -> HysteresisLoop:
    """Return what the up and the down leg of a ramp enclose: the integral of up less down stress over the shear rate.

    Between points a leg is a power law (a straight line where a rate or stress is not positive). Legs with unlike points are joined on
    the rates of both, inside their common range.

    Parameters
    ----------
    up, down
        Anything with `time` [s], `shear_rate` [1/s] and `shear_stress` [Pa], each (N,); rates rise on the up and fall on the down leg.
        Rates that run back by up to 2 % of the range are sorted, repeated rates averaged, and findings say so.

    Returns
    -------
    HysteresisLoop
        Area, relative area, lobes, table and figure.

    Raises
    ------
    ComparisonError
        When span of rates or duration of the legs differ by more than 2 %, their ranges do not cover each other, or one is ramped
        linearly and the other not.
    FitError
        When a leg has too few points, runs the wrong way or turns back.

    References
    ----------
    Green & Weltmann, Ind. Eng. Chem. Anal. Ed. 15 (1943) 201, for the loop (from memory).
    """
    return _loop(ready_leg(up, "up", rises=True), ready_leg(down, "down", rises=False), None)


def loop_of_run(run: Run, up: str | int = "up", down: str | int = "down") -> HysteresisLoop:
    """Return the loop of a run, its areas carrying hold, rest and pre-shear as conditions besides the ramp.

    Parameters
    ----------
    run
        Read by `read_run`.
    up, down
        Kind or number of the legs' steps.

    Raises
    ------
    StepError
        When there is no such step, or more than one of that kind.
    ComparisonError, FitError
        As `hysteresis_loop`.
    """
    rising, falling = run.step(up), run.step(down)
    legs = ready_leg(rising, "up", rises=True), ready_leg(falling, "down", rises=False)
    loop = _loop(*legs, history_of(run, rising, falling))
    sources = (run.source_of(rising), run.source_of(falling))
    return replace(loop, area=replace(loop.area, sources=sources), relative_area=replace(loop.relative_area, sources=sources))


def _loop(rising: ReadyLeg, falling: ReadyLeg, history: History | None) -> HysteresisLoop:
    _require_like(rising.ramp, falling.ramp)
    lowest, highest = max(rising.rate[0], falling.rate[0]), min(rising.rate[-1], falling.rate[-1])
    both = np.union1d(rising.rate, falling.rate)
    both = both[(both >= lowest) & (both <= highest)]
    one, other = (stress_at(leg.rate, leg.stress, both) for leg in (rising, falling))
    parts = tuple(_variances(leg, lowest, highest) for leg in (rising, falling))
    under = tuple(float(areas_between(leg.rate, leg.stress, lowest, highest).sum()) for leg in (rising, falling))
    if not under[0] > 0.0:
        raise FitError("the area under the up leg is not positive; look for a wrong sign of the stress")
    method = LoopMethod(up=rising.ramp, down=falling.ramp, history=history)
    conditions = method.conditions(lowest, highest)
    relative = (under[1] / under[0] ** 2, 1.0 / under[0])
    return HysteresisLoop(
        area=_estimate("loop_area", under[0] - under[1], factors=(1.0, 1.0), variances=parts, conditions=conditions),
        relative_area=_estimate("relative_loop_area", 1.0 - under[1] / under[0], factors=relative, variances=parts, conditions=conditions),
        lobes=_lobes(both, rising, falling),
        method=method,
        shear_rate=both,
        up=one,
        down=other,
        findings=rising.findings + falling.findings,
    )


def _require_like(up: Ramp, down: Ramp) -> None:
    shared = min(up.highest_rate, down.highest_rate) - max(up.lowest_rate, down.lowest_rate)
    pairs = ((up.span, down.span), (up.duration, down.duration))
    unlike = any(abs(one - other) > SPANS_ALIKE * max(one, other) for one, other in pairs)
    if unlike or shared < COVERED * max(up.span, down.span) or up.course != down.course:
        raise ComparisonError(f"the legs have unlike ramps, up {up} and down {down}; a loop area needs the same ramp on both")


def _variances(leg: ReadyLeg, lowest: float, highest: float) -> FloatArray | None:
    """Return what each point of a leg between two rates adds to the variance of its area, or None for too few points."""
    inside = (leg.rate >= lowest) & (leg.rate <= highest)
    return area_variances(leg.rate[inside], leg.stress[inside]) if inside.sum() >= FEWEST_POINTS else None


def _estimate(
    name: str,
    value: float,
    *,
    factors: tuple[float, float],
    variances: tuple[FloatArray | None, ...],
    conditions: dict[str, Condition],
) -> Estimate:
    """Return an estimate whose variance is that of the legs' areas times factors squared."""
    known = [factor**2 * parts for factor, parts in zip(factors, variances, strict=True) if parts is not None]
    parts = np.concatenate(known) if known else np.zeros(0)
    total, unit = float(parts.sum()), quantity(name).unit
    if len(known) < len(variances) or total == 0.0:
        reason = "no scatter to be seen about the neighbours" if len(known) == len(variances) else "too few points to see their scatter"
        return Estimate(name=name, value=value, unit=unit, standard_error=None, method=METHOD, conditions=conditions, reason=reason)
    error = total**0.5
    return Estimate(
        name=name,
        value=value,
        unit=unit,
        standard_error=error,
        degrees_of_freedom=float(degrees_of_freedom(parts)),
        method=METHOD,
        conditions=conditions,
        components={"fit": error},
    )


def _lobes(both: FloatArray, rising: ReadyLeg, falling: ReadyLeg) -> tuple[Lobe, ...]:
    """Return one lobe for every run of pieces of the same sign, cut where the legs cross."""
    legs = tuple((leg.rate, leg.stress) for leg in (rising, falling))
    cut = np.union1d(both, crossings(legs[0], legs[1], both))
    above, below = (cut_areas(*leg, cut) for leg in legs)
    # Legs that lie on each other differ by rounding: no lobe.
    pieces = np.where(np.abs(above - below) <= _ROUNDING * (np.abs(above) + np.abs(below)), 0.0, above - below)
    lobes: list[Lobe] = []
    for left, right, area in zip(cut[:-1].tolist(), cut[1:].tolist(), pieces.tolist(), strict=True):
        if area == 0.0:
            continue
        if lobes and lobes[-1].area * area > 0.0:
            lobes[-1] = replace(lobes[-1], highest_rate=right, area=lobes[-1].area + area)
        else:
            lobes.append(Lobe(lowest_rate=left, highest_rate=right, area=area))
    return tuple(lobes)
