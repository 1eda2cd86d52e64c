"""Every quantity of the trade: its name, symbol, SI unit, usual display unit and meaning, listed once.

`docs/nomenclature.md` is made from this list (`python -m rheokit.base.nomenclature`). Inside rheokit every number is in the SI unit
given here; temperatures are kelvin inside and °C wherever a person reads or writes them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from types import MappingProxyType

from rheokit.base.errors import UnitError, printable
from rheokit.base.units import DIMENSIONLESS, Unit, parse_unit

__all__ = ["QUANTITIES", "STANDARD_ATMOSPHERE", "Amount", "Quantity", "parse_amount", "parse_pressure", "quantity", "unit_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One quantity: `unit` is the SI unit used inside, `display_unit` the one a person is shown."""

    name: str
    symbol: str
    latex: str
    unit: str
    display_unit: str
    meaning: str

    @property
    def label(self) -> str:
        """Name, symbol and display unit, as on an axis: `shear rate γ̇ [1/s]`."""
        words = self.name.replace("_", " ")
        shown = "" if self.display_unit == "1" else f" [{self.display_unit}]"
        return f"{words} {self.symbol}{shown}"


def _quantity(name: str, *fields: str) -> Quantity:
    symbol, latex, unit, meaning, *shown = fields
    return Quantity(name=name, symbol=symbol, latex=latex, unit=unit, display_unit=shown[0] if shown else unit, meaning=meaning)


