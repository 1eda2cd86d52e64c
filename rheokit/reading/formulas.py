"""Find the cells of a workbook that hold a formula and no value, as programs leave them that write formulas and calculate none."""

from __future__ import annotations

import io
import re
import zipfile

from rheokit.base.finding import Finding

__all__ = ["about_formulas"]

_FORMULA = rb"<(?:\w+:)?f\b(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)"
_NO_VALUE = rb"(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</(?:\w+:)?v>)?"
_CELL = re.compile(rb"<(?:\w+:)?c\b([^>]*)>\s*" + _FORMULA + rb"\s*" + _NO_VALUE + rb"\s*</(?:\w+:)?c>")
_PLACE = re.compile(rb"""\br\s*=\s*["']([A-Z]{1,3}[0-9]{1,7})["']""")
_OPEN_CELL = re.compile(rb"<[\w-]+:table-cell\b([^>]*)>")


def about_formulas(data: bytes) -> tuple[Finding, ...]:
    """Return a caution when cells of a workbook (.xlsx, .ods) hold a formula without a stored value.

    The archive has been checked before. An old workbook (.xls) keeps a value with every formula.
    """
    if not data.startswith(b"PK"):
        return ()
    cells: list[bytes] = []
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for name in archive.namelist():
            if "/worksheets/" in name and name.endswith(".xml"):
                cells += _CELL.findall(archive.read(name))
            elif name == "content.xml":
                cells += [cell for cell in _OPEN_CELL.findall(archive.read(name)) if b":formula=" in cell and b"value=" not in cell]
    if not cells:
        return ()
    place = next((found[1].decode() for cell in cells if (found := _PLACE.search(cell))), "")
    count, they = (f"{len(cells)} cells hold", "count") if len(cells) > 1 else ("one cell holds", "counts")
    reason = (
        f"{count} a formula without a stored value{f', the first {place}' if place else ''}, and {they} as empty; "
        "open the workbook in a spreadsheet program, save it there, and read it again"
    )
    return (Finding(check="formula", severity="caution", reason=reason),)
