"""A layout file names columns and units, and every mistake in it is named."""

from __future__ import annotations

import numpy as np
import pytest

import rheokit as rk
from rheokit.base.errors import ReadError
from rheokit.reading.layout import Layout, LayoutColumn, LayoutStep, read_layout

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
        ('format = 1\nencoding = "latin"', r"layout\.toml, encoding: it is 'latin'; write one of 'utf-8', 'utf-16', 'cp1252'$"),
        ('format = 1\ndelimiter = ";"', r"layout\.toml, delimiter: it is ';'; write one of 'comma', 'semicolon', 'tab', 'bar', 'spaces'$"),
        ("format = 1\ndecimal = 1", r"layout\.toml, decimal: it is 1, not a text; write it in quotes"),
        (
            'format = 1\ndecimal = ","\nthousands = ","',
            r"layout\.toml, thousands: ',' is the decimal mark already; name the other mark, or 'none'",
        ),
        (
            "format = 1\nheader_line = -1",
            r"layout\.toml, header_line: it is -1; write the line as an editor counts, or 0 where there is none",
        ),
        ("format = 1\nheader_line = true", r"layout\.toml, header_line: it is True"),
        ("format = 1\n[columns]\ntime = { column = 0 }", r"columns\.time\.column: it is 0; columns are numbered from 1"),
        (
            'format = 1\n[columns]\ntime = { column = 3 }\nstep = { column = "#3" }',
            r"columns\.step: time and step name the same column '#3'",
        ),
        (
            'format = 1\n[steps]\nfirst = "up"',
            r"layout\.toml, steps\.first: it is no number of a step; write the number of the step, such as",
        ),
        ('format = 1\n[steps]\n1 = "up"\n01 = "up"', r"layout\.toml, steps\.01: step 1 is named twice"),
        (
            'format = 1\n[steps]\n1 = "stres_ramp"',
            r"layout\.toml, steps\.1: unknown kind of step 'stres_ramp'; did you mean 'stress_ramp'\?",
        ),
        ("format = 1\n[steps]\n1 = 3", r'layout\.toml, steps\.1: it is 3; write a kind such as "up"'),
        ('format = 1\n[steps]\n1 = { controlled = "rate" }', r"layout\.toml, steps\.1: it names no kind; known are up, down, hold"),
        (
            'format = 1\n[steps]\n1 = { kind = "up", controlled = "torque" }',
            r"layout\.toml, steps\.1\.controlled: nothing is controlled by 'torque'; known are rate, stress, strain, temperature",
        ),
        ("format = 1\n[columns", r"layout\.toml: this is not TOML: "),
        ("format = 1\na = " + "[" * 5000, r"layout\.toml: this is not TOML: it is nested too deeply"),
    ],
)
def test_mistakes_are_named(write, text, message):
    with pytest.raises(ReadError, match=message):
        rk.read_run(write(TEXT), layout=write(text, "layout.toml"))


def test_everything_a_layout_may_say_is_kept(write):
    text = (
        'format = 1\nencoding = "cp1252"\ndelimiter = "bar"\ndecimal = ","\nthousands = "none"\nheader_line = 0\n'
        '[columns]\ntime = { column = 1, unit = "min" }\n[steps]\n1 = "up"\n2 = { kind = "down", controlled = "stress" }\n'
        '[geometry]\nkind = "cone-plate"\nradius = "12.5 mm"\nangle = "2 °"\n'
    )
    layout = read_layout(write(text, "layout.toml"))
    assert (layout.encoding, layout.delimiter, layout.decimal, layout.thousands, layout.header_line) == ("cp1252", "|", ",", "", 0)
    assert layout.columns["#1"] == LayoutColumn(quantity="time", column="#1", unit="min", number=1)
    assert layout.steps == {1: LayoutStep(kind="up"), 2: LayoutStep(kind="down", controlled="stress")}
    assert str(layout.geometry) == "cone-plate (radius 12.5 mm, angle 2 °)"


def test_a_layout_that_says_little_leaves_the_rest_to_the_reader(write):
    layout = read_layout(write('format = 1\nthousands = "space"\n', "layout.toml"))
    assert layout == Layout(name="layout.toml", thousands=" ")
