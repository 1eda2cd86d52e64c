"""Reversed rotation is read as forward, and said."""

from __future__ import annotations

import numpy as np

import rheokit as rk

ROWS = (
    "Step,t [s],γ̇ [1/s],τ [Pa],M [mN·m]\n1,1,{a}100,{a}400,{a}2\n1,2,{a}100,{a}390,{a}2\n2,3,0,0,0\n2,4,0,0,0\n"
    "3,5,{b}0.1,{b}60,{b}1\n3,6,{b}0.1,{b}70,{b}1\n"
)


def test_a_reversed_run_is_turned_forward(write):
    forward, backward = rk.read_run(write(ROWS.format(a="", b=""))), rk.read_run(write(ROWS.format(a="-", b="-")))
    for one, other in zip(forward.steps, backward.steps, strict=True):
        assert one.kind == other.kind
        for name in ("shear_rate", "shear_stress", "torque", "viscosity"):
            np.testing.assert_array_equal(one.columns[name], other.columns[name])
            assert not np.signbit(other.columns[name][np.isfinite(other.columns[name])]).any()
    assert [str(finding) for finding in backward.findings if finding.check == "rotation"] == [
        "the rotation is reversed: rate, stress, torque, speed and strain are read with the opposite sign"
    ]
    assert not any(finding.check == "rotation" for finding in forward.findings)


def test_one_step_that_turns_the_other_way_is_a_caution(write):
    run = rk.read_run(write(ROWS.format(a="", b="-")))
    assert run.steps[2].shear_rate.tolist() == [0.1, 0.1]
    (said,) = [finding for finding in run.steps[2].findings if finding.check == "rotation"]
    assert said.severity == "caution"
    assert str(said).startswith("step 3: this step turns the other way than others of the run; its rate, stress, torque, speed and strain")


def test_recoil_and_contradicting_signs_stay_as_they_are(write):
    recoil = rk.read_run(write("Step,t [s],γ̇ [1/s],τ [Pa]\n1,1,1,50\n1,2,1,50\n2,3,-0.1,0.01\n2,4,-0.05,0.01\n"))
    assert recoil.steps[1].shear_rate.tolist() == [-0.1, -0.05]
    contradicting = rk.read_run(write("t [s],γ̇ [1/s],τ [Pa]\n1,-1,50\n2,-1,50\n"))
    assert contradicting.steps[0].shear_rate.tolist() == [-1.0, -1.0]


def test_a_rate_alone_turns_too(write):
    run = rk.read_run(write("t [s],γ̇ [1/s],T [°C]\n1,-1,20\n2,-1,20\n"))
    assert run.steps[0].shear_rate.tolist() == [1.0, 1.0]
