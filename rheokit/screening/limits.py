"""Limits of one's own: which checks have one, and between what it may lie."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence

from rheokit.base.errors import RangeError, printable
from rheokit.base.show import number
from rheokit.screening.check import Check

__all__ = ["limit_of", "require_limits"]


def require_limits(limits: Mapping[str, float], checks: Sequence[Check]) -> None:
    """Refuse limits that no check has or can have.

    Raises
    ------
    RangeError
        Naming the check and what it takes.
    """
    by_name = {check.name: check for check in checks}
    for name, limit in limits.items():
        if name not in by_name:
            near = difflib.get_close_matches(name, by_name, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"the checks are {', '.join(by_name)}"
            raise RangeError(f"no check is called {printable(name)!r}; {hint}")
        check = by_name[name]
        if isinstance(limit, bool) or not (math.isfinite(limit) and check.lowest <= limit <= check.highest):
            unit = "" if check.unit == "1" else f" {check.unit}"
            raise RangeError(
                f"the limit of {name} is {limit}; it lies from {number(check.lowest, 2)} to {number(check.highest, 2)}{unit}, "
                f"{number(check.limit, 2)}{unit} where none is set"
            )


def limit_of(check: Check, limits: Mapping[str, float] | None) -> float:
    """Return the limit of a check: one's own where there is one."""
    return check.limit if limits is None else limits.get(check.name, check.limit)
