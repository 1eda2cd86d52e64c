"""All checks in one list, the screening of a run by them, and its table."""

from __future__ import annotations

from collections.abc import Mapping

from rheokit.base.finding import SEVERITIES, Finding
from rheokit.base.run import Run
from rheokit.base.show import Table, number
from rheokit.screening.check import Check, Look, judge
from rheokit.screening.drying import DRYING
from rheokit.screening.heating import VISCOUS_HEATING
from rheokit.screening.inertia import INSTRUMENT_INERTIA, RINGING
from rheokit.screening.known import Known, known_of
from rheokit.screening.limits import limit_of, require_limits
from rheokit.screening.loads import LOAD_CHECKS
from rheokit.screening.particles import PARTICLE_GAP
from rheokit.screening.plates import UNCORRECTED_PLATES
from rheokit.screening.points import MISSING_VALUES, POINT_SCATTER, SPIKES
from rheokit.screening.sample_loss import EDGE_FRACTURE, REFERENCE_POINT
from rheokit.screening.secondary_flow import SECONDARY_FLOW, TAYLOR_VORTICES
from rheokit.screening.slip import WALL_SLIP
from rheokit.screening.steadiness import NOT_STEADY, STRAIN_REACHED
from rheokit.screening.temperature import TEMPERATURE_KNOWN, temperature_unknown
from rheokit.screening.torque import STRESS_SIGN, TORQUE_FLOOR

__all__ = ["ALL_CHECKS", "CHECKS", "screen", "screening_table"]

CHECKS: tuple[Check, ...] = (
    REFERENCE_POINT,
    EDGE_FRACTURE,
    DRYING,
    STRESS_SIGN,
    TORQUE_FLOOR,
    MISSING_VALUES,
    POINT_SCATTER,
    SPIKES,
    PARTICLE_GAP,
    NOT_STEADY,
    STRAIN_REACHED,
    WALL_SLIP,
    INSTRUMENT_INERTIA,
    RINGING,
    SECONDARY_FLOW,
    TAYLOR_VORTICES,
    UNCORRECTED_PLATES,
    VISCOUS_HEATING,
    TEMPERATURE_KNOWN,
)
"""The checks of one run."""
ALL_CHECKS: tuple[Check, ...] = (*CHECKS, *LOAD_CHECKS)
"""Those, and the checks that take several loads; a limit can be set for each."""


def screen(run: Run, *, limits: Mapping[str, float] | None = None, known: Known | None = None) -> tuple[Finding, ...]:
    """Return what every check sees in a run, together with what was seen while reading it.

    Parameters
    ----------
    run
        Read by `read_run`.
    limits
        Check name to a limit of one's own, in the unit of the check; `screening_table` lists them.
    known
        What is known of instrument and sample; the preamble adds what is not given.

    Returns
    -------
    tuple of Finding
        A check that could not look finds nothing; `unseen` lists those.

    Raises
    ------
    RangeError
        When a limit is named that no check has, or lies outside the range of its check.
    """
    require_limits(limits or {}, ALL_CHECKS)
    there = (known or Known()).with_more(known_of(run))
    seen = [finding.at(run.name) for finding in run.findings]
    seen += [finding.at(f"{run.name}, step {step.number}") for step in run.steps for finding in step.findings]
    for check in CHECKS:
        seen += [finding.at(run.name) for finding in check.findings(run, there, limit_of(check, limits))]
    return (*seen, *(finding.at(run.name) for finding in temperature_unknown(run)))


def screening_table(run: Run, *, limits: Mapping[str, float] | None = None, known: Known | None = None) -> Table:
    """Return every check of a run with its number, limit and outcome, as a table.

    Parameters
    ----------
    run, limits, known
        As for `screen`.

    Returns
    -------
    Table
        The number shown is the worst of the run, less what chance alone may add; the outcome is `good`, a severity, or why the check
        did not look. The notes say what each number is and where its limit is from.

    Raises
    ------
    RangeError
        When a limit is named that no check has, or lies outside the range of its check.
    """
    require_limits(limits or {}, ALL_CHECKS)
    there = (known or Known()).with_more(known_of(run))
    rows = tuple(_row(check, check.look(run, there), limit_of(check, limits)) for check in CHECKS)
    columns = ("check", "number", "limit", "outcome")
    return Table(title=f"screening of {run.name}", columns=columns, rows=rows, right=("number",), notes=_sources())


def _row(check: Check, look: Look, limit: float) -> tuple[str, ...]:
    unit = "" if check.unit == "1" else f" {check.unit}"
    held = f"{'at least' if check.falling else 'at most'} {number(limit, 3)}{unit}"
    name = check.name.replace("_", " ")
    if look.blind or look.idle:
        why = f"could not look: {look.blind}" if look.blind else f"does not apply: {look.idle}"
        return name, "", held, why
    found = judge(check, look, limit)
    values = [seen.value if check.falling else seen.held for seen in look.seen]
    shown = (min(values) if check.falling else max(values)) if values else None
    worst = max((finding.severity for finding in found), key=SEVERITIES.index, default="good")
    return name, "" if shown is None else f"{number(shown, 3)}{unit}", held, worst


def _sources() -> tuple[str, ...]:
    return tuple(f"{check.name.replace('_', ' ')}: {check.number}; limit: {check.source}" for check in CHECKS)
