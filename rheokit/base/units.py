"""Units of the trade with exact conversions to SI, and the many ways in which people spell them.

A unit is a product of powers of named atoms (`mPa·s`, `dyn/cm²`, `N.m`, `s^-1`). Every factor is an exact `fractions.Fraction`,
times a power of π for angles; a conversion multiplies by its numerator and divides by its denominator, so that decimal prefixes
cost one rounding of the float and nothing more.

Sources of the defined factors: BIPM, The International System of Units, 9th ed. (2019), tables 4 and 8 (prefixes, min, h, d, °, bar,
dyn, erg, poise); standard gravity 9.80665 m/s² (3rd CGPM, 1901) for gf and kgf; the international pound 0.45359237 kg and
inch 25.4 mm (1959 agreement) for lbf and psi.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from types import MappingProxyType
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from rheokit.base.errors import UnitError, printable

__all__ = ["DIMENSIONLESS", "OTHER_SPELLINGS", "PREFIXES", "Dimension", "Unit", "parse_unit"]

Number = TypeVar("Number", float, NDArray[np.float64])


class Dimension(NamedTuple):
    """Exponents of the base quantities; the plane angle is kept apart so that rad/s and 1/s are not confused."""

    mass: Fraction = Fraction(0)
    length: Fraction = Fraction(0)
    time: Fraction = Fraction(0)
    temperature: Fraction = Fraction(0)
    angle: Fraction = Fraction(0)
    amount: Fraction = Fraction(0)

    def times(self, other: Dimension, power: Fraction) -> Dimension:
        """Return the dimension of `self · otherᵖᵒʷᵉʳ`."""
        return Dimension(*(mine + theirs * power for mine, theirs in zip(self, other, strict=True)))


DIMENSIONLESS = Dimension()


def _dimension(**powers: int) -> Dimension:
    return Dimension(**{name: Fraction(power) for name, power in powers.items()})


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One unit: `SI value = (number + offset) · factor · π^pi_power`; converts floats and arrays alike."""

    symbol: str
    dimension: Dimension
    factor: Fraction
    pi_power: Fraction = Fraction(0)
    offset: Fraction = Fraction(0)

    def to_si(self, number: Number) -> Number:
        """Return a number in this unit as its SI value (temperatures in K, angles in rad)."""
        if self.offset == 0 and self.pi_power == 0:
            return number * self.factor.numerator / self.factor.denominator
        return (number + float(self.offset)) * self._scale

    def from_si(self, value: Number) -> Number:
        """Return an SI value as a number in this unit."""
        if self.offset == 0 and self.pi_power == 0:
            return value * self.factor.denominator / self.factor.numerator
        return value / self._scale - float(self.offset)

    def scale_to_si(self, difference: float) -> float:
        """Return a difference, tolerance or standard error in this unit in SI: without the offset of °C and °F."""
        return difference * self._scale

    @property
    def _scale(self) -> float:
        return float(self.factor) * math.pow(math.pi, self.pi_power)


_PASCAL = _dimension(mass=1, length=-1, time=-2)
_NEWTON = _dimension(mass=1, length=1, time=-2)
_JOULE = _dimension(mass=1, length=2, time=-2)
_KELVIN = _dimension(temperature=1)
_G = Fraction("9.80665")
_POUND = Fraction("0.45359237")
_DECIMAL = {"G": 9, "M": 6, "k": 3, "h": 2, "d": -1, "c": -2, "m": -3, "μ": -6, "u": -6, "n": -9}

