"""Every header style, unit placement, delimiter and column order reads to the same numbers."""

from __future__ import annotations

import csv
import hashlib
import io
import itertools
import os

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import rheokit as rk
from rheokit.base.errors import ReadError

# quantity: (full name, symbol, unit as written, numbers as written, the same numbers in SI)
COLUMNS = {
    "time": ("Time", "t", "min", ("0.5", "1", "1.5"), (30.0, 60.0, 90.0)),
    "shear_rate": ("Shear rate", "γ̇", "s⁻¹", ("1", "10", "100"), (1.0, 10.0, 100.0)),
    "shear_stress": ("Shear stress", "τ", "kPa", ("0.25", "0.5", "2"), (250.0, 500.0, 2000.0)),
    "viscosity": ("Viscosity", "η", "mPa·s", ("250000", "50000", "20000"), (250.0, 50.0, 20.0)),
    "torque": ("Torque", "M", "µN·m", ("1000000", "2000000", "8000000"), (1.0, 2.0, 8.0)),
    "angular_velocity": ("Angular velocity", "Ω", "rad/s", ("0.5", "5", "50"), (0.5, 5.0, 50.0)),
    "normal_force": ("Normal force", "F_N", "N", ("\N{MINUS SIGN}0.5", "0.25", "-1e-1"), (-0.5, 0.25, -0.1)),
    "temperature": ("Temperature", "T", "°C", ("0", "-273.15", "50"), (273.15, 0.0, 323.15)),
}
STYLES = {
    "square brackets": lambda name, symbol, unit: (f"{name} [{unit}]", ""),
    "round brackets": lambda name, symbol, unit: (f"{name.upper()} ({unit})", ""),
    "symbol in unit": lambda name, symbol, unit: (f"{symbol} in {unit}", ""),
    "symbol over unit": lambda name, symbol, unit: (f"{symbol}/{unit}", ""),
    "symbol, square brackets": lambda name, symbol, unit: (f"{symbol}[{unit}]", ""),
    "name, comma, unit": lambda name, symbol, unit: (f"{name.lower().replace(' ', '_')}, {unit}", ""),
    "line break before the unit": lambda name, symbol, unit: (f"{name}\n[{unit}]", ""),
    "units row": lambda name, symbol, unit: (name, unit),
    "units row in brackets": lambda name, symbol, unit: (symbol, f"[{unit}]"),
    "both, equal": lambda name, symbol, unit: (f"{name} [{unit}]", unit),
}


def export(style: str, delimiter: str = ",", order: list[str] | None = None, preamble: str = "") -> str:
    order = order or list(COLUMNS)
    heads = [STYLES[style](*COLUMNS[name][:3]) for name in order]
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, lineterminator="\n")
    writer.writerow([head for head, _ in heads])
    if any(unit for _, unit in heads):
        writer.writerow([unit for _, unit in heads])
    writer.writerows(zip(*(COLUMNS[name][3] for name in order), strict=True))
    return preamble + text.getvalue()


@pytest.mark.parametrize(("style", "delimiter"), list(itertools.product(STYLES, ",;\t")))
def test_every_style_and_delimiter_reads_to_the_same_si_numbers(write, style, delimiter):
    run = rk.read_run(write(export(style, delimiter)))
    assert len(run.steps) == 1
    assert set(run.steps[0].columns) == set(COLUMNS)
    for name, (*_, numbers) in COLUMNS.items():
        # The numbers are chosen so that one rounding of the conversion remains at most.
        np.testing.assert_allclose(run.steps[0].columns[name], numbers, rtol=4e-16, atol=0.0, err_msg=name)


@pytest.mark.parametrize("seed", range(5))
def test_the_order_of_the_columns_does_not_matter(write, seed):
    order = list(np.random.default_rng(seed).permutation(list(COLUMNS)))
    shuffled, plain = rk.read_run(write(export("units row", order=order))), rk.read_run(write(export("units row")))
    for name in COLUMNS:
        np.testing.assert_array_equal(shuffled.steps[0].columns[name], plain.steps[0].columns[name])


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_line_ends_byte_order_mark_and_blank_lines_do_not_matter(write, line_end, mark):
    text = export("square brackets", preamble="Batch,B1\n\n,,\n").replace("\n", line_end) + line_end
    run = rk.read_run(write(mark + text.encode()))
    assert run.metadata == {"Batch": "B1"}
    assert run.steps[0].rows == (5, 7)
    np.testing.assert_array_equal(run.steps[0].shear_rate, [1.0, 10.0, 100.0])


def test_the_preamble_is_kept_as_text(write):
    preamble = 'Batch,B26-041\nOperator: technician 2\nNote: dull, but fine\n# Room: 3\nLast words\n"Batch","again, sam"\nEmpty:\n'
    run = rk.read_run(write(export("units row", preamble=preamble)))
    assert dict(run.metadata) == {
        "Batch": "B26-041",
        "Operator": "technician 2",
        "Note": "dull, but fine",
        "Room": "3",
        "line 5": "Last words",
        "Batch (line 6)": "again, sam",
        "Empty": "",
    }
    assert [str(finding) for finding in run.findings if finding.check == "preamble"] == [
        "the preamble repeats 'Batch' in line 6; the first one counts"
    ]


def test_a_preamble_line_that_names_quantities_is_not_the_header(write):
    run = rk.read_run(write("Columns: time, shear rate, shear stress\nPoints,2\nt [s],γ̇ [1/s],τ [Pa]\n1,2,3\n2,4,5\n"))
    np.testing.assert_array_equal(run.steps[0].shear_stress, [3.0, 5.0])


