"""An uncertainty budget: the parts of a standard uncertainty, their sum, and the degrees of freedom of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

__all__ = ["Budget", "Part"]


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part of a budget: its size in the unit of the number, and the degrees of freedom to which that is known."""

    size: float
    degrees_of_freedom: float = math.inf

    def __post_init__(self) -> None:
        if not (math.isfinite(self.size) and self.size >= 0.0):
            raise ValueError(f"a part of a budget is a size from zero up, not {self.size!r}")
        if not self.degrees_of_freedom > 0.0:
            raise ValueError(f"degrees of freedom are positive, not {self.degrees_of_freedom!r}")


@dataclass(frozen=True, kw_only=True)
class Budget:
    """Independent parts of one standard uncertainty, by name."""

    parts: Mapping[str, Part]

    def __post_init__(self) -> None:
        object.__setattr__(self, "parts", MappingProxyType(dict(self.parts)))

    @property
    def standard_uncertainty(self) -> float:
        """Root of the sum of squares of the parts (JCGM 100:2008, 5.1.2)."""
        return math.hypot(*(part.size for part in self.parts.values()))

    @property
    def degrees_of_freedom(self) -> float:
        """Effective degrees of freedom of the sum, not rounded: Welch-Satterthwaite, JCGM 100:2008, G.4.1.

        Infinite where no part has finite ones; that of a single part is its own.
        """
        total = self.standard_uncertainty
        if total == 0.0:
            return math.inf
        # Ratios first: the fourth power of a small number in SI may be too small for a float.
        spent = math.fsum((part.size / total) ** 4 / part.degrees_of_freedom for part in self.parts.values())
        return math.inf if spent == 0.0 else 1.0 / spent

    @property
    def sizes(self) -> dict[str, float]:
        """Name to size, without the parts that are zero."""
        return {name: part.size for name, part in self.parts.items() if part.size > 0.0}
