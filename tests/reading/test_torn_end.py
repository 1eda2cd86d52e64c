"""A text that ends in the middle of its last number does not pass as whole, and one that only lacks a last line end does."""

from __future__ import annotations

import pytest

import rheokit as rk

HEAD = "t [s];γ̇ [1/s];τ [Pa]\n"
KEPT = "1;10.50;21.30\n2;11.50;21.25\n3;12.50;21.20\n4;13.50;21.15\n"
"""Zeros behind the decimal mark are written."""
BARE = "1;10.5;21.3\n2;11.5;21.25\n3;12.5;21.2\n4;13.5;21.15\n"
"""They are not."""


def cut_short(run):
    return [finding for finding in run.findings if finding.check == "cut_short"]


@pytest.mark.parametrize("last", ["5;14.50;2", "5;14.50;21", "5;14.50;21.", "5;14.50;21.1", "5;14.50;"])
@pytest.mark.parametrize("style", ["comma", "semicolon", "decimal comma", "tab", "CR LF"])
def test_a_last_number_cut_short_is_left_out_with_a_caution(write, last, style):
    text = HEAD + KEPT + last
    text = text.replace(".", ",") if style == "decimal comma" else text
    text = {"comma": text.replace(";", ","), "tab": text.replace(";", "\t"), "CR LF": text.replace("\n", "\r\n")}.get(style, text)
    run = rk.read_run(write(text))
    (finding,) = cut_short(run)
    assert (finding.severity, finding.rows) == ("caution", (6, 6))
    assert "it is cut short, and the point was left out; export the run again" in str(finding)
    assert run.steps[0].columns["shear_stress"].tolist() == [21.3, 21.25, 21.2, 21.15]


@pytest.mark.parametrize("end", ["5;14.50;21.10", "5;14.50;21.10\n", "5;14.50;21\n", "5;14.50;n/a", "5;14.50;121.10", "5;14.50;100.0"])
def test_a_last_line_that_only_lacks_its_end_is_whole(write, end):
    run = rk.read_run(write(HEAD + KEPT + end))
    assert cut_short(run) == []
    assert len(run.steps[0]) == 5


def test_a_short_last_number_where_no_zeros_are_written_is_kept_with_a_caution(write):
    run = rk.read_run(write(HEAD + BARE + "5;14.5;2"))
    (finding,) = cut_short(run)
    assert "its last cell '2' is shorter than every one above it: it may be cut short" in str(finding)
    assert len(run.steps[0]) == 5


@pytest.mark.parametrize("last", ["0", "1", "1.5", "4.05e+11"])
def test_a_zero_that_ends_an_exponent_says_nothing(write, last):
    rows = "".join(f"{index};0.5;1.00001e+{index}0\n" for index in range(1, 5))
    assert len(rk.read_run(write(f"{HEAD}{rows}5;0.5;{last}")).steps[0]) == 5


def test_a_ramp_that_ends_at_a_round_number_is_whole(write):
    rows = "".join(f"{index};{30 + index};{index * 16.66:.4g}\n" for index in range(1, 6))
    run = rk.read_run(write("t [s];τ [Pa];γ̇ [1/s]\n" + rows + "6;36;100"))
    assert cut_short(run) == []
    assert len(run.steps[0]) == 6


def test_numbers_with_exponents_and_clock_times_are_seen_to_be_cut(write):
    powers = "".join(f"{index},1.{index}34E+02\n" for index in range(1, 6))
    for end in ("6,1.634E+0", "6,1.634E+", "6,1.634E"):
        run = rk.read_run(write("t [s],τ [Pa]\n" + powers + end))
        assert [len(cut_short(run)), len(run.steps[0])] == [1, 5], end
    clocks = "".join(f"{index},00:00:1{index}\n" for index in range(1, 6))
    assert len(cut_short(rk.read_run(write("τ [Pa],Time\n" + clocks + "6,00:00:1")))) == 1


@pytest.mark.parametrize("begins", ["Step 2\n", HEAD])
@pytest.mark.parametrize("rows", [KEPT, ""])
def test_the_point_may_be_the_only_one_of_its_step(write, begins, rows):
    run = rk.read_run(write(f"{HEAD}{KEPT}{begins}{rows}5;14.50;2"))
    assert len(cut_short(run)) == 1
    assert [len(step) for step in run.steps] == ([4, 4] if rows else [4])


def test_a_sign_is_what_is_left_of_a_number(write):
    rows = "t [s];γ̇ [1/s];F_N [N]\n" + "".join(f"{index};2;-0.{index}\n" for index in range(1, 5))
    assert len(cut_short(rk.read_run(write(rows + "5;2;-")))) == 1
    assert cut_short(rk.read_run(write(rows + "5;2;-\n"))) == []


def test_a_long_text_is_looked_at_too(write):
    rows = "".join(f"{index};{1 + index * 0.01:.2f};{30 + index % 7}.{index % 90 + 10}\n" for index in range(40_000))
    run = rk.read_run(write(HEAD + rows + "40000;401.00;3"))
    assert [finding.rows for finding in cut_short(run)] == [(40_002, 40_002)]
    assert len(run.steps[0]) == 40_000
