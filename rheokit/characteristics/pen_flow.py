"""What the flow steps of a batch say of the ink in the pen: its dynamic yield stress, its laws, and both over temperature."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from rheokit.base.curve import FloatArray, FlowCurve
from rheokit.base.errors import FitError, RangeError, RheokitError
from rheokit.base.estimate import Estimate
from rheokit.base.run import Batch, Run, Step
from rheokit.base.settled import settled_points
from rheokit.base.show import number
from rheokit.characteristics.loads import Measured, combine_measured
from rheokit.fitting import FlowFit, fit_flow_curve, fit_law
from rheokit.law import Law
from rheokit.refill.duct import Flowing
from rheokit.temperature import ARRHENIUS, VOGEL, arrhenius, exponential_decay, temperature_dependence
from rheokit.yielding import dynamic_yield_stress

__all__ = ["LAWS", "FlowStep", "Slope", "dynamic_yield", "fitted_laws", "flow_steps", "pooled_points", "slopes"]

LAWS = ("herschel_bulkley", "casson", "herschel_bulkley_plateau")
"""Laws fitted to the same points: they agree on the bench and part company under the ball."""
YIELD_LAW = "herschel_bulkley"
FEWEST_POINTS = 6
"""Of a flow curve: the law with a plateau has four parameters."""
_GRID = np.geomspace(1e-3, 1e6, 91)
_NORMAL = 1.959964
"""Half width of 95 % of a standard normal number: an interval by Student's t is carried on as the normal one of the same width."""
_SAME_TEMPERATURE = 0.5
LONG_SPAN = 60.0
"""[K] Over so much a bend can be told from one activation energy (common practice, no source)."""
_FEWEST_TO_BEND = 6


class FlowStep(NamedTuple):
    """One flow step with its run, load and temperature [K] (None where it is not known)."""

    run: Run
    load: int
    step: Step
    temperature: float | None


@dataclass(frozen=True, kw_only=True)
class Slope:
    """A number of the dependence on temperature, its standard uncertainty, and the temperatures [K] behind it."""

    value: float
    error: float
    temperatures: tuple[float, ...]


def flow_steps(batch: Batch, runs: Sequence[Run]) -> tuple[FlowStep, ...]:
    """Return the steady steps of the runs, or where there are none the down legs.

    Raises
    ------
    RangeError
        When there is neither.
    """
    for kind in ("steady", "down"):
        found = []
        for index, run in enumerate(runs, 1):
            place = batch.places.get(run.name)
            for step in run.steps:
                if step.kind == kind and _can_be_fitted(step):
                    kelvin = place.set_temperature if place else None
                    found.append(FlowStep(run, place.load if place else index, step, kelvin or step.mean("temperature")))
        if found:
            return tuple(found)
    raise RangeError(f"batch {batch.name} has no steady steps and no down leg that may be used: a pen needs a flow curve")


def _can_be_fitted(step: Step) -> bool:
    there = step.controlled == "rate" and {"shear_rate", "shear_stress"} <= set(step.columns)
    return there and settled_points(step).shear_rate.size >= FEWEST_POINTS


def dynamic_yield(steps: Sequence[FlowStep]) -> Estimate:
    """Return the dynamic yield stress [Pa] of the loads together."""
    loads = [
        Measured(run=one.run.name, load=place, estimate=dynamic_yield_stress(one.step, law=YIELD_LAW).stress)
        for place, one in enumerate(steps, 1)
    ]
    combined = combine_measured(loads, None)
    assert combined is not None  # every load has an estimate
    return combined


def pooled_points(steps: Sequence[FlowStep]) -> FlowCurve:
    """Return the points of all loads as one flow curve, so that the scatter between loads counts."""
    curves = [settled_points(one.step) for one in steps]
    return FlowCurve(np.concatenate([held.shear_rate for held in curves]), np.concatenate([held.shear_stress for held in curves]))