# symbol: (dimension, factor, power of π, offset, prefixes that the trade puts before it)
_ATOMS: dict[str, tuple[Dimension, Fraction, int, Fraction, str]] = {
    "Pa": (_PASCAL, Fraction(1), 0, Fraction(0), "GMkhdmμu"),
    "bar": (_PASCAL, Fraction(100_000), 0, Fraction(0), "mμu"),
    "psi": (_PASCAL, _POUND * _G / Fraction("0.0254") ** 2, 0, Fraction(0), ""),
    "P": (_dimension(mass=1, length=-1, time=-1), Fraction(1, 10), 0, Fraction(0), "cm"),
    "s": (_dimension(time=1), Fraction(1), 0, Fraction(0), "mμu"),
    "min": (_dimension(time=1), Fraction(60), 0, Fraction(0), ""),
    "h": (_dimension(time=1), Fraction(3600), 0, Fraction(0), ""),
    "d": (_dimension(time=1), Fraction(86_400), 0, Fraction(0), ""),
    "year": (_dimension(time=1), Fraction(31_557_600), 0, Fraction(0), ""),  # Julian year, IAU
    "Hz": (_dimension(time=-1), Fraction(1), 0, Fraction(0), ""),
    "rad": (_dimension(angle=1), Fraction(1), 0, Fraction(0), "mμu"),
    "°": (_dimension(angle=1), Fraction(1, 180), 1, Fraction(0), ""),
    "rev": (_dimension(angle=1), Fraction(2), 1, Fraction(0), ""),
    "rpm": (_dimension(angle=1, time=-1), Fraction(1, 30), 1, Fraction(0), ""),
    "N": (_NEWTON, Fraction(1), 0, Fraction(0), "kmμun"),
    "dyn": (_NEWTON, Fraction(1, 100_000), 0, Fraction(0), ""),
    "lbf": (_NEWTON, _POUND * _G, 0, Fraction(0), ""),
    "gf": (_NEWTON, _G / 1000, 0, Fraction(0), "k"),
    "J": (_JOULE, Fraction(1), 0, Fraction(0), "kmM"),
    "W": (_JOULE.times(_dimension(time=1), Fraction(-1)), Fraction(1), 0, Fraction(0), "kmμu"),
    "mol": (_dimension(amount=1), Fraction(1), 0, Fraction(0), ""),
    "m": (_dimension(length=1), Fraction(1), 0, Fraction(0), "kcdmμun"),
    "in": (_dimension(length=1), Fraction("0.0254"), 0, Fraction(0), ""),
    "L": (_dimension(length=3), Fraction(1, 1000), 0, Fraction(0), "mμu"),
    "g": (_dimension(mass=1), Fraction(1, 1000), 0, Fraction(0), "kmμu"),
    "K": (_dimension(temperature=1), Fraction(1), 0, Fraction(0), ""),
    "°C": (_dimension(temperature=1), Fraction(1), 0, Fraction("273.15"), ""),
    "°F": (_dimension(temperature=1), Fraction(5, 9), 0, Fraction("459.67"), ""),
    "%": (DIMENSIONLESS, Fraction(1, 100), 0, Fraction(0), ""),
    "1": (DIMENSIONLESS, Fraction(1), 0, Fraction(0), ""),
}
OTHER_SPELLINGS: Mapping[str, str] = MappingProxyType({
    "sec": "s", "secs": "s", "second": "s", "seconds": "s", "Sek": "s", "Sekunden": "s",
    "mins": "min", "minute": "min", "minutes": "min", "Min": "min", "hr": "h", "hour": "h", "hours": "h", "day": "d", "days": "d",
    "years": "year", "a": "year", "RPM": "rpm", "Rpm": "rpm", "U": "rev", "r": "rev", "Umdr": "rev",
    "deg": "°", "degC": "°C", "°c": "°C", "C": "°C", "celsius": "°C", "Celsius": "°C", "degF": "°F", "F": "°F", "kelvin": "K",
    "dyne": "dyn", "dynes": "dyn", "poise": "P", "Poise": "P", "centipoise": "cP", "cps": "cP", "cPs": "cP", "cp": "cP",
    "l": "L", "ml": "mL", "cc": "cm3",
    "pct": "%", "percent": "%", "Prozent": "%", "-": "1", "–": "1", "—": "1", "dimensionless": "1",
})  # fmt: skip
"""Spelling to symbol."""

PREFIXES: Mapping[str, str] = MappingProxyType({symbol: entry[-1] for symbol, entry in _ATOMS.items()})
"""Symbol of each unit to the decimal prefixes taken before it."""


def _all_atoms() -> dict[str, Unit]:
    units: dict[str, Unit] = {}
    for symbol, (dimension, factor, pi_power, offset, prefixes) in _ATOMS.items():
        for prefix in ("", *prefixes):
            power = Fraction(10) ** _DECIMAL[prefix] if prefix else Fraction(1)
            name = prefix + symbol
            if name in units:
                raise AssertionError(f"two units are spelled {name!r}")
            units[name] = Unit(symbol=name, dimension=dimension, factor=factor * power, pi_power=Fraction(pi_power), offset=offset)
    return units


_UNITS = _all_atoms()
_PRODUCT = re.compile(r"[·⋅∙•×*.\s]+")
_POWER = re.compile(r"^(?P<atom>.*?[^\d^+\-])(?:\^|\*\*)?\(?(?P<power>[+-]?\d{1,2})?\)?$")
# Text comes from files of any origin: longer or larger than any unit of the trade is not looked into.
_LONGEST = 60
_LARGEST = 10**100


def _tidy(text: str) -> str:
    """Fold the ways of writing one sign into one: micro signs, superscripts, minus signs, degree signs."""
    # Superscript digits and the two micro signs fold under NFKC; the superscript minus folds to U+2212.
    tidy = unicodedata.normalize("NFKC", text).strip().replace("\N{MINUS SIGN}", "-").replace("**", "^")
    for spelling, plain in (("deg. ", "deg"), ("deg C", "degC"), ("deg F", "degF"), ("° C", "°C"), ("° F", "°F")):
        tidy = tidy.replace(spelling, plain)
    return tidy


