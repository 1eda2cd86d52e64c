"""Fitting: laws to points by weighted least squares with bounds, and what the data determine."""

from __future__ import annotations

from rheokit.fitting.fit import fit_flow_curve, fit_law
from rheokit.fitting.result import Band, Fit, FlowFit

__all__ = ["Band", "Fit", "FlowFit", "fit_flow_curve", "fit_law"]