def test_a_preamble_line_divided_by_another_sign_is_not_the_header(write):
    run = rk.read_run(write("Shear rate; shear stress; 3 loads\nt [s],γ̇ [1/s],τ [Pa]\n1,2,3\n"))
    np.testing.assert_array_equal(run.steps[0].shear_stress, [3.0])


def test_the_unit_one_may_stand_in_a_units_row(write):
    run = rk.read_run(write("t,γ,τ\ns,1,Pa\n1,2,3\n"))
    assert run.steps[0].columns["shear_strain"].tolist() == [2.0]


def test_the_source_is_the_hash_of_the_bytes_and_the_lines_read(write):
    path = write(export("units row", preamble="Batch,B1\n"))
    source = rk.read_run(os.fspath(path)).source
    assert source.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert (source.run, source.rows) == ("run_07.csv", (4, 6))


def test_columns_that_are_not_known_are_named_and_not_used(write):
    run = rk.read_run(write("Point,Shear rate [1/s],Shear stress [Pa],State,\n1,2,3,ok,\n2,3,4,ok,\n"))
    assert set(run.steps[0].columns) == {"shear_rate", "shear_stress", "viscosity"}
    (finding,) = [finding for finding in run.findings if finding.check == "columns_aside"]
    assert str(finding) == "columns not known and not used: 1 ('Point'), 4 ('State'); a layout file can name them"
    assert finding.severity == "info"


def test_words_for_a_missing_number_are_nan_and_are_counted(write):
    words = ["", "n/a", "NaN", "---", "***", "Missing"]
    rows = "".join(f"{index},{index},{word}\n" for index, word in enumerate([*words, "5"], 1))
    run = rk.read_run(write("t [s],γ̇ [1/s],τ [Pa]\n" + rows))
    np.testing.assert_array_equal(run.steps[0].shear_stress, [np.nan] * 6 + [5.0])
    assert "no number in: shear stress (6 of 7 rows, the first in line 2)" in map(str, run.findings)


def test_a_viscosity_at_rate_zero_is_not_missed_but_an_empty_column_is_absent(write):
    run = rk.read_run(write("t [s],γ̇ [1/s],τ [Pa],η [Pa·s],T [°C]\n1,0,0.1,,\n2,1,3,3,\n"))
    assert "temperature" not in run.steps[0].columns
    assert "no number in: temperature (every row: the column counts as absent)" in map(str, run.findings)


@pytest.mark.parametrize(
    ("header", "row", "name", "value"),
    [
        ("γ̇ [1/s],τ [Pa]", "4,8", "viscosity", 2.0),
        ("γ̇ [1/s],η [Pa·s]", "4,2", "shear_stress", 8.0),
        ("τ [Pa],η [Pa·s]", "8,2", "shear_rate", 4.0),
    ],
)
def test_the_third_of_rate_stress_and_viscosity_follows_from_the_other_two(write, header, row, name, value):
    run = rk.read_run(write(f"{header}\n{row}\n"))
    assert run.steps[0].columns[name].tolist() == [value]
    assert any(finding.check == "derived_column" and name.replace("_", " ") in str(finding) for finding in run.findings)


def test_single_missing_cells_are_never_filled_in(write):
    run = rk.read_run(write("γ̇ [1/s],τ [Pa],η [Pa·s]\n1,2,2\n2,,2\n0,1,\n"))
    np.testing.assert_array_equal(run.steps[0].shear_stress, [2.0, np.nan, 1.0])
    derived = rk.read_run(write("γ̇ [1/s],τ [Pa]\n1,2\n0,1\n3,\n")).steps[0].columns["viscosity"]
    np.testing.assert_array_equal(derived, [2.0, np.nan, np.nan])


def test_a_hostile_text_is_only_text(write):
    hostile = "=cmd|' /C calc'!A0"
    text = f"Operator,{hostile}\n__import__('os').system('x'),\x1b[31mred\nτ [Pa],γ̇ [1/s],\x1b[2J\u202eevil\n1,2,{{7*7}}\n2,3,$(rm)\n"
    run = rk.read_run(write(text, "\x1b[31m\u202erun.csv"))
    assert run.metadata["Operator"] == hostile
    assert "\x1b" not in str(run.table())
    assert all("\x1b" not in str(finding) and "\u202e" not in str(finding) for finding in run.findings)


def test_a_wide_table_ends_in_milliseconds_not_in_memory(write):
    with pytest.raises(ReadError, match=r"line 1: 201 columns; a table of one run has at most 200"):
        rk.read_run(write("τ [Pa],γ̇ [1/s]" + ",x" * 199 + "\n" + "1," * 200 + "1\n"))
    with pytest.raises(ReadError, match=r"line 2: a line of 200,\d+ characters is no row of a table"):
        rk.read_run(write("τ [Pa],γ̇ [1/s]\n" + "1," * 100_000 + "\n"))


PRINTED = st.floats(min_value=-1e12, max_value=1e12, allow_nan=False).map(lambda value: f"{value:.6g}")


@given(cells=st.lists(st.tuples(PRINTED, PRINTED), min_size=1, max_size=12), delimiter=st.sampled_from([",", ";", "\t"]))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_what_was_printed_is_what_is_read(write, cells, delimiter):
    lines = [f"t [s]{delimiter}F_N [N]", *(f"{time}{delimiter}{force}" for time, force in cells)]
    run = rk.read_run(write("\n".join(lines)))
    for column, name in enumerate(("time", "normal_force")):
        read = np.concatenate([step.columns[name] for step in run.steps])
        assert [f"{value:.6g}" for value in read] == [cell[column] for cell in cells]
