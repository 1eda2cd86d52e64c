"""What one run cannot show, and what would show it."""

from __future__ import annotations

from rheokit.base.finding import Finding
from rheokit.base.run import Run
from rheokit.base.show import Table
from rheokit.screening.checks import CHECKS
from rheokit.screening.known import Known, known_of
from rheokit.screening.steps import flowing

__all__ = ["unseen", "unseen_table"]

NEVER = (
    ("slip_at_one_gap", "slip that bends no curve looks like a thinner ink: measure at a second gap, or with roughened surfaces"),
    ("gap_zero", "a wrong gap zero scales every shear rate: set it anew at the measuring temperature, and measure a check oil"),
    (
        "radius",
        "1 % of radius, or a gap filled short by as much, is 3 % of stress: measure a check oil, and look at the edge after trimming",
    ),
    (
        "sensor_offset",
        "a sensor that reads 1 K wrong is 7 % of viscosity: hold it against a calibrated thermometer, or measure a check oil",
    ),
    ("torque_scale", "a wrong torque scale is a wrong stress: measure a check oil"),
)
"""Faults that leave no trace in a run, each with its remedy (common practice, no source)."""


def unseen(run: Run, *, known: Known | None = None) -> tuple[Finding, ...]:
    """Return what cannot be seen in a run: faults that leave no trace in any one run, and checks that could not look at this one.

    Parameters
    ----------
    run
        Read by `read_run`.
    known
        What is known of instrument and sample; the preamble adds what is not given.

    Returns
    -------
    tuple of Finding
        All of severity `info`, each with the remedy in its reason.
    """
    there = (known or Known()).with_more(known_of(run))
    found = [Finding(check=name, severity="info", reason=words) for name, words in NEVER]
    ramps = [str(step.number) for step in flowing(run, "up", "down")]
    if ramps:
        which = f"steps {' and '.join(ramps)} are ramps" if len(ramps) > 1 else f"step {ramps[0]} is a ramp"
        words = f"{which}, whose points are not waited for: the curve is transient; measure steady steps for the equilibrium"
        found.append(Finding(check="transient", severity="info", reason=words))
    for check in CHECKS:
        if blind := check.look(run, there).blind:
            found.append(Finding(check=check.name, severity="info", reason=f"could not be looked at: {blind}"))
    return tuple(finding.at(run.name) for finding in found)


def unseen_table(run: Run, *, known: Known | None = None) -> Table:
    """Return what `unseen` lists as a table."""
    rows = tuple((finding.check.replace("_", " "), finding.reason) for finding in unseen(run, known=known))
    return Table(title=f"not to be seen in {run.name}", columns=("what", "why, and what would show it"), rows=rows)
