"""What a characteristic is: a named number that can be measured on a run, with what it needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from rheokit.base.estimate import Estimate
from rheokit.base.run import Run, Step

__all__ = ["At", "AtRule", "Characteristic"]

At = Mapping[str, float | tuple[float, ...] | str]
"""The conditions asked for, in SI: amounts, tuples of amounts, or one of a list of words."""


@dataclass(frozen=True, kw_only=True)
class AtRule:
    """One condition that a characteristic asks for.

    Either `quantity` (with `count` amounts of it) or `choices` (one of these words) is given.
    """

    quantity: str = ""
    count: int = 1
    choices: tuple[str, ...] = ()
    meaning: str = ""


@dataclass(frozen=True, kw_only=True)
class Characteristic:
    """One characteristic, listed once.

    Attributes
    ----------
    name, quantity, meaning
        Its name, the quantity whose unit and symbol it has, and what it says.
    needs
        `step`: one step of a run; `loop`: the up and the down leg of a run; `entered`: a result typed in by hand.
    at
        Condition name to the rule it follows.
    measure
        `measure(run, step, at) -> Estimate`, for one load; `step` is None where `needs` is `loop`. None for entered results.
    """

    name: str
    quantity: str
    meaning: str
    needs: Literal["step", "loop", "entered"]
    at: Mapping[str, AtRule] = field(default_factory=dict)
    measure: Callable[[Run, Step | None, At], Estimate] | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", MappingProxyType(dict(self.at)))
        if (self.measure is None) != (self.needs == "entered"):
            raise ValueError(f"characteristic {self.name!r}: what is entered is not measured, and the rest is")
