"""The pen sheet: what one batch will do in one refill, from the coldest to the hottest use, with ranges."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, ClassVar

from rheokit.base.finding import Finding
from rheokit.base.quantities import quantity
from rheokit.base.run import Batch
from rheokit.base.show import Table, number
from rheokit.characteristics.ink_in_pen import ink_in_pen
from rheokit.refill.description import Refill
from rheokit.refill.feeding import feeding
from rheokit.refill.filling import INJURY, filling
from rheokit.refill.holding import holding_index, worst_pressure
from rheokit.refill.ink import InkInPen
from rheokit.release.pen_drawn import drawn_figures
from rheokit.release.pen_rows import feeding_rows, filling_rows, gas_rows, holding_rows, law_words, writing_rows
from rheokit.release.record import Record, estimate_document, finding_document, pure, versions

__all__ = ["PEN_FORMAT", "SECTIONS", "PenSheet", "pen_sheet"]

PEN_FORMAT = "rheokit pen sheet 1"
SECTIONS = ("holding", "feeding", "writing", "filling", "gas")

_OVEN = (
    "Oven tests of sealed refills: behind a shield, with eye protection, in equipment rated for it. Hot and cold stages burn. Pressure "
    "equipment and gas filling are for qualified, licensed people."
)
_CODES = (
    "Current safety data sheets, site rules and local codes come first, before anything on this sheet; ask the people who are qualified."
)
_INDEX = (
    "The holding index ranks batches by ink creep. It is never alone a release requirement, and it says nothing about the strength of "
    "tube, plug or tip."
)
_EXTRAPOLATED = (
    "Numbers beyond the tested range, of rate or of temperature, are extrapolations and never the sole basis for safety or release. "
    "The program informs; a person decides. Not validated for regulated use."
)


@dataclass(frozen=True, kw_only=True)
class PenSheet(Record):
    """One pen sheet as a document of plain JSON; its page is made from this alone."""

    format: ClassVar[str] = PEN_FORMAT

    @property
    def file_name(self) -> str:
        """A name that any file system takes, from the batch's id and the sheet's."""
        return f"{self._batch_in_a_name()}-pen-{self.id}.json"

    def table(self) -> Table:
        """Return the sheet as one table: holding, feeding, writing, filling, gas."""
        rows = tuple(
            (row["section"], row["what"], row["shown"]["middle"], row["shown"]["interval"], row["unit"], _said(row))
            for row in self.document["rows"]
        )
        columns = ("", "what", "middle", "95 % of draws", "unit", "meaning")
        title = f"{self.document['batch']['id']} in {self.document['refill']['name']}"
        notes = (
            *(f"{held['severity']}: {held['reason']}" for held in self.document["findings"]),
            *(f"assumed: {words}" for words in self.document["assumed"]),
            *self.document["cautions"],
        )
        return Table(title=title, columns=columns, rows=rows, notes=notes, right=("middle", "95 % of draws"))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def pen_sheet(batch: Batch, refill: Refill, *, time: datetime | None = None, operator: str | None = None, seed: int = 0) -> PenSheet:
    """Work out what a batch will do in a refill.

    Parameters
    ----------
    batch
        Read by `read_batch`.
    refill
        Read by `read_refill`; where it states `ink.yield_decay` or `ink.activation_energy`, they stand in for runs at several temperatures.
    time
        When, with a time zone; written in UTC. Without one the same batch and refill give the same sheet.
    operator
        Who, as the sheet shall say.
    seed
        Of the draws through all ranges.

    Raises
    ------
    RangeError
        When the batch does not say what the pen needs: no flow curve, a yield stress that is not determined or whose lower end is zero.
    ValueError
        When the time carries no time zone.
    """
    if time is not None and time.tzinfo is None:
        raise ValueError("the time of a sheet needs a time zone, for example datetime.now(timezone.utc)")
    ink = ink_in_pen(batch, yield_decay=_stated(refill, "ink.yield_decay"), viscous_energy=_stated(refill, "ink.activation_energy"))
    holding, fed, filled = holding_index(refill, ink, seed=seed), feeding(refill, ink, seed=seed), filling(refill, ink, seed=seed)
    rows = [
        *holding_rows(refill, ink, holding, seed=seed),
        *feeding_rows(ink, fed),
        *writing_rows(refill, ink, entered=batch.entered, seed=seed),
        *filling_rows(filled),
        *gas_rows(refill, refill.draws(seed=seed)),
    ]
    return PenSheet(
        document={
            "format": PEN_FORMAT,
            "kind": "pen sheet",
            "time": None if time is None else time.astimezone(UTC).isoformat(timespec="seconds"),
            "operator": operator,
            "seed": seed,
            "batch": {"id": batch.name, "passport": dict(batch.metadata)},
            "refill": _refill(refill),
            "ink": _ink(ink),
            "assumed": [*ink.assumed, *refill.assumptions],
            "rows": [row.document() for row in rows],
            "figures": drawn_figures(refill, ink, holding, seed=seed),
            "runs": [
                {"name": run.name, "test": test, "sha256": run.source.sha256} for test, loads in sorted(batch.runs.items()) for run in loads
            ],
            "findings": [finding_document(finding) for finding in _findings(batch, ink)],
            "cautions": _cautions(worst_pressure(refill), filled.upper_bound),
            "versions": versions(),
        }
    )


def _said(row: Mapping[str, Any]) -> str:
    return f"{row['note']}. {row['caution']}" if row["caution"] else str(row["note"])


def _stated(refill: Refill, key: str) -> tuple[float, float] | None:
    """Return the middle of a stated range and the standard uncertainty of a number that lies anywhere in it (JCGM 100, 4.3.7)."""
    extent = refill.values.get(key)
    if extent is None:
        return None
    return 0.5 * (extent.lower + extent.upper), 0.5 * (extent.upper - extent.lower) / 3.0**0.5


def _findings(batch: Batch, ink: InkInPen) -> tuple[Finding, ...]:
    """Return what was seen while reading the folder and measuring the yield stresses, but mere information."""
    measured = (ink.dynamic_yield_stress, ink.creep_yield_stress, ink.static_yield_stress)
    seen = (*batch.findings, *(finding for estimate in measured if estimate is not None for finding in estimate.findings))
    return tuple(dict.fromkeys(finding for finding in seen if finding.severity != "info"))


def _refill(refill: Refill) -> dict[str, Any]:
    shown = refill.table()
    return {
        "name": refill.name,
        "file": refill.file,
        "sha256": refill.sha256,
        "dimensions": [{"dimension": name, "value": value, "meaning": meaning} for name, value, meaning in shown.rows],
    }


def _ink(ink: InkInPen) -> dict[str, Any]:
    laws = [
        {
            "name": name,
            "words": law_words(name),
            "parameters": [{"name": part, "value": flowing.values[part], "unit": quantity(part).unit} for part in flowing.law.names],
        }
        for name, flowing in ink.laws.items()
    ]
    return {
        "dynamic_yield_stress": estimate_document(ink.dynamic_yield_stress),
        "creep_yield_stress": estimate_document(ink.creep_yield_stress),
        "static_yield_stress": estimate_document(ink.static_yield_stress),
        "laws": laws,
        "bench_range": list(ink.bench_range),
        "reference_temperature": ink.reference_temperature,
        "known_temperatures": list(ink.known_temperatures),
        "yield_decay": {"value": ink.yield_decay[0], "standard_error": ink.yield_decay[1], "unit": "1/K"},
        "viscous_energy": {"value": ink.viscous_energy[0], "standard_error": ink.viscous_energy[1], "unit": "J/mol"},
        "recovery_time": pure(ink.recovery_time),
        "creep_viscosity": pure(ink.creep_viscosity),
    }


def _cautions(hottest: float, filling_bound: float) -> list[str]:
    """Return the cautions, the first two with their numbers [Pa]."""
    return [
        f"Size pressure margins for the hottest case: up to {number(hottest / 1e3, 3)} kPa gauge here. A liquid-full refill bursts.",
        f"Filling can take up to {number(filling_bound / 1e5, 3)} bar here"
        + (": above 20 bar a jet injects through skin. Guards, rated hoses, qualified people." if filling_bound > INJURY else "."),
        _OVEN,
        _INDEX,
        _EXTRAPOLATED,
        _CODES,
    ]
