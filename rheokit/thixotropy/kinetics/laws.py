"""Structure laws: how an inner structure breaks and rebuilds, and what stress goes with it; each is declared once, below.

The structure parameter L runs from 0 (fully broken) to 1 (fully built)::

    dL/dt  = a (1 - L) - b rate^m L
    stress = (tau_0 + tau_1 L) (1 - exp(-strain/strain_e)) + (K + dK L) rate^n + eta_inf rate

The strain counts from the last rest, in which the stress is released: with `strain_e` a start-up passes through an overshoot. Every law
is this one with some parameters held, so that laws nest and one simulator serves them all. Given L and n the stress is linear in five
parameters. The law fails where one structure is not enough: several kinds of bonds with times of their own, fracture, wall slip.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.errors import DeclarationError, FitError, printable
from rheokit.base.show import Table, number
from rheokit.law import Array, Parameter

__all__ = [
    "GENERAL", "GENERAL_STARTUP", "HOUSKA", "LINEAR", "MOORE", "NONLINEAR", "PARAMETERS", "STRUCTURE_LAWS",
    "StructureLaw", "basis", "equilibrium_structure", "stress", "structure_law", "taken_up",
]  # fmt: skip

PARAMETERS = (
    Parameter("build_up_rate", symbol="a", unit="1/s", lower=0.0, upper=math.inf, meaning="rate at which lost structure comes back"),
    Parameter(
        "breakdown_coefficient",
        symbol="b",
        unit="s^(m-1)",
        lower=0.0,
        upper=math.inf,
        meaning="rate of breakdown at 1 1/s; compare at equal m only",
    ),
    Parameter("breakdown_exponent", symbol="m", lower=0.05, upper=3.0, meaning="how breakdown grows with the shear rate"),
    Parameter("flow_index", symbol="n", lower=0.05, upper=2.0, meaning="1 is Bingham, below 1 thins"),
    Parameter(
        "elastic_strain", symbol=r"\gamma_e", lower=0.0, upper=100.0, meaning="strain over which the yield stress builds up after a rest"
    ),
    Parameter("broken_yield_stress", symbol=r"\tau_0", unit="Pa", lower=0.0, upper=math.inf, meaning="yield stress without structure"),
    Parameter("structure_yield_stress", symbol=r"\tau_1", unit="Pa", lower=0.0, upper=math.inf, meaning="what a full structure adds to it"),
    Parameter("broken_consistency", symbol="K", unit="Pa·s^n", lower=0.0, upper=math.inf, meaning="consistency without structure"),
    Parameter("structure_consistency", symbol=r"\Delta K", unit="Pa·s^n", lower=0.0, upper=math.inf, meaning="what a full structure adds"),
    Parameter("infinite_shear_viscosity", symbol=r"\eta_\infty", unit="Pa·s", lower=0.0, upper=math.inf, meaning="limit at high rate"),
)
"""All parameters, the non-linear ones first."""

NONLINEAR = tuple(parameter.name for parameter in PARAMETERS[:5])
LINEAR = tuple(parameter.name for parameter in PARAMETERS[5:])
_NAMES = NONLINEAR + LINEAR


def equilibrium_structure(shear_rate: Array, build_up_rate: Array, breakdown_rate: Array, breakdown_exponent: Array) -> Array:
    """Return the structure parameter after shearing for ever at a rate [1/s]; all arguments broadcast.

    An ink that neither breaks nor builds has none: NaN.
    """
    breakdown = breakdown_rate * np.asarray(shear_rate) ** breakdown_exponent
    with np.errstate(invalid="ignore"):
        return np.asarray(build_up_rate / (build_up_rate + breakdown))


def taken_up(strain: Array, elastic_strain: Array | float) -> Array:
    """Return the share of the yield stress that the strain since the last rest has taken up; `strain` is inf where there was none."""
    strain = np.asarray(strain)
    if not np.any(elastic_strain):
        return np.ones_like(strain * elastic_strain) if np.isfinite(strain).all() else np.ones(np.broadcast(strain, elastic_strain).shape)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(-np.expm1(-strain / np.asarray(elastic_strain)))


def basis(shear_rate: Array, structure: Array, share: Array, flow_index: Array | float) -> Array:
    """Return what the five linear parameters multiply, (…, N, 5), in the order of `LINEAR`; `share` is what `taken_up` returns."""
    power = np.asarray(shear_rate) ** flow_index
    parts = np.broadcast_arrays(share, share * structure, power, power * structure, np.asarray(shear_rate) + 0.0 * structure)
    return np.stack(parts, axis=-1)


def stress(shear_rate: Array, structure: Array, parameters: Mapping[str, float], strain: Array = np.inf) -> Array:  # type: ignore[assignment]  # a number serves
    """Return the shear stress [Pa], (N,), of an ink that flows at a rate [1/s] with a structure, a strain after its last rest."""
    share = taken_up(np.asarray(strain), parameters.get("elastic_strain", 0.0))
    columns = basis(shear_rate, structure, share, parameters["flow_index"])
    return np.asarray(columns @ np.array([parameters[name] for name in LINEAR]))


@dataclass(frozen=True, kw_only=True)
class StructureLaw(Carried):
    """A structure law: its name, the parameters of the general law that it holds, formula and source.

    Raises
    ------
    DeclarationError
        When it holds a parameter that the general law does not have, or at a value outside its bounds.
    """

    name: str
    held: Mapping[str, float] = field(default_factory=dict)
    formula: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "held", MappingProxyType(dict(self.held)))
        for name, value in self.held.items():
            known = next((one for one in PARAMETERS if one.name == name), None)
            if known is None:
                raise DeclarationError(f"structure law {self.name!r} holds {printable(name)!r}, which is no parameter: {', '.join(_NAMES)}")
            if not known.lower <= value <= known.upper:
                raise DeclarationError(f"structure law {self.name!r} holds {name} at {value!r}, outside its bounds")

    @property
    def parameters(self) -> tuple[Parameter, ...]:
        """The parameters that are its own, in the order of the general law."""
        return tuple(parameter for parameter in PARAMETERS if parameter.name not in self.held)

    @property
    def names(self) -> tuple[str, ...]:
        """Their names."""
        return tuple(parameter.name for parameter in self.parameters)

    def complete(self, parameters: Mapping[str, float]) -> dict[str, float]:
        """Return values of all ten parameters of the general law: those given and those held.

        Raises
        ------
        FitError
            When one is missing, unknown or outside its bounds.
        """
        unknown = [name for name in parameters if name not in self.names]
        missing = [name for name in self.names if name not in parameters]
        if unknown or missing:
            said = f"has no parameter {printable(unknown[0])!r}" if unknown else f"needs {', '.join(missing)}"
            raise FitError(f"structure law {self.name} {said}; its parameters are {', '.join(self.names)}")
        whole = {name: float(parameters.get(name, self.held.get(name, math.nan))) for name in _NAMES}
        for parameter in self.parameters:
            value = whole[parameter.name]
            if not parameter.lower <= value <= parameter.upper or not math.isfinite(value):
                raise FitError(
                    f"{parameter.name} is {value!r}; it must be a number from {number(parameter.lower)} to {number(parameter.upper)}"
                )
        return whole

    def table(self) -> Table:
        """Return the parameters as a table."""
        rows = tuple((p.name, p.symbol, p.unit, f"{number(p.lower)} to {number(p.upper)}", p.meaning) for p in self.parameters)
        held = tuple(f"{name.replace('_', ' ')} held at {number(value)}" for name, value in self.held.items())
        notes = tuple(note for note in (self.formula, *held, self.source) if note)
        return Table(title=self.name, columns=("parameter", "symbol", "unit", "bounds", "meaning"), rows=rows, notes=notes)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


_KINETICS = r"\dot\Lambda = a (1-\Lambda) - b \dot\gamma^m \Lambda"

MOORE = StructureLaw(
    name="moore",
    held={
        "breakdown_exponent": 1.0, "flow_index": 1.0, "elastic_strain": 0.0,
        "broken_yield_stress": 0.0, "structure_yield_stress": 0.0, "broken_consistency": 0.0,
    },
    formula=r"\tau = (\eta_\infty + \Delta K \Lambda) \dot\gamma, \quad \dot\Lambda = a (1-\Lambda) - b \dot\gamma \Lambda",
    source="Moore, Trans. Br. Ceram. Soc. 58 (1959) 470 (from memory)",
)  # fmt: skip

HOUSKA = StructureLaw(
    name="houska",
    held={"infinite_shear_viscosity": 0.0, "elastic_strain": 0.0},
    formula=r"\tau = \tau_0 + \tau_1 \Lambda + (K + \Delta K \Lambda) \dot\gamma^n, \quad " + _KINETICS,
    source="Houska, thesis, Czech Technical University, Prague (1981) (from memory)",
)

GENERAL = StructureLaw(
    name="general",
    held={"elastic_strain": 0.0},
    formula=r"\tau = \tau_0 + \tau_1 \Lambda + (K + \Delta K \Lambda) \dot\gamma^n + \eta_\infty \dot\gamma, \quad " + _KINETICS,
    source="sum of the laws of Houska and Moore (common practice, no source)",
)

GENERAL_STARTUP = StructureLaw(
    name="general_startup",
    formula=r"\tau = (\tau_0 + \tau_1 \Lambda)(1 - e^{-\gamma/\gamma_e}) + (K + \Delta K \Lambda) \dot\gamma^n"
    + r" + \eta_\infty \dot\gamma, \quad "
    + _KINETICS,
    source="the general law with a yield stress that builds up over a strain after a rest (common practice, no source)",
)

STRUCTURE_LAWS: Mapping[str, StructureLaw] = MappingProxyType({law.name: law for law in (MOORE, HOUSKA, GENERAL, GENERAL_STARTUP)})
"""Every structure law by its name."""


def structure_law(law: str | StructureLaw) -> StructureLaw:
    """Return a structure law by its name, or the law given.

    Raises
    ------
    FitError
        When none has that name; the message lists them.
    """
    found = law if isinstance(law, StructureLaw) else STRUCTURE_LAWS.get(law)
    if found is None:
        raise FitError(
            f"unknown structure law {printable(law)!r}; the laws are {', '.join(STRUCTURE_LAWS)}; any StructureLaw serves as well"
        )
    return found
