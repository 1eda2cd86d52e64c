"""Specification, decision and record: from Estimates to a recommendation that a person can defend."""
