"""The layout file that inspect prints reads the export back to the same run, and begins one where an export is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import rheokit as rk
from rheokit.base.errors import ReadError
from rheokit.cli import main
from rheokit.reading.layout import read_layout
from rheokit.reading.layout_text import layout_for

SAMPLES = Path(__file__).parents[2] / "sample_rheometer_runs"
EXPORTS = {
    "plain": "t [s],γ̇ [1/s],τ [Pa]\n1,1,60\n2,2,70\n3,3,80\n",
    "decimal comma and units row": "Charge;B1\n\nZeit;Scherrate;Schubspannung\ns;1/s;Pa\n1,5;1,25;60,5\n2,5;2,25;70,5\n",
    "thousands": "t [s];τ [Pa];η [mPa·s]\n1;1.234,5;1.234.500\n2;2.234,5;2.234.500\n",
    "tabs and turns": "t [min]\tSpeed [1/min]\tγ̇ [1/s]\tτ [Pa]\n1\t10\t1\t60\n2\t20\t2\t70\n",
    "columns not used": "Point,t [s],γ̇ [1/s],τ [Pa],Note,\n1,1,1,60,a,\n2,2,2,70,b,\n",
    "quotes in a heading": '"say ""ah"" \\n",t [s],γ̇ [1/s],τ [Pa]\n1,1,1,60\n2,2,2,70\n',
    "clock": "Time [hh:mm:ss],γ̇ [1/s],τ [Pa]\n00:00:01,1,60\n00:00:02,2,70\n",
    "geometry in the preamble": "Geometry,cone-plate\nRadius,12.5 mm\nAngle,2 °\n\nt [s],Speed [rpm],M [mN·m]\n1,1,1\n2,2,2\n",
    "step column": "Step,t [s],γ̇ [1/s],τ [Pa]\n1,1,100,400\n1,2,100,400\n2,3,0,0\n2,4,0,0\n",
}


def assert_same(one, other):
    assert other.metadata == one.metadata
    # What the layout settles, how numbers and bytes are written, need not be said any more.
    assert [seen for seen in map(str, other.findings) if "numbers are read" not in seen] == [
        str(seen) for seen in one.findings if seen.check not in {"number_style", "encoding"}
    ]
    for first, second in zip(one.steps, other.steps, strict=True):
        assert (second.kind, second.controlled, second.rows, second.findings) == (first.kind, first.controlled, first.rows, first.findings)
        assert list(second.columns) == list(first.columns)
        for name, values in first.columns.items():
            np.testing.assert_array_equal(second.columns[name], values)


def read_back(write, path, layout=None):
    printed = write(layout_for(path, layout), "printed.toml")
    assert_same(rk.read_run(path, layout), rk.read_run(path, printed))
    return printed.read_text("utf-8")


@pytest.mark.parametrize("name", EXPORTS)
def test_what_is_printed_reads_back_to_the_same_run(write, name):
    read_back(write, write(EXPORTS[name]))


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_encodings_are_kept(write, encoding):
    path = write("Prüfer,Jörg\n\nt [s],Scherrate [1/s],Temperatur [°C]\n1,1,23\n2,2,23\n".encode(encoding))
    named = {"utf-8-sig": "utf-8"}.get(encoding, encoding)
    printed = layout_for(path)
    assert f'encoding = "{named}"' in printed
    run = rk.read_run(path, write(printed, "printed.toml"))
    assert run.metadata["Prüfer"] == "Jörg"


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("B26-*/*_load1.*")), ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_the_sample_exports_read_back(write, path):
    read_back(write, path)


def test_what_a_layout_settled_is_printed_again(write):
    path = write("5 1 1\n6 2 2\n7 3 3\n")
    layout = write(
        'format = 1\ndelimiter = "spaces"\nheader_line = 0\n[columns]\ntime = { column = 1, unit = "s" }\n'
        'angular_velocity = { column = 2, unit = "rpm" }\ntorque = { column = 3, unit = "mN·m" }\n'
        '[geometry]\nkind = "parallel plates"\nradius = "25 mm"\ngap = "1 mm"\n',
        "layout.toml",
    )
    printed = read_back(write, path, layout)
    assert 'time = { column = 1, unit = "s" }' in printed
    assert '[geometry]\nkind = "parallel plates"\nradius = "25 mm"\ngap = "1 mm"\n' in printed
    assert "header_line = 0\n" in printed


def test_the_kinds_are_offered_and_the_doubts_said(write):
    rows = [f"{20 * index},{10 * index},{60 + index}" for index in range(1, 11)]
    printed = layout_for(write("\n".join(["t [s],γ̇ [1/s],τ [Pa]", *rows])))
    assert '# 1 = { kind = "up", controlled = "rate" }      # step 1: one row a rate and 20.0 s a point (limit 9.0 s) would do' in printed
    named = printed.replace("# 1 = {", "1 = {").replace('"up"', '"steady"')
    assert read_layout(write(named, "named.toml")).steps[1].kind == "steady"


def test_a_refused_export_gives_a_beginning(write):
    path = write("t [s];Shear rate;Result 3\n1;1;60\n2;2;70\n")
    printed = layout_for(path)
    assert printed.startswith("# refused: line 1, column 2 ('Shear rate'): shear rate has no unit\n# write the unit into the header")
    assert '# time = { column = "t [s]", unit = "s" }' in printed
    assert '# shear_rate = { column = "Shear rate", unit = "?" }' in printed
    assert '# quantity = { column = "Result 3", unit = "?" }' in printed
    completed = printed.replace(
        '# shear_rate = { column = "Shear rate", unit = "?" }', 'shear_rate = { column = "Shear rate", unit = "1/s" }'
    )
    completed = completed.replace('# quantity = { column = "Result 3", unit = "?" }', 'shear_stress = { column = "Result 3", unit = "Pa" }')
    run = rk.read_run(path, write(completed, "completed.toml"))
    assert run.steps[0].shear_stress.tolist() == [60.0, 70.0]


@pytest.mark.parametrize("mark", [",", "."])
def test_both_decimal_marks_are_offered_where_the_numbers_leave_it_open(write, mark):
    path = write(f"t [s];τ [Pa]\n1;1{mark}234\n2;2{mark}345\n")
    printed = layout_for(path)
    assert "# refused: '1" in printed
    other = {",": ".", ".": ","}[mark]
    decimals = printed.replace(f'# decimal = "{mark}"', f'decimal = "{mark}"')
    assert rk.read_run(path, write(decimals, "decimals.toml")).steps[0].shear_stress.tolist() == [1.234, 2.345]
    thousands = printed.replace(f'# decimal = "{other}"', f'decimal = "{other}"').replace("# thousands", "thousands")
    assert rk.read_run(path, write(thousands, "thousands.toml")).steps[0].shear_stress.tolist() == [1234.0, 2345.0]


def test_the_decimal_mark_is_offered_where_a_number_is_refused(write):
    assert '# decimal = "."     # or ",": the mark before the decimals\n' in layout_for(write("t [s];τ [Pa]\n0,5;1,5\n1;2.5\n"))


def test_a_table_without_a_header_gives_a_beginning(write):
    printed = layout_for(write("1;1;60\n2;2;70\n"))
    assert printed.startswith("# refused: ")
    assert "# header_line = 0     # where there is no header; columns go by number then" in printed
    assert '# shear_rate = { column = 2, unit = "?" }' in printed


def test_what_is_no_text_or_refused_with_its_layout_stays_refused(write, tmp_path):
    with pytest.raises(ReadError, match="there is no such file"):
        layout_for(tmp_path / "absent.csv")
    with pytest.raises(ReadError, match="this is a binary file"):
        layout_for(write(b"\0\1\2\3\0\0" * 50))
    layout = write('format = 1\n[columns]\nshear_rate = { column = "Result", unit = "1/s" }\n', "layout.toml")
    with pytest.raises(ReadError, match="has no unit"):
        layout_for(write("t,Result,τ [Pa]\n1,1,60\n"), layout)


def test_hostile_headings_stay_inside_their_strings(write):
    path = write('t [s],γ̇ [1/s],τ [Pa],"a"" }\n[geometry]\nkind = ""cone"\n1,1,60,x\n2,2,70,y\n')
    read_back(write, path)


def test_the_command_prints_it(write, capsys):
    path = write(EXPORTS["plain"])
    assert main(["inspect", str(path), "--print-layout"]) == 0
    assert capsys.readouterr().out == layout_for(path)
