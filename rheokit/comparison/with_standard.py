"""A batch against the retained standard that was measured beside it, from the document of their check: ratios, whole curve, and why."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FlowCurve
from rheokit.base.errors import ComparisonError, FitError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.show import Table
from rheokit.comparison.attribution import Attribution, attribute
from rheokit.comparison.curve_ratio import CurveRatio, curve_ratio
from rheokit.comparison.reference import AgainstStandard, against_standard, comparison_table
from rheokit.reading.preamble import entry, moment
from rheokit.release.check import BatchCheck

__all__ = ["BOUND", "WithStandard", "compare_with_standard"]

BOUND = 0.10
"""Relative bound of equivalence where none is given (a judgement: half the usual width of a viscosity requirement)."""
SESSION = 24.0
"""Hours between the first and the last run of one session (our own setting)."""
_CURVE_KINDS = ("steady", "down")
_LEVELS = ("viscosity_at_rate", "stress_at_rate")
Json = Mapping[str, Any]


@dataclass(frozen=True, kw_only=True, eq=False)
class WithStandard(Carried):
    """A batch against its standard.

    Attributes
    ----------
    ratios
        Requirement to its ratio with interval and equivalence.
    curve
        Stress over that of the standard along the flow curve with a band for all rates, or None.
    why
        What the difference looks like, or None.
    left_out
        What could not be compared (a requirement, `curve` or `why`), and the reason.
    """

    ratios: Mapping[str, AgainstStandard]
    curve: CurveRatio | None
    why: Attribution | None
    left_out: Mapping[str, str]

    def __post_init__(self) -> None:
        for name in ("ratios", "left_out"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))

    def table(self) -> Table:
        """Return ratios and verdicts as a table, the reasons for what is missing below it."""
        held = comparison_table(self.ratios)
        notes = tuple(f"{name}: {why}" for name, why in self.left_out.items())
        said = () if self.why is None else (f"why it differs: {self.why.sentence}",)
        return Table(title=held.title, columns=held.columns, rows=held.rows, notes=(*said, *notes), right=held.right)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def compare_with_standard(check: BatchCheck | Json, *, bounds: Mapping[str, float] | float = BOUND) -> WithStandard | None:
    """Compare a batch with the standard whose runs lie in its folder with `role = "reference"`; None where there are none.

    Parameters
    ----------
    check
        From `check_batch`, or the document of its record.
    bounds
        Relative bounds of equivalence by requirement, or one for all.

    Raises
    ------
    ComparisonError
        When the runs are not of one session, or a run of the standard is not fit for use.
    """
    document: Json = check.record.document if isinstance(check, BatchCheck) else check
    runs = document.get("runs", ())
    if not any(run["role"] == "reference" for run in runs) or not any(run["role"] == "batch" for run in runs):
        return None
    _require_one_session(runs)
    _require_fit(document)
    ratios, left_out = _ratios(document, bounds)
    curve: CurveRatio | None = None
    why: Attribution | None = None
    try:
        curve, kelvin = _curve(document)
        if kelvin is None:
            left_out["why"] = "the set temperature is not known, and with it what a kelvin would do; list it in batch.toml"
        else:
            why = attribute(curve, temperature=kelvin)
    except (ComparisonError, FitError) as error:
        left_out["curve" if curve is None else "why"] = str(error)
    return WithStandard(ratios=ratios, curve=curve, why=why, left_out=left_out)


def _require_one_session(runs: Sequence[Json]) -> None:
    times = [when for run in runs if (when := moment(entry(run["metadata"], "Measured") or "")) is not None]
    if len(times) < len(runs):
        raise ComparisonError("an export does not say when it was measured (with its time zone): whether it is one session is not known")
    hours = (max(times) - min(times)).total_seconds() / 3600.0
    if hours > SESSION:
        raise ComparisonError(
            f"batch and standard were measured {hours:.0f} hours apart, more than {SESSION:g}: not one session; measure the standard again"
        )


def _require_fit(document: Json) -> None:
    standard = {run["name"] for run in document["runs"] if run["role"] == "reference"}
    for finding in document["findings"]:
        source = str(finding["source"]).split(",")[0]
        if finding["severity"] == "invalid" and source in standard:
            raise ComparisonError(f"the standard's {source} is not fit for use: {finding['reason']}")


def _ratios(document: Json, bounds: Mapping[str, float] | float) -> tuple[dict[str, AgainstStandard], dict[str, str]]:
    found: dict[str, AgainstStandard] = {}
    left_out: dict[str, str] = {}
    for line in document["requirements"]:
        standard = line.get("standard")
        if standard is None or line["estimate"] is None or line["outcome"] == "no measurement":
            if line["test"] is not None:
                left_out[line["id"]] = "not measured on the standard" if standard is None else "no measurement on the batch"
            continue
        if standard["estimate"] is None:
            left_out[line["id"]] = "the standard's loads give no number"
            continue
        name = line["id"]
        ours, theirs = (_estimate(held) for held in (line["estimate"], standard["estimate"]))
        bound = bounds if isinstance(bounds, float | int) else {name: bounds.get(name, BOUND)}
        try:
            found |= against_standard({name: ours}, {name: theirs}, bounds=bound, pooled=_pooled(line))
        except ComparisonError as error:
            left_out[name] = str(error)
    return found, left_out


def _pooled(line: Json) -> dict[str, float]:
    """Return the degrees of freedom of the stated repeatability, on which the errors of batch and standard both rest."""
    load = line["stated_uncertainty"].get("load")
    if load is None:
        return {}
    freedom = load["degrees_of_freedom"]
    return {line["id"]: math.inf if freedom == "infinite" else freedom}


def _estimate(held: Json) -> Estimate:
    """Return the Estimate that a record holds, as far as a comparison needs it."""
    freedom = held["degrees_of_freedom"]
    return Estimate(
        name=held["name"],
        value=held["value"],
        unit=held["unit"],
        standard_error=held["standard_error"],
        degrees_of_freedom=math.inf if freedom == "infinite" else freedom,
        method=held["method"],
        conditions={key: Condition(value=one["value"], unit=one["unit"]) for key, one in held["conditions"].items()},
        components=held["components"],
        determined=held["determined"],
        reason=held["reason"],
    )


def _curve(document: Json) -> tuple[CurveRatio, float | None]:
    """Return the ratio along the flow curve of the first test that has one for both, and its set temperature [K] where it is known."""
    for kind in _CURVE_KINDS:
        for test in sorted({run["test"] for run in document["runs"]}):
            ours, theirs = (_curves(document, test, kind, role) for role in ("batch", "reference"))
            if ours and theirs:
                scatter, freedom, kelvin = _stated(document, test)
                return curve_ratio(ours, theirs, load_scatter=scatter, degrees_of_freedom=freedom), kelvin
    raise ComparisonError("no test has a flow curve (steady steps or a down leg) of both batch and standard")


def _curves(document: Json, test: str, kind: str, role: str) -> list[FlowCurve]:
    found = []
    for run in document["runs"]:
        step = next((step for step in run["steps"] if step["kind"] == kind), None)
        if run["test"] == test and run["role"] == role and step is not None:
            held = {name: [math.nan if value is None else value for value in column] for name, column in step["columns"].items()}
            if {"shear_rate", "shear_stress"} <= held.keys():
                found.append(FlowCurve(np.array(held["shear_rate"]), np.array(held["shear_stress"])))
    return found


def _stated(document: Json, test: str) -> tuple[float | None, float, float | None]:
    """Return the largest relative scatter between loads that is stated of a level of the test, its freedom, and the temperature [K]."""
    known: list[tuple[float, float]] = []
    kelvin = None
    for line in document["requirements"]:
        load = line["stated_uncertainty"].get("load")
        if line["test"] == test and line["characteristic"] in _LEVELS and load and load["relative"]:
            freedom = load["degrees_of_freedom"]
            known.append((load["relative"], math.inf if freedom == "infinite" else freedom))
        if line["test"] == test and line["estimate"] is not None:
            kelvin = line["estimate"]["conditions"].get("set_temperature", {}).get("value", kelvin)
    scatter, freedom = max(known) if known else (None, math.inf)
    return scatter, freedom, kelvin
