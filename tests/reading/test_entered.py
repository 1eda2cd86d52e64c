"""Results typed in by hand become Estimates in SI; a bad row is named, never dropped."""

from __future__ import annotations

import math

import pytest

from rheokit.base.errors import ReadError
from rheokit.reading.entered import HEADER, read_entered

HEAD = ",".join(HEADER) + "\n"
GOOD = "density,1.152,g/cm³,0.003,pycnometer,2026-09-14T13:40:00Z\n"


def test_each_row_is_an_estimate_in_si(write):
    text = (
        HEAD
        + GOOD
        + (
            'laydown,57,mg/100 m,,"writing machine, 300 m",2026-09-14T09:30:00+02:00\n'
            "solids,45,%,0.5,oven,2026-09-14T13:40:00Z\n"
            "fineness_of_grind,5,µm,1,gauge,2026-09-14T13:40:00Z\n"
            "check_oil_viscosity,1023,mPa·s,4,cone-plate,2026-09-14T13:40:00Z\n"
            "surface_tension,32,mN/m,1,ring,2026-09-14T13:40:00Z\n"
            "flash_point,64,°C,2,closed cup,2026-09-14T13:40:00Z\n"
        )
    )
    results = {estimate.name: estimate for estimate in read_entered(write(text, "results.csv"))}
    expected = {
        "density": (1152.0, "kg/m³", 3.0),
        "laydown": (5.7e-7, "kg/m", None),
        "solids": (0.45, "1", 0.005),
        "fineness_of_grind": (5e-6, "m", 1e-6),
        "check_oil_viscosity": (1.023, "Pa·s", 0.004),
        "surface_tension": (0.032, "kg·s^-2", 0.001),
        "flash_point": (337.15, "K", 2.0),  # an uncertainty in °C is one in K
    }
    assert list(results) == list(expected)
    for name, (value, unit, error) in expected.items():
        estimate = results[name]
        assert (estimate.value, estimate.unit) == (pytest.approx(value, rel=1e-14), unit)
        assert estimate.standard_error == (None if error is None else pytest.approx(error, rel=1e-14))
        assert estimate.degrees_of_freedom == (None if error is None else math.inf)
        assert dict(estimate.components) == ({} if error is None else {"entered": estimate.standard_error})
    assert results["laydown"].reason == "no uncertainty was entered"
    assert results["laydown"].method == "writing machine, 300 m"
    assert results["laydown"].conditions["time"].value == "2026-09-14T09:30:00+02:00"
    assert results["density"].sources[0].rows == (2, 2)


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("density,1.152,g/cm³,0.003,pycnometer\n", r"results\.csv, line 3: 5 cells under 6 columns"),
        ("density,1,152,g/cm³,0.003,pycnometer,2026-09-14T13:40:00Z\n", r"line 3: 7 cells under 6 columns"),
        (
            "Density,1.152,g/cm³,0.003,pycnometer,2026-09-14T13:40:00Z\n",
            r"line 3, characteristic: 'Density' is no name of a characteristic",
        ),
        ("density,heavy,g/cm³,0.003,pycnometer,2026-09-14T13:40:00Z\n", r"line 3, value: 'heavy' is not a number"),
        ("density,,g/cm³,0.003,pycnometer,2026-09-14T13:40:00Z\n", r"line 3, value: '' is not a number"),
        ("density,1e999,g/cm³,0.003,pycnometer,2026-09-14T13:40:00Z\n", r"line 3, value: '1e999' is not a number"),
        ("density,1.152,,0.003,pycnometer,2026-09-14T13:40:00Z\n", r"line 3, unit: no unit is given"),
        ("density,1.152,Pa,0.003,pycnometer,2026-09-14T13:40:00Z\n", r"line 3, unit: 'Pa' is not a unit of density"),
        ("ph_value,7,furlong,0.003,strip,2026-09-14T13:40:00Z\n", r"line 3, unit: unknown unit 'furlong'"),
        (
            "density,1.152,g/cm³,0,pycnometer,2026-09-14T13:40:00Z\n",
            r"standard_uncertainty: a standard uncertainty is positive, not '0'; leave",
        ),
        ("density,1.152,g/cm³,0.003,,2026-09-14T13:40:00Z\n", r"line 3, method: no method is given"),
        (
            "density,1.152,g/cm³,0.003,pycnometer,2026-09-14T13:40:00\n",
            r"line 3, time: '2026-09-14T13:40:00' is no time with an offset; write",
        ),
        ("density,1.152,g/cm³,0.003,pycnometer,yesterday\n", r"line 3, time: 'yesterday' is no time with an offset"),
    ],
)
def test_a_bad_row_is_named(write, row, message):
    with pytest.raises(ReadError, match=message):
        read_entered(write(HEAD + GOOD + row, "results.csv"))


def test_another_header_is_refused(write):
    with pytest.raises(ReadError, match=r"results\.csv, line 1: the header is 'name,value'; write 'characteristic,value,unit,"):
        read_entered(write("name,value\ndensity,1\n", "results.csv"))


def test_a_file_of_the_header_alone_holds_no_result(write):
    assert read_entered(write(HEAD, "results.csv")) == ()