def _atom(name: str) -> tuple[tuple[Unit, int], ...] | None:
    """Find one name, or two written together without a sign between them (`mPas`, `Nm`).

    Only stress·time and force·length are written so, and only where one reading exists.
    """
    name = OTHER_SPELLINGS.get(name, name)
    if name in _UNITS:
        return ((_UNITS[name], 1),)
    if name in {"10", "100", "1000"}:  # as in mg/100 m
        return ((Unit(symbol=name, dimension=DIMENSIONLESS, factor=Fraction(name)), 1),)
    if name == "cm3":
        return ((_UNITS["cm"], 3),)
    pairs = [
        (_UNITS[name[:cut]], _UNITS[name[cut:]])
        for cut in range(1, len(name))
        if name[:cut] in _UNITS and name[cut:] in _UNITS and _may_touch(name[:cut], name[cut:])
    ]
    return ((pairs[0][0], 1), (pairs[0][1], 1)) if len(pairs) == 1 else None


def _may_touch(first: str, second: str) -> bool:
    if _UNITS[first].dimension == _PASCAL:
        return second == "s"
    return _UNITS[first].dimension == _NEWTON and second in {"m", "cm", "mm"}  # µNµm is a misprint of µN·m


def _factors(part: str, text: str) -> list[tuple[Unit, int]]:
    """Split a product such as `Pa·s^2` into atoms and their powers."""
    found: list[tuple[Unit, int]] = []
    for word in filter(None, _PRODUCT.split(part.strip())):
        whole = _atom(word)
        matched = _POWER.match(word)
        power = 1
        if whole is None and matched and matched["power"]:
            whole, power = _atom(matched["atom"]), int(matched["power"])
        if whole is None:
            raise UnitError(f"unknown unit {printable(text)!r} (the part {printable(word)!r} is not known){_hint(word)}")
        found += [(unit, exponent * power) for unit, exponent in whole]
    return found


def _hint(word: str) -> str:
    same = sorted(name for name in _UNITS if name.lower() == word.lower() and "μ" not in name)
    return f"; did you mean {' or '.join(same)}?" if same else ""


def parse_unit(text: str) -> Unit:
    """Return the unit that a text names.

    Both micro signs, superscripts, `^` and `**`, `·` `*` `.` or a space between factors, one `/` or several, and the usual other
    spellings (`sec`, `RPM`, `degC`, `cps`) are understood. All factors after a `/`, up to the next one, stand below it
    (`mg/100 m`, `J/mol·K`). Nothing is guessed: capital and small letters differ (`mPa`, `MPa`).

    Raises
    ------
    UnitError
        When the text is empty or a part of it is not known, or °C or °F stands in a product that is a temperature again.
    """
    tidy = _tidy(text)
    if not tidy:
        raise UnitError("no unit is given; write one, for example 'Pa' or '1/s' ('1' for a plain number)")
    if len(tidy) > _LONGEST:
        raise UnitError(f"unknown unit {printable(text, _LONGEST)!r}")
    tidy = OTHER_SPELLINGS.get(tidy, tidy)
    if tidy in _UNITS:
        return _UNITS[tidy]
    numerator, *denominators = re.sub(r"(?<=/)\(([^()]*)\)", r"\1", tidy).split("/")
    signed = [(unit, power) for unit, power in _factors(numerator or "1", text)]
    for part in denominators:
        factors = _factors(part, text)
        if not factors:
            raise UnitError(f"unknown unit {printable(text)!r}: nothing stands after '/'")
        signed += [(unit, -power) for unit, power in factors]
    if not signed:
        raise UnitError(f"unknown unit {printable(text)!r}")
    unit = _product(tidy, signed)
    if max(unit.factor.numerator, unit.factor.denominator) > _LARGEST:
        raise UnitError(f"unknown unit {printable(text)!r}: its factor is beyond any use")
    return unit


def _product(symbol: str, signed: list[tuple[Unit, int]]) -> Unit:
    if len(signed) == 1 and signed[0][1] == 1:
        return replace(signed[0][0], symbol=symbol)
    dimension, factor, pi_power = DIMENSIONLESS, Fraction(1), Fraction(0)
    for unit, power in signed:
        dimension = dimension.times(unit.dimension, Fraction(power))
        factor *= unit.factor**power
        pi_power += unit.pi_power * power
    if dimension == _KELVIN and any(unit.offset for unit, _ in signed):
        # 23 °C is 296.15 K, a difference of 23 °C is 23 K; a product does not say which is meant.
        raise UnitError(f"unknown unit {printable(symbol)!r}; write a temperature in '°C', '°F' or 'K' alone")
    return Unit(symbol=symbol, dimension=dimension, factor=factor, pi_power=pi_power)
