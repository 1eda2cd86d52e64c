"""Is the measurement fit for use? Each check looks at one run and yields a number that is held against its limit.

One file for each family of checks: `sample_loss`, `drying`, `torque`, `points` (scatter, spikes, missing values), `particles`,
`steadiness`, `slip`, `inertia`, `secondary_flow`, `plates`, `heating`, `temperature`; `loads` for what takes several runs. CHECKS lists
every check once, with the kinds of step it looks at, its number, its limit and why. `known` holds what instrument and sample are known to
be; `unseen` lists what no check of one run can see. Columns whose units disagree are found while reading.
"""

from rheokit.screening.check import Check
from rheokit.screening.checks import ALL_CHECKS, CHECKS, screen, screening_table
from rheokit.screening.known import Known, known_of
from rheokit.screening.limits import require_limits
from rheokit.screening.loads import LOAD_CHECKS, screen_loads
from rheokit.screening.slip import gap_findings
from rheokit.screening.unseen import unseen, unseen_table

__all__ = [
    "ALL_CHECKS", "CHECKS", "LOAD_CHECKS", "Check", "Known", "gap_findings", "known_of", "require_limits", "screen", "screen_loads",
    "screening_table", "unseen", "unseen_table",
]  # fmt: skip
