"""What geometry and temperature add to the budget of a requirement, and the correction of its loads to the stated temperature."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rheokit.base.errors import RangeError, RheokitError
from rheokit.base.run import Batch, Run, Step
from rheokit.base.show import number
from rheokit.characteristics import Measured, local_flow_index
from rheokit.geometry import Geometry, relative_uncertainty, single_point_factor
from rheokit.release.instrument import Instrument
from rheokit.release.instrument_findings import geometry_of_run
from rheokit.release.specification import Requirement, Specification
from rheokit.statistics.precision import StatedUncertainty
from rheokit.temperature.correction import TemperatureCoefficient, at_stated_temperature

__all__ = ["DEFAULT_COEFFICIENT", "Budgeted", "budgeted"]

DEFAULT_COEFFICIENT = 0.07
"""[1/K] What a characteristic is taken to change for each kelvin where the specification does not say: an activation energy of 50 kJ/mol
near 20 °C, which is usual for the vehicles of such inks (common practice, no source)."""
STEEPEST_RECOVERY = math.exp(-1.0)
"""Greatest change of an exponential recovery for a relative change of its time constant: of x e^-x, at x = 1."""
NO_DEVIATION = 1e-6
"""[K] Rounding of a mean."""
ROUNDING = 1e-9
"""Relative; a smaller part is the rounding of a slope."""


@dataclass(frozen=True, kw_only=True)
class Budgeted:
    """A requirement with what is known of its uncertainty on these loads, the loads at the stated temperature, and words for the method."""

    requirement: Requirement
    loads: tuple[Measured, ...]
    said: tuple[str, ...]


def budgeted(
    batch: Batch, specification: Specification, line: Requirement, loads: Sequence[Measured], single_point: Collection[str] = ()
) -> Budgeted:
    """Return a requirement whose parts `geometry` and `temperature` hold what the instrument file and the temperatures of the runs add.

    Parameters
    ----------
    batch, specification
        Corrected at the rim where it was measured between plates.
    line, loads
        The requirement, and what came of each of its loads.
    single_point
        Names of the runs that were corrected by the single-point rule.

    Notes
    -----
    Where the requirement states such a part itself, the larger of the two counts. Geometry: the relative uncertainties of the
    dimensions to the powers with which stress and rate go with them, at the local flow index (`rheokit.geometry.sensitivity`). They are
    common to all loads, so more loads do not make them smaller. Temperature: with a coefficient k, each load is moved by
    exp(k (stated - measured)), and what the uncertainty of k adds is taken over the loads together; without one, the deviation times
    DEFAULT_COEFFICIENT stands in. The thermometer's own uncertainty is added where the instrument file states it.
    """
    runs = {run.name: run for run in batch.all_runs}
    kept = [load for load in loads if load.run in runs and load.estimate is not None]
    if not kept or line.characteristic.needs == "entered":
        return Budgeted(requirement=line, loads=tuple(loads), said=())
    said: list[str] = []
    geometry = _geometry_part(specification, line, [(load, runs[load.run]) for load in kept], single_point, said)
    moved, temperature = _at_temperature(specification, line, loads, runs, said)
    parts, sources = dict(line.parts), dict(line.part_sources)
    values = [load.estimate.value for load in moved if load.estimate is not None]
    mean = math.fsum(values) / len(values) if values else 0.0
    for name, part, source in (("geometry", geometry, _name(specification)), ("temperature", temperature, _coefficient_words(line))):
        if part is not None and (name not in parts or part.standard_deviation(mean) > parts[name].standard_deviation(mean)):
            parts[name] = part
            sources[name] = source
    return Budgeted(requirement=replace(line, parts=parts, part_sources=sources), loads=moved, said=tuple(said))


def _name(specification: Specification) -> str:
    return specification.instrument.name if specification.instrument else "single-point rule"


def _coefficient_words(line: Requirement) -> str:
    known = line.temperature_coefficient
    if known is None:
        return f"{100.0 * DEFAULT_COEFFICIENT:g} %/K by default"
    return f"{100.0 * known.value:.3g} ± {100.0 * known.standard_error:.2g} %/K"


# --- geometry ---------------------------------------------------------------------------------------------------------------------


def _geometry_part(
    specification: Specification, line: Requirement, loads: Sequence[tuple[Measured, Run]], single_point: Collection[str], said: list[str]
) -> StatedUncertainty | None:
    """Return the relative standard uncertainty that the dimensions add, the mean of the loads', or None where nothing is known."""
    instrument = specification.instrument
    found = []
    for load, run in loads:
        step = _step(run, line)
        index, shown = _flow_index(line, step)
        by_dimensions = 0.0 if instrument is None else _of_dimensions(line, index, instrument, geometry_of_run(run))
        by_rule = _of_single_point(line, index) if load.run in single_point else 0.0
        found.append((math.hypot(by_dimensions, by_rule), shown))
    size = math.fsum(part for part, _ in found) / len(found)
    size = size if size > ROUNDING else 0.0
    scales = line.characteristic.scales
    if instrument is not None and scales in {"ratio", "fraction", "time"}:
        left = f"{100.0 * size:.2g} % of it is left" if size > 0.0 else "nothing of it is left"
        said.append(f"geometry: cancels in a ratio of one run, {left}")
    elif size > 0.0:
        said.append(f"geometry: {100.0 * size:.2g} % from the dimensions{found[0][1]}")
    return StatedUncertainty(relative=size) if size > 0.0 else None


