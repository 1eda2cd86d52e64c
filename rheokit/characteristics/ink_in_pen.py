"""From a batch to the ink in the pen: the yield stresses and laws that a refill is worked out with, and what had to be assumed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import RangeError, RheokitError
from rheokit.base.estimate import Estimate
from rheokit.base.run import Batch, Run
from rheokit.base.show import number
from rheokit.characteristics.loads import Measured, combine_measured
from rheokit.characteristics.pen_flow import FlowStep, Slope, dynamic_yield, fitted_laws, flow_steps, grouped, pooled_points, slopes
from rheokit.refill.ink import InkInPen
from rheokit.screening import screen
from rheokit.temperature.parameters import ROOM
from rheokit.thixotropy.recovery import step_recovery
from rheokit.yielding import CreepBracket, YieldMethods, yield_methods
from rheokit.yielding.order import Placed

__all__ = ["USUAL_VISCOUS_ENERGY", "USUAL_YIELD_DECAY", "ink_in_pen"]

Pair = tuple[float, float]

USUAL_YIELD_DECAY: Pair = (0.012, 0.006)
"""[1/K] and its standard uncertainty, taken where nothing was measured: between none and a factor of e in 40 K (our own setting)."""
USUAL_VISCOUS_ENERGY: Pair = (55e3, 8e3)
"""[J/mol] and its standard uncertainty, taken where nothing was measured: vehicles have 40 to 70 kJ/mol (common practice, no source)."""

_STATIC = ("static_yield_stress_peak", "static_yield_stress_vane")
_LATE = 0.5


def ink_in_pen(batch: Batch, *, yield_decay: Pair | None = None, viscous_energy: Pair | None = None) -> InkInPen:
    """Return what a batch says of its ink in a pen.

    Parameters
    ----------
    batch
        With steady steps or down legs; start-ups after rests, creep at several stresses, runs at three temperatures or more and
        rest-shear-recovery tests are used where they are there. Loads of the retained standard, and runs that an invalid finding
        stands against, are left out.
    yield_decay, viscous_energy
        k [1/K] and E_a [J/mol], each with its standard uncertainty, for a batch without runs at three temperatures; without them the
        usual ones (see `USUAL_YIELD_DECAY` and `USUAL_VISCOUS_ENERGY`), labelled as assumed.

    Raises
    ------
    RangeError
        When there is no flow curve, or its yield stress is not determined.
    """
    runs, said = _usable(batch)
    steps = flow_steps(batch, runs)
    groups = grouped(steps)
    reference, at_reference = _reference(groups, steps)
    if reference is None:
        reference = ROOM
        said.append("no run says its temperature: 23 °C is assumed")
    curve = pooled_points(at_reference)
    laws, errors, left_out = fitted_laws(curve)
    decay, energy, why = slopes(groups, reference)
    values, how = _dependence(decay, energy, why, yield_decay, viscous_energy)
    if decay is not None and why:
        how = (*how, why)
    there = [run for run in runs if _near(batch, run, reference)]
    methods = yield_methods(there, laws=())
    if len(at_reference) == 1:
        how = (*how, "one load: its own scatter stands in for that between loads, which is usually larger; load a second time")
    static = _static(methods.placed)
    if static is None:
        how = (*how, "static yield stress: no start-up after a rest was measured, so feeding takes a multiple of the dynamic one")
    return InkInPen(
        dynamic_yield_stress=dynamic_yield(at_reference),
        creep_yield_stress=_creep(methods.placed),
        static_yield_stress=static,
        laws=laws,
        law_errors=errors,
        points=np.array([curve.shear_rate, curve.shear_stress]),
        bench_range=(float(curve.shear_rate.min()), float(curve.shear_rate.max())),
        reference_temperature=reference,
        temperature_range=None if decay is None else (decay.temperatures[0], decay.temperatures[-1]),
        yield_decay=values[0],
        viscous_energy=values[1],
        recovery_time=_recovery_time(there),
        creep_viscosity=_creep_viscosity(methods),
        assumed=(*said, *left_out, *how),
    )


def _usable(batch: Batch) -> tuple[tuple[Run, ...], list[str]]:
    """Return the batch's own runs against which nothing invalid stands, and which were left out and why."""
    kept, said = [], []
    for run in batch.all_runs:
        if run.name in batch.places and batch.places[run.name].role == "reference":
            continue
        invalid = next((finding for finding in screen(run) if finding.severity == "invalid"), None)
        if invalid is None:
            kept.append(run)
        else:
            said.append(f"{run.name} is left out: {invalid}")
    if not kept and batch.all_runs and not said:
        raise RangeError(f"batch {batch.name} holds runs of the retained standard alone; there is nothing of its own to judge")
    return tuple(kept), said


