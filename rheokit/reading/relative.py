"""Readings that are relative: spindles, dials and parts of full scale have no defined shear rate, and none is invented."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rheokit.reading.words import fold

__all__ = ["is_relative", "spindle_named"]

_WRITTEN = (
    "spindle, spindle no, spindle number, spindle type, spindle code, spindel, spindel nr, spindelnummer, dial, dial reading, "
    "scale reading, reading, % torque, torque %, torque percent, percent torque, % full scale, full scale, % scale, % of full scale, "
    "skalenteile, skalenwert, drehmoment %, % drehmoment, anzeigewert"
)
_WORDS = frozenset(fold(word) for word in _WRITTEN.split(","))
_PERCENT = frozenset({"%", "percent", "pct", "prozent", "% full scale", "% of full scale", "%fs", "% fs"})

_OF_THE_DRIVE = frozenset({"speed", "drehzahl", "geschwindigkeit", "drehrichtung", "direction", "rpm"})
"""Words beside `spindle` that speak of the shaft and its drive, which any geometry is turned by."""


def is_relative(name: str, quantity: str | None, unit: str | None) -> bool:
    """Tell whether a column is a relative reading: by its name, or as a torque in parts of full scale."""
    if quantity is None:
        return fold(name.replace("[", " ").replace("]", " ").replace("(", " ").replace(")", " ")) in _WORDS
    return quantity == "torque" and (unit or "").strip().casefold() in _PERCENT


def spindle_named(metadata: Mapping[str, str]) -> str | None:
    """Return the entry of a preamble that names a spindle, or None."""
    if "spind" not in "\n".join((*metadata, *metadata.values())).casefold():  # nearly always
        return None
    return next((f"{key} {value}".strip() for key, value in metadata.items() if _speaks_of_spindle((key, value))), None)


def _speaks_of_spindle(texts: Iterable[str]) -> bool:
    words = [fold(text).split(" ") for text in texts if text.strip()]
    return any(one[0] in {"spindle", "spindel"} and not _OF_THE_DRIVE.intersection(one) for one in words)