_LIST = (
    # what a rheometer reports
    _quantity("time", "t", "t", "s", "time since the run began"),
    _quantity("step_time", "tₛ", r"t_s", "s", "time since the step began"),
    _quantity("shear_rate", "γ̇", r"\dot\gamma", "1/s", "rate of shear strain (ISO 3219-1)"),
    _quantity("shear_stress", "τ", r"\tau", "Pa", "tangential force per area (ISO 3219-1)"),
    _quantity("viscosity", "η", r"\eta", "Pa·s", "shear stress over shear rate; apparent unless the fluid is Newtonian (ISO 3219-1)"),
    _quantity("shear_strain", "γ", r"\gamma", "1", "displacement over gap", "%"),
    _quantity("temperature", "T", "T", "K", "temperature of the sample", "°C"),
    _quantity("torque", "M", "M", "N·m", "moment on the measuring body", "mN·m"),
    _quantity("angular_velocity", "Ω", r"\Omega", "rad/s", "speed of rotation; 1/min and rpm are turns a minute"),
    _quantity("angular_frequency", "ω", r"\omega", "rad/s", "of an oscillation"),
    _quantity("frequency", "f", "f", "Hz", "cycles a second of an oscillation"),
    _quantity("normal_force", "F_N", "F_N", "N", "axial force on the measuring body"),
    _quantity("storage_modulus", "G′", "G'", "Pa", "elastic part of the complex shear modulus"),
    _quantity("loss_modulus", "G″", "G''", "Pa", "viscous part of the complex shear modulus"),
    _quantity("complex_viscosity", "|η*|", r"|\eta^*|", "Pa·s", "magnitude of the complex modulus over the angular frequency"),
    _quantity("loss_factor", "tan δ", r"\tan\delta", "1", "loss modulus over storage modulus"),
    _quantity("creep_compliance", "J", "J", "1/Pa", "shear strain over a constant stress"),
    # geometry
    _quantity("radius", "R", "R", "m", "of a measuring body, tube or ball", "mm"),
    _quantity("gap", "h", "h", "m", "distance between the walls", "mm"),
    _quantity("cone_angle", "α", r"\alpha", "rad", "between cone and plate", "°"),
    _quantity("length", "L", "L", "m", "of a tube, slot or cylinder", "mm"),
    # the instrument
    _quantity("moment_of_inertia", "I", "I", "kg·m²", "of the drive and the measuring body about their axis", "kg·m²"),
    _quantity("relative_standard_uncertainty", "u_r", "u_r", "1", "standard uncertainty over the magnitude of the value", "%"),
    _quantity("check_oil_ratio", "η/η_c", r"\eta/\eta_c", "1", "reading of a check oil over its certified viscosity at its temperature"),
    _quantity("temperature_coefficient", "k_T", "k_T", "1/K", "relative change of a quantity for each kelvin: d ln X/dT", "%/K"),
    # flow laws
    _quantity("yield_stress", "τ_y", r"\tau_y", "Pa", "stress below which it does not flow; depends on the method, which is always named"),
    _quantity("dynamic_yield_stress", "τ_d", r"\tau_d", "Pa", "stress at which a named law says that flow would cease"),
    _quantity("static_yield_stress", "τ_s", r"\tau_s", "Pa", "stress that starts the flow after a rest; its method is always named"),
    _quantity("static_yield_stress_peak", "τ_s", r"\tau_s", "Pa", "static yield stress: peak of the stress overshoot at start-up"),
    _quantity("static_yield_stress_tangents", "τ_s", r"\tau_s", "Pa", "static yield stress: crossing of two tangents of a stress ramp"),
    _quantity(
        "static_yield_stress_viscosity_maximum", "τ_s", r"\tau_s", "Pa", "static yield stress: viscosity maximum of a stress ramp"
    ),
    _quantity("stress_at_low_rate", "τ_l", r"\tau_l", "Pa", "stress of the flow curve at a stated low rate"),
    _quantity("flow_point_stress", "τ_f", r"\tau_f", "Pa", "stress amplitude at which G′ = G″"),
    _quantity("flow_point_strain", "γ_f", r"\gamma_f", "1", "strain amplitude at which G′ = G″", "%"),
    _quantity("linear_limit_stress", "τ_L", r"\tau_L", "Pa", "stress amplitude at which G′ has lost a stated part of its plateau"),
    _quantity("linear_limit_strain", "γ_L", r"\gamma_L", "1", "strain amplitude at which G′ has lost a stated part of its plateau", "%"),
    _quantity("linear_range_tolerance", "ε_L", r"\varepsilon_L", "1", "part of its plateau that G′ has lost at the linear limit", "%"),
    _quantity("creep_bracket_stress", "τ_c", r"\tau_c", "Pa", "between the highest stress that creeps to a stop and the lowest that flows"),
    _quantity("consistency", "K", "K", "Pa·s^n", "stress above yield at 1 1/s; never compared at different flow index (its unit differs)"),
    _quantity("flow_index", "n", "n", "1", "exponent of the shear rate: 1 is Newtonian or Bingham, below 1 thins"),
    _quantity("plastic_viscosity", "μ_p", r"\mu_p", "Pa·s", "slope of the stress above the Bingham yield stress"),
    _quantity("casson_yield_stress", "τ_C", r"\tau_C", "Pa", "yield stress of the Casson law"),
    _quantity("casson_viscosity", "η_C", r"\eta_C", "Pa·s", "high-rate viscosity of the Casson law"),
    _quantity("zero_shear_viscosity", "η₀", r"\eta_0", "Pa·s", "limit of the viscosity at low rate"),
    _quantity("infinite_shear_viscosity", "η_∞", r"\eta_\infty", "Pa·s", "limit of the viscosity at high rate"),
    _quantity("time_constant", "λ", r"\lambda", "s", "inverse of the rate at which thinning sets in"),
    _quantity("rate_index", "m", "m", "1", "exponent of the Cross law"),
    _quantity("transition_index", "a", "a", "1", "breadth of the Carreau-Yasuda transition"),
    # thixotropy and temperature
    _quantity("loop_area", "A", "A", "Pa/s", "integral of up-leg minus down-leg stress over shear rate (1 Pa/s = 1 W/m³)"),
    _quantity("relative_loop_area", "A_r", "A_r", "1", "loop area over the area under the up leg", "%"),
    _quantity("loop_area_ratio", "A_k/A_1", "A_k/A_1", "1", "loop area of a later cycle over that of the first of one run", "%"),
    _quantity("hold_relative_drop", "d_h", "d_h", "1", "part of the viscosity lost from the first to the last point of a hold", "%"),
    _quantity("weltmann_coefficient", "B", "B", "Pa", "fall of the stress at a held rate for each e-fold of the time since the hold began"),
    _quantity("stress_drop", "Δτ", r"\Delta\tau", "Pa", "fall of the stress at a held rate from its start to its plateau, by the law"),
    _quantity("breakdown_time", "t_b", "t_b", "s", "time constant of an exponential fall of the stress at a held rate"),
    _quantity("structure_parameter", "Λ", r"\Lambda", "1", "0 fully broken, 1 fully built"),
    _quantity("build_up_rate", "a", "a", "1/s", "rate at which lost structure comes back, at rest"),
    _quantity("breakdown_rate", "k_b", "k_b", "1/s", "rate at which structure breaks, at a stated shear rate"),
    _quantity("breakdown_exponent", "m", "m", "1", "exponent of the shear rate in the breakdown rate"),
    _quantity("initial_structure", "Λ_0", r"\Lambda_0", "1", "structure parameter as a load begins"),
    _quantity("broken_yield_stress", "τ_0", r"\tau_0", "Pa", "stress at rate zero of a structure law without structure"),
    _quantity("structure_yield_stress", "τ_1", r"\tau_1", "Pa", "what a full structure adds to the stress at rate zero of its law"),
    _quantity("load_factor", "f", "f", "1", "stress scale of a load over the mean of loads"),
    _quantity("startup_peak_stress", "τ_p", r"\tau_p", "Pa", "highest stress of a start-up, at a stated rate after a stated rest"),
    _quantity("structural_recovery", "r", "r", "1", "rebuilt part of what shear took: (X - X_sheared)/(X_rest - X_sheared)", "%"),
    _quantity("retained_ratio", "q", "q", "1", "X after shear over X at rest, without taking off what shear left", "%"),
    _quantity("immediate_recovery", "r₀", "r_0", "1", "structural recovery as the shear ends: back at once, before any rebuilding", "%"),
    _quantity("unrecovered_part", "1 − r_∞", r"1 - r_\infty", "1", "what the structural recovery still lacks on its plateau", "%"),
    _quantity("recovery_half_time", "t₅₀", "t_{50}", "s", "time after shear until the structural recovery is one half"),
    _quantity("recovery_half_way_time", "t_½", "t_{1/2}", "s", "time after shear until half of the way from start to plateau is done"),
    _quantity("time_to_recovery", "t(r)", "t(r)", "s", "time after shear until the structural recovery is the one stated"),
    _quantity("recovery_time", "t_r", "t_r", "s", "time constant of a recovery law"),
    _quantity("stretching_exponent", "β", r"\beta", "1", "of the stretched exponential: 1 is one recovery time, below 1 a spread of them"),
    _quantity("shear_thinning_index", "STI", r"\mathrm{STI}", "1", "viscosity at the lower over that at the higher rate, both named"),
    _quantity("activation_energy", "E_a", "E_a", "J/mol", "of the viscosity, by the Arrhenius law", "kJ/mol"),
    _quantity("yield_decay", "k_y", "k_y", "1/K", "relative fall of the yield stress for each kelvin, by the exponential decay"),
    # the ink and the pen
    _quantity("density", "ρ", r"\rho", "kg/m³", "mass per volume", "g/cm³"),
    _quantity("solids", "w_s", "w_s", "1", "mass fraction left after drying", "%"),
    _quantity("fineness_of_grind", "d_f", "d_f", "m", "largest particles seen on a grind gauge", "µm"),
    _quantity("laydown", "m_L", "m_L", "kg/m", "ink mass per written length", "mg/m"),
    _quantity("pressure", "p", "p", "Pa", "always said to be gauge or absolute", "kPa"),
    _quantity("mass", "m", "m", "kg", "mass", "g"),
    _quantity("volume", "V", "V", "m³", "volume", "mL"),
    _quantity("volume_expansion", "β", r"\beta_V", "1/K", "relative change of the volume for each kelvin"),
    _quantity("writing_speed", "v", "v", "m/s", "of the ball over the paper"),
    _quantity("altitude", "z", "z", "m", "above sea level"),
    _quantity("eccentricity", "e", "e", "1", "of the seated ball in its socket: 0 in the middle, 1 touching"),
    _quantity("slip_factor", "f_s", "f_s", "1", "share of the yield stress that the walls pass on before the gel slips"),
    _quantity("water_activity", "a_w", "a_w", "1", "water vapour pressure over the ink over that of water alone"),
)  # fmt: skip