def _step(run: Run, line: Requirement) -> Step | None:
    try:
        return run.step(line.step) if line.step is not None else None
    except RheokitError:
        return None


def _flow_index(line: Requirement, step: Step | None) -> tuple[tuple[float, ...], str]:
    """Return the flow index at which a characteristic moves with the rate (two for a ratio, and where it is not known), and words."""
    scales, rate = line.characteristic.scales, line.at.get("shear_rate")
    if scales == "stress":
        return (0.0,), ""
    if scales == "area":
        # d(area)/d ln rate is that of ∫ (τ_up - τ_down) d rate: integrated by parts, minus the area, as of n = -1.
        return (-1.0,), ""
    try:
        if scales == "stress at a rate" and step is not None and isinstance(rate, float):
            index = max(local_flow_index(step, rate), 0.0)
            return (index,), f" at the local flow index {index:.2f}"
        rates = line.at.get("shear_rates")
        if scales == "ratio" and step is not None and isinstance(rates, tuple):
            return tuple(max(local_flow_index(step, one), 0.0) for one in rates), ""
    except RheokitError:
        pass  # too few points for a slope: nothing flatter than a yield stress, nothing steeper than a Newtonian liquid
    return ((0.0, 1.0), ", at whichever flow index from 0 to 1 is worse") if scales.startswith("stress") else ((), "")


def _of_dimensions(line: Requirement, index: tuple[float, ...], instrument: Instrument, geometry: Geometry | None) -> float:
    used = geometry if geometry is not None and geometry.name == instrument.geometry.name else instrument.geometry
    powers, errors = used.powers, instrument.relative_errors(used)
    if line.characteristic.scales == "ratio":
        if len(index) != 2:
            return 0.0
        between = index[0] - index[1]
        return math.hypot(*(powers[name].rate * between * error for name, error in errors.items()))
    return max((relative_uncertainty(powers, errors, one) for one in index), default=0.0)


def _of_single_point(line: Requirement, index: tuple[float, ...]) -> float:
    """Return what the single-point rule adds: its fraction moves the point along the flow curve."""
    factor, error = single_point_factor()
    if line.characteristic.scales == "ratio":
        return abs(index[0] - index[1]) * error / factor if len(index) == 2 else 0.0
    # Rate and stress both go with the fraction: a power of 1 of the stress less the flow index times 1 of the rate.
    return max((abs(1.0 - one) for one in index), default=0.0) * error / factor


# --- temperature ------------------------------------------------------------------------------------------------------------------


