"""Conformance probabilities against the worked examples of JCGM 106 (recomputed from memory of the guide; inputs and answers as stated)."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rheokit.statistics.conformity import conformity_probability

# JCGM 106:2012, examples: (lower, upper, value, standard uncertainty, printed probability), from memory, printed to two digits.
JCGM_106 = {
    "SAE 40 oil viscosity, two limits": (12.5, 16.3, 13.6, 1.8, 0.66),
    "upper limit only": (-math.inf, -5.40, -5.47, 0.05, 0.92),
    "lower limit only": (490.0, math.inf, 509.7, 8.6, 0.99),
}


@pytest.mark.parametrize("case", JCGM_106.values(), ids=JCGM_106)
def test_the_guides_examples_to_their_printed_digits(case):
    lower, upper, value, error, printed = case
    found = conformity_probability(value, error, math.inf, lower=lower, upper=upper)
    assert abs(found - printed) <= 0.005  # half of the last printed digit


def test_the_oil_example_by_the_error_function():
    # Exact mathematics: Φ(b) - Φ(a) through math.erf, not through the function under test.
    a, b = (12.5 - 13.6) / 1.8, (16.3 - 13.6) / 1.8
    exact = 0.5 * (math.erf(b / math.sqrt(2)) - math.erf(a / math.sqrt(2)))
    assert conformity_probability(13.6, 1.8, math.inf, lower=12.5, upper=16.3) == pytest.approx(exact, rel=1e-12)


def test_one_degree_of_freedom_is_the_arctangent():
    # The t distribution of one degree of freedom is Cauchy's: F(t) = 1/2 + arctan(t)/π. Exact mathematics.
    exact = 0.5 + math.atan(1.5) / math.pi
    assert conformity_probability(0.0, 2.0, 1.0, upper=3.0) == pytest.approx(exact, rel=1e-12)


def test_a_tiny_risk_does_not_vanish():
    assert 0.0 < 1.0 - conformity_probability(0.0, 1.0, math.inf, upper=6.0) < 1e-8


@given(value=st.floats(-5, 5), error=st.floats(0.01, 5), more=st.floats(1.001, 3), freedom=st.sampled_from([1.0, 5.0, 24.0, math.inf]))
def test_more_uncertainty_never_makes_a_pass(value, error, more, freedom):
    narrow = conformity_probability(value, error, freedom, lower=-2.0, upper=2.0)
    wide = conformity_probability(value, error * more, freedom, lower=-2.0, upper=2.0)
    # What already passes (inside, above one half) only loses; what fails outside may gain but never beyond one half.
    assert wide <= max(narrow, 0.5) + 1e-12


@pytest.mark.parametrize(("lower", "upper", "error"), [(2.0, 1.0, 0.1), (1.0, 1.0, 0.1), (0.0, 1.0, 0.0), (0.0, 1.0, -1.0)])
def test_contradictions_are_refused(lower, upper, error):
    with pytest.raises(ValueError, match=r"not below the upper limit|is positive"):
        conformity_probability(0.5, error, 5.0, lower=lower, upper=upper)
