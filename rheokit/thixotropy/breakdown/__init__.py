"""Breakdown at a held shear rate: laws of the stress over the time since the hold began, each listed once."""

from rheokit.law import Law
from rheokit.thixotropy.breakdown.exponential import EXPONENTIAL_BREAKDOWN
from rheokit.thixotropy.breakdown.steady import STEADY_STRESS
from rheokit.thixotropy.breakdown.weltmann import WELTMANN

__all__ = ["BREAKDOWN_LAWS"]

BREAKDOWN_LAWS: tuple[Law, ...] = (STEADY_STRESS, WELTMANN, EXPONENTIAL_BREAKDOWN)
"""Laws of the shear stress [Pa] over the time since the hold began [s], above 0; being listed is what gets one tested and offered."""
