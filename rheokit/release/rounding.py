"""How a value is compared with a limit: unrounded, or rounded to the place of the limit first (ASTM E29)."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from rheokit.base.quantities import Amount
from rheokit.statistics.rounding import as_written, round_to_digits, round_to_place, written_place

__all__ = ["ABSOLUTE", "Rounding"]


@dataclass(frozen=True, kw_only=True)
class Rounding:
    """The absolute or the rounding method of ASTM E29 (which of the two, the specification says).

    Attributes
    ----------
    method
        `absolute`: the unrounded value is compared; `rounding`: the value is first rounded, half to even.
    place
        A power of ten in the unit of the limits, to which it is rounded; without `place` and `digits` it is the place of the last
        digit of the limit as written, for each limit its own.
    digits
        Significant digits to which it is rounded.
    """

    method: Literal["absolute", "rounding"] = "absolute"
    place: Amount | None = None
    digits: int | None = None

    def compared(self, value: float, limit: Amount) -> Decimal:
        """Return the number that is held against a limit, in the limit's unit; `value` is SI."""
        shown = limit.unit.from_si(value)
        if self.method == "absolute":
            return as_written(shown)
        if self.digits is not None:
            return round_to_digits(shown, self.digits)
        return round_to_place(shown, self.place.number if self.place else written_place(limit.number))

    def loses(self, limit: Amount) -> bool:
        """Tell whether a limit itself would be changed by the rounding: it has digits that are rounded away."""
        return self.method == "rounding" and self.compared(limit.value, limit) != limit.number

    def __str__(self) -> str:
        if self.method == "absolute":
            return "absolute method: values are compared unrounded"
        if self.digits is not None:
            to = f"{self.digits} significant digits"
        else:
            to = self.place.text if self.place else "the last place of the limit as written"
        return f"rounding method: values are rounded half to even to {to}, then compared; probabilities are of the unrounded value"


ABSOLUTE = Rounding()