def fitted_laws(curve: FlowCurve) -> tuple[Mapping[str, Flowing], Mapping[str, FloatArray], tuple[str, ...]]:
    """Return every law with its values, the relative error of its stress over the rates, (2, N), and what was left out, in words."""
    laws: dict[str, Flowing] = {}
    errors: dict[str, FloatArray] = {}
    said: list[str] = []
    for name in LAWS:
        words = name.replace("_", " ")
        try:
            fit = fit_flow_curve(curve, name)
            error = _relative_error(fit)
        except FitError as failed:
            said.append(f"the {words} law is left out: {failed}")
            continue
        if not np.isfinite(error).all():
            said.append(f"the {words} law is left out: the points do not determine it beyond the bench")
            continue
        laws[name] = Flowing(fit.law, {part: held.value for part, held in fit.parameters.items()})
        errors[name] = np.array([_GRID, error])
    return laws, errors, tuple(said)


def _relative_error(fit: FlowFit) -> FloatArray:
    lower, upper = fit.band(_GRID)
    return np.asarray(0.5 * (upper - lower) / fit.stress(_GRID) / _NORMAL)


def grouped(steps: Sequence[FlowStep]) -> dict[float, list[FlowStep]]:
    """Return the steps by temperature [K], those within half a kelvin together; steps of unknown temperature are left out."""
    groups: dict[float, list[FlowStep]] = {}
    for one in steps:
        if one.temperature is None:
            continue
        near = next((kelvin for kelvin in groups if abs(kelvin - one.temperature) <= _SAME_TEMPERATURE), one.temperature)
        groups.setdefault(near, []).append(one)
    return groups


def slopes(groups: Mapping[float, Sequence[FlowStep]], reference: float) -> tuple[Slope | None, Slope | None, str]:
    """Return decay of the yield stress [1/K] and activation energy of the viscous part [J/mol], or None and why; else what is odd.

    The viscous part is what the Herschel-Bulkley law adds to its yield stress at the highest rate that all temperatures share: a
    consistency is not compared where the flow index differs.
    """
    if len(groups) < 3:
        seen = f"{len(groups)} temperature{'s' if len(groups) != 1 else ''}"
        return None, None, f"the flow curve was measured at {seen} and not at three"
    kelvins: list[float] = []
    yields: list[float] = []
    viscous: list[float] = []
    top = min(float(settled_points(one.step).shear_rate.max()) for loads in groups.values() for one in loads)
    try:
        for kelvin, loads in groups.items():
            for one in loads:
                fit = fit_flow_curve(settled_points(one.step), YIELD_LAW)
                stress = fit.parameters["yield_stress"].value
                kelvins.append(kelvin)
                yields.append(stress)
                viscous.append(float(fit.stress(np.array([top]))[0]) - stress)
        decay = _slope(kelvins, yields, exponential_decay(reference), "decay_per_kelvin")
        energy = _slope(kelvins, viscous, arrhenius(reference), "activation_energy")
    except RheokitError as error:
        return None, None, f"the runs at {len(groups)} temperatures give no dependence ({error})"
    return decay, energy, _bend(kelvins, viscous)


def _bend(kelvins: Sequence[float], viscous: Sequence[float]) -> str:
    """Say that one activation energy does not describe the viscous part, where points over `LONG_SPAN` show a bend; else nothing."""
    if max(kelvins) - min(kelvins) < LONG_SPAN or len(kelvins) < _FEWEST_TO_BEND:
        return ""
    found = temperature_dependence(kelvins, viscous, laws=(ARRHENIUS, VOGEL))
    if found.best.law is not VOGEL:
        return ""
    return "the viscous part bends over temperature, by the Vogel law: one activation energy understates it at the cold end"


def _slope(kelvins: Sequence[float], values: Sequence[float], law: Law, parameter: str) -> Slope:
    fit = fit_law(np.asarray(kelvins), np.asarray(values), law, weighting="relative")
    estimate = fit.parameters[parameter]
    if estimate.standard_error is None:
        raise FitError(f"the {parameter.replace('_', ' ')} {number(estimate.value, 3)} has no error: {estimate.reason}")
    widened = estimate.standard_error * fit.quantile(0.95) / _NORMAL
    return Slope(value=estimate.value, error=widened, temperatures=tuple(sorted(set(kelvins))))
