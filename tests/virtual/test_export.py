from dataclasses import replace
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from rheokit.virtual import CLOCK, HEADER_UNITS, UNITS_ROW, Column, Measurement, Shape, export_bytes, export_text, write_export

SMALL = Measurement(
    step=[1.0, 2.0],
    time=[3.0, 363.0],
    step_time=[3.0, 300.0],
    shear_rate=[100.0, 0.0],
    shear_stress=[380.12345, -0.0512345],
    viscosity=[3.8012345, float("nan")],
    torque=[1.5549e-3, -2.0958e-7],
    angular_velocity=[3.4906585, 0.0],
    temperature=[296.1723, 296.15],
)
# Printed by hand from the numbers above: five significant digits, kelvin less 273.15.


def test_units_stand_in_the_header() -> None:
    assert export_text(SMALL, HEADER_UNITS).splitlines() == [
        "Step,Time [s],Step time [s],Shear rate [1/s],Shear stress [Pa],Viscosity [Pa·s],Torque [µN·m],Temperature [°C]",
        "1,3,3,100,380.12,3.8012,1554.9,23.022",
        "2,363,300,0,-0.051235,,-0.20958,23",
    ]


def test_units_stand_in_their_own_row() -> None:
    assert export_text(SMALL, UNITS_ROW).splitlines() == [
        "Step,Time,Shear rate,Shear stress,Viscosity,Angular velocity,Torque,Temperature",
        ",s,1/s,Pa,mPa·s,rad/s,mN·m,°C",
        "1,3,100,380.12,3801.2,3.4907,1.5549,23.022",
        "2,363,0,-0.051235,,0,-0.00020958,23",
    ]


def test_a_preamble_ends_with_an_empty_line_and_quotes_the_delimiter() -> None:
    lines = export_text(SMALL, HEADER_UNITS, {"Batch": "B1", "Note": "one, two"}).splitlines()
    assert lines[:3] == ["Batch,B1", 'Note,"one, two"', ""]
    assert lines[3].startswith("Step,")


def test_a_unit_mix_up_changes_the_numbers_and_not_the_label() -> None:
    mixed = replace(
        HEADER_UNITS,
        columns=tuple(replace(column, written_in="mPa·s") if column.quantity == "viscosity" else column for column in HEADER_UNITS.columns),
    )
    header, first, _ = export_text(SMALL, mixed).splitlines()
    assert "Viscosity [Pa·s]" in header
    assert first == "1,3,3,100,380.12,3801.2,1554.9,23.022"


def test_a_file_is_utf8_with_line_feeds_and_never_replaced(tmp_path: Path) -> None:
    path = tmp_path / "run.csv"
    write_export(path, SMALL, HEADER_UNITS)
    written = path.read_bytes()
    assert written.decode("utf-8") == export_text(SMALL, HEADER_UNITS)
    assert b"\r" not in written
    with pytest.raises(FileExistsError):
        write_export(path, SMALL, UNITS_ROW)
    assert path.read_bytes() == written


def messy(**changes: object) -> Shape:
    return replace(HEADER_UNITS, columns=HEADER_UNITS.columns[:2] + HEADER_UNITS.columns[3:6], **changes)  # type: ignore[arg-type]


def test_signs_of_numbers_are_the_shape_s() -> None:
    shape = messy(delimiter=";", decimal=",", thousands=".", minus="\N{MINUS SIGN}", missing="---", digits=6)
    assert export_text(replace(SMALL, shear_rate=[12345.6, 0.0]), shape).splitlines()[1:] == [
        "1;3;12.345,6;380,123;3,80123",
        "2;363;0;\N{MINUS SIGN}0,0512345;---",
    ]


def test_a_cell_that_holds_the_delimiter_is_quoted() -> None:
    assert export_text(SMALL, messy(decimal=",")).splitlines()[1] == '1,3,100,"380,12","3,8012"'


def test_blocks_are_announced_and_have_the_header_again_unless_told_not_to() -> None:
    block = messy(steps="blocks", announcement="Part {number}", comment="# ", notes=("the end",), units="own row")
    assert export_text(SMALL, block, {"Batch": "B1"}).splitlines() == [
        "# Batch,B1",
        "#",
        "# Part 1",
        "Step,Time,Shear rate,Shear stress,Viscosity",
        ",s,1/s,Pa,Pa·s",
        "1,3,100,380.12,3.8012",
        "",
        "# Part 2",
        "Step,Time,Shear rate,Shear stress,Viscosity",
        ",s,1/s,Pa,Pa·s",
        "2,363,0,-0.051235,",
        "",
        "# the end",
    ]
    bare = messy(steps="blocks", header_repeated=False)
    assert export_text(SMALL, bare).splitlines()[1:] == ["1,3,100,380.12,3.8012", "", "2,363,0,-0.051235,"]


def test_clock_status_remark_and_point_are_columns_too() -> None:
    columns = tuple(Column(quantity=name, heading=name) for name in ("point", "status", "remark"))
    shape = replace(HEADER_UNITS, columns=(*columns, Column(quantity="time", heading="t", unit=CLOCK)), delimiter="\t")
    late = replace(SMALL, time=[3.25, 3723.0])
    assert export_text(late, shape).splitlines()[1:] == ["1\tok\tstep 1 begins\t0:00:03.25", "2\tlow torque\tstep 2 begins\t1:02:03"]


def test_blanks_line_the_columns_up() -> None:
    shape = messy(delimiter=" ", missing="nan", heading="{heading}[{unit}]")
    assert export_text(SMALL, shape, {"Batch": "B1"}).splitlines()[0] == "Batch B1"
    first, second = (line.split() for line in export_text(SMALL, shape).splitlines()[1:])
    assert (first, second) == (["1", "3", "100", "380.12", "3.8012"], ["2", "363", "0", "-0.051235", "nan"])


@pytest.mark.parametrize("container", ["xlsx", "ods"])
@pytest.mark.parametrize("steps", ["sheets", "one table"])
def test_a_workbook_holds_the_rounded_numbers(tmp_path: Path, container: str, steps: str) -> None:
    path = tmp_path / f"run.{container}"
    write_export(path, SMALL, messy(container=container, steps=steps, margin=1), {"Batch": "B1"})
    book = CalamineWorkbook.from_path(str(path))
    rows = {name: book.get_sheet_by_name(name).to_python(skip_empty_area=False) for name in book.sheet_names}
    header = ["", "Step", "Time [s]", "Shear rate [1/s]", "Shear stress [Pa]", "Viscosity [Pa·s]"]
    first, second = ["", 1.0, 3.0, 100.0, 380.12, 3.8012], ["", 2.0, 363.0, 0.0, -0.051235, ""]
    if steps == "sheets":
        assert rows.pop("Information") == [["Batch", "B1"]]
        assert {name: table[1:] for name, table in rows.items()} == {"Step 1": [header, first], "Step 2": [header, second]}
    else:
        assert [row for row in rows["Data"] if any(cell != "" for cell in row)][1:] == [header, first, second]


def test_encodings_are_the_shape_s() -> None:
    shape = messy(encoding="utf-16", line_end="\r\n")
    written = export_bytes(SMALL, shape)
    assert written[:2] in (b"\xff\xfe", b"\xfe\xff")
    assert written.decode("utf-16") == export_text(SMALL, shape)
    assert export_bytes(SMALL, messy(encoding="cp1252"))[:200].count(b"\xb7") == 1
