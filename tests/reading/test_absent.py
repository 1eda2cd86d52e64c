"""A quantity that results need is not missed in silence, and relative readings are called so."""

from __future__ import annotations

import io

import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P
from openpyxl import Workbook

import rheokit as rk
from rheokit.base.errors import ReadError

TORQUE = "torque gives one only with a geometry{}; write it into the preamble or under [geometry] into a layout file"
NO_ANGLE = " (the angle of the cone is not given; write for example 'Cone angle,2 °')"
UNKNOWN = "{} bears a unit of it, and the name is not known; name the column in a layout file"
NO_COLUMN = "no column is one, and it follows from no others; export it too"
CONE = "Geometry,cone-plate\nCone radius,12.5 mm\nCone angle,2 °\n\n"


def said(run, check):
    return [(finding.severity, str(finding)) for finding in run.findings if finding.check == check]


@pytest.mark.parametrize(
    ("table", "reason"),
    [
        ("t [s],γ̇ [1/s],M [mN·m]\n1,1,10\n2,2,9\n", "shear stress: " + TORQUE.format("")),
        ("Geometry,cone-plate\nCone radius,12.5 mm\n\nt [s],γ̇ [1/s],M [mN·m]\n1,1,10\n", "shear stress: " + TORQUE.format(NO_ANGLE)),
        ("t [s],τ [Pa],n [rpm]\n1,1,10\n2,2,9\n", "shear rate: " + TORQUE.format("").replace("torque", "angular velocity")),
        ("t [s];γ̇ [1/s];Schubsp. (Pa)\n1;1;10,5\n2;2;9\n", "shear stress: " + UNKNOWN.format("column 3 ('Schubsp. (Pa)')")),
        ("t,Scherr.,τ\ns,1/s,Pa\n1,1,10\n2,2,9\n", "shear rate: " + UNKNOWN.format("column 2 ('Scherr.')")),
        ("t [s]\tγ̇ [1/s]\tT [°C]\n1\t1\t10\n2\t2\t9\n", "shear stress: " + NO_COLUMN),
        ("t [s],γ̇ [1/s],τ [Pa]\n1,1,n/a\n2,2,n/a\n", "shear stress: " + NO_COLUMN),
    ],
)
def test_a_rate_or_stress_that_follows_from_nothing_is_a_caution(write, table, reason):
    assert said(rk.read_run(write(table)), "quantity_missing") == [("caution", f"there is no {reason}")]


@pytest.mark.parametrize(
    "table",
    [
        "t [s],γ̇ [1/s],τ [Pa],G [Pa]\n1,1,10,1\n2,2,9,1\n",
        "t [s],γ̇ [1/s],η [Pa·s],M [mN·m]\n1,1,10,1\n2,2,9,1\n",
        CONE + "t [s],γ̇ [1/s],M [mN·m]\n1,1,10\n2,2,9\n",
        "t [s],τ [Pa],γ [%]\n1,10,1\n2,10,2\n",
        "t [s],f [Hz],G' [Pa],G'' [Pa]\n1,1,10,1\n2,2,9,1\n",
    ],
)
def test_what_is_there_or_not_needed_is_not_called_missing(write, table):
    assert said(rk.read_run(write(table)), "quantity_missing") == []


def test_both_are_called_missing_where_only_a_viscosity_is_there(write):
    run = rk.read_run(write("t [s],T [°C],η [Pa·s]\n1,23,10\n2,24,9\n"))
    assert [reason.partition(":")[0] for _, reason in said(run, "quantity_missing")] == [
        "there is no shear rate",
        "there is no shear stress",
    ]


TABLE = "t [s],γ̇ [1/s],τ [Pa]\n1,1,10\n2,2,9\n"


