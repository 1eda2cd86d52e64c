"""The nomenclature page, made from the lists themselves: `python -m rheokit.base.nomenclature > docs/nomenclature.md`."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from io import TextIOWrapper

from rheokit.base.quantities import QUANTITIES
from rheokit.base.units import OTHER_SPELLINGS, PREFIXES, Unit, parse_unit

__all__ = ["page"]

_OPENING = """\
# Nomenclature

One name per quantity, in code, columns, specifications and records. Inside, every number is in the SI unit; a person sees the
displayed one. `python -m rheokit.base.nomenclature` makes this page.

## Quantities

"""
_UNITS = """
## Units

A unit is a product of powers of those below, with exact factors. One unit may be written in many ways: `Pa·s`, `Pa.s`, `Pa*s`, `Pa s`
or `Pas`; `1/s`, `s⁻¹`, `s^-1` or `s-1`; `µ` (either micro sign) or `u`. Capital and small letters differ: `mPa` is not `MPa`.
`t` is a reading in °C or °F.

"""
_COHERENT = ("1", "Pa", "Pa·s", "s", "1/s", "rad", "rad/s", "N", "J", "W", "mol", "m", "m³", "kg", "K")


def page() -> str:
    """Return the page as Markdown."""
    quantities = (
        (f"`{entry.name}`", entry.symbol, _plain(entry.unit), _plain(entry.display_unit), entry.meaning) for entry in QUANTITIES.values()
    )
    units = ((f"`{symbol}`", _prefixes(symbol), _in_si(parse_unit(symbol)), _spellings(symbol)) for symbol in PREFIXES)
    return (
        _OPENING
        + _table(("name", "symbol", "SI unit", "displayed", "meaning"), quantities)
        + _UNITS
        + _table(("unit", "prefixes", "in SI", "also written"), units)
    )


def _table(heads: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = [heads, tuple("---" for _ in heads), *rows]
    return "".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |\n" for line in lines)


def _plain(unit: str) -> str:
    return "–" if unit == "1" else unit


def _prefixes(symbol: str) -> str:
    return " ".join(PREFIXES[symbol].replace("\N{GREEK SMALL LETTER MU}", "\N{MICRO SIGN}"))


def _in_si(unit: Unit) -> str:
    """Return what one of the unit is, exactly; for a scale with an offset, what a reading `t` is."""
    base = next(_plain(symbol) for symbol in _COHERENT if parse_unit(symbol).dimension == unit.dimension)
    unit_named = "" if base == "–" else f" {base}"
    if unit.offset:
        factor = "" if unit.factor == 1 else f" × {_exact(unit.factor)}"
        return f"(t + {_exact(unit.offset)}){factor}{unit_named}"
    if unit.pi_power:
        over = "" if unit.factor.denominator == 1 else f"/{unit.factor.denominator}"
        return f"{'' if unit.factor.numerator == 1 else unit.factor.numerator}π{over}{unit_named}"
    return base if base == "1/s" and unit.factor == 1 else f"{_exact(unit.factor)}{unit_named}"


def _exact(factor: Fraction) -> str:
    """Return a factor as a decimal where that ends, else as a fraction."""
    decimal = Decimal(factor.numerator) / Decimal(factor.denominator)
    return f"{decimal:f}" if Fraction(decimal) == factor else f"{factor.numerator}/{factor.denominator}"


def _spellings(symbol: str) -> str:
    names = ("", *PREFIXES[symbol])
    own = {f"{prefix}{symbol}{power}" for prefix in names for power in ("", "3")}
    return ", ".join(
        f"`{spelling}`" + ("" if target == symbol else f" (`{target}`)") for spelling, target in OTHER_SPELLINGS.items() if target in own
    )


if __name__ == "__main__":
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8", newline="\n")  # the same bytes on every console
    sys.stdout.write(page())
