"""Put numbers in rarer spellings (`1.0D+01`, `1.46×10³`) into the usual one, and find marks behind numbers (`3*`) and bounds (`>300`).

A mark leaves its number what it is; a bound is no number. `×103` may be a power that lost its raised digits, and stays what it is.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from rheokit.base.finding import Finding

__all__ = ["NUMBERS_BEGIN", "UsualCells", "about_spellings", "in_usual_spelling", "is_rare_spelling"]

_SPACES = " \u00a0\u2009\u202f"
_MINUS = "\N{MINUS SIGN}\u2013\uff0d"
_SIGN = rf"[+\-{_MINUS}]?"
_POWER_OF_TEN = rf"10(?:(?:\^|\*\*)[{_SPACES}]*\(?(?P<power>{_SIGN}[0-9]{{1,3}})\)?|(?P<raised>[⁺⁻]?[⁰¹²³⁴-⁹]{{1,3}}))"
_RARE = re.compile(
    rf"(?P<bound>[<>≤≥]=?[{_SPACES}]*)?"
    rf"(?:(?P<sign>{_SIGN}){_POWER_OF_TEN}"
    rf"|(?P<mantissa>{_SIGN}[.,]?[0-9](?:[0-9.,'\u2019{_SPACES}]*[0-9.,])?)"
    rf"(?:[{_SPACES}]?[eEdD][{_SPACES}]?(?P<letter>{_SIGN}[0-9]{{1,3}})"
    rf"|[{_SPACES}]*[×xX*·⋅∙][{_SPACES}]*{_POWER_OF_TEN.replace('power', 'power_of').replace('raised', 'raised_of')})?)"
    rf"(?P<mark>[{_SPACES}]?[*†‡!#]{{1,3}})?"
)
NUMBERS_BEGIN = frozenset(f"0123456789.,+-{_MINUS}<>≤≥")
"""First signs of a number; most cells that are looked at are words."""

_PLAIN = str.maketrans("⁺⁻⁰¹²³⁴⁵⁶⁷⁸⁹\N{MINUS SIGN}\u2013\uff0d", "+-0123456789---")


class UsualCells(NamedTuple):
    """The cells of a column in the usual spelling, a bound as an empty cell; the index of each cell with a mark, and of each bound."""

    cells: tuple[str, ...]
    marked: tuple[int, ...]
    bounds: tuple[int, ...]


def is_rare_spelling(cell: str) -> bool:
    """Tell whether a cell is a number in a rarer spelling, with a mark or as a bound; plain numbers are as well."""
    bare = cell.strip()
    return bare[:1] in NUMBERS_BEGIN and _RARE.fullmatch(bare) is not None


def in_usual_spelling(cells: Sequence[str]) -> UsualCells:
    """Return the cells of a column in the usual spelling."""
    usual, marked, bounds = [], [], []
    for index, cell in enumerate(cells):
        found = _RARE.fullmatch(cell.strip()) if type(cell) is str else None  # an exact number of a workbook is no plain text
        if found is None:
            usual.append(cell)
            continue
        if found["bound"]:
            bounds.append(index)
        elif found["mark"]:
            marked.append(index)
        spelled = "" if found["bound"] else _spelled(found)
        usual.append(cell if spelled.casefold() == cell.strip().casefold() else spelled)  # a message shows what was there
    return UsualCells(tuple(usual), tuple(marked), tuple(bounds))


def _spelled(found: re.Match[str]) -> str:
    power = next((found[name] for name in ("power", "raised", "letter", "power_of", "raised_of") if found[name]), None)
    mantissa = found["mantissa"] if found["mantissa"] is not None else f"{found['sign']}1"
    return str(mantissa) if power is None else f"{mantissa}E{power.translate(_PLAIN)}"


def about_spellings(place: str, cells: Sequence[str], lines: Sequence[int], usual: UsualCells) -> list[Finding]:
    """Say which numbers of a column bear a mark, and which cells hold a bound."""
    findings = []
    if usual.marked:
        at, rows = usual.marked[0], (lines[usual.marked[0]], lines[usual.marked[-1]])
        reason = (
            f"{place}: a mark stands behind {len(usual.marked)} of {len(cells)} numbers, the first {str(cells[at].strip())!r} "
            f"in line {lines[at]}; the numbers are used: look up what the mark means"
        )
        findings.append(Finding(check="marked_numbers", severity="caution", reason=reason, rows=rows))
    if usual.bounds:
        at, rows = usual.bounds[0], (lines[usual.bounds[0]], lines[usual.bounds[-1]])
        reason = (
            f"{place}: {len(usual.bounds)} of {len(cells)} cells hold a bound and no number, the first {str(cells[at].strip())!r} "
            f"in line {lines[at]}; they count as missing"
        )
        findings.append(Finding(check="bounds", severity="caution", reason=reason, rows=rows))
    return findings
