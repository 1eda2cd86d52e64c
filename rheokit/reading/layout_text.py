"""Write a layout file to start from: what was decided about an export, or, where it is refused, what its header shows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from rheokit.base.errors import ReadError, UnitError, printable
from rheokit.base.quantities import unit_of
from rheokit.base.run import Run
from rheokit.reading.columns import Column
from rheokit.reading.export import Decisions, Reading, read_export
from rheokit.reading.files import PathText, read_bytes
from rheokit.reading.headings import Heading
from rheokit.reading.layout import DELIMITER_WORDS, THOUSANDS_WORDS
from rheokit.reading.rows import DELIMITERS, lines_of
from rheokit.reading.sheet import divide
from rheokit.reading.text import decode_export
from rheokit.reading.words import STEP

__all__ = ["layout_for", "layout_text"]

_ENCODINGS = {"UTF-8": "utf-8", "UTF-16": "utf-16", "cp1252": "cp1252"}
_GEOMETRY = ("[geometry]", 'kind = "cone-plate"', 'radius = "12.5 mm"', 'angle = "2 °"')


def layout_for(path: PathText, layout: PathText | None = None) -> str:
    """Return a layout file for an export: as it was read, or, where it is refused, a beginning that says why.

    Parameters
    ----------
    path
        The export.
    layout
        A layout file that there is already; what it settled is written again.

    Raises
    ------
    ReadError
        When the file is missing or no text at all, or is refused even with the layout given.
    """
    try:
        return layout_text(read_export(path, layout))
    except ReadError as error:
        if layout is not None:
            raise
        return _beginning(path, error)


def layout_text(reading: Reading) -> str:
    """Return the layout file that says what was decided; with it the export reads back to the same run."""
    lines = [f"# how {_plain(reading.run.name)} was read; take away what need not be fixed", "format = 1", *_text_keys(reading.decisions)]
    lines += ["", "[columns]", *_columns(reading.decisions.columns), "", *_geometry(reading.decisions), "", *_steps(reading.run)]
    return "\n".join(lines) + "\n"


def _text_keys(decided: Decisions) -> Iterator[str]:
    encoding = next((word for name, word in _ENCODINGS.items() if decided.encoding.startswith(name)), None)
    if encoding is None:  # a workbook
        return
    yield f"encoding = {_quoted(encoding)}"
    sign = next((sign for sign, name in DELIMITERS.items() if name == decided.delimiter), "")
    word = next((word for word, own in DELIMITER_WORDS.items() if own == (sign.strip(" ") or " ")), None)
    if word is not None:
        yield f"delimiter = {_quoted(word)}"
    yield f"decimal = {_quoted(decided.style.decimal)}"
    yield f"thousands = {_quoted(next(word for word, sign in THOUSANDS_WORDS.items() if sign == decided.style.thousands))}"
    if decided.header_line == 0:
        yield "header_line = 0"
    else:
        yield f"# header_line = {decided.header_line}      # fix it only where every export has as many lines above its header"


def _columns(columns: Sequence[Column]) -> Iterator[str]:
    times = Counter(column.heading for column in columns)
    for column in columns:
        named = str(column.number) if not column.heading or times[column.heading] > 1 else _quoted(column.heading)
        if column.meaning == STEP:
            yield f"step = {{ column = {named} }}"
        elif column.meaning is not None:
            unit = _unit(column)
            yield f"{column.meaning} = {{ column = {named}{unit} }}"
        else:
            yield f"# not used: column {column.number}, {_quoted(column.heading)}"


def _unit(column: Column) -> str:
    """Return the unit as a layout file writes it; a clock's pattern is left to the export."""
    if column.unit is None or column.meaning is None:
        return ""
    try:
        unit_of(column.unit.symbol, column.meaning)
    except UnitError:
        return ""
    return f", unit = {_quoted(column.unit.symbol)}"


