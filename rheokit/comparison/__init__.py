"""Comparing: a batch with its retained standard, batches over time, recipes with each other. Takes tables of Estimates and curves."""
