"""What a certificate says between its rows: held against the law that the rows were computed from."""

import math

import pytest

from rheokit.base.errors import RangeError
from rheokit.release.certificate import CertifiedLaw, CertifiedRows

LAW = CertifiedLaw(prefactor=3.164e-6, vogel_constant=1600.0, vogel_temperature=170.0, lowest=288.15, highest=313.15)


def rows_at(*celsius):
    kelvin = tuple(temperature + 273.15 for temperature in celsius)
    return CertifiedRows(temperatures=kelvin, viscosities=tuple(LAW.viscosity(temperature) for temperature in kelvin))


def test_a_law_by_hand():
    # 3.164e-6 exp(1600 / (296.15 - 170)) = 3.164e-6 exp(12.68331) = 3.164e-6 * 322 320 = 1.0198 Pa·s; slope -1600/126.15² = -0.10054 1/K
    assert LAW.viscosity(296.15) == pytest.approx(1.0198, abs=5e-5)
    assert LAW.coefficient(296.15) == pytest.approx(-0.10054, abs=5e-6)


def test_rows_give_themselves_back():
    rows = rows_at(15.0, 20.0, 25.0, 30.0)
    for temperature, viscosity in zip(rows.temperatures, rows.viscosities, strict=True):
        assert rows.viscosity(temperature) == pytest.approx(viscosity, rel=1e-12)


@pytest.mark.parametrize("celsius", [17.0, 22.0, 23.0, 28.5])
def test_between_rows_ten_kelvin_apart_the_law_is_met(celsius):
    # The third derivative of ln η by 1/T, 6 B T0²/(1 - T0/T)⁴ = 8e9 K³, times h³/(9 √3) with h = 10 K/T²: 0.07 %.
    temperature = celsius + 273.15
    assert rows_at(10.0 + 5.0, 25.0, 35.0).viscosity(temperature) == pytest.approx(LAW.viscosity(temperature), rel=1e-3)
    # A straight line in these axes would miss it by up to 1 %: that the limit sees the difference is seen here.
    middle = 20.0 + 273.15
    low, high = LAW.viscosity(288.15), LAW.viscosity(298.15)
    part = (1.0 / 288.15 - 1.0 / middle) / (1.0 / 288.15 - 1.0 / 298.15)
    assert abs(low ** (1.0 - part) * high**part / LAW.viscosity(middle) - 1.0) > 5e-3


def test_the_slope_between_rows_is_that_of_the_law():
    # The derivative of the same parabola is good to 1 % of the slope, far below what a temperature's uncertainty is known to.
    assert rows_at(20.0, 23.0, 25.0, 30.0).coefficient(296.15) == pytest.approx(LAW.coefficient(296.15), rel=0.01)


@pytest.mark.parametrize("certificate", [rows_at(18.0, 20.0, 25.0), LAW])
def test_beyond_its_span_it_says_nothing(certificate):
    with pytest.raises(RangeError, match=r"10\.00 °C lies outside the certificate \(1\d to \d+ °C\)"):
        certificate.viscosity(283.15)


def test_rows_too_far_apart_are_not_read_between():
    rows = rows_at(15.0, 25.0, 38.0)
    with pytest.raises(RangeError, match=r"around 30\.00 °C lie 13 K apart; between rows more than 10 K apart it is not read"):
        rows.viscosity(303.15)
    assert rows.viscosity(311.15) == pytest.approx(LAW.viscosity(311.15))
    assert math.isfinite(rows.viscosity(295.0))


@pytest.mark.parametrize(
    ("temperatures", "viscosities"),
    [((290.0, 300.0), (2.0, 1.0)), ((290.0, 300.0, 310.0), (1.0, 2.0, 3.0)), ((290.0, 290.0, 310.0), (3.0, 2.0, 1.0))],
)
def test_what_is_no_certificate_is_refused(temperatures, viscosities):
    with pytest.raises(RangeError, match="three rows or more, temperatures rising and viscosities falling"):
        CertifiedRows(temperatures=temperatures, viscosities=viscosities)
