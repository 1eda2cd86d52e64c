"""The rest-shear-recovery step test: laws by which a structure rebuilds, and what a test says of one ink."""

from __future__ import annotations

from rheokit.thixotropy.recovery.laws import RECOVERY_LAWS
from rheokit.thixotropy.recovery.result import StepRecovery
from rheokit.thixotropy.recovery.step_test import step_recovery

__all__ = ["RECOVERY_LAWS", "StepRecovery", "step_recovery"]
