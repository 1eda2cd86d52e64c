"""The hysteresis loop: area between the up and the down leg of a ramp, in one number, lobe by lobe and relative to the up leg."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, HasLeg
from rheokit.base.errors import ComparisonError, FitError
from rheokit.base.estimate import Condition, Estimate, estimates_table
from rheokit.base.finding import Finding
from rheokit.base.look import HUES, INK, TINT, dress
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, number, resolve_axes, value_and_error
from rheokit.thixotropy.leg import Ramp, ReadyLeg, ready_leg
from rheokit.thixotropy.pieces import areas, crossings, stress_at

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["HysteresisLoop", "Lobe", "hysteresis_loop"]

# Legs whose ramps differ by more than this are not one loop.
_UNLIKE = 0.02
# Share of each leg's range that the other must cover.
_COVERED = 0.9
# Autocorrelations -2/3 and 1/6 of overlapping second differences of white noise: one counts for this part of a free one.
_OVERLAP = 1.0 + 2.0 * (4.0 / 9.0 + 1.0 / 36.0)
_UP, _DOWN = HUES[0], HUES[1]

_METHOD = (
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
        ramp, to three digits: an area means something at its own ramp only.
    relative_area
        Estimate `relative_loop_area` [1]: area over the area under the up leg.
    lobes
        One for every change of sign, in the order of the rates; their areas add up to that of the loop.
    ramp
        Of the up leg.
    shear_rate, up, down
        The rates of both legs in their common range [1/s] with the stresses [Pa] of each leg there, (M,).
    findings
        What was put right in the legs.
    """

    area: Estimate
    relative_area: Estimate
    lobes: tuple[Lobe, ...]
    ramp: Ramp
    shear_rate: FloatArray
    up: FloatArray
    down: FloatArray
    findings: tuple[Finding, ...]

    def __post_init__(self) -> None:
        for name in ("shear_rate", "up", "down"):
            values = np.array(getattr(self, name), dtype=np.float64)
            values.setflags(write=False)
            object.__setattr__(self, name, values)

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
        dress(ax)
        return ax

    def table(self) -> Table:
        """Return area, relative area and lobes as a table."""
        table = estimates_table((self.area, self.relative_area), title="hysteresis loop")
        lobes = tuple(
            (f"lobe {index}", number(lobe.area), "", "Pa/s", f"{number(lobe.lowest_rate)} to {number(lobe.highest_rate)} 1/s", "")
            for index, lobe in enumerate(self.lobes, 1)
        )
        notes = (f"ramp {self.ramp}", *(f"{finding.severity}: {finding}" for finding in self.findings))
        return replace(table, rows=table.rows + lobes, notes=notes)

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
        When range of rates or duration of the legs differ by more than 2 %, or their ranges do not cover each other.
    FitError
        When a leg has too few points, runs the wrong way or turns back.

    References
    ----------
    Green & Weltmann, Ind. Eng. Chem. Anal. Ed. 15 (1943) 201, for the loop (from memory).
    """
    rising, falling = ready_leg(up, "up", rises=True), ready_leg(down, "down", rises=False)
    _require_like(rising.ramp, falling.ramp)
    lowest, highest = max(rising.rate[0], falling.rate[0]), min(rising.rate[-1], falling.rate[-1])
    both = np.union1d(rising.rate, falling.rate)
    both = both[(both >= lowest) & (both <= highest)]
    one, other = (stress_at(leg.rate, leg.stress, both) for leg in (rising, falling))
    variances = tuple(leg.area_variances(lowest, highest) for leg in (rising, falling))
    under = float(areas(both, one).sum()), float(areas(both, other).sum())
    if not under[0] > 0.0:
        raise FitError("the area under the up leg is not positive; look for a wrong sign of the stress")
    conditions = _conditions(rising.ramp, lowest, highest)
    return HysteresisLoop(
        area=_estimate("loop_area", under[0] - under[1], factors=(1.0, 1.0), variances=variances, conditions=conditions),
        relative_area=_estimate(
            "relative_loop_area",
            1.0 - under[1] / under[0],
            factors=(under[1] / under[0] ** 2, 1.0 / under[0]),
            variances=variances,
            conditions=conditions,
        ),
        lobes=_lobes(both, rising, falling),
        ramp=rising.ramp,
        shear_rate=both,
        up=one,
        down=other,
        findings=rising.findings + falling.findings,
    )


def _require_like(up: Ramp, down: Ramp) -> None:
    shared = min(up.highest_rate, down.highest_rate) - max(up.lowest_rate, down.lowest_rate)
    pairs = ((up.span, down.span), (up.duration, down.duration))
    if any(abs(one - other) > _UNLIKE * max(one, other) for one, other in pairs) or shared < _COVERED * max(up.span, down.span):
        raise ComparisonError(f"the legs have unlike ramps, up {up} and down {down}; a loop area needs the same ramp on both")


def _conditions(ramp: Ramp, lowest: float, highest: float) -> dict[str, Condition]:
    """Return range and ramp to three digits: what a programme sets, not what a motor makes of it."""
    values = {"lowest_rate": (lowest, "1/s"), "highest_rate": (highest, "1/s"), "ramp": (ramp.rate_per_second, "1/s²")}
    return {name: Condition(value=float(f"{value:.2e}"), unit=unit) for name, (value, unit) in values.items()}


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
        return Estimate(name=name, value=value, unit=unit, standard_error=None, method=_METHOD, conditions=conditions, reason=reason)
    # Each square is one of a normal deviate, whose fourth power is on average three times its variance squared (Satterthwaite).
    freedom = max(3.0 * total**2 / (_OVERLAP * float(parts @ parts)), 1.0)
    error = total**0.5
    return Estimate(
        name=name,
        value=value,
        unit=unit,
        standard_error=error,
        degrees_of_freedom=freedom,
        method=_METHOD,
        conditions=conditions,
        components={"fit": error},
    )


def _lobes(both: FloatArray, rising: ReadyLeg, falling: ReadyLeg) -> tuple[Lobe, ...]:
    """Return one lobe for every run of pieces of the same sign, cut where the legs cross."""
    one, other = (stress_at(leg.rate, leg.stress, both) for leg in (rising, falling))
    cut = np.union1d(both, crossings(both, one, other))
    pieces = areas(cut, stress_at(rising.rate, rising.stress, cut)) - areas(cut, stress_at(falling.rate, falling.stress, cut))
    lobes: list[Lobe] = []
    for left, right, area in zip(cut[:-1].tolist(), cut[1:].tolist(), pieces.tolist(), strict=True):
        if area == 0.0:
            continue
        if lobes and lobes[-1].area * area > 0.0:
            lobes[-1] = replace(lobes[-1], highest_rate=right, area=lobes[-1].area + area)
        else:
            lobes.append(Lobe(lowest_rate=left, highest_rate=right, area=area))
    return tuple(lobes)
