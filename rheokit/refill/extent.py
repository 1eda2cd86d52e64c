"""A dimension that is known only as a range, and how ranges go through a calculation: by seeded quasi-Monte Carlo."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import UnitError, printable
from rheokit.base.quantities import parse_amount, quantity
from rheokit.base.units import parse_unit

__all__ = ["DRAWS", "Extent", "draw_extents", "draw_normals", "parse_extent"]

DRAWS = 1024
"""Points of the sequence through the ranges: a power of two, as the sequence asks for."""

_SMALL = 3e-4
"""[m] Lengths below this are shown in micrometres."""

_NUMBER = r"[+\-−]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+\-−]?\d+)?"
_RANGE = re.compile(rf"^\s*(?P<low>{_NUMBER})\s*(?P<unit>\D.*?)?\s+to\s+(?P<high>{_NUMBER})\s*(?P<last>\D.*?)?\s*$")


@dataclass(frozen=True, kw_only=True)
class Extent:
    """A dimension [SI]: one value, or anything between two."""

    lower: float
    upper: float
    quantity: str

    @property
    def is_exact(self) -> bool:
        """Whether it is one value."""
        return self.lower == self.upper

    @property
    def middle(self) -> float:
        """Geometric middle where both ends are positive, else the arithmetic one."""
        return float(np.sqrt(self.lower * self.upper)) if self.lower > 0.0 else 0.5 * (self.lower + self.upper)

    def __str__(self) -> str:
        known = quantity(self.quantity)
        # A gap under the ball is micrometres, whatever its quantity is usually shown in.
        symbol = "µm" if known.unit == "m" and 0.0 < self.upper < _SMALL else known.display_unit
        unit = parse_unit(symbol)
        shown = "" if symbol == "1" else f" {symbol}"
        low, high = (f"{unit.from_si(end):.4g}" for end in (self.lower, self.upper))
        return f"{low}{shown}" if self.is_exact else f"{low} to {high}{shown}"


def parse_extent(text: str, name: str) -> Extent:
    """Return an amount such as `0.7 mm`, or a range such as `0.05 to 0.2 µm` or `30 µm to 0.08 mm`.

    Parameters
    ----------
    text
        What is written; `a ± b` is a range too.
    name
        Quantity, as in the nomenclature.

    Raises
    ------
    UnitError
        When it is no amount of that quantity, or the first end lies above the second.
    """
    matched = _RANGE.match(text)
    if matched is None:
        amount = parse_amount(text, name)
        spread = amount.tolerance or 0.0
        return Extent(lower=amount.value - spread, upper=amount.value + spread, quantity=name)
    last = (matched["last"] or "").strip()
    unit = (matched["unit"] or last).strip()
    low, high = parse_amount(f"{matched['low']} {unit}", name), parse_amount(f"{matched['high']} {last}", name)
    if not low.value <= high.value:
        raise UnitError(f"{printable(text)!r} begins above its end; write the smaller number first")
    return Extent(lower=low.value, upper=high.value, quantity=name)


def draw_extents(extents: Mapping[str, Extent], *, seed: int, draws: int = DRAWS) -> dict[str, FloatArray]:
    """Return so many values of each dimension, (draws,), that fill the ranges evenly together; exact ones do not vary.

    A range within a factor of two is drawn evenly, a wider one evenly in its logarithm: between 0.05 and 0.2 µm nothing says that most
    of it lies above 0.1.

    References
    ----------
    Sobol' sequence, scrambled: Owen, J. Complexity 14 (1998) 466 (from memory), as in scipy.
    """
    vary = [name for name, extent in extents.items() if not extent.is_exact]
    values = {name: np.full(draws, extent.lower) for name, extent in extents.items()}
    if not vary:
        return values
    shares = _sequence(len(vary), seed, draws)
    for column, name in enumerate(vary):
        extent, share = extents[name], shares[:, column]
        if extent.lower > 0.0 and extent.upper > 2.0 * extent.lower:
            values[name] = extent.lower * (extent.upper / extent.lower) ** share
        else:
            values[name] = extent.lower + (extent.upper - extent.lower) * share
    return values


def draw_normals(names: Sequence[str], *, seed: int, draws: int = DRAWS) -> dict[str, FloatArray]:
    """Return standard normal numbers, (draws,), under each name: by what multiple of its standard uncertainty a number is off."""
    shares = _sequence(len(names), seed, draws)
    # A scrambled point may fall on 0 itself, where the normal quantile has no end.
    inner = np.clip(shares, 0.5 / draws, 1.0 - 0.5 / draws)
    quantile = NormalDist().inv_cdf
    return {name: np.array([quantile(share) for share in inner[:, column].tolist()]) for column, name in enumerate(names)}


def _sequence(dimensions: int, seed: int, draws: int) -> FloatArray:
    from scipy.stats.qmc import Sobol  # noqa: PLC0415 - heavy, and only asked for when a refill has ranges

    return np.asarray(Sobol(d=dimensions, scramble=True, seed=seed).random(draws), dtype=np.float64)
