"""What is read from laws over temperature: inside the data, beyond them, and refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from rheokit.base.errors import FitError, RangeError
from rheokit.base.estimate import Estimate
from rheokit.temperature import ARRHENIUS, EXPONENTIAL_DECAY, VOGEL
from rheokit.temperature.correction import TemperatureCoefficient, at_stated_temperature
from rheokit.temperature.dependence import temperature_dependence

KELVIN = np.linspace(5.0, 75.0, 11) + 273.15
TRUE = (1e-3, 1100.0, 170.0)


def noisy(seed, spread=0.01):
    return VOGEL.value(KELVIN, *TRUE) * np.exp(spread * np.random.default_rng(seed).standard_normal(KELVIN.size))


def test_the_curved_law_wins_and_the_losers_are_shown():
    found = temperature_dependence(KELVIN, noisy(3))
    assert found.best.law is VOGEL
    assert {"arrhenius", "vogel", "exponential decay"} <= {row[0] for row in found.table().rows}


def test_the_interval_inside_covers_and_beyond_it_widens_and_says_so():
    # Exact binomial, 30 draws at 95 %: fewer than 25 covered has a probability below 1e-3.
    inside = beyond = 0
    for seed in range(30):
        found = temperature_dependence(KELVIN, noisy(seed), laws=(ARRHENIUS, VOGEL))
        near, far = found.at(300.15), found.at(263.15)
        inside += near.interval.lower <= VOGEL.value(np.array([300.15]), *TRUE)[0] <= near.interval.upper
        beyond += far.interval.lower <= VOGEL.value(np.array([263.15]), *TRUE)[0] <= far.interval.upper
        assert (far.interval.upper - far.interval.lower) / far.value > (near.interval.upper - near.interval.lower) / near.value
    assert inside >= 25
    assert beyond >= 25
    (said,) = far.findings
    assert said.severity == "caution"
    assert "-10 °C lies 15.0 K beyond the data (5 to 75 °C)" in str(said)
    assert not near.findings


def test_a_law_with_one_slope_is_not_followed_far():
    found = temperature_dependence(KELVIN, ARRHENIUS.value(KELVIN, 3.8, 50e3) * (1.0 + 1e-3 * (-1.0) ** np.arange(11)),
                                   laws=(ARRHENIUS, EXPONENTIAL_DECAY))  # fmt: skip
    assert found.at(270.0).value == pytest.approx(ARRHENIUS.value(np.array([270.0]), 3.8, 50e3)[0], rel=0.01)
    with pytest.raises(RangeError, match=r"^viscosity at -30 °C lies 35\.0 K beyond the data .*only a law with one slope is left"):
        found.at(243.15)


@pytest.mark.parametrize(
    ("kelvin", "values", "message"),
    [
        ([280.0, 290.0], [1.0, 2.0], r"^temperature laws need values at three different temperatures or more, not 2$"),
        ([280.0, 290.0, -5.0], [1.0, 2.0, 3.0], r"^temperatures \[K\] and values are positive; a temperature in °C is 273\.15 K more$"),
    ],
)
def test_too_little_is_refused(kelvin, values, message):
    with pytest.raises(FitError, match=message):
        temperature_dependence(kelvin, values)


def test_the_figure_names_every_law():
    texts = {text.get_text() for text in temperature_dependence(KELVIN, noisy(3)).plot().texts}
    assert {"Vogel", "Arrhenius", "exponential decay"} <= texts


MEASURED = Estimate(
    name="viscosity_at_rate", value=3.80, unit="Pa·s", standard_error=0.05, degrees_of_freedom=10.0, components={"fit": 0.05}, method="m"
)
COEFFICIENT = TemperatureCoefficient(value=-0.07, standard_error=0.01)


def test_a_number_is_moved_along_its_coefficient_with_the_error_that_adds():
    moved = at_stated_temperature(MEASURED, measured=297.15, stated=296.15, coefficient=COEFFICIENT, measured_error=0.1)
    assert moved.value == pytest.approx(3.80 * math.exp(0.07), rel=1e-12)  # measured 1 K too warm: true is higher
    added = moved.value * math.hypot(0.01 * 1.0, 0.07 * 0.1)
    assert moved.components["temperature"] == pytest.approx(added, rel=1e-12)
    assert moved.standard_error == pytest.approx(math.hypot(0.05 * math.exp(0.07), added), rel=1e-12)
    assert moved.degrees_of_freedom > 10.0
    assert "from 24.00 to 23.00 °C" in moved.method


def test_even_at_the_stated_temperature_its_own_error_counts():
    moved = at_stated_temperature(MEASURED, measured=296.15, stated=296.15, coefficient=COEFFICIENT, measured_error=0.2)
    assert moved.value == MEASURED.value
    assert moved.components["temperature"] == pytest.approx(3.80 * 0.07 * 0.2, rel=1e-12)


def test_far_off_is_measured_again():
    with pytest.raises(RangeError, match=r"^viscosity_at_rate was measured 7 K off its stated temperature; more than 5 K is not corrected"):
        at_stated_temperature(MEASURED, measured=303.15, stated=296.15, coefficient=COEFFICIENT)
