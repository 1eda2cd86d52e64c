"""The check of one batch: every requirement measured, judged and recorded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from rheokit.base.errors import RheokitError, printable
from rheokit.base.finding import Finding
from rheokit.base.run import Batch
from rheokit.base.show import Table
from rheokit.characteristics import Measured, combine_measured, measure
from rheokit.release.bearing import findings_by_run, product_findings, revision_findings
from rheokit.release.check_oil import check_oil_findings
from rheokit.release.decision import Decision, Disposition, decide, dispose
from rheokit.release.document import decisions_table, document_of
from rheokit.release.instrument_budget import budgeted
from rheokit.release.instrument_findings import instrument_findings
from rheokit.release.record import Record
from rheokit.release.requirement_findings import requirement_findings
from rheokit.release.retest import EarlierCheck, retest_document
from rheokit.release.rim_correction import Corrected, corrected_at_the_rim
from rheokit.release.specification import Requirement, Specification

__all__ = ["BatchCheck", "check_batch"]


@dataclass(frozen=True, eq=False, kw_only=True)
class BatchCheck:
    """What was decided on a batch, requirement by requirement, with the record of it."""

    batch: Batch
    specification: Specification
    disposition: Disposition
    reason: str
    decisions: tuple[Decision, ...]
    findings: tuple[Finding, ...]
    record: Record

    def table(self) -> Table:
        """Return the decisions as a table."""
        return decisions_table(self.record.document)

    def __str__(self) -> str:
        return f"{self.table()}\n{self.disposition.upper()}: {self.reason}"

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def check_batch(
    batch: Batch,
    specification: Specification,
    *,
    time: datetime | None = None,
    operator: str | None = None,
    earlier: Sequence[EarlierCheck] = (),
) -> BatchCheck:
    """Judge a batch against a specification.

    Parameters
    ----------
    batch
        Read by `read_batch`.
    specification
        Read by `read_specification`.
    time
        Of the check, with a time zone; written to the record in UTC. Without one the record holds no time, so that the same batch and
        specification give the same record.
    operator
        Who ran the check, as the record shall say.
    earlier
        Earlier checks of the batch by this specification, from the register: they count.

    Returns
    -------
    BatchCheck
        `.disposition` is `release`, `hold` or `reject`: a recommendation, which a person decides on.

    Raises
    ------
    ValueError
        When the time carries no time zone.
    RetestError
        When earlier checks make this one testing into compliance, or leave out what they rest on.
    """
    if time is not None and time.tzinfo is None:
        raise ValueError("the time of a check needs a time zone, for example datetime.now(timezone.utc)")
    common = (
        *check_oil_findings(batch, specification.check_oil),
        *(instrument_findings(batch, instrument) if (instrument := specification.instrument) else ()),
        *product_findings(batch, specification.product),
        *revision_findings(batch, specification),
    )
    corrected = corrected_at_the_rim(batch, specification)
    run_findings = findings_by_run(batch, specification, corrected.findings)
    decisions = tuple(_decide(corrected, specification, line, run_findings, common) for line in specification.requirements)
    disposition, reason = dispose(decisions)
    elsewhere = [finding for finding in batch.findings if finding.severity == "invalid"]
    if disposition == "release" and elsewhere:
        disposition, reason = "hold", str(elsewhere[0])
    general = (*batch.findings, *common)
    about_runs = (finding for found in run_findings.values() for finding in found)
    about_lines = (finding.at(decision.requirement.id) for decision in decisions for finding in decision.findings)
    findings = tuple(dict.fromkeys((*general, *about_runs, *about_lines)))
    document = document_of(
        corrected.batch,
        specification,
        decisions,
        disposition=disposition,
        reason=reason,
        findings=findings,
        time=None if time is None else time.astimezone(UTC).isoformat(timespec="seconds"),
        operator=operator,
    )
    loads = {test: method.loads for test, method in specification.methods.items()}
    document["retest"] = retest_document(document, specification.retest, loads, earlier)
    return BatchCheck(
        batch=batch,
        specification=specification,
        disposition=disposition,
        reason=reason,
        decisions=decisions,
        findings=findings,
        record=Record(document=document),
    )


def _decide(
    corrected: Corrected,
    specification: Specification,
    line: Requirement,
    run_findings: Mapping[str, tuple[Finding, ...]],
    common: tuple[Finding, ...],
) -> Decision:
    batch = corrected.batch
    loads = measure(batch, line.characteristic, test=line.test, step=line.step, at=line.at)
    about_runs = (finding for load in loads for finding in run_findings.get(load.run, ()))
    findings = (*common, *about_runs, *requirement_findings(batch, specification, line, loads, run_findings))
    with_parts = budgeted(batch, specification, line, loads, corrected.single_point)
    line, loads = with_parts.requirement, with_parts.loads
    missing = _missing(batch, line, loads, specification)
    try:
        estimate = combine_measured(loads, line.repeatability, line.parts)
    except RheokitError as error:
        estimate, missing = None, missing or str(error)
    if estimate is not None and with_parts.said:
        estimate = replace(estimate, method="; ".join((estimate.method, *with_parts.said)))
    return decide(line, estimate, rule=specification.rule, loads=loads, findings=findings, missing=missing)


def _missing(batch: Batch, line: Requirement, loads: tuple[Measured, ...], specification: Specification) -> str:
    """Return why a requirement cannot be judged on these loads, or nothing."""
    failed = [load for load in loads if load.estimate is None]
    if failed:
        return failed[0].reason
    if line.characteristic.needs == "entered":
        return "" if loads else f"no result {line.characteristic.name!r} is entered in results.csv"
    method = specification.methods.get(line.test)
    wanted = method.loads if method else 1
    if len(loads) >= wanted:
        return ""
    if not loads and batch.runs and line.test not in batch.runs:
        return f"the batch has no test {line.test!r}; its tests are {', '.join(map(printable, batch.runs))}"
    others = len(batch.runs.get(line.test, ())) - len(loads)
    beside = f" (beside {others} of the reference batch)" if others else ""
    return f"{len(loads)} of {wanted} loads of the test {line.test!r} are there{beside}; measure the missing one"
