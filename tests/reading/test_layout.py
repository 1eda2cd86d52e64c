"""A layout file names columns and units, and every mistake in it is named."""

from __future__ import annotations

import numpy as np
import pytest

import rheokit as rk
from rheokit.base.errors import ReadError

TEXT = "Part,t [s],Result 1,Result 2 [kPa],Shear stress [Pa]\n1,1,5,2,7\n1,2,6,3,8\n"


def test_a_layout_names_what_the_header_does_not_and_comes_first(write):
    layout = write(
        'format = 1\n[columns]\nshear_rate = { column = "Result 1", unit = "1/min" }\nshear_stress = { column = "Result 2" }\n'
        'step = { column = "Part" }\n',
        "layout.toml",
    )
    run = rk.read_run(write(TEXT), layout=layout)
    np.testing.assert_allclose(run.steps[0].shear_rate, [5 / 60, 6 / 60], rtol=1e-15)  # one rounding
    np.testing.assert_array_equal(run.steps[0].shear_stress, [2000.0, 3000.0])
    assert "columns not known and not used: 5 ('Shear stress [Pa]'); a layout file can name them" in map(str, run.findings)


def test_a_layout_settles_two_columns_for_one_quantity(write):
    layout = write('format = 1\n[columns]\nshear_stress = { column = "τ corrected [Pa]" }\n', "layout.toml")
    with pytest.raises(ReadError, match="line 1, column 3"):
        rk.read_run(write("t [s],τ [Pa],τ corrected [Pa]\n1,2,3\n"), layout=layout)
    named = write('format = 1\n[columns]\nshear_stress = { column = "τ corrected", unit = "kPa" }\n', "layout.toml")
    run = rk.read_run(write("t [s],τ [Pa],τ corrected [Pa]\n1,2,3\n"), layout=named)
    assert run.steps[0].shear_stress.tolist() == [3000.0]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[columns]\nx = { column = "a" }', r"layout\.toml, format: it is missing; write 'format = 1' as the first line"),
        ("format = 2", r"layout\.toml, format: it is 2"),
        ("format = true", r"layout\.toml, format: it is True"),
        ("format = 1", r"layout\.toml: it says nothing; write one of encoding, delimiter"),
        ("format = 1\n[columns]", r"layout\.toml, columns: it names no column"),
        ("format = 1\n[colums]", r"layout\.toml, colums: unknown key; did you mean 'columns'\?"),
        ('format = 1\n[columns]\nshear_strss = { column = "a" }', r"columns\.shear_strss: unknown quantity; did you mean 'shear_stress'\?"),
        ('format = 1\n[columns]\ntime = "a"', r"columns\.time: it is 'a'; write \{ column"),
        ('format = 1\n[columns]\ntime = { unit = "s" }', r"columns\.time: it names no column"),
        ('format = 1\n[columns]\ntime = { column = "a", unt = "s" }', r"columns\.time\.unt: unknown key; did you mean 'unit'\?"),
        ('format = 1\n[columns]\ntime = { column = "a", unit = "Pa" }', r"columns\.time\.unit: 'Pa' is not a unit of time"),
        (
            'format = 1\n[columns]\ntime = { column = "a" }\nstep = { column = "a" }',
            r"columns\.step: time and step name the same column 'a'",
        ),
        ("format = 1\n[columns", r"layout\.toml: this is not TOML: "),
        ("format = 1\na = " + "[" * 5000, r"layout\.toml: this is not TOML: it is nested too deeply"),
    ],
)
def test_mistakes_are_named(write, text, message):
    with pytest.raises(ReadError, match=message):
        rk.read_run(write(TEXT), layout=write(text, "layout.toml"))