def _at_temperature(
    specification: Specification, line: Requirement, loads: Sequence[Measured], runs: dict[str, Run], said: list[str]
) -> tuple[tuple[Measured, ...], StatedUncertainty | None]:
    """Return the loads at the stated temperature where a coefficient is known, and what temperature adds to their mean."""
    method = specification.methods.get(line.test)
    stated = method.temperature if method else None
    if stated is None or stated.tolerance is None:
        return tuple(loads), None
    known = line.temperature_coefficient
    moved, off = [], []
    for load in loads:
        estimate = load.estimate
        measured = _temperature_of(runs[load.run], line) if load.run in runs and estimate is not None else None
        if estimate is None or measured is None or abs(measured - stated.value) > stated.tolerance + 1e-9:
            moved.append(load)  # not known, or a deviation from the method, which is no measurement
            continue
        difference = measured - stated.value
        if known is not None and abs(difference) > NO_DEVIATION:
            exact = TemperatureCoefficient(value=known.value, standard_error=0.0)
            try:
                estimate = at_stated_temperature(estimate, measured=measured, stated=stated.value, coefficient=exact)
            except RangeError as error:
                moved.append(replace(load, estimate=None, reason=str(error)))
                continue
        moved.append(replace(load, estimate=estimate))
        off.append((estimate.value, difference))
    if not off:
        return tuple(moved), None
    thermometer = (specification.instrument.temperature_error if specification.instrument else None) or 0.0
    size = _size(line, off, thermometer)
    said += _words(line, off, thermometer)
    return tuple(moved), StatedUncertainty(absolute=size) if size > 0.0 else None


def _temperature_of(run: Run, line: Requirement) -> float | None:
    """Return the mean temperature [K] of the steps that a characteristic is measured on, or None."""
    step = _step(run, line)
    steps = [step] if step is not None else [one for one in run.steps if one.kind in {"up", "down"}]
    held = [one.columns["temperature"] for one in steps if "temperature" in one.columns]
    values = np.concatenate(held) if held else np.empty(0)
    values = values[np.isfinite(values)]
    return float(values.mean()) if values.size else None


def _size(line: Requirement, off: Sequence[tuple[float, float]], thermometer: float) -> float:
    """Return what temperature adds to the mean of the loads [SI]: the deviation, which is common, and the thermometer."""
    known = line.temperature_coefficient
    slope = DEFAULT_COEFFICIENT if known is None else abs(known.value)
    per_kelvin = DEFAULT_COEFFICIENT if known is None else known.standard_error
    if known is None and line.characteristic.scales == "ratio":
        return 0.0
    part = STEEPEST_RECOVERY if known is None and line.characteristic.scales == "fraction" else None
    weights = [abs(value) if part is None else part for value, _ in off]
    deviation = math.fsum(weight * difference for weight, (_, difference) in zip(weights, off, strict=True)) / len(off)
    if abs(deviation) <= NO_DEVIATION * max(weights):
        deviation = 0.0
    return math.hypot(per_kelvin * deviation, slope * thermometer * math.fsum(weights) / len(weights))


def _words(line: Requirement, off: Sequence[tuple[float, float]], thermometer: float) -> list[str]:
    farthest = max((difference for _, difference in off), key=abs)
    is_off = abs(farthest) > NO_DEVIATION
    beside = f" and a thermometer good to {number(thermometer, 2)} K" if thermometer else ""
    if not is_off and not beside:
        return []
    if line.temperature_coefficient is not None:
        return [f"temperature: corrected by {_coefficient_words(line)} over up to {farthest:+.2g} K{beside}"]
    if line.characteristic.scales == "ratio":
        return ["temperature: cancels in a ratio of one run"]
    default = f"{_coefficient_words(line)} (50 kJ/mol near 20 °C, common practice, no source)"
    return [
        f"temperature: up to {farthest:+.2g} K off{beside}, budgeted with {default}; not corrected: no temperature_coefficient is stated"
    ]
