"""The check oil: whether the instrument read a known oil rightly, and lately enough, to believe anything else it says."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from rheokit.base.estimate import Condition, Estimate
from rheokit.base.finding import Finding
from rheokit.base.run import Batch
from rheokit.base.show import number
from rheokit.release.specification import CheckOilRule

__all__ = ["CHECK_OIL", "check_oil_findings"]

CHECK_OIL = "check_oil_viscosity"
"""Name under which the reading is entered in results.csv."""


def check_oil_findings(batch: Batch, rule: CheckOilRule | None) -> tuple[Finding, ...]:
    """Return an invalid finding when the check oil failed, is overdue or was not entered; an info when it stands.

    A reading holds from the moment it was taken for `valid_for`; every run must lie inside that time.
    """
    if rule is None:
        return ()
    readings = [result for result in batch.entered if result.name == CHECK_OIL]
    if not readings:
        return (_invalid(f"no check-oil reading is entered; measure the oil and write a row {CHECK_OIL} in results.csv"),)
    latest = max(readings, key=_time_of)
    found = [finding for finding in (_reading(latest, rule), _certificate(latest, rule), _age(latest, batch, rule)) if finding]
    if found:
        return tuple(found)
    reason = f"the check oil reads {number(latest.value)} Pa·s (certified {number(rule.certified)} Pa·s)"
    return (Finding(check="check_oil", severity="info", reason=reason, value=latest.value, limit=rule.certified, unit="Pa·s"),)


def _invalid(reason: str, value: float | None = None, limit: float | None = None, unit: str = "") -> Finding:
    return Finding(check="check_oil", severity="invalid", reason=reason, value=value, limit=limit, unit=unit, source="results.csv")


def _time_of(reading: Estimate) -> datetime:
    said = reading.conditions.get("time", Condition(value=""))
    return _moment(str(said.value)) or datetime.min.replace(tzinfo=UTC)


def _moment(text: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.tzinfo else None


def _reading(latest: Estimate, rule: CheckOilRule) -> Finding | None:
    off = abs(latest.value - rule.certified)
    if off <= rule.tolerance:
        return None
    reason = (
        f"the check oil reads {number(latest.value)} Pa·s, more than {number(rule.tolerance, 3)} Pa·s from the certified "
        f"{number(rule.certified)} Pa·s; no number of this instrument counts until it reads right"
    )
    return _invalid(reason, latest.value, rule.certified, "Pa·s")


def _certificate(latest: Estimate, rule: CheckOilRule) -> Finding | None:
    if rule.expires is None or _time_of(latest).date() <= rule.expires:
        return None
    return _invalid(f"the check oil's certificate expired on {rule.expires.isoformat()}; use a fresh oil")


def _age(latest: Estimate, batch: Batch, rule: CheckOilRule) -> Finding | None:
    times = _run_times(batch)
    if not times:
        return _invalid("the exports do not say when they were measured, so the check oil's age is not known; export the time")
    taken = _time_of(latest)
    if max(times) - taken > timedelta(seconds=rule.valid_for):
        age = (max(times) - taken).total_seconds() / 86_400.0
        allowed = rule.valid_for / 86_400.0
        reason = f"the check oil was last read {number(age, 3)} days before the runs; the specification allows {number(allowed, 3)}"
        return _invalid(reason, age, allowed, "d")
    # A reading of the same day may follow the runs; one of a later day says nothing of them.
    if taken - min(times) > timedelta(days=1):
        return _invalid("the check oil was read more than a day after the runs; enter the reading that was valid when they were made")
    return None


def _run_times(batch: Batch) -> Sequence[datetime]:
    said = [text for run in batch.all_runs for key, text in run.metadata.items() if key.strip().lower() == "measured"]
    return [moment for moment in map(_moment, said) if moment is not None]
