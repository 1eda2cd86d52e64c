"""What `inspect` shows is what was decided."""

from __future__ import annotations

from rheokit.reading.inspection import inspect_export

TEXT = "Batch;B1\nPoint;Step;t;γ̇;T\n;;min;1/s;°C\n1;1;0.5;2;20\n2;1;1;2;20\n"


def test_file_columns_steps_preamble_and_findings_are_shown(write):
    tables = inspect_export(write(b"\xef\xbb\xbf" + TEXT.encode()))
    assert [table.title for table in tables] == ["file run_07.csv", "columns", "run_07.csv", "preamble", "findings"]
    file = dict(tables[0].rows)
    assert file["encoding"] == "UTF-8 with byte order mark"
    assert (file["cells divided by"], file["header"], file["units row"], file["points"]) == ("semicolon", "line 2", "line 3", "2")
    assert len(file["sha256"]) == 64
    assert tables[1].rows == (
        ("1", "Point", "not used", "", "", ""),
        ("2", "Step", "step", "", "", ""),
        ("3", "t", "time", "min", "units row", "× 60 s"),
        ("4", "γ̇", "shear rate", "1/s", "units row", "× 1 1/s"),
        ("5", "T", "temperature", "°C", "units row", "(number + 273.15) × 1 K"),
    )
    assert tables[3].rows == (("Batch", "B1"),)
    assert "columns not known and not used: 1 ('Point')" in str(tables[4])


def test_a_layout_is_named(write):
    layout = write('format = 1\n[columns]\ntorque = { column = "Point", unit = "mN·m" }\n', "mine.toml")
    tables = inspect_export(write(TEXT), layout)
    assert dict(tables[0].rows)["layout file"] == "mine.toml"
    assert tables[1].rows[0] == ("1", "Point", "torque by the layout file", "mN·m", "layout file", "× 0.001 N·m")


def test_numbers_steps_and_geometry_are_shown(write):
    file = dict(
        inspect_export(write("Geometry;cone-plate\nRadius;12,5 mm\nAngle;2 °\n\nt [s];γ̇ [1/s];τ [Pa]\n1;1,5;60\n2;2,5;70\n"))[0].rows
    )
    assert file["numbers"].startswith("decimal comma (")
    assert file["geometry"] == "cone-plate (radius 12.5 mm, angle 2 °), by the preamble"
    assert dict(inspect_export(write("t [s],γ̇ [1/s]\n1,1\n"))[0].rows)["geometry"] == "none is named"
    incomplete = inspect_export(write("Geometry,cone-plate\n\nt [s],γ̇ [1/s]\n1,1\n"))[0]
    assert dict(incomplete.rows)["geometry"].startswith("not used: the radius of the cone is not given")
