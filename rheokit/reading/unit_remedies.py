"""Say what may be meant by a unit that is not known: nothing is decided by it."""

from __future__ import annotations

from difflib import get_close_matches

from rheokit.base.errors import UnitError, printable
from rheokit.base.quantities import quantity, unit_of

__all__ = ["unit_remedy"]

_SPELT = (
    "s min h 1/s s⁻¹ s^-1 1/min Pa mPa kPa hPa MPa Pa·s mPa·s Pa.s mPa.s Pas mPas cP P rpm rad/s °C °F K N·m mN·m µN·m nN·m Nm mNm µNm N "
    "mN % 1 Hz 1/Pa"
)
_COMMON = tuple(_SPELT.split())
_CLOSE = 0.6
"""Similarity from which a known unit is named: half the signs of a short word and more (0.8 for `Pax` and `Pa`)."""


def unit_remedy(stated: str, name: str, seen: str) -> str:
    """Return what would do where a unit is not known, or nothing where the message says it already.

    Parameters
    ----------
    stated
        The unit as it is written.
    name
        The quantity it stands at.
    seen
        The message about it.
    """
    if "unknown unit" not in seen:
        return ""
    what = name.replace("_", " ")
    repaired = _repaired(stated)
    if repaired is not None and _is_unit(repaired, name):
        return f"its signs were garbled by a wrong encoding: write {printable(repaired)!r}, or save the export as UTF-8 again"
    if "did you mean" in seen:
        return "correct the heading, or name the unit in a layout file"
    close = get_close_matches(stated.strip()[:30], [one for one in _COMMON if _is_unit(one, name)], n=3, cutoff=_CLOSE)
    such = " or ".join(map(repr, close or [quantity(name).display_unit]))
    return f"write a unit of {what} such as {such}, or name it in a layout file"


def _repaired(text: str) -> str | None:
    """Return a text that was UTF-8 and read as cp1252, as it was, or None."""
    try:
        repaired = text.encode("cp1252").decode("utf-8")
    except UnicodeError:
        return None
    return repaired if repaired != text else None


def _is_unit(text: str, name: str) -> bool:
    try:
        unit_of(text, name)
    except UnitError:
        return False
    return True
