"""Whether the instrument stood for a batch: check oil, calibration, gap zero, geometry. What does not stand makes no measurement."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from rheokit.base.errors import GeometryError, printable
from rheokit.base.finding import Finding, Severity
from rheokit.base.run import Batch, Run
from rheokit.geometry import Geometry, geometry_named, read_geometry
from rheokit.reading.preamble import entry, moment
from rheokit.release.instrument import CheckOil, Instrument
from rheokit.release.measured import judged_runs, measured_at
from rheokit.release.oil_reading import CHECK_OIL, OilReading, oil_readings
from rheokit.release.span import shown_time

__all__ = ["geometry_of_run", "instrument_findings", "oil_findings", "run_instrument_findings"]

AGREE = 2.0
"""Standard uncertainties by which a dimension in an export may lie from that of the file: beyond them it is another body."""
ROUNDED = 1e-6
"""Relative; dimensions are written with three to five digits."""


def oil_findings(batch: Batch, instrument: Instrument) -> tuple[Finding, ...]:
    """Return an invalid finding for each way in which no check oil stands for the runs; else how the latest reading stands.

    Every run of the batch is judged by the last reading of each oil at or before it: none may have failed, and one must be recent
    enough, of an oil whose certificate had not expired.
    """
    if not instrument.check_oils:
        return ()
    readings = oil_readings(batch.entered, instrument)
    if not readings:
        if any(finding.check == "unreadable_results" for finding in batch.findings):
            return (_oil("invalid", "the check-oil reading cannot be read, since results.csv cannot; mend that file"),)
        return (_oil("invalid", f"no check-oil reading is entered; measure the oil and write a row {CHECK_OIL} in results.csv"),)
    reasons = [reason for run in judged_runs(batch) if (reason := _oil_reason(run, readings, instrument))]
    if reasons:
        return tuple(_oil("invalid", reason) for reason in dict.fromkeys(reasons))
    latest = readings[-1]
    severity: Severity = "info" if latest.standing == "stands" else "caution"
    return (_oil(severity, latest.reason, latest),)


def _oil(severity: Severity, reason: str, reading: OilReading | None = None) -> Finding:
    if reading is None or reading.ratio is None:
        return Finding(check="check_oil", severity=severity, reason=reason, source="results.csv")
    return Finding(
        check="check_oil",
        severity=severity,
        reason=reason,
        value=reading.ratio - 1.0,
        limit=reading.tolerance,
        unit="1",
        source="results.csv",
    )


def _oil_reason(run: Run, readings: Sequence[OilReading], instrument: Instrument) -> str:
    """Return why the check oil does not stand for a run, or nothing."""
    measured = measured_at(run)
    if measured is None:
        return "an export does not say when it was measured (with its time zone), so the check oil's age is not known; export 'Measured'"
    before = [reading for reading in readings if reading.time <= measured]
    if not before:
        return f"no check-oil reading was taken before the run of {measured.isoformat(timespec='minutes')}; read the oil first"
    latest = {reading.oil: reading for reading in before}.values()
    failed = next((reading for reading in latest if reading.standing in {"failed", "not judged"}), None)
    if failed is not None:
        return failed.reason
    oils = {oil.id: oil for oil in instrument.check_oils}
    overdue = [_overdue(oils[reading.oil], reading, measured) for reading in latest]
    return "" if "" in overdue else overdue[-1]


def _overdue(oil: CheckOil, reading: OilReading, measured: datetime) -> str:
    age = (measured - reading.time).total_seconds()
    if age > oil.valid_for:
        return f"the check oil was last read {shown_time(age)} before a run; a reading holds for {shown_time(oil.valid_for)}: read it again"
    if measured.date() > oil.expires:
        return f"the certificate of the check oil {printable(oil.id)} expired on {oil.expires.isoformat()}; use a fresh oil"
    return ""


def instrument_findings(batch: Batch, instrument: Instrument) -> tuple[Finding, ...]:
    """Return what bears on every requirement: the check oil, and a caution where no export names the instrument."""
    named = any(entry(run.metadata, "Instrument") for run in judged_runs(batch))
    if named or not judged_runs(batch):
        return oil_findings(batch, instrument)
    reason = f"no export names the instrument; it is taken to be {printable(instrument.id)} of {instrument.name}"
    return (*oil_findings(batch, instrument), Finding(check="instrument", severity="caution", reason=reason, source=batch.name))


def run_instrument_findings(run: Run, instrument: Instrument) -> tuple[Finding, ...]:
    """Return where the instrument does not stand for one run: another instrument or geometry, calibration or gap zero overdue."""
    found = (*_identity(run, instrument), *_dates(run, instrument), *_body(run, instrument))
    return tuple(finding.at(run.name) for finding in found)


def _invalid(check: str, reason: str) -> Finding:
    return Finding(check=check, severity="invalid", reason=reason)


def _identity(run: Run, instrument: Instrument) -> list[Finding]:
    found = []
    for key, mine, remedy in (
        ("Instrument", instrument.id, "use the file of that instrument"),
        ("Geometry id", instrument.geometry_id, "use the file with that geometry"),
    ):
        said = entry(run.metadata, key)
        if said is not None and said.strip() != mine:
            reason = f"the {key.lower()} was {printable(said)}, {instrument.name} is for {printable(mine)}; {remedy}"
            found.append(_invalid("instrument", reason))
    return found


def _dates(run: Run, instrument: Instrument) -> list[Finding]:
    measured = measured_at(run)
    if measured is None:
        reason = "the export does not say when it was measured (with its time zone): calibration and gap zero cannot be held against it"
        return [_invalid("calibration", f"{reason}; export 'Measured'")]
    found, day = [], measured.date()
    if day > instrument.calibration_due:
        due = instrument.calibration_due.isoformat()
        reason = f"the calibration was due on {due}, before the run of {day.isoformat()}; calibrate, and measure again"
        found.append(_invalid("calibration", reason))
    if day < instrument.calibrated:
        done = instrument.calibrated.isoformat()
        reason = (
            f"the run of {day.isoformat()} was before the calibration of {done} that {instrument.name} states; use the file of that time"
        )
        found.append(_invalid("calibration", reason))
    if overdue := _gap_zero_reason(run, measured, instrument):
        found.append(_invalid("gap_zero", overdue))
    return found


def _gap_zero_reason(run: Run, measured: datetime, instrument: Instrument) -> str:
    """Return why no gap zero stands for a run, or nothing; the later one before the run counts, of the export and of the file."""
    exported = moment(entry(run.metadata, "Gap zero") or "")
    before = [when for when in (exported, instrument.gap_zero) if when is not None and when <= measured]
    if not before:
        return "no gap zero before the run is known; set it, and export 'Gap zero' or write it into the instrument file"
    age = (measured - max(before)).total_seconds()
    if age <= instrument.gap_zero_valid_for:
        return ""
    return (
        f"the gap was last set to zero {shown_time(age)} before the run; that holds for {shown_time(instrument.gap_zero_valid_for)}: "
        "set it, and measure again"
    )


def geometry_of_run(run: Run) -> Geometry | None:
    """Return the geometry that the preamble of a run describes with its dimensions, or None."""
    try:
        return read_geometry(run.metadata)
    except GeometryError:
        return None


def _body(run: Run, instrument: Instrument) -> list[Finding]:
    """Hold kind and dimensions in the preamble against the file; a gap is set by hand and may be another."""
    mine = instrument.geometry
    try:
        kind = geometry_named(run.metadata)
    except GeometryError:
        kind = entry(run.metadata, "Geometry")
    if kind is None:
        if entry(run.metadata, "Geometry id") is not None:
            return []
        reason = f"the export does not say which geometry it was; {instrument.name} is for {printable(instrument.geometry_id)}"
        return [Finding(check="geometry", severity="caution", reason=f"{reason}: confirm it by hand")]
    if kind != mine.name:
        reason = f"the geometry was {printable(kind)}, {instrument.name} is for {mine}; use the file with that geometry"
        return [_invalid("geometry", reason)]
    seen = geometry_of_run(run)
    if seen is None:
        return []
    for name, error in instrument.dimension_errors.items():
        theirs, ours = float(getattr(seen, name)), float(getattr(mine, name))
        if name != "gap" and abs(theirs - ours) > max(AGREE * error, ROUNDED * abs(ours)):
            reason = f"the {name.replace('_', ' ')} of the export ({seen}) is not that of {instrument.name} ({mine}): another geometry"
            return [_invalid("geometry", f"{reason}; use its file, or mend the one or the other")]
    return []
