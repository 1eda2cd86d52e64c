"""Viscosity times rate is the stress, or one of the columns is in another unit."""

from __future__ import annotations

import numpy as np
import pytest

import rheokit as rk

RATES = np.geomspace(0.1, 100.0, 13)
STRESSES = 60.0 + 20.0 * np.sqrt(RATES)


def export(viscosity_factor=1.0, digits=5, rows=slice(None)):
    factor = np.ones(RATES.size)
    factor[rows] = viscosity_factor
    lines = ["t [s],Shear rate [1/s],Shear stress [Pa],Viscosity [Pa·s]"]
    for index, (rate, stress) in enumerate(zip(RATES, STRESSES, strict=True)):
        viscosity = stress / rate * factor[index]
        lines.append(f"{index},{rate:.{digits}g},{stress:.{digits}g},{viscosity:.{digits}g}")
    return "\n".join(lines)


def findings(run):
    return [finding for finding in run.findings if finding.check in {"unit_mix_up", "columns_disagree"}]


@pytest.mark.parametrize("digits", [3, 5, 12])
def test_columns_that_agree_to_rounding_are_silent(write, digits):
    assert findings(rk.read_run(write(export(digits=digits)))) == []


@pytest.mark.parametrize(
    ("factor", "said"), [(1000.0, "1,000"), (0.001, "1/1,000"), (10.0, "10"), (0.1, "1/10"), (1e6, "1,000,000"), (1012.0, "1,000")]
)
def test_a_power_of_ten_is_a_mix_up_of_units_and_invalid(write, factor, said):
    (finding,) = findings(rk.read_run(write(export(factor))))
    assert (finding.check, finding.severity) == ("unit_mix_up", "invalid")
    assert str(finding).startswith(f"'Viscosity [Pa·s]' times 'Shear rate [1/s]' is {said} times 'Shear stress [Pa]': one of the columns")
    assert finding.value == pytest.approx(factor, rel=1e-4)  # five printed digits


@pytest.mark.parametrize("factor", [1.05, 60.0, 0.5, 1030.0, 970.0])
def test_any_other_ratio_means_that_one_column_is_not_of_this_measurement(write, factor):
    (finding,) = findings(rk.read_run(write(export(factor))))
    assert (finding.check, finding.severity) == ("columns_disagree", "invalid")
    assert "on the median" in str(finding)


def test_single_rows_that_disagree_are_counted(write):
    (finding,) = findings(rk.read_run(write(export(1.1, rows=slice(3, 5)))))
    assert "differs from 'Shear stress [Pa]' by more than 2% in 2 of 13 rows, the first in line 5" in str(finding)
    assert (finding.severity, finding.rows) == ("caution", (5, 6))


def test_rows_are_excused_as_far_as_their_printed_digits_reach(write):
    # 0.01 1/s printed with two decimals may be anything from 0.005 to 0.015: the ratio 1.4 is within it, and 1.6 is not.
    rows = "1,1.00,10.00,10\n2,1.00,10.00,10\n3,2.00,20.00,10\n"
    assert findings(rk.read_run(write("t [s],γ̇ [1/s],τ [Pa],η [Pa·s]\n" + rows + "4,0.01,10.00,1400\n"))) == []
    assert len(findings(rk.read_run(write("t [s],γ̇ [1/s],τ [Pa],η [Pa·s]\n" + rows + "4,0.01,10.00,1600\n")))) == 1


def test_the_mix_up_is_found_in_a_units_row_too(write):
    (finding,) = findings(rk.read_run(write("t,γ̇,τ,η\ns,1/s,Pa,mPa·s\n1,2,6,3\n2,3,9,3\n")))
    assert (finding.check, finding.value) == ("unit_mix_up", pytest.approx(1e-3))


def test_extreme_numbers_are_no_crash(write):
    run = rk.read_run(write("t [s],γ̇ [1/s],τ [Pa],η [Pa·s]\n1,1e300,1e-300,1e300\n2,1e300,1e-300,1e300\n"))
    assert [finding.check for finding in findings(run)] == ["columns_disagree"]


CONE = "Geometry,cone-plate\nCone radius,12.5 mm\nCone angle,2 °\n\n"
STRESS_PER_TORQUE = 3.0 / (2.0 * np.pi * 0.0125**3)


