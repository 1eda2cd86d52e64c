"""What a characteristic is: a named number that can be measured on a run, with what it needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from rheokit.base.estimate import Estimate
from rheokit.base.run import Run, Step

__all__ = ["SCALINGS", "At", "AtRule", "Characteristic", "Scaling"]

At = Mapping[str, float | tuple[float, ...] | str]
"""The conditions asked for, in SI: amounts, tuples of amounts, or one of a list of words."""

Scaling = Literal["stress at a rate", "stress at a held rate", "stress", "area", "ratio", "fraction", "time", "nothing"]
SCALINGS: Mapping[Scaling, str] = MappingProxyType(
    {
        "stress at a rate": "goes with the stress at a stated rate: a wrong rate moves it along the flow curve",
        "stress at a held rate": "the same, where the run shows no flow curve to move along",
        "stress": "goes with the stress, whatever the rate: a yield value",
        "area": "goes with stress times rate: the area of a loop",
        "ratio": "a ratio of two stresses of one run: what is common to both cancels",
        "fraction": "such a ratio that changes with time: temperature changes how fast",
        "time": "a time, or a rate of change, that temperature makes longer or shorter",
        "nothing": "not measured on the rheometer",
    }
)
"""What an error of the geometry or of the temperature does to a characteristic."""


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
    scales
        What an error of the geometry or of the temperature does to it, see SCALINGS.
    measure
        `measure(run, step, at) -> Estimate`, for one load; `step` is None where `needs` is `loop`. None for entered results.
    """

    name: str
    quantity: str
    meaning: str
    needs: Literal["step", "loop", "entered"]
    at: Mapping[str, AtRule] = field(default_factory=dict)
    scales: Scaling = "nothing"
    measure: Callable[[Run, Step | None, At], Estimate] | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", MappingProxyType(dict(self.at)))
        if (self.measure is None) != (self.needs == "entered"):
            raise ValueError(f"characteristic {self.name!r}: what is entered is not measured, and the rest is")
