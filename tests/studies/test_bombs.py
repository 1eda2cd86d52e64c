"""The bombs are bombs: without its guards, what reads workbooks dies or gives up on each of them within the same bounded memory."""

from __future__ import annotations

import subprocess
import sys
import zipfile

import pytest

from studies.bombs import BOMBS, LONG_LINES, WORKBOOK_BOMBS, BoundedReader, long_line, workbook_bomb

BARE = (
    f"import sys; sys.path[:0] = {sys.path!r}\n"
    "from python_calamine import CalamineWorkbook\n"
    "from studies.bombs import _bound_memory\n"
    "_bound_memory()\n"
    "CalamineWorkbook.from_path(sys.argv[1]).get_sheet_by_index(0).to_python()\n"
)


def name_of(kind):
    return "bomb.ods" if kind.startswith("ods") else "bomb.xlsx"


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="memory is bounded by a limit of Linux")
@pytest.mark.parametrize("kind", ["gigabyte", "corner", "wide"])
def test_a_reader_without_guards_dies_of_a_bomb(tmp_path, kind):
    path = tmp_path / name_of(kind)
    path.write_bytes(workbook_bomb(kind))
    done = subprocess.run([sys.executable, "-c", BARE, str(path)], capture_output=True, check=False)
    assert done.returncode != 0


def test_the_understated_bomb_understates(tmp_path):
    path = tmp_path / "bomb.xlsx"
    path.write_bytes(workbook_bomb("gigabyte, understated"))
    with zipfile.ZipFile(path) as archive:
        assert archive.getinfo("xl/worksheets/sheet1.xml").file_size == 5_000


def test_every_bomb_is_refused_in_a_second_of_bounded_memory(tmp_path):
    with BoundedReader() as bounded:
        for kind in (*WORKBOOK_BOMBS, *LONG_LINES):
            path = tmp_path / (name_of(kind) if kind in WORKBOOK_BOMBS else "bomb.csv")
            path.write_bytes(workbook_bomb(kind) if kind in WORKBOOK_BOMBS else long_line(kind))
            outcome, seconds = bounded.outcome(path)
            assert (outcome, seconds < 1.0) == ("refused", True), kind


def test_a_reader_that_dies_is_replaced(tmp_path):
    good = tmp_path / "good.csv"
    good.write_text("t [s],τ [Pa],γ̇ [1/s]\n1,2,1\n2,3,2\n3,4,4\n4,5,12\n", encoding="utf-8")
    with BoundedReader() as bounded:
        first, _ = bounded.outcome(good)
        assert bounded._child is not None
        bounded._child.kill()
        bounded._child.wait()
        assert bounded.outcome(good)[0] == first
    assert first in {"read", "finding"}
    assert set(BOMBS) == {"a line of a million columns", "a workbook larger than memory"}