def with_torque(torque_factor=1.0, speed_factor=1.0, digits=5, sign=1.0):
    lines = ["t [s],Shear rate [1/s],Shear stress [Pa],Torque [mN·m],Speed [rad/s]"]
    for index, (rate, stress) in enumerate(zip(sign * RATES, sign * STRESSES, strict=True)):
        torque, speed = 1e3 * stress / STRESS_PER_TORQUE * torque_factor, rate * np.pi / 90.0 * speed_factor
        lines.append(f"{index},{rate:.{digits}g},{stress:.{digits}g},{torque:.{digits}g},{speed:.{digits}g}")
    return CONE + "\n".join(lines)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_torque_and_speed_that_agree_by_the_geometry_are_silent(write, sign):
    assert findings(rk.read_run(write(with_torque(digits=3, sign=sign)))) == []


@pytest.mark.parametrize(
    ("factors", "column", "whole", "said"),
    [
        ({"torque_factor": 1000.0}, "Torque [mN·m]", "Shear stress [Pa]", "1,000"),
        ({"torque_factor": 0.001}, "Torque [mN·m]", "Shear stress [Pa]", "1/1,000"),
        ({"speed_factor": 10.0}, "Speed [rad/s]", "Shear rate [1/s]", "10"),
    ],
)
def test_a_power_of_ten_between_torque_and_stress_is_a_mix_up(write, factors, column, whole, said):
    (finding,) = findings(rk.read_run(write(with_torque(**factors))))
    assert (finding.check, finding.severity) == ("unit_mix_up", "invalid")
    assert str(finding).startswith(
        f"{column!r} by cone-plate (radius 12.5 mm, angle 2 °), written in the preamble, is {said} times {whole!r}: one of the"
    )


@pytest.mark.parametrize(("factors", "value"), [({"torque_factor": 0.75}, 0.75), ({"speed_factor": 60.0 / (2.0 * np.pi)}, 9.549)])
def test_any_other_ratio_by_the_geometry_is_a_caution(write, factors, value):
    (finding,) = findings(rk.read_run(write(with_torque(**factors))))
    assert (finding.check, finding.severity) == ("columns_disagree", "caution")
    assert finding.value == pytest.approx(value, rel=1e-3)  # five printed digits, and the last of 9.549
    assert "on the median; the geometry may be another, or " in str(finding)


def in_steps(*factors, rows=10):
    lines = ["Step,t [s],Shear rate [1/s],Shear stress [Pa],Viscosity [Pa·s]"]
    for step, factor in enumerate(factors, 1):
        for index in range(1, rows + 1):
            lines.append(f"{step},{rows * (step - 1) + index},{10 * index},{20 * index},{2 * factor}")
    return "\n".join(lines)


@pytest.mark.parametrize("rows", [10, 17])
@pytest.mark.parametrize("factors", [(1, 1000), (1000, 1), (1, 1000, 1), (1, 1000, 1000), (1000, 10, 1000)])
def test_a_mix_up_in_single_steps_names_step_lines_and_factor(write, factors, rows):
    found = findings(rk.read_run(write(in_steps(*factors, rows=rows))))
    assert [(one.check, one.severity) for one in found] == [("unit_mix_up", "invalid")] * sum(factor != 1 for factor in factors)
    said = [
        f"step {step} (lines {rows * (step - 1) + 2} to {rows * step + 1}): 'Viscosity [Pa·s]' times 'Shear rate [1/s]' is {factor:,} "
        "times 'Shear stress [Pa]': one of the columns is in another unit than its heading says; find out which"
        for step, factor in enumerate(factors, 1)
        if factor != 1
    ]
    assert [str(one)[: len(text)] for one, text in zip(found, said, strict=True)] == said
    assert [one.rows for one in found] == [
        (rows * (step - 1) + 2, rows * step + 1) for step, factor in enumerate(factors, 1) if factor != 1
    ]


def test_the_same_mix_up_in_every_step_is_said_once(write):
    (finding,) = findings(rk.read_run(write(in_steps(1000, 1000))))
    assert str(finding).startswith("'Viscosity [Pa·s]' times 'Shear rate [1/s]' is 1,000 times 'Shear stress [Pa]'")
    (finding,) = findings(rk.read_run(write(in_steps(1.5, 1))))
    assert finding.check == "columns_disagree"
    (finding,) = findings(rk.read_run(write(in_steps(1, 10, 1, rows=2))))
    assert (finding.check, finding.severity, finding.rows) == ("columns_disagree", "caution", (4, 5))


def test_reversed_rotation_agrees_with_itself(write):
    assert findings(rk.read_run(write("t [s],γ̇ [1/s],τ [Pa],η [Pa·s]\n1,-1,-2,2\n2,-2,-4,2\n"))) == []
    (finding,) = findings(rk.read_run(write("t [s],γ̇ [1/s],τ [Pa],η [Pa·s]\n1,-1,-2,2000\n2,-2,-4,2000\n")))
    assert finding.check == "unit_mix_up"
