"""The guide's calibration line of a thermometer, through the one front door for fits."""

import math

import numpy as np
import pytest
from reference_data import reference

import rheokit as rk

GUM = reference("gum_h3_calibration_line")


def unlimited(name, unit):
    return rk.Parameter(name, symbol=name, unit=unit, lower=-math.inf, upper=math.inf, meaning="of the line")


LINE = rk.Law(
    name="straight_line",
    parameters=(unlimited("intercept", "K"), unlimited("slope", "1")),
    value=lambda x, intercept, slope: intercept + slope * x,
    jacobian=lambda x, intercept, slope: np.stack([np.ones_like(x), x], axis=-1),
    linear=("intercept", "slope"),
    basis=lambda x: np.stack([np.ones_like(x), x], axis=-1),
    source=GUM["source"],
)


@pytest.fixture(scope="module")
def fit():
    return rk.fit_law(np.array(GUM["temperature"]) - GUM["reference_temperature"], np.array(GUM["correction"]), LINE)


def half_a_digit(printed):
    """Return half of the last printed digit of a number."""
    return 0.5 * 10.0 ** -len(repr(printed).partition(".")[2])


@pytest.mark.parametrize("name", ["intercept", "slope"])
def test_value_and_standard_uncertainty_to_the_printed_digits(fit, name):
    estimate = fit.parameters[name]
    for found, printed in zip((estimate.value, estimate.standard_error), GUM[name], strict=True):
        assert abs(found - printed) <= half_a_digit(printed)
    assert estimate.degrees_of_freedom == 9


def test_the_correlation_of_the_two(fit):
    covariance = fit.covariance
    correlation = covariance[0, 1] / math.sqrt(covariance[0, 0] * covariance[1, 1])
    assert abs(correlation - GUM["correlation"]) <= 0.0005  # printed as -0.930


def test_the_scatter_about_the_line(fit):
    deviation = math.sqrt(np.sum(np.square(fit.residuals)) / 9)
    assert abs(deviation - GUM["residual_standard_deviation"]) <= half_a_digit(GUM["residual_standard_deviation"])


def test_the_predicted_correction_at_thirty_degrees(fit):
    # Value and standard uncertainty with the correlation; the band of the curve is Student's t times the latter.
    value, error = GUM["at_30_degrees"]
    lower, upper = fit.band(np.array([10.0]), 0.95)
    student = 2.262157  # t(0.975; 9), from any table
    assert abs(float(lower[0] + upper[0]) / 2 - value) <= half_a_digit(value)
    assert abs(float(upper[0] - lower[0]) / 2 / student - error) <= half_a_digit(error)
