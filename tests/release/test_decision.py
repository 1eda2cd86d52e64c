"""From a number to an outcome, and from outcomes to a disposition."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.base.quantities import parse_amount
from rheokit.characteristics import CHARACTERISTICS, ESTIMATED
from rheokit.release.decision import Decision, decide, dispose, shown_probability
from rheokit.release.specification import DecisionRule, Requirement
from rheokit.statistics.student import student_quantile

PROBABILITY = DecisionRule(kind="probability", conforming=0.95)


def requirement(lower="3.4 Pa·s", upper="4.2 Pa·s"):
    limits = [None if text is None else parse_amount(text, "viscosity") for text in (lower, upper)]
    return Requirement(
        id="viscosity-100",
        characteristic=CHARACTERISTICS["viscosity_at_rate"],
        test="loop",
        step="down",
        at={"shear_rate": 100.0},
        lower=limits[0],
        upper=limits[1],
        repeatability=None,
    )


def estimate(value, error=0.05, part="load", **changes):
    known = {"standard_error": error, "degrees_of_freedom": math.inf, "components": {part: error}}
    return Estimate(name="viscosity_at_rate", value=value, unit="Pa·s", method="by hand", **(known | changes))


def test_the_rule_has_three_answers():
    # 1.6449 standard errors from one limit, the other far away, is a probability of 0.95 or 0.05: exact mathematics of the normal.
    edge = 1.6449 * 0.05
    for value, outcome in (
        (4.2 - edge, "conforming"),
        (4.2 - edge + 0.001, "inconclusive"),
        (4.2, "inconclusive"),
        (4.2 + edge, "not conforming"),
    ):
        assert decide(requirement(), estimate(value), rule=PROBABILITY).outcome == outcome, value


def test_limits_closer_than_the_error_are_ignorance_and_no_fault():
    narrow = requirement("3.86 Pa·s", "3.88 Pa·s")
    assert decide(narrow, estimate(3.87, 0.8), rule=PROBABILITY).outcome == "inconclusive"
    assert decide(narrow, estimate(9.0, 0.8), rule=PROBABILITY).outcome == "not conforming"


def test_the_fail_limit_follows_the_rule():
    rule = DecisionRule(kind="probability", conforming=0.9)
    at_seven_per_cent = estimate(4.2 + 1.4758 * 0.05)  # Φ(-1.4758) = 0.07
    assert decide(requirement(), at_seven_per_cent, rule=rule).outcome == "not conforming"
    assert decide(requirement(), at_seven_per_cent, rule=PROBABILITY).outcome == "inconclusive"


def test_the_degrees_of_freedom_count():
    at_edge = estimate(4.2 - 1.7 * 0.05, degrees_of_freedom=3.0)
    assert decide(requirement(), at_edge, rule=PROBABILITY).outcome == "inconclusive"
    assert decide(requirement(), estimate(4.2 - 1.7 * 0.05), rule=PROBABILITY).outcome == "conforming"


def test_the_guard_band_is_the_expanded_uncertainty():
    rule = DecisionRule(kind="guard", factor=1.0)
    width = student_quantile(0.975, 10.0) * 0.05
    for value, outcome in ((4.2 - width - 1e-9, "conforming"), (4.2, "inconclusive"), (4.2 + width + 1e-9, "not conforming")):
        assert decide(requirement(), estimate(value, degrees_of_freedom=10.0), rule=rule).outcome == outcome


def test_the_guard_band_is_two_point_two_three_standard_errors_at_ten_degrees_of_freedom():
    # t(0.975; 10) = 2.228, from any table of Student's distribution (from memory; scipy gives 2.22814).
    rule = DecisionRule(kind="guard", factor=1.0)
    for distance, outcome in ((2.23, "conforming"), (2.22, "inconclusive")):
        assert decide(requirement(), estimate(4.2 - distance * 0.05, degrees_of_freedom=10.0), rule=rule).outcome == outcome


def test_simple_acceptance_compares_the_value():
    rule = DecisionRule(kind="simple")
    for value, outcome in ((4.2, "conforming"), (4.2001, "not conforming"), (3.3999, "not conforming")):
        assert decide(requirement(), estimate(value), rule=rule).outcome == outcome


@given(value=st.floats(3.0, 4.6), error=st.floats(0.005, 0.3), more=st.floats(1.01, 4.0))
def test_more_uncertainty_never_makes_a_pass(value, error, more):
    for rule in (PROBABILITY, DecisionRule(kind="guard", factor=1.0)):
        before = decide(requirement(), estimate(value, error), rule=rule).outcome
        after = decide(requirement(), estimate(value, error * more), rule=rule).outcome
        assert not (after == "conforming" and before != "conforming")


def test_without_a_repeatability_neither_a_pass_nor_a_fail():
    for value in (3.8, 9.0):
        decision = decide(requirement(), estimate(value, part="fit"), rule=PROBABILITY)
        assert decision.outcome == "inconclusive"
        assert "repeatability of loads is not known" in decision.reason


def test_a_repeatability_from_the_loads_at_hand_is_none():
    note = Finding(check=ESTIMATED, severity="info", reason="from these few loads")
    for value in (3.8, 9.0):
        decision = decide(requirement(), estimate(value, findings=(note,)), rule=PROBABILITY)
        assert decision.outcome == "inconclusive"
        assert "repeatability of loads is not known" in decision.reason


def test_without_any_error_it_is_inconclusive():
    unknown = Estimate(name="viscosity_at_rate", value=3.8, unit="Pa·s", standard_error=None, reason="too few points", method="by hand")
    decision = decide(requirement(), unknown, rule=PROBABILITY)
    assert (decision.outcome, decision.probability) == ("inconclusive", None)
    assert "too few points" in decision.reason


@pytest.mark.parametrize("value", [3.8, 9.0])
def test_invalid_data_are_neither_a_pass_nor_a_fail(value):
    bad = Finding(check="unit_mix_up", severity="invalid", reason="columns disagree by 1000")
    decision = decide(requirement(), estimate(value), rule=PROBABILITY, findings=(bad,))
    assert (decision.outcome, decision.reason, decision.probability) == ("no measurement", "columns disagree by 1000", None)


def test_a_caution_does_not_stop_a_decision():
    odd = Finding(check="temperature_known", severity="caution", reason="no temperature")
    assert decide(requirement(), estimate(3.8), rule=PROBABILITY, findings=(odd,)).outcome == "conforming"


def test_what_is_not_determined_is_not_judged():
    loose = estimate(3.8, determined=False, reason="at its bound")
    assert decide(requirement(), loose, rule=PROBABILITY).outcome == "no measurement"
    assert decide(requirement(), None, rule=PROBABILITY, missing="a load is missing").reason == "a load is missing"


@pytest.mark.parametrize(("probability", "shown"), [(0.9991, "> 0.999"), (0.9989, "0.999"), (0.05, "0.050"), (0.0009, "< 0.001")])
def test_a_probability_is_shown_with_no_more_nines_than_it_has(probability, shown):
    assert shown_probability(probability) == shown


def decided(outcome):
    return Decision(requirement=requirement(), outcome=outcome, reason="", estimate=None, probability=None, loads=(), findings=())


@pytest.mark.parametrize(
    ("outcomes", "disposition"),
    [
        (["conforming", "conforming"], "release"),
        (["conforming", "inconclusive"], "hold"),
        (["conforming", "no measurement"], "hold"),
        (["not conforming", "no measurement", "inconclusive", "conforming"], "reject"),
    ],
)
def test_the_worst_outcome_disposes(outcomes, disposition):
    assert dispose([decided(outcome) for outcome in outcomes])[0] == disposition


@given(
    before=st.lists(st.sampled_from(["conforming", "inconclusive", "no measurement", "not conforming"]), max_size=12),
    after=st.lists(st.sampled_from(["conforming", "inconclusive", "no measurement", "not conforming"]), max_size=12),
)
def test_any_valid_non_conformity_rejects_whatever_else_is_missing(before, after):
    rest = [*before, *after]
    assert dispose([decided(outcome) for outcome in (*before, "not conforming", *after)])[0] == "reject"
    if rest and "not conforming" not in rest:
        assert dispose([decided(outcome) for outcome in rest])[0] == ("release" if set(rest) == {"conforming"} else "hold")


def test_nothing_judged_is_never_a_pass():
    with pytest.raises(ValueError, match="without requirements"):
        dispose([])
