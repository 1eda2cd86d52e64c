from dataclasses import replace
from pathlib import Path

import pytest

from rheokit.virtual import HEADER_UNITS, UNITS_ROW, Measurement, export_text, write_export

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
