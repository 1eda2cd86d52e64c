"""Characteristics that are measured elsewhere and typed in beside the rheometer's."""

from __future__ import annotations

from rheokit.characteristics.characteristic import Characteristic

__all__ = ["ENTERED"]

_MEANINGS = {
    "density": "mass per volume",
    "solids": "mass fraction left after drying",
    "fineness_of_grind": "largest particles seen on a grind gauge",
    "laydown": "ink mass per written length",
}

ENTERED = tuple(Characteristic(name=name, quantity=name, meaning=meaning, needs="entered") for name, meaning in _MEANINGS.items())
