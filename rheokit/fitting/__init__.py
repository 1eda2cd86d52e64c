"""Fitting: laws to points by weighted least squares with bounds, and what the data determine."""

from __future__ import annotations

from rheokit.fitting.custom import CustomModel, lmfit_model
from rheokit.fitting.fit import fit_flow_curve, fit_law
from rheokit.fitting.result import Band, Fit, FlowFit

__all__ = ["Band", "CustomModel", "Fit", "FlowFit", "fit_flow_curve", "fit_law", "lmfit_model"]
