"""What may be added to a batch, and what it does to each line: from fitted effects, or the trade's defaults, labelled as such."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import ComparisonError
from rheokit.comparison.effects import Effects

__all__ = ["LARGEST_SILICA_STEP", "Addition", "Sensitivity", "fitted_addition", "silica_by_trade"]

LARGEST_SILICA_STEP = 0.2
"""Of one addition of silica [wt %] (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Sensitivity:
    """What an addition does to one line.

    `power`: the line goes as (amount present)^size; `exponential`: its logarithm moves by size per wt % added. `source` says where the
    size is from.
    """

    kind: Literal["power", "exponential"]
    size: float
    standard_error: float
    degrees_of_freedom: float = math.inf
    source: str

    def __post_init__(self) -> None:
        if self.kind not in {"power", "exponential"} or not (self.standard_error >= 0.0 and self.degrees_of_freedom > 0.0 and self.source):
            raise ComparisonError(f"a sensitivity is a power or exponential with an error of zero or more and a source, not {self}")


@dataclass(frozen=True, kw_only=True)
class Addition(Carried):
    """One thing that may be added: its name, how much of it the batch holds, the largest step [wt % of the batch], its effect by line."""

    name: str
    present: float
    largest: float
    effects: Mapping[str, Sensitivity]

    def __post_init__(self) -> None:
        needs_some = any(one.kind == "power" for one in self.effects.values())
        if not self.largest > 0.0 or not self.present >= 0.0 or (needs_some and self.present == 0.0):
            raise ComparisonError(f"{self.name}: a step is above zero, and a power law needs some of it in the batch")
        if "silica" in self.name.casefold() and self.largest > LARGEST_SILICA_STEP:
            raise ComparisonError(f"{self.name}: a step of silica is at most {LARGEST_SILICA_STEP:g} wt %, not {self.largest:g}")

    def reach(self, line: str, amount: FloatArray) -> FloatArray:
        """Return what multiplies the sensitivity of a line at amounts added [wt %], (A,): ln of the share or the amount itself."""
        if self.effects[line].kind == "power":
            return np.log1p(amount / self.present)
        return np.asarray(amount, dtype=np.float64)


def silica_by_trade(present: float, line: str, *, others: Mapping[str, Sensitivity]) -> Addition:
    """Return silica with the trade's default for one line, a yield stress; what it does to every other line has to be given.

    Parameters
    ----------
    present
        Silica in the batch [wt %].
    line
        The line that goes as silica^4.0 (Nanoscale Res. Lett. 6:114); its error 0.5 is a judgement, for silica of another grade.
    others
        Line to Sensitivity.
    """
    label = "trade default: yield stress ~ silica^4.0 (Nanoscale Res. Lett. 6:114), ± 0.5 a judgement"
    default = Sensitivity(kind="power", size=4.0, standard_error=0.5, source=label)
    return Addition(name="fumed silica", present=present, largest=LARGEST_SILICA_STEP, effects={line: default, **others})


def fitted_addition(name: str, models: Mapping[str, Effects], *, present: float, largest: float) -> Addition:
    """Return an addition with the sensitivities of models of main effects on log responses: the logarithm moves in line with the amount.

    Raises
    ------
    ComparisonError
        When a model is of another kind, or does not know the component.
    """
    effects = {}
    for line, model in models.items():
        if model.model != "main_effects" or model.scale != "logarithmic" or name not in model.terms:
            raise ComparisonError(f"{line}: a sensitivity to {name} needs a model of main effects on the logarithm that holds it")
        place = model.terms.index(name)
        source = f"fitted to {model.observed.size} runs"
        effects[line] = Sensitivity(
            kind="exponential",
            size=float(model.coefficients[place]),
            standard_error=float(model.standard_errors[place]),
            degrees_of_freedom=float(model.degrees_of_freedom),
            source=source,
        )
    return Addition(name=name, present=present, largest=largest, effects=effects)
