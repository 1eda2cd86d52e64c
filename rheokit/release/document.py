"""From a check to the plain JSON document of its record, and from that document to the table a person reads."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.base.run import Batch, Run, Step
from rheokit.base.show import Table, number, value_and_error
from rheokit.base.units import Unit
from rheokit.characteristics import Measured
from rheokit.release.decision import Decision
from rheokit.release.drawn import fits_of
from rheokit.release.instrument import Instrument
from rheokit.release.measured import age_at_test
from rheokit.release.record import FORMAT, estimate_document, finding_document, pure, versions
from rheokit.release.specification import Requirement, Specification
from rheokit.release.standard import StandardMeasured, check_oil_document, measured_on_standard

_NUMBER = re.compile(r"^[+\-−]?[\d.]+(?:[eE][+\-−]?\d+)?\s*")

__all__ = ["CAUTIONS", "MARKS", "decisions_table", "document_of", "judged", "loads_table"]

CAUTIONS = (
    "The program recommends; a person decides. Not validated for regulated use.",
    "A yield stress depends on its method and on shear history; never release on it alone.",
    "Numbers hold for the conditions stated; beyond them they are extrapolations and never the sole basis for safety or release.",
)


def document_of(
    batch: Batch,
    specification: Specification,
    decisions: Sequence[Decision],
    *,
    disposition: str,
    reason: str,
    findings: Sequence[Finding],
    time: str | None,
    operator: str | None,
) -> dict[str, Any]:
    """Return the document of a check; nothing in it depends on where the folder lies."""
    standard = measured_on_standard(batch, specification)
    return {
        "format": FORMAT,
        "kind": "batch check",
        "time": time,
        "operator": operator,
        "batch": {"id": batch.name, "passport": dict(batch.metadata), "age_at_test": _age(batch)},
        "specification": {
            "file": specification.name,
            "sha256": specification.sha256,
            "product": specification.product,
            "revision": specification.revision,
            "effective": specification.effective.isoformat() if specification.effective else None,
            "supersedes": specification.supersedes,
            "decision_rule": str(specification.rule),
            "rounding": specification.rounding,
            "retest": str(specification.retest) if specification.retest else None,
            "precision": {"file": known.name, "sha256": known.sha256} if (known := specification.precision) else None,
            "instrument": _instrument(specification.instrument),
        },
        "disposition": disposition,
        "reason": reason,
        "check_oil": check_oil_document(batch, specification.check_oil, specification.instrument),
        "requirements": [_decision(decision, standard.get(decision.requirement.id)) for decision in decisions],
        "findings": [finding_document(finding) for finding in findings],
        "fits": fits_of(batch),
        "runs": [_run(batch, test, run) for test, loads in sorted(batch.runs.items()) for run in loads],
        "cautions": list(CAUTIONS),
        "versions": versions(),
    }


def _instrument(instrument: Instrument | None) -> dict[str, Any] | None:
    """Return which instrument file a check rested on."""
    if instrument is None:
        return None
    return {
        "file": instrument.name,
        "sha256": instrument.sha256,
        "id": instrument.id,
        "geometry": {"id": instrument.geometry_id, "kind": instrument.geometry.name, "dimensions": instrument.geometry.dimensions()},
    }


def _decision(decision: Decision, standard: StandardMeasured | None) -> dict[str, Any]:
    line = decision.requirement
    return {
        "id": line.id,
        "characteristic": line.characteristic.name,
        "meaning": line.characteristic.meaning,
        "test": line.test or None,
        "step": line.step,
        "lower": pure(line.lower.value) if line.lower else None,
        "upper": pure(line.upper.value) if line.upper else None,
        "limits": line.limits,
        "age": line.age.text if line.age else None,
        "rounding": _rounding(line, decision.estimate),
        "stated_uncertainty": _stated(line),
        "outcome": decision.outcome,
        "reason": decision.reason,
        "probability_of_conformity": decision.probability,
        "estimate": estimate_document(decision.estimate),
        "shown": _shown(line, decision.estimate),
        "loads": _loads(line, decision.loads),
        "standard": _standard(line, *standard) if standard else None,
    }


def _loads(line: Requirement, loads: Sequence[Measured]) -> list[dict[str, Any]]:
    return [
        {
            "run": load.run,
            "load": load.load,
            "reason": load.reason,
            "estimate": estimate_document(load.estimate),
            "shown": _shown(line, load.estimate),
        }
        for load in loads
    ]


def _standard(line: Requirement, estimate: Estimate | None, loads: Sequence[Measured]) -> dict[str, Any]:
    return {"estimate": estimate_document(estimate), "shown": _shown(line, estimate), "loads": _loads(line, loads)}


def _age(batch: Batch) -> dict[str, Any] | None:
    """Return the age of the batch when it was measured [s], or None where it is not known."""
    known = age_at_test(batch)
    if known is None:
        return None
    youngest, oldest = known
    shown = str(youngest) if str(youngest) == str(oldest) else f"{youngest} to {oldest}"
    return {"youngest": youngest.seconds, "oldest": oldest.seconds, "in_whole_days": youngest.in_whole_days, "shown": shown}


def _rounding(line: Requirement, estimate: Estimate | None) -> dict[str, Any]:
    """Return how the value was compared, and what was held against each limit, in the unit of that limit."""
    limits = {name: limit for name, limit in (("lower", line.lower), ("upper", line.upper)) if limit is not None}
    compared = {} if estimate is None else {name: f"{line.rounding.compared(estimate.value, limit):f}" for name, limit in limits.items()}
    return {"method": line.rounding.method, "shown": str(line.rounding), "compared": compared}


def _stated(line: Requirement) -> dict[str, Any]:
    """Return the standard deviations that the specification states, part by part [relative to the value, or SI]."""
    return {
        part: {
            "relative": known.relative,
            "absolute": known.absolute,
            "degrees_of_freedom": pure(known.degrees_of_freedom),
            "shown": line.stated_text(part),
        }
        for part, known in line.stated.items()
    }


def _shown(line: Requirement, estimate: Estimate | None) -> dict[str, Any]:
    """Return value, error and parts of the budget as a person reads them: in the unit in which the limits were written."""
    if estimate is None:
        return {"value": "none", "standard_error": "", "unit": "", "components": {}}
    unit, error = line.unit, estimate.standard_error
    text, error_text = value_and_error(unit.from_si(estimate.value), None if error is None else _scaled(unit, error))
    limit = line.lower or line.upper
    symbol = _NUMBER.sub("", limit.text) if limit else ""
    parts = {part: number(_scaled(unit, size), 2) for part, size in sorted(estimate.components.items())}
    return {"value": text, "standard_error": error_text or "none known", "unit": symbol, "components": parts}


def _scaled(unit: Unit, error: float) -> float:
    return error / unit.scale_to_si(1.0)


def _run(batch: Batch, test: str, run: Run) -> dict[str, Any]:
    place = batch.places.get(run.name)
    return {
        "name": run.name,
        "test": test,
        "load": place.load if place else None,
        "role": place.role if place else "batch",
        "learnt_from": place.learnt_from if place else "",
        "sha256": run.source.sha256,
        "metadata": dict(run.metadata),
        "steps": [_step(step) for step in run.steps],
    }


def _step(step: Step) -> dict[str, Any]:
    """Return a step with the columns that figures draw."""
    drawn = {name: _list(step.columns[name]) for name in ("time", "shear_rate", "shear_stress") if name in step.columns}
    return {
        "number": step.number,
        "kind": step.kind,
        "controlled": step.controlled,
        "rows": list(step.rows) if step.rows else None,
        "columns": drawn,
    }


def _list(values: FloatArray) -> list[float | None]:
    return [value if finite else None for value, finite in zip(values.tolist(), np.isfinite(values).tolist(), strict=True)]


def decisions_table(document: Mapping[str, Any]) -> Table:
    """Return the decisions of a record as a table: one row a requirement."""
    rows = tuple(
        (
            MARKS[line["outcome"]] + " " + line["outcome"],
            line["id"],
            *judged(line),
            line["shown"]["unit"],
            line["limits"],
            line["reason"],
        )
        for line in document["requirements"]
    )
    head = document["specification"]
    title = f"{document['batch']['id']} against {head['product']}, revision {head['revision']}"
    columns = ("outcome", "requirement", "value", "standard error", "unit", "limits", "reason")
    return Table(title=title, columns=columns, rows=rows, right=("value", "standard error"))


def judged(line: Mapping[str, Any]) -> tuple[str, str]:
    """Return value and standard error; a value that does not count stands in brackets, without an error."""
    shown = line["shown"]
    if line["outcome"] == "no measurement" and line["estimate"] is not None:
        return f"({shown['value']})", ""
    return shown["value"], shown["standard_error"]


MARKS = {"conforming": "●", "not conforming": "✕", "inconclusive": "◐", "no measurement": "○"}
"""A mark beside each outcome's word, so that a page printed in grey still reads at a glance."""


def loads_table(document: Mapping[str, Any]) -> Table:
    """Return what each load gave, requirement by requirement."""
    rows = tuple(
        (line["id"], str(load["load"]), load["run"], load["shown"]["value"], load["shown"]["unit"], load["reason"])
        for line in document["requirements"]
        for load in line["loads"]
    )
    columns = ("requirement", "load", "export", "value", "unit", "remark")
    return Table(title="Loads", columns=columns, rows=rows, right=("load", "value"))
