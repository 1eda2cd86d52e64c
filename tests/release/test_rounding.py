"""The absolute and the rounding method, from the specification to the outcome."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rheokit.base.errors import SpecificationError
from rheokit.base.estimate import Estimate
from rheokit.base.quantities import parse_amount
from rheokit.characteristics import CHARACTERISTICS
from rheokit.release.decision import by_rule, decide
from rheokit.release.rounding import ABSOLUTE, Rounding
from rheokit.release.specification import DecisionRule, Requirement
from rheokit.release.specification_file import read_specification

SIMPLE, PROBABILITY = DecisionRule(kind="simple"), DecisionRule(kind="probability", conforming=0.95)
GUARD = DecisionRule(kind="guard", factor=1.0)
ROUNDING = Rounding(method="rounding")


def requirement(rounding=ROUNDING, lower="3.4 Pa·s", upper="4.2 Pa·s"):
    limits = [None if text is None else parse_amount(text, "viscosity") for text in (lower, upper)]
    kind = CHARACTERISTICS["viscosity_at_rate"]
    where = {"test": "loop", "step": "down", "at": {"shear_rate": 100.0}}
    return Requirement(id="v", characteristic=kind, **where, lower=limits[0], upper=limits[1], repeatability=None, rounding=rounding)


def estimate(value, error=0.001):
    known = {"standard_error": error, "degrees_of_freedom": math.inf, "components": {"load": error}}
    return Estimate(name="viscosity_at_rate", value=value, unit="Pa·s", method="by hand", **known)


# Halves go to the even digit: 4.25 to 4.2 (inside), 3.35 to 3.4 (inside), 4.35 to 4.4 and 3.25 to 3.2 (outside).
@pytest.mark.parametrize(
    ("value", "absolute", "rounded"),
    [
        (4.2, "conforming", "conforming"),
        (4.25, "not conforming", "conforming"),
        (4.2501, "not conforming", "not conforming"),
        (3.35, "not conforming", "conforming"),
        (3.3499, "not conforming", "not conforming"),
        (3.25, "not conforming", "not conforming"),
    ],
)
def test_simple_acceptance_compares_by_the_method_stated(value, absolute, rounded):
    assert decide(requirement(ABSOLUTE), estimate(value), rule=SIMPLE).outcome == absolute
    assert decide(requirement(), estimate(value), rule=SIMPLE).outcome == rounded


def test_the_place_is_that_of_each_limit_as_it_is_written():
    mixed = requirement(lower="3.4 Pa·s", upper="4.20 Pa·s")
    assert mixed.side(4.21) == "above the upper limit"  # 4.21 against 4.20
    assert mixed.side(3.36) == ""  # 3.4 against 3.4
    small = requirement(lower="3400 mPa·s", upper="4200 mPa·s")
    assert small.side(4.2004) == ""
    assert small.side(4.2006) == "above the upper limit"


def test_a_stated_place_and_digits_count_instead():
    hundredth = Rounding(method="rounding", place=parse_amount("0.01 Pa·s", "viscosity"))
    assert requirement(hundredth).side(4.205) == ""  # 4.20
    assert requirement(hundredth).side(4.2051) == "above the upper limit"
    assert requirement(Rounding(method="rounding", digits=3)).side(4.204) == ""
    assert requirement(Rounding(method="rounding", digits=3)).side(4.206) == "above the upper limit"


def test_where_rounding_changes_the_side_it_is_said():
    decision = decide(requirement(), estimate(4.23), rule=SIMPLE)
    (finding,) = decision.findings
    assert (finding.check, finding.severity) == ("rounding", "caution")
    assert "unrounded, 4.23000 lies above the upper limit; rounded, 4.2 Pa·s lies inside the limits" in finding.reason
    assert finding.reason in decision.reason
    assert decide(requirement(), estimate(4.19), rule=SIMPLE).findings == ()
    assert decide(requirement(), estimate(4.31), rule=SIMPLE).findings == ()


def test_the_probability_is_that_of_the_unrounded_value():
    rounded, plain = (decide(requirement(way), estimate(4.23, 0.02), rule=PROBABILITY) for way in (ROUNDING, ABSOLUTE))
    assert rounded.probability == plain.probability
    assert (rounded.outcome, plain.outcome) == ("inconclusive", "inconclusive")
    # Φ(-3) is below 0.05: outside before rounding, inside after it, so neither a pass nor a fail.
    rounded, plain = (decide(requirement(way), estimate(4.23, 0.01), rule=PROBABILITY) for way in (ROUNDING, ABSOLUTE))
    assert (rounded.outcome, plain.outcome) == ("inconclusive", "not conforming")


def test_a_guard_band_rejects_only_what_is_outside_once_rounded():
    # U = 1.96 times 0.01: 4.23 lies further outside than that, and rounds to 4.2.
    rounded, plain = (decide(requirement(way), estimate(4.23, 0.01), rule=GUARD) for way in (ROUNDING, ABSOLUTE))
    assert (rounded.outcome, plain.outcome) == ("inconclusive", "not conforming")
    assert "inside once rounded" in rounded.reason


@given(value=st.floats(3.0, 4.6), error=st.floats(0.001, 0.3), rule=st.sampled_from([PROBABILITY, GUARD]))
def test_by_the_rules_that_know_the_uncertainty_rounding_never_makes_a_pass(value, error, rule):
    outcomes = [by_rule(requirement(way), value, error, 24.0, rule)[0] for way in (ROUNDING, ABSOLUTE)]
    assert outcomes[0] == outcomes[1] or outcomes == ["inconclusive", "not conforming"]


@given(value=st.floats(3.0, 4.6))
def test_what_lies_inside_before_rounding_lies_inside_after_it(value):
    assert requirement(ABSOLUTE).side(value) or not requirement().side(value)


READ = 'decision_rule = { kind = "probability", conforming = 0.95 }\n'
LINE = "repeatability = { relative = 0.02, degrees_of_freedom = 24 }\n"


def test_a_requirement_says_otherwise_than_the_specification(write_specification, specification_text):
    assert read_specification(write_specification()).requirements[0].rounding == ABSOLUTE
    general = specification_text.replace(READ, READ + 'rounding = { method = "rounding" }\n')
    assert read_specification(write_specification(general)).requirements[0].rounding == ROUNDING
    own = general.replace(LINE, LINE + 'rounding = { method = "rounding", place = "0.01 Pa·s" }\n')
    spec = read_specification(write_specification(own))
    assert spec.requirements[0].rounding.place.number == parse_amount("0.01 Pa·s", "viscosity").number
    assert "to 0.01 Pa·s" in spec.rounding


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ('{ method = "truncation" }', "'absolute' or 'rounding', not 'truncation'"),
        ('{ method = "rounding", place = "0.01 Pa·s", digits = 3 }', "both 'place' and 'digits' are given"),
        ('{ method = "absolute", digits = 3 }', "the absolute method rounds nothing"),
        ('{ method = "rounding", place = "1 Pa·s" }', "the limit 3.4 Pa·s has digits that are rounded away; round more finely"),
        ('{ method = "rounding", digits = 1 }', "the limit 3.4 Pa·s has digits that are rounded away"),
        ('{ method = "rounding", place = "10 mPa·s" }', "is not in the unit of the limits; write it in Pa·s"),
        ('{ method = "rounding", place = "0.02 Pa·s" }', "is no power of ten"),
        ('{ method = "rounding", place = "nan Pa·s" }', "is no power of ten"),
        ('{ method = "rounding", digits = 0 }', "greater than or equal to 1"),
        ('{ method = "rounding", plaice = "0.1 Pa·s" }', "unknown key 'plaice'; did you mean 'place'"),
    ],
)
def test_a_rounding_that_makes_no_sense_is_refused(write_specification, specification_text, written, message):
    text = specification_text.replace(LINE, f"{LINE}rounding = {written}\n")
    with pytest.raises(SpecificationError, match=re.escape(message)) as refused:
        read_specification(write_specification(text))
    assert refused.value.line == 24
