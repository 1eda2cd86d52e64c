"""Is the measurement fit for use? Each check looks at one run and returns findings.

CHECKS lists every check once, with the limit it uses and why.
"""

from rheokit.screening.checks import CHECKS, Check, screen

__all__ = ["CHECKS", "Check", "screen"]