def _reference(groups: dict[float, list[FlowStep]], steps: Sequence[FlowStep]) -> tuple[float | None, Sequence[FlowStep]]:
    """Return the temperature [K] with the most loads, of equals the one nearest to room temperature, and its steps."""
    if not groups:
        return None, steps
    kelvin = min(groups, key=lambda one: (-len(groups[one]), abs(one - ROOM)))
    return kelvin, groups[kelvin]


def _near(batch: Batch, run: Run, reference: float) -> bool:
    place = batch.places.get(run.name)
    seen = (place.set_temperature if place else None) or next((kelvin for step in run.steps if (kelvin := step.mean("temperature"))), None)
    return seen is None or abs(seen - reference) <= 1.0


def _dependence(
    decay: Slope | None, energy: Slope | None, why: str, stated_decay: Pair | None, stated_energy: Pair | None
) -> tuple[tuple[Pair, Pair], tuple[str, ...]]:
    """Return decay and energy with their uncertainties, and for each that was not measured what stands in for it."""
    said, found = [], []
    for name, unit, factor, slope, stated, usual in (
        ("decay of the yield stress", "1/K", 1.0, decay, stated_decay, USUAL_YIELD_DECAY),
        ("activation energy", "kJ/mol", 1e-3, energy, stated_energy, USUAL_VISCOUS_ENERGY),
    ):
        if slope is not None:
            found.append((slope.value, slope.error))
            continue
        found.append(stated or usual)
        source = "as the description states" if stated else "ASSUMED as usual"
        shown = f"{number(found[-1][0] * factor, 3)} ± {number(found[-1][1] * factor, 2)} {unit}"
        said.append(f"{name} {shown}, {source}: {why}")
    return (found[0], found[1]), tuple(said)


def _static(placed: Sequence[Placed]) -> Estimate | None:
    """Return the static yield stress at the longest rest, its loads together, or None where none was measured."""
    known = [one for one in placed if one.estimate.name in _STATIC and one.estimate.determined and one.rest is not None]
    if not known:
        return None
    longest = max(one.rest or 0.0 for one in known)
    loads = [one for one in known if (one.rest or 0.0) > 0.98 * longest]
    measured = [Measured(run=one.run, load=place, estimate=one.estimate) for place, one in enumerate(loads, 1)]
    return loads[0].estimate if len(loads) == 1 else combine_measured(measured, None)


def _creep(placed: Sequence[Placed]) -> Estimate | None:
    """Return the lowest creep bracket, or None where none was measured."""
    known = [one.estimate for one in placed if one.estimate.name == "creep_bracket_stress" and one.estimate.determined]
    return min(known, key=lambda estimate: estimate.value, default=None)


def _creep_viscosity(methods: YieldMethods) -> float | None:
    """Return the viscosity [Pa·s] at the end of the highest creep that comes to a stop: what it still creeps with, or less."""
    crept = [one for reading in methods.readings if isinstance(reading, CreepBracket) for one in reading.steps if one.verdict == "stops"]
    if not crept:
        return None
    highest = max(crept, key=lambda one: one.shear_stress)
    gained = _slope_of(highest.time, highest.compliance)
    return 1.0 / gained if gained > 0.0 else None


def _slope_of(time: FloatArray, compliance: FloatArray) -> float:
    late = time >= _LATE * time.max()
    return float(np.polyfit(time[late], compliance[late], 1)[0])


def _recovery_time(runs: Sequence[Run]) -> float | None:
    """Return the longest time constant [s] that a step test shows, or None."""
    found = []
    for run in runs:
        if not any(step.kind == "recovery" for step in run.steps):
            continue
        try:
            half = step_recovery(run).half_way_time
        except RheokitError:  # a load without one has nothing to say here; it has its own line in the check
            continue
        if half.determined:
            found.append(half.value / np.log(2.0))
    return max(found, default=None)
