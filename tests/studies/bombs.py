"""Small files that would fill a memory or never end, and a reader in a process of its own that may use little of either."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path

from rheokit.base.errors import RheokitError

MEMORY = 600_000_000
"""[bytes] What one reading may take above what the process held before: thirty times the largest export that is taken."""

SECONDS = 30.0
"""When a reading that hangs is given up; the study calls everything over one second too slow."""

HEADER = "Time [s],Shear rate [1/s],Shear stress [Pa]\n1,10,100\n2,20,150\n"


def long_line(where: str) -> bytes:
    """Return an export with a line of a million columns: above the table, as its header, or among its rows."""
    line = ",".join(["1"] * 1_000_000) + "\n"
    return {
        "above": line + HEADER,
        "header": "Time [s],Shear rate [1/s],Shear stress [Pa]," + "Torque [N·m]," * 1_000_000 + "\n" + line,
        "row": HEADER + line + "3,30,200\n",
        "last row": HEADER + line,
        "blanks": HEADER.replace(",", " ") + " 1" * 1_000_000,
        "quotes": HEADER + '"' + '"",""' * 1_000_000 + "\n",
        "no end": "1" * 8_000_000,
    }[where].encode()


LONG_LINES = ("above", "header", "row", "last row", "blanks", "quotes", "no end")


@cache
def workbook_bomb(kind: str) -> bytes:
    """Return a small workbook that unpacks to a gigabyte (and may deny it), spans thousands of millions of cells, or nests entities."""
    if kind == "gigabyte, understated":
        return _understated(workbook_bomb("gigabyte"))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9 if kind != "gigabyte" else 1) as archive:
        (_ods if kind.startswith("ods") else _xlsx)(archive, kind)
    return out.getvalue()


WORKBOOK_BOMBS = ("gigabyte", "gigabyte, understated", "corner", "wide", "entities", "ods repeated", "ods entities")


def _understated(data: bytes) -> bytes:
    """Return a workbook whose list of contents says that its sheet is small (APPNOTE 4.3.12: the size stands 24 bytes into an entry)."""
    spoilt = bytearray(data)
    entry = data.rindex(b"PK\x01\x02", 0, data.rindex(b"xl/worksheets/sheet1.xml"))
    spoilt[entry + 24 : entry + 28] = (5_000).to_bytes(4, "little")
    return bytes(spoilt)


_SHEET = '<?xml version="1.0"?>{doctype}<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
_ENTITIES = '<!DOCTYPE x [<!ENTITY a "{}">{}]>'.format(
    "ha" * 10, "".join(f'<!ENTITY {name} "{f"&{before};" * 10}">' for before, name in zip("abcdefgh", "bcdefghi", strict=True))
)


def _xlsx(archive: zipfile.ZipFile, kind: str) -> None:
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    package = "http://schemas.openxmlformats.org/package/2006"
    archive.writestr(
        "[Content_Types].xml",
        f'<Types xmlns="{package}/content-types"><Default Extension="xml" ContentType="application/xml"/><Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/></Types>',
    )
    archive.writestr(
        "_rels/.rels",
        f'<Relationships xmlns="{package}/relationships"><Relationship Id="r1" Type="{office}/officeDocument" Target="xl/workbook.xml"/>'
        "</Relationships>",
    )
    archive.writestr(
        "xl/workbook.xml",
        f'<workbook xmlns="{main}" xmlns:r="{office}"><sheets><sheet name="Data" sheetId="1" r:id="r1"/></sheets></workbook>',
    )
    archive.writestr(
        "xl/_rels/workbook.xml.rels",
        f'<Relationships xmlns="{package}/relationships"><Relationship Id="r1" Type="{office}/worksheet" Target="worksheets/sheet1.xml"/>'
        "</Relationships>",
    )
    with archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as sheet:
        sheet.write(_SHEET.format(doctype=_ENTITIES if kind == "entities" else "").encode())
        if kind == "gigabyte":
            block = b"".join(f'<row><c t="n"><v>{number}</v></c></row>'.encode() for number in range(10, 20)) * 40_000
            for _ in range(100):
                sheet.write(block)
        elif kind == "corner":
            sheet.write(b'<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row>')
        elif kind == "wide":
            sheet.write(b'<row r="1"><c r="A1"><v>1</v></c><c r="XFD1"><v>1</v></c></row><row r="900000"><c r="A900000"><v>1</v></c></row>')
        else:
            sheet.write(b'<row r="1"><c r="A1" t="inlineStr"><is><t>&i;</t></is></c></row>')
        sheet.write(b"</sheetData></worksheet>")


def _ods(archive: zipfile.ZipFile, kind: str) -> None:
    archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
    names = "urn:oasis:names:tc:opendocument:xmlns"
    archive.writestr(
        "META-INF/manifest.xml",
        f'<manifest:manifest xmlns:manifest="{names}:manifest:1.0"><manifest:file-entry manifest:full-path="/" '
        'manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/></manifest:manifest>',
    )
    cell = '<table:table-cell office:value-type="float" office:value="1" table:number-columns-repeated="16384"/>'
    row = f'<table:table-row table:number-rows-repeated="1048576">{cell}</table:table-row>'
    text = '<table:table-row><table:table-cell office:value-type="string"><text:p>&i;</text:p></table:table-cell></table:table-row>'
    archive.writestr(
        "content.xml",
        f'<?xml version="1.0"?>{_ENTITIES if "entities" in kind else ""}<office:document-content xmlns:office="{names}:office:1.0" '
        f'xmlns:table="{names}:table:1.0" xmlns:text="{names}:text:1.0"><office:body><office:spreadsheet><table:table table:name="Data">'
        f"{text if 'entities' in kind else row}</table:table></office:spreadsheet></office:body></office:document-content>",
    )


class BoundedReader:
    """Reads files in a child process of bounded memory; a child that dies is replaced and its file counts as crashed."""

    def __init__(self) -> None:
        self._child: subprocess.Popen[str] | None = None

    def __enter__(self) -> BoundedReader:
        return self

    def __exit__(self, *_: object) -> None:
        self._end()

    def _end(self) -> None:
        if self._child is not None:
            self._child.kill()
            self._child.communicate()
            self._child = None

    def outcome(self, path: Path) -> tuple[str, float]:
        """Return `refused`, `finding`, `read` or `crashed`, and the seconds it took."""
        if self._child is not None and self._child.poll() is not None:
            self._end()
        if self._child is None:
            command = [sys.executable, "-c", f"import sys; sys.path[:0] = {sys.path!r}; from studies.bombs import serve; serve()"]
            self._child = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        child = self._child
        assert child.stdin is not None
        assert child.stdout is not None
        child.stdin.write(f"{path}\n")
        child.stdin.flush()
        line = child.stdout.readline()
        if not line:
            child.wait()
            return "crashed", 0.0
        said, seconds = json.loads(line)
        return str(said), float(seconds)


def serve() -> None:
    """Answer one line for each path on the standard input."""
    import rheokit as rk  # noqa: PLC0415  the child alone

    rk.read_run  # noqa: B018  loads what reading needs before memory is bounded
    _bound_memory()
    for line in sys.stdin:
        start = time.process_time()
        _stop_after(SECONDS)
        try:
            run = rk.read_run(line.strip())
        except RheokitError:
            said = "refused"
        except Exception as error:
            said = f"crashed ({type(error).__name__})"
        else:
            found = [finding for step in run.steps for finding in step.findings] + list(run.findings)
            said = "finding" if any(finding.severity != "info" for finding in found) else "read"
        print(json.dumps((said, time.process_time() - start)), flush=True)


def _bound_memory() -> None:
    try:
        import resource  # noqa: PLC0415  not on every system
    except ImportError:
        return
    status = Path("/proc/self/statm")
    if status.exists():
        held = int(status.read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (held + MEMORY, held + MEMORY))


def _stop_after(seconds: float) -> None:
    import signal  # noqa: PLC0415  the child alone

    if hasattr(signal, "alarm"):
        signal.alarm(int(seconds))


BOMBS: Mapping[str, tuple[str, tuple[str, ...], Callable[[str], bytes]]] = {
    "a line of a million columns": (".csv", LONG_LINES, long_line),
    "a workbook larger than memory": (".xlsx", WORKBOOK_BOMBS, workbook_bomb),
}
"""Name in the table: suffix, variants, and what writes them."""