def _geometry(decided: Decisions) -> Iterator[str]:
    found = decided.geometry
    if found.geometry is None:
        yield "# geometry, where torque and speed are to become stress and rate:"
        yield from (f"# {line}" for line in _GEOMETRY)
    elif "preamble" in found.where:
        yield f"# geometry, by the preamble: {found.geometry}"
    else:
        yield "[geometry]"
        yield f"kind = {_quoted(found.geometry.name)}"
        yield from (f"{key} = {_quoted(text)}" for key, text in found.geometry.dimensions().items())


def _steps(run: Run) -> Iterator[str]:
    yield "[steps]     # a kind that is written here counts before what the numbers look like"
    for step in run.steps:
        doubt = next((str(finding) for finding in step.findings if finding.severity != "info"), "")
        why = f"      # {_plain(doubt)}" if doubt else ""
        yield f"# {step.number} = {{ kind = {_quoted(step.kind)}, controlled = {_quoted(step.controlled)} }}{why}"


# --- an export that is refused ---------------------------------------------------------------------------------------------------


def _beginning(path: PathText, error: ReadError) -> str:
    """Return what a refused export shows of its header, as a layout file to be completed.

    Raises
    ------
    ReadError
        When the file is no text: then nothing can be begun.
    """
    try:
        lines = lines_of(decode_export(read_bytes(path), path).characters, path)
    except ReadError:
        raise error from None
    where = f"{error.place}: " if error.place else ""
    said = [f"# refused: {_plain(where + error.seen)}", *([f"# {_plain(error.remedy)}"] if error.remedy else []), "format = 1"]
    said += _marks(error)
    try:
        sheet = divide(lines, path)
    except ReadError:
        said += [
            '# delimiter = "semicolon"',
            "# header_line = 0     # where there is no header; columns go by number then",
            "",
            "[columns]",
        ]
        said += [f'# {name} = {{ column = {number}, unit = "?" }}' for number, name in enumerate(("time", "shear_rate", "shear_stress"), 1)]
    else:
        word = next((word for word, sign in DELIMITER_WORDS.items() if sign == (sheet.delimiter.strip(" ") or " ")), "comma")
        said += [
            f"delimiter = {_quoted(word)}",
            "",
            f"{'# ' if _is_ambiguous(error) else ''}[columns]     # complete the units, and name what was not known",
        ]
        said += [_heading(number, heading) for number, heading in enumerate(sheet.headings, 1)]
    said += ["", "# geometry, where torque and speed are to become stress and rate:", *(f"# {line}" for line in _GEOMETRY)]
    return "\n".join(said) + "\n"


def _is_ambiguous(error: ReadError) -> bool:
    """Tell whether an export was refused for its decimal mark alone; its columns need no completion."""
    return "decimals or one with thousands" in error.seen


def _marks(error: ReadError) -> tuple[str, ...]:
    """Offer the decimal mark: both ways where the numbers leave it open."""
    if not _is_ambiguous(error):
        return ('# decimal = "."     # or ",": the mark before the decimals',)
    mark, other = (",", ".") if 'decimal = ","' in error.remedy else (".", ",")
    return (
        "# take away the # before what is right:",
        f'# decimal = "{mark}"     # 1{mark}234 is between one and two',
        f'# decimal = "{other}"     # 1{mark}234 is more than a thousand; take the next line too',
        f'# thousands = "{mark}"',
    )


def _heading(number: int, heading: Heading) -> str:
    named = _quoted(heading.text) if heading.text else str(number)
    if heading.quantity == STEP:
        return f"# step = {{ column = {named} }}"
    quantity = heading.quantity or "quantity"
    return f"# {quantity} = {{ column = {named}, unit = {_quoted(heading.unit or '?')} }}"


def _plain(text: str) -> str:
    return printable(" ".join(text.split()), 400)


def _quoted(text: str) -> str:
    """Return a TOML string that holds the text."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(sign if sign.isprintable() or sign == " " else f"\\U{ord(sign):08X}" for sign in escaped) + '"'
