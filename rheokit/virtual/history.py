"""An invented history of batches: what a plant's register might hold after a year, with drifts that are known because they were put in."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

__all__ = ["demo_history"]

_FIRST = datetime(2025, 10, 6, 8, 0, tzinfo=UTC)
_EVERY = 5.0
"""Days between batches."""


def demo_history(
    count: int = 40, seed: int = 1, *, instrument_drift: float = 0.0, standard_drift: float = 0.0, product_drift: float = 0.0
) -> list[dict[str, Any]]:
    """Return rows (time, batch, requirement, role, value, unit, ...) of an invented history.

    Parameters
    ----------
    count, seed
        Batches, and of the random numbers.
    instrument_drift, standard_drift, product_drift
        Relative change in thirty days: of every reading, of the retained standard, of the product.

    Returns
    -------
    list of dict
        In each check the viscosity at 100 1/s (batches scatter by 3 %, results by 1.4 %), the loop area (skewed: batches by 15 %),
        both on the retained standard too, and a reading of the check oil over what is certified (0.4 %).
    """
    return [row for place in range(count) for row in _check(place, np.random.default_rng((seed, place)),
                                                            (instrument_drift, standard_drift, product_drift))]  # fmt: skip


_LINES = (
    ("viscosity-100", 3.8, "Pa·s", 0.03, 0.014, 3.4, 4.2),
    ("loop-area", 1700.0, "Pa/s", 0.15, 0.03, 1100.0, 2600.0),
)
"""Requirement, level, unit, relative scatter of batches and of results, limits."""


def _check(place: int, rng: np.random.Generator, drifts: tuple[float, float, float]) -> Iterator[dict[str, Any]]:
    when = _FIRST + timedelta(days=_EVERY * place + float(rng.uniform(0.0, 1.5)))
    instrument, standard, product = ((1.0 + drift) ** (_EVERY * place / 30.0) for drift in drifts)
    known = {"time": when.isoformat(), "batch": f"V{place + 1:03d}"}
    for name, level, unit, batches, results, lower, upper in _LINES:
        made = level * product * np.exp(batches * rng.standard_normal())
        for role, true in (("batch", made), ("standard", level * standard)):
            seen = float(true * instrument * np.exp(results * rng.standard_normal()))
            yield known | {"requirement": name, "role": role, "value": seen, "unit": unit, "standard_error": results * seen,
                           "lower": lower, "upper": upper, "shown_unit": unit}  # fmt: skip
    ratio = float(instrument * np.exp(0.004 * rng.standard_normal()))
    yield known | {"requirement": "check-oil", "role": "check oil", "value": ratio, "unit": "1", "standard_error": 0.004,
                   "lower": 0.98, "upper": 1.02}  # fmt: skip