@pytest.mark.parametrize("entry", ["Spindle,4", "Spindle: 4", "# Spindel = 4"])
def test_a_spindle_in_the_preamble_makes_the_rate_beside_it_relative(write, entry):
    ((severity, reason),) = said(rk.read_run(write(f"{entry}\n\n{TABLE}")), "relative_reading")
    assert severity == "caution"
    assert "4': the flow round a spindle has no defined shear rate, so rate, stress and viscosity are relative" in reason
    # A geometry that is written there is defined, whatever its bob is called; and other entries say nothing.
    assert said(rk.read_run(write(f"{entry}\n{CONE}{TABLE}")), "relative_reading") == []
    assert said(rk.read_run(write(f"Operator,spinning\n\n{TABLE}")), "relative_reading") == []


@pytest.mark.parametrize(
    "entry", ["Spindle speed,10 rpm", "Spindle speed: 10 rpm", "Spindel-Drehzahl,10 1/min", "Note,spindle direction cw"]
)
def test_the_speed_of_the_shaft_is_no_spindle_of_its_own(write, entry):
    assert said(rk.read_run(write(f"{entry}\n\n{TABLE}")), "relative_reading") == []


@pytest.mark.parametrize("heading", ["Torque [%]", "% Torque", "Dial reading", "Spindle no.", "Skalenteile"])
def test_a_relative_reading_beside_a_rate_is_called_so(write, heading):
    run = rk.read_run(write(f"t [s],γ̇ [1/s],τ [Pa],{heading}\n1,1,10,20\n2,2,9,30\n"))
    place = f"column 4 ({heading!r})"
    assert said(run, "relative_reading") == [
        ("info", f"{place}: relative, as readings of a dial, a spindle or in parts of full scale are; not used")
    ]
    assert said(run, "columns_aside") == []


HEAD = ["t [s]", "γ̇ [1/s]", "τ [Pa]"]


def _xlsx(stress):
    book = Workbook()
    for row in (HEAD, *([index, 10 * index, stress.format(index)] for index in (1, 2, 3))):
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _ods(formula):
    book, table = OpenDocumentSpreadsheet(), Table(name="Data")
    cells = [[TableCell(valuetype="string") for _ in HEAD]]
    for cell, text in zip(cells[0], HEAD, strict=True):
        cell.addElement(P(text=text))
    for index in (1, 2, 3):
        cells.append([*(TableCell(valuetype="float", value=str(value)) for value in (index, 10 * index)), TableCell(formula=formula)])
    for row in cells:
        line = TableRow()
        for cell in row:
            line.addElement(cell)
        table.addElement(line)
    book.spreadsheet.addElement(table)
    out = io.BytesIO()
    book.write(out)
    return out.getvalue()


@pytest.mark.parametrize(
    ("name", "data", "first"),
    [("run.xlsx", _xlsx("=2*B{}"), ", the first C2"), ("run.ods", _ods("of:=2*[.B2]"), "")],
    ids=["xlsx", "ods"],
)
def test_a_formula_without_a_stored_value_is_said(write, name, data, first):
    run = rk.read_run(write(data, name))
    assert said(run, "formula") == [
        (
            "caution",
            f"3 cells hold a formula without a stored value{first}, and count as empty; open the workbook in a spreadsheet program, "
            "save it there, and read it again",
        )
    ]
    assert len(said(run, "quantity_missing")) == 1


def test_a_table_of_nothing_but_formulas_without_values_is_refused_by_them(write):
    book = Workbook()
    book.active.append(HEAD)
    book.active.append(["=1+1", "=A2*2", "=A2*3"])
    out = io.BytesIO()
    book.save(out)
    with pytest.raises(ReadError, match=r"row 1: nothing follows the header: 3 cells hold a formula without a stored value, the first A2"):
        rk.read_run(write(out.getvalue(), "run.xlsx"))


def test_an_empty_cell_without_a_formula_is_no_formula(write):
    run = rk.read_run(write(_xlsx(""), "run.xlsx"))
    assert (said(run, "formula"), len(said(run, "quantity_missing"))) == ([], 1)
