"""A row in which columns that hang together contradict each other is named, with or without a geometry."""

from __future__ import annotations

import numpy as np
import pytest

import rheokit as rk

HEAD = "Step,Time [s],Step time [s],Shear rate [1/s],Shear stress [Pa],Viscosity [Pa·s],Torque [mN·m],Speed [rad/s]"
FACTORS = np.array([10.0, 15.0, 20.0, 30.0, 40.0, 60.0, 80.0, 100.0])


def export(row=None, column=None, cell=""):
    """Eight rows of two steps; one cell may be another."""
    lines = [HEAD]
    for index, rate in enumerate(FACTORS):
        step, within = index // 4, index % 4
        stress = 50.0 + 2.0 * rate
        cells = [1 + step, 40.0 * step + 5.0 * within + 5.0, 5.0 * within + 5.0, rate, stress, stress / rate, stress / 240.0, rate * 0.035]
        words = [f"{number:.5g}" for number in cells]
        if row == index:
            words[HEAD.split(",").index(column)] = cell
        lines.append(",".join(words))
    return "\n".join(lines) + "\n"


def disagreements(run):
    return [finding for finding in run.findings if finding.check == "columns_disagree"]


def test_rows_in_which_all_goes_together_are_silent(write):
    assert disagreements(rk.read_run(write(export()))) == []


@pytest.mark.parametrize(
    ("column", "cell", "said"),
    [
        (
            "Viscosity [Pa·s]",
            "-5.5",
            "'Viscosity [Pa·s]' times 'Shear rate [1/s]' differs from 'Shear stress [Pa]' by more than 2% in 1 of 8",
        ),
        ("Viscosity [Pa·s]", "5.7", "'Viscosity [Pa·s]' times 'Shear rate [1/s]' differs"),
        ("Viscosity [Pa·s]", "0", "'Viscosity [Pa·s]' times 'Shear rate [1/s]' differs"),
        ("Torque [mN·m]", "0.48", "'Torque [mN·m]' is out of proportion with 'Shear stress [Pa]' by more than 2% in 1 of 8 rows"),
        ("Torque [mN·m]", "-0.45833", "'Torque [mN·m]' is out of proportion with 'Shear stress [Pa]'"),
        ("Torque [mN·m]", "0", "'Torque [mN·m]' is out of proportion with 'Shear stress [Pa]'"),
        ("Speed [rad/s]", "1.5", "'Speed [rad/s]' is out of proportion with 'Shear rate [1/s]'"),
        ("Step time [s]", "22", "the time of the run and the time within the step do not go together in 1 of 8 rows, the first in line 5"),
        ("Time [s]", "19.5", "the time of the run and the time within the step do not go together"),
    ],
)
def test_a_number_that_contradicts_another_is_a_caution_with_its_line(write, column, cell, said):
    (finding,) = disagreements(rk.read_run(write(export(3, column, cell))))
    assert str(finding).startswith(said)
    assert (finding.severity, finding.rows) == ("caution", (5, 5))


@pytest.mark.parametrize(
    ("column", "cell"), [("Viscosity [Pa·s]", "3.7"), ("Viscosity [Pa·s]", ""), ("Torque [mN·m]", "n/a"), ("Time [s]", "20.1")]
)
def test_what_an_instrument_may_print_is_silent(write, column, cell):
    # The true cells are 3.6667 Pa·s and 20 s: 1 % is within the average of a point, a missing cell says nothing.
    assert disagreements(rk.read_run(write(export(3, column, cell)))) == []


def test_a_rate_printed_as_zero_is_excused_as_far_as_its_digits_reach(write):
    head = "t [s],γ̇ [1/s],τ [Pa],η [Pa·s]\n1,0.01,1.00,100\n2,0.02,2.00,100\n"
    # 0.00 stands for anything below 0.005 1/s: times 100 Pa·s that is 0.5 Pa.
    assert disagreements(rk.read_run(write(head + "3,0.00,0.40,100\n"))) == []
    assert len(disagreements(rk.read_run(write(head + "3,0.00,0.60,100\n")))) == 1


@pytest.mark.parametrize("resting", ["0,1.70,0", "0.000,1.70,0.00", "0,-0.30,0"])
def test_rows_at_rest_printed_with_a_viscosity_of_zero_are_silent(write, resting):
    head = "t [s],γ̇ [1/s],τ [Pa],η [Pa·s]\n1,1,10,10\n2,2,20,10\n"
    assert disagreements(rk.read_run(write(head + f"3,{resting}\n4,{resting}\n"))) == []


@pytest.mark.parametrize("odd", ["0,1.70,10", "2,1.70,0"])
def test_only_one_of_rate_and_viscosity_printed_as_zero_is_a_caution(write, odd):
    head = "t [s],γ̇ [1/s],τ [Pa],η [Pa·s]\n1,1.00,10,10\n2,2.00,20,10\n"
    assert [finding.rows for finding in disagreements(rk.read_run(write(head + f"3,{odd}\n")))] == [(4, 4)]
