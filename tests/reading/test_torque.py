"""Stress and rate from torque and speed: whole columns, by a geometry that is written somewhere, and never by a guess."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

import rheokit as rk
from rheokit.base.errors import ReadError

CONE = "Geometry,cone-plate\nCone radius,12.5 mm\nCone angle,2 °\n\n"
TABLE = "t [s],Speed [rpm],Torque [mN·m]\n1,1,1\n2,10,2\n3,,4\n"
# tau = 3 M / (2 pi R^3) and rate = omega / angle, worked out here.
STRESSES = [3.0 * torque / (2.0 * pi * 0.0125**3) for torque in (1e-3, 2e-3, 4e-3)]
RATES = [2.0 * pi / 60.0 * turns / (2.0 * pi / 180.0) for turns in (1.0, 10.0, np.nan)]
LAYOUT = 'format = 1\n[geometry]\nkind = "cone-plate"\nradius = "12.5 mm"\nangle = "2 °"\n'


def said(run, check):
    return [str(finding) for finding in run.findings if finding.check == check]


def columns(run):
    return {name: np.concatenate([step.columns[name] for step in run.steps]) for name in run.steps[0].columns}


@pytest.mark.parametrize("place", ["preamble", "layout", "both"])
def test_torque_and_speed_become_stress_and_rate(write, place):
    layout = None if place == "preamble" else write(LAYOUT, "layout.toml")
    run = rk.read_run(write(TABLE if place == "layout" else CONE + TABLE), layout=layout)
    read = columns(run)
    np.testing.assert_allclose(read["shear_stress"], STRESSES, rtol=1e-14)  # rounding
    np.testing.assert_allclose(read["shear_rate"], RATES, rtol=1e-14)
    np.testing.assert_allclose(read["viscosity"], np.divide(STRESSES, RATES), rtol=1e-14)
    where = {"preamble": "the preamble", "layout": "the layout file", "both": "the preamble and the layout file"}[place]
    assert said(run, "derived_column") == [
        "shear stress is torque times 244462 1/m³ and shear rate is angular velocity times 28.6479 1/rad: "
        f"cone-plate (radius 12.5 mm, angle 2 °) by {where}; uniform shear rate between a flat cone and a plate",
        "viscosity was not exported; it is shear stress over shear rate",
    ]


def test_the_constants_said_are_the_formula_s():
    assert 3.0 / (2.0 * pi * 0.0125**3) == pytest.approx(244462, abs=0.5)
    assert 180.0 / (2.0 * pi) == pytest.approx(28.6479, abs=5e-5)


def test_plates_say_apparent_and_a_rate_alone_is_completed(write):
    plates = "Geometry,parallel plates\nPlate radius,25 mm\nGap,1 mm\n"
    run = rk.read_run(write(plates + "t [s],Shear rate [1/s],Torque [mN·m]\n1,1,1\n2,10,2\n"))
    np.testing.assert_allclose(columns(run)["shear_stress"], [2.0 * torque / (pi * 0.025**3) for torque in (1e-3, 2e-3)], rtol=1e-14)
    assert "apparent values at the rim, by the Newtonian formula" in said(run, "derived_column")[0]


def test_what_was_exported_is_not_derived_again(write):
    run = rk.read_run(write(CONE + "t [s],Shear rate [1/s],Viscosity [Pa·s],Torque [mN·m]\n1,10,24.4462,1\n2,20,24.4462,2\n"))
    np.testing.assert_allclose(columns(run)["shear_stress"], [244.462, 488.924], rtol=1e-15)  # one rounding
    assert said(run, "derived_column") == ["shear stress was not exported; it is viscosity times shear rate"]


def test_a_speed_and_a_viscosity_give_rate_and_stress(write):
    run = rk.read_run(write(CONE + "t [s],Speed [rpm],Viscosity [Pa·s]\n1,1,10\n2,10,10\n"))
    np.testing.assert_allclose(columns(run)["shear_stress"], [10.0 * rate for rate in RATES[:2]], rtol=1e-14)


def test_without_a_geometry_it_is_refused_and_the_remedy_named(write):
    message = (
        r"run_07\.csv: there is torque and angular velocity, and neither a shear rate nor a geometry that would give one; export the shear "
        r"rate and stress, or write the geometry into the preamble \('Geometry,cone-plate', 'Cone radius,12\.5 mm', 'Cone angle,2 °'\) or "
        r"under \[geometry\] into a layout file or batch\.toml$"
    )
    with pytest.raises(ReadError, match=message):
        rk.read_run(write(TABLE))


def test_an_incomplete_geometry_is_refused_where_it_is_needed_and_said_where_not(write):
    part = "Geometry,cone-plate\nCone radius,12.5 mm\n\n"
    with pytest.raises(ReadError, match=r"that would give one \(the angle of the cone is not given; write for example 'Cone angle,2 °'\)"):
        rk.read_run(write(part + TABLE))
    run = rk.read_run(write(part + "t [s],γ̇ [1/s],τ [Pa]\n1,1,1\n"))
    assert said(run, "geometry") == [
        "the geometry in the preamble is not used: the angle of the cone is not given; write for example 'Cone angle,2 °'"
    ]
    completed = rk.read_run(write(part + TABLE), layout=write(LAYOUT, "layout.toml"))
    np.testing.assert_allclose(columns(completed)["shear_stress"], STRESSES, rtol=1e-14)
    assert said(completed, "geometry") == []


@pytest.mark.parametrize(
    ("table", "relative"),
    [
        ("t [s],Speed [rpm],Torque [%]\n1,1,20\n2,10,30\n", r"column 3 \('Torque \[%\]'\) is relative"),
        ("t,Speed,Torque\ns,rpm,%\n1,1,20\n2,10,30\n", r"column 3 \('Torque'\) is relative"),
        ("t [s],Speed [rpm],Dial reading\n1,1,20\n2,10,30\n", r"column 3 \('Dial reading'\) is relative"),
        (
            "t [s],Spindle no.,Speed [rpm],% Torque,Viscosity [mPa·s]\n1,4,1,20,2000\n2,4,10,30,300\n",
            r"column 2 \('Spindle no\.'\) and column 4 \('% Torque'\) are relative",
        ),
        ("Spindle,4\n\nt [s],Speed [rpm],Viscosity [mPa·s]\n1,1,2000\n2,10,300\n", r"the preamble's 'Spindle 4' is relative"),
    ],
)
def test_spindle_and_percent_readings_are_relative(write, table, relative):
    with pytest.raises(ReadError, match=rf"there is no shear rate, and {relative}: none is invented; export the shear rate, or measure"):
        rk.read_run(write(table))


def test_relative_readings_beside_a_shear_rate_are_left_aside(write):
    run = rk.read_run(write("t [s],γ̇ [1/s],η [mPa·s],Torque [%],Torque [mN·m]\n1,1,2000,20,1\n2,10,300,30,2\n"))
    assert columns(run)["torque"].tolist() == [0.001, 0.002]
    assert said(run, "columns_aside") == []
    assert said(run, "relative_reading") == [
        "column 4 ('Torque [%]'): relative, as readings of a dial, a spindle or in parts of full scale are; not used"
    ]


def test_an_exported_rate_and_stress_stay_where_the_geometry_says_otherwise(write):
    run = rk.read_run(write(CONE + "t [s],γ̇ [1/s],τ [Pa],Speed [rpm],Torque [mN·m]\n1,5,7,1,1\n2,6,8,2,2\n"))
    assert (columns(run)["shear_rate"].tolist(), columns(run)["shear_stress"].tolist()) == ([5.0, 6.0], [7.0, 8.0])
    rate = rk.read_run(write(CONE + "t [s],γ̇ [1/s],Speed [rpm],Torque [mN·m]\n1,5,1,1\n2,6,2,2\n"))
    assert columns(rate)["shear_rate"].tolist() == [5.0, 6.0]
