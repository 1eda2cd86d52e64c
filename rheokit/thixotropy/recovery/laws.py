"""The recovery laws, each listed once."""

from __future__ import annotations

from rheokit.law import Law
from rheokit.thixotropy.recovery.first_order import FIRST_ORDER
from rheokit.thixotropy.recovery.second_order import SECOND_ORDER
from rheokit.thixotropy.recovery.stretched_exponential import STRETCHED_EXPONENTIAL
from rheokit.thixotropy.recovery.two_exponentials import TWO_EXPONENTIALS

__all__ = ["RECOVERY_LAWS"]

RECOVERY_LAWS: tuple[Law, ...] = (FIRST_ORDER, SECOND_ORDER, STRETCHED_EXPONENTIAL, TWO_EXPONENTIALS)
"""Laws of a tracked quantity over the time after shear [s]; being listed is what gets one tested and offered."""
