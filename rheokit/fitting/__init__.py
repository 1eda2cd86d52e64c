"""Fitting: laws to points by weighted least squares with bounds, and what the data determine."""

from __future__ import annotations

from rheokit.fitting.custom import CustomModel, lmfit_model
from rheokit.fitting.fit import fit_flow_curve, fit_law
from rheokit.fitting.result import Band, Fit, FlowFit
from rheokit.fitting.selection import Candidate, Comparison, compare_laws, compare_models

__all__ = [
    "Band",
    "Candidate",
    "Comparison",
    "CustomModel",
    "Fit",
    "FlowFit",
    "compare_laws",
    "compare_models",
    "fit_flow_curve",
    "fit_law",
    "lmfit_model",
]
