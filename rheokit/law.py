"""Law and Parameter: how any y(x; parameters) is declared, from flow models to recovery and temperature laws."""

from __future__ import annotations

import inspect
import keyword
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from rheokit.base.errors import DeclarationError, printable
from rheokit.base.show import Table, number

__all__ = ["Array", "Law", "Parameter"]

Array = NDArray[Any]
"""Float or complex: a Law is evaluated on complex arrays to prove its derivatives."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter of a Law: name, symbol (LaTeX), unit, bounds and what it says about the material.

    `interval_scale` is the scale on which its error is even: its logarithm for what multiplies a curve, may be off by decades and is
    never zero; else itself.
    """

    name: str
    symbol: str = ""
    unit: str = ""
    lower: float = -math.inf
    upper: float = math.inf
    meaning: str = ""
    interval_scale: Literal["linear", "logarithmic"] = "linear"

    def __post_init__(self) -> None:
        if not self.name.isidentifier() or keyword.iskeyword(self.name):  # lambda, of all names
            raise DeclarationError(f"parameter {printable(self.name)!r} is not a name that a function argument can have")
        if not self.lower < self.upper:
            raise DeclarationError(f"parameter {self.name!r}: the lower bound {self.lower!r} is not below the upper {self.upper!r}")


def _names_disagree(function: Callable[..., Any], wanted: tuple[str, ...]) -> str:
    """Return the arguments that a function takes after `x` when they are not those wanted, else nothing.

    A function of `*arguments` names none, so it cannot disagree.
    """
    try:
        taken = list(inspect.signature(function).parameters.values())
    except (TypeError, ValueError):
        return "no arguments that can be read"
    if any(argument.kind is argument.VAR_POSITIONAL for argument in taken):
        return ""
    names = tuple(argument.name for argument in taken[1:])
    return "" if names == wanted else ", ".join(names) or "nothing"


@dataclass(frozen=True, kw_only=True)
class Law:
    """A declared function y(x; parameters).

    Attributes
    ----------
    name
        In snake_case.
    parameters
        In the order in which `value` and `jacobian` take them after `x`; the argument names are the parameter names.
    value
        `value(x, a, …) -> (N,)`, pure, for float and complex arrays; `x` has N rows.
    jacobian
        `jacobian(x, a, …) -> (N, p)`, the derivatives by the parameters in their order.
    guess
        `guess(x, y) -> {name: start}` from data, or None; without one a fit needs a start.
    linear
        Names of the parameters in which the law is linear.
    basis
        `basis(x, non-linear …) -> (N, q)`: the columns that the linear parameters multiply, `value = basis @ linear`; takes the
        non-linear parameters by name, in their order. Needed when `linear` is not empty.
    broadcasts
        True when the functions also take parameters of shape (…, 1) and then return (…, N), (…, N, p) and (…, N, q), so that many
        trial values, or many curves, are evaluated at once.
    formula, source
        LaTeX, and where the law was published.

    Raises
    ------
    DeclarationError
        When the declaration and its functions disagree.
    """

    name: str
    parameters: tuple[Parameter, ...]
    value: Callable[..., Array]
    jacobian: Callable[..., Array]
    guess: Callable[[Array, Array], dict[str, float]] | None = None
    linear: tuple[str, ...] = ()
    basis: Callable[..., Array] | None = None
    broadcasts: bool = False
    formula: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "parameters", tuple(self.parameters))
        object.__setattr__(self, "linear", tuple(self.linear))
        if not self.parameters:
            raise DeclarationError(f"law {self.name!r} has no parameters")
        if len(set(self.names)) != len(self.names):
            raise DeclarationError(f"law {self.name!r} names a parameter twice")
        for what in ("value", "jacobian"):
            taken = _names_disagree(getattr(self, what), self.names)
            if taken:
                raise DeclarationError(f"law {self.name!r}: {what} takes {taken}; the parameters are {', '.join(self.names)}")
        self._check_basis()

    def _check_basis(self) -> None:
        unknown = [name for name in self.linear if name not in self.names]
        if unknown:
            raise DeclarationError(f"law {self.name!r}: the linear parameter {unknown[0]!r} is not a parameter")
        if len(set(self.linear)) != len(self.linear):
            raise DeclarationError(f"law {self.name!r} names a linear parameter twice")
        if bool(self.linear) != (self.basis is not None):
            raise DeclarationError(f"law {self.name!r} needs both linear parameters and a basis, or neither")
        if self.basis is not None:
            taken = _names_disagree(self.basis, self.nonlinear)
            if taken:
                raise DeclarationError(f"law {self.name!r}: basis takes {taken}; the non-linear parameters are {', '.join(self.nonlinear)}")

    @property
    def names(self) -> tuple[str, ...]:
        """Parameter names in their order."""
        return tuple(parameter.name for parameter in self.parameters)

    @property
    def nonlinear(self) -> tuple[str, ...]:
        """Names of the parameters in which the law is not linear, in their order."""
        return tuple(name for name in self.names if name not in self.linear)

    def parameter(self, name: str) -> Parameter:
        """Return one parameter.

        Raises
        ------
        DeclarationError
            When the law has none of that name; the message lists them.
        """
        for candidate in self.parameters:
            if candidate.name == name:
                return candidate
        raise DeclarationError(f"law {self.name!r} has no parameter {printable(name)!r}; it has {', '.join(self.names)}")

    def complex_step_jacobian(self, x: Array, *values: float) -> Array:
        """Return the derivatives by the complex-step method, exact to rounding; shape (N, p).

        References
        ----------
        Squire & Trapp, SIAM Review 40 (1998) 110, doi:10.1137/S003614459631241X.
        """
        tiny = 1e-200
        columns = []
        for index in range(len(values)):
            moved = [complex(value) for value in values]
            moved[index] += 1j * tiny
            columns.append(np.imag(self.value(np.asarray(x), *moved)) / tiny)
        return np.column_stack(columns)

    def table(self) -> Table:
        """Return the parameters as a table."""
        rows = tuple((p.name, p.symbol, p.unit, f"{number(p.lower)} to {number(p.upper)}", p.meaning) for p in self.parameters)
        notes = tuple(note for note in (self.formula, self.source) if note)
        return Table(title=self.name, columns=("parameter", "symbol", "unit", "bounds", "meaning"), rows=rows, notes=notes)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()
