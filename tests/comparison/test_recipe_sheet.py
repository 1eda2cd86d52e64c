"""The recipe sheet: what it holds, what it refuses, and that text from a file stays text."""

from __future__ import annotations

import csv
from pathlib import Path

import openpyxl
import pytest

from rheokit.base.errors import ComparisonError, ReadError
from rheokit.comparison.recipe_sheet import RECIPE_COLUMNS, read_recipes

SHEET = Path(__file__).parents[2] / "sample_rheometer_runs" / "recipes" / "recipes.csv"
ROWS = [
    ("a", "component", "resin", "resin", "H1", "40.0", "wt %"),
    ("a", "component", "solvent", "solvent", "L1", "57.0", "wt %"),
    ("a", "component", "silica", "gellant", "S1", "3.0", "wt %"),
    ("a", "process", "speed", "", "", "1200", "1/min"),
    ("b", "component", "resin", "resin", "H1", "42.0", "wt %"),
    ("b", "component", "solvent", "solvent", "L1", "58.0", "wt %"),
]


def written(path, rows, header=RECIPE_COLUMNS):
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([header, *rows])
    return path


def changed(place, column, text):
    rows = [list(row) for row in ROWS]
    rows[place][RECIPE_COLUMNS.index(column)] = text
    return rows


def test_the_demo_sheet_holds_twelve_recipes_that_close():
    sheet = read_recipes(SHEET)
    assert list(sheet.recipes) == [f"candidate-{number}" for number in range(1, 13)]
    assert [recipe.total for recipe in sheet.recipes.values()] == pytest.approx([100.0] * 12, abs=1e-9)
    assert sheet.amounts(["fumed silica"], ["candidate-2", "candidate-3"])["fumed silica"].tolist() == [3.3, 1.9]
    assert sheet.recipes["candidate-4"].settings["passes over the mill"].value == 3.0
    assert sheet.findings == ()
    assert "hydrogenated castor wax" in str(sheet)


def test_a_workbook_reads_as_the_text_does(tmp_path):
    book = openpyxl.Workbook()
    for row in [RECIPE_COLUMNS, *ROWS]:
        book.active.append([float(cell) if cell.replace(".", "").isdigit() else cell for cell in row])
    book.save(tmp_path / "recipes.xlsx")
    from_book, from_text = read_recipes(tmp_path / "recipes.xlsx"), read_recipes(written(tmp_path / "recipes.csv", ROWS))
    assert str(from_book) == str(from_text)


def test_what_is_not_listed_counts_as_nothing_and_is_said(tmp_path):
    sheet = read_recipes(written(tmp_path / "r.csv", ROWS))
    assert [str(finding) for finding in sheet.findings] == ["b does not list silica; its components close without it, so it counts as 0"]
    assert sheet.amounts(["silica"], ["a", "b"])["silica"].tolist() == [3.0, 0.0]
    with pytest.raises(ComparisonError, match=r"^'wax' is no component of the sheet; they are resin, solvent, silica$"):
        sheet.amounts(["wax"], ["a"])
    with pytest.raises(ComparisonError, match=r"^'c' has no recipe in the sheet; they are a, b$"):
        sheet.amounts(["resin"], ["c"])


def test_runs_and_recipes_that_do_not_meet_are_named(tmp_path):
    sheet = read_recipes(written(tmp_path / "r.csv", ROWS))
    said = [str(finding) for finding in sheet.against_runs(["b", "c"])]
    assert said == [
        "a has a recipe and no runs; give its folder, or leave it out of the sheet",
        "c has runs and no recipe; add it to the sheet, or effects leave it out",
    ]
    assert sheet.against_runs(["a", "b"]) == ()


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        (changed(1, "value", "56.8"), r"line 2: the components of a add up to 99\.8 wt %, further than 0\.1 from 100"),
        (changed(1, "name", "resin"), r"line 3: a lists 'resin' twice, first in line 2"),
        (changed(1, "value", "much"), r"line 3, value: 'much' is not a number"),
        (changed(1, "value", "-2"), r"line 3, value: -2 wt % is no share"),
        (changed(1, "unit", "g"), r"line 3, unit: a component in 'g'"),
        (changed(3, "kind", "setting"), r"line 5, kind: 'setting' is no kind"),
        (changed(0, "candidate", ""), r"line 2, candidate: it is empty"),
        ([("a", "component")], r"line 2: 2 cells under 7 columns"),
        ([], r"there is no recipe under the header"),
    ],
)
def test_what_does_not_stand_up_is_refused_by_its_place(tmp_path, rows, message):
    with pytest.raises(ReadError, match=message):
        read_recipes(written(tmp_path / "r.csv", rows))


def test_a_slip_of_the_pen_and_an_unknown_component_are_told(tmp_path):
    three = [*ROWS, *(("c", *row[1:]) for row in ROWS[:3])]
    three[-2] = (*three[-2][:2], "Solvemt", *three[-2][3:])
    said = [str(finding) for finding in read_recipes(written(tmp_path / "r.csv", three)).findings]
    assert said[0] == "line 9: 'Solvemt' stands in one recipe alone and is much like 'solvent'; they count as two"
    with pytest.raises(ReadError, match=r"line 4, name: 'silica' is no known component; is it 'silicate'\?"):
        read_recipes(written(tmp_path / "r.csv", ROWS), components=["resin", "solvent", "silicate"])


def test_a_stated_tolerance_is_held(tmp_path):
    rows = changed(1, "value", "56.8")
    assert read_recipes(written(tmp_path / "r.csv", rows), tolerance=0.2).recipes["a"].total == pytest.approx(99.8)


def test_another_header_is_refused(tmp_path):
    with pytest.raises(ReadError, match=r"line 1: the header is 'candidate,name'"):
        read_recipes(written(tmp_path / "r.csv", [], ("candidate", "name")))


def test_hostile_text_stays_text(tmp_path):
    rows = changed(0, "candidate", "=HYPERLINK(1)")
    rows = [[*row] for row in rows]
    for row in rows[:4]:
        row[0] = "<script>alert(1)</script>\x1b[31m"
    rows[3][2] = "=1+1"
    sheet = read_recipes(written(tmp_path / "r.csv", rows))
    assert "<script>" not in sheet._repr_html_()
    assert "&lt;script&gt;" in sheet._repr_html_()
    assert "\x1b" not in str(sheet)
    assert "=1+1" in str(sheet)  # as it stands: nothing is evaluated


def test_shares_of_a_blend_close_to_one_and_hide_nothing():
    sheet = read_recipes(SHEET)
    parts = {"silica": ["fumed silica"], "resin": ["rosin ester resin"], "solvent": ["aromatic glycol ether", "aliphatic alcohol"]}
    found = sheet.shares(parts, ["candidate-1", "candidate-4"])
    assert found["silica"].tolist() == pytest.approx([3.0 / 80.8, 3.4 / 80.8], rel=1e-12)
    assert (found["silica"] + found["resin"] + found["solvent"]).tolist() == pytest.approx([1.0, 1.0], abs=1e-12)
    with pytest.raises(ComparisonError, match=r"^hydrogenated castor wax differs between candidates"):
        sheet.shares(parts, ["candidate-1", "candidate-3"])