QUANTITIES: Mapping[str, Quantity] = MappingProxyType({entry.name: entry for entry in _LIST})
if len(QUANTITIES) != len(_LIST):
    raise AssertionError("a quantity is listed twice")


def quantity(name: str) -> Quantity:
    """Return the quantity of that name.

    Raises
    ------
    UnitError
        When no quantity has that name.
    """
    if name not in QUANTITIES:
        raise UnitError(f"unknown quantity {printable(name)!r}; the names are listed in docs/nomenclature.md")
    return QUANTITIES[name]


_CONSISTENCY = Unit(symbol="Pa·s^n", dimension=DIMENSIONLESS, factor=Fraction(1))


def unit_of(text: str, name: str) -> Unit:
    """Return the unit that a text names, checked to be one of the named quantity.

    Turns and radians: an angular velocity in `1/min` counts turns (the trade's `rpm`); in `1/s` it is refused, since it may be either.
    A consistency takes `Pa·s^n` alone, as its dimension depends on the flow index.

    Raises
    ------
    UnitError
        When the unit is unknown or belongs to another quantity; the message names the SI unit wanted.
    """
    wanted = quantity(name)
    if wanted.unit == _CONSISTENCY.symbol:
        if re.fullmatch(r"Pa\s*[·.*⋅\s]\s*s(\^n|ⁿ)", text.strip()):
            return _CONSISTENCY
        raise UnitError(f"{printable(text)!r} is not a unit of {wanted.name}; write {wanted.unit!r}")
    unit = parse_unit(text)
    base = parse_unit(wanted.unit)
    if unit.dimension == base.dimension:
        return unit
    turns = base.dimension._replace(angle=Fraction(0))
    if base.dimension.angle == 1 and unit.dimension == turns and unit.symbol != "Hz":
        if unit.factor == Fraction(1, 60) and wanted.name == "angular_velocity":
            return replace(parse_unit("rpm"), symbol=unit.symbol)
        raise UnitError(f"{printable(text)!r} does not say whether {wanted.name} counts turns or radians; write 'rad/s' or 'rpm'")
    units = " or ".join(dict.fromkeys((repr(wanted.display_unit), repr(wanted.unit))))
    raise UnitError(f"{printable(text)!r} is not a unit of {wanted.name.replace('_', ' ')}; write one such as {units}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """A number with its unit as somebody wrote it.

    `value` and `tolerance` are SI; `number` keeps the decimal digits written, in `unit`, for rounding by decimal rules.
    """

    value: float
    number: Decimal
    unit: Unit
    text: str
    tolerance: float | None = None


_NUMBER = r"[+\-−]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+\-−]?\d+)?"
_AMOUNT = re.compile(rf"^\s*(?P<number>{_NUMBER})\s*(?P<unit>[^±]*?)\s*(?:±\s*(?P<tolerance>{_NUMBER})\s*(?P<tolerance_unit>.*?)\s*)?$")


def parse_amount(text: str, name: str) -> Amount:
    """Return an amount such as `3.4 Pa·s` or `23.0 °C ± 0.2`, its unit checked against the named quantity.

    A tolerance without a unit is in the unit of the number; `%` is relative to the number, unless the number is itself in `%`.

    Raises
    ------
    UnitError
        When it is not a number with a unit of that quantity, is beyond what a number can hold or below absolute zero, or when its
        tolerance is negative, or relative to a temperature in °C or °F.
    """
    matched = _AMOUNT.match(text)
    if not matched:
        raise UnitError(f"{printable(text)!r} is not a number with a unit; write for example '{_example(name)}'")
    unit = unit_of(matched["unit"] or ("1" if quantity(name).unit == "1" else ""), name)
    number = _decimal(matched["number"], text)
    value = unit.to_si(float(number))
    if name == "temperature" and value < 0.0:
        raise UnitError(f"{printable(text)!r} is below absolute zero")
    spread = _decimal(matched["tolerance"], text) if matched["tolerance"] else None
    tolerance = None if spread is None else _tolerance(float(spread), matched["tolerance_unit"], value, unit, name)
    if not math.isfinite(value) or (tolerance is not None and not 0.0 <= tolerance < math.inf):
        raise UnitError(f"{printable(text)!r} is beyond what a number can hold, or its tolerance is negative")
    return Amount(value=value, number=number, unit=unit, text=text.strip(), tolerance=tolerance)


def _tolerance(spread: float, written: str, value: float, unit: Unit, name: str) -> float:
    if written != "%" or unit.symbol == "%":
        return (unit_of(written, name) if written else unit).scale_to_si(spread)
    if unit.offset:
        raise UnitError(f"a tolerance in % of a temperature in {unit.symbol} says nothing; write it in {unit.symbol}")
    return abs(value) * spread / 100.0


def _example(name: str) -> str:
    shown = quantity(name).display_unit
    return "0.5" if shown == "1" else f"1.5 {shown}"


def _decimal(text: str, whole: str) -> Decimal:
    try:
        return Decimal(text.replace("\N{MINUS SIGN}", "-"))
    except InvalidOperation:
        raise UnitError(f"{printable(whole)!r} does not begin with a number") from None


STANDARD_ATMOSPHERE = 101_325.0
"""Pressure in Pa that turns gauge into absolute where no other is given (10th CGPM, 1954)."""


def parse_pressure(text: str, *, ambient: float = STANDARD_ATMOSPHERE) -> tuple[float, float]:
    """Return a pressure as (gauge, absolute) in Pa; the text must say which it is.

    Parameters
    ----------
    text
        For example `245 kPa gauge`, `2.5 kgf/cm² gauge` or `3.4 bar absolute`.
    ambient
        Pressure of the surroundings [Pa].

    Raises
    ------
    UnitError
        When neither `gauge` nor `absolute` is said, a tolerance is given, or the absolute pressure would be negative.
    """
    words = text.split()
    if not words or words[-1].lower() not in {"gauge", "absolute"}:
        raise UnitError(f"{printable(text)!r} does not say which pressure it is; write 'gauge' or 'absolute' after the unit")
    amount = parse_amount(" ".join(words[:-1]), "pressure")
    if amount.tolerance is not None:
        raise UnitError(f"{printable(text)!r} has a tolerance; give the pressure alone")
    gauge = amount.value if words[-1].lower() == "gauge" else amount.value - ambient
    if gauge + ambient < 0.0:
        raise UnitError(f"{printable(text)!r} is below zero absolute pressure")
    return gauge, gauge + ambient
