"""Estimate: it cannot contradict itself, cannot be changed, and is compared only with its like."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rheokit.base.errors import ComparisonError, UnitError
from rheokit.base.estimate import COMPONENTS, Condition, Estimate, Interval, Source, estimates_table
from rheokit.base.finding import Finding


def _estimate(**changes: object) -> Estimate:
    known = {
        "name": "yield_stress",
        "value": 12.0,
        "unit": "Pa",
        "standard_error": 0.5,
        "degrees_of_freedom": 8.0,
        "method": "Herschel-Bulkley, down leg",
    }
    return Estimate(**(known | changes))


def _without_error(**changes: object) -> Estimate:
    return _estimate(**({"standard_error": None, "degrees_of_freedom": None, "reason": "one point only"} | changes))


# --- contradictions --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"value": math.nan}, "the value nan is no number; leave the estimate out and say why"),
        ({"value": math.inf}, "the value inf is no number"),
        ({"method": ""}, "estimate 'yield_stress' names no method"),
        ({"determined": False}, "is not determined and gives no reason"),
        ({"standard_error": None, "degrees_of_freedom": None}, "has no standard error and gives no reason"),
        ({"standard_error": None, "reason": "one point"}, "has no standard error, so neither degrees of freedom nor a budget"),
        (
            {"standard_error": None, "degrees_of_freedom": None, "reason": "one point", "components": {"fit": 0.5}},
            "has no standard error, so neither degrees of freedom nor a budget",
        ),
        ({"standard_error": 0.0}, "a standard error is positive, not 0.0; give None and a reason instead"),
        ({"standard_error": -0.5}, "a standard error is positive, not -0.5"),
        ({"standard_error": math.nan}, "a standard error is positive, not nan"),
        ({"standard_error": math.inf}, "a standard error is positive, not inf"),
        ({"degrees_of_freedom": None}, "a standard error needs its degrees of freedom, not None"),
        ({"degrees_of_freedom": 0.0}, "a standard error needs its degrees of freedom, not 0.0"),
        ({"degrees_of_freedom": math.nan}, "a standard error needs its degrees of freedom, not nan"),
        ({"components": {"fit": 0.3, "load": 0.3}}, r"the budget \{'fit': 0.3, 'load': 0.3\} does not add up to 0.5"),
        ({"components": {"weather": 0.5}}, "does not add up"),
        ({"components": {"fit": -0.5}}, "does not add up"),
        ({"components": {"fit": math.nan}}, "does not add up"),
    ],
)
def test_a_contradiction_is_refused(changes, message):
    with pytest.raises(ValueError, match=message):
        _estimate(**changes)


def test_a_budget_adds_up_in_squares():
    # 3-4-5: 0.09 + 0.16 = 0.25.
    assert _estimate(components={"fit": 0.3, "load": 0.4, "day": 0.0}).components == {"fit": 0.3, "load": 0.4, "day": 0.0}
    assert "fit" in COMPONENTS


def test_a_known_error_has_infinite_degrees_of_freedom():
    assert _estimate(degrees_of_freedom=math.inf).degrees_of_freedom == math.inf


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"level": 0.0}, "an interval's level lies between 0 and 1, not 0.0"),
        ({"level": 1.0}, "level lies between 0 and 1"),
        ({"level": 95.0}, "level lies between 0 and 1"),
        ({"lower": 3.0}, "lower end 3.0 must not exceed its upper end 2.0"),
        ({"lower": math.nan}, "lower end nan must not exceed"),
        ({"upper": math.nan}, "must not exceed its upper end nan"),
        ({"upper": math.inf}, "an interval with an open end says why"),
        ({"lower": -math.inf}, "an interval with an open end says why"),
    ],
)
def test_an_interval_that_cannot_be_is_refused(changes, message):
    with pytest.raises(ValueError, match=message):
        Interval(**({"lower": 1.0, "upper": 2.0, "level": 0.95} | changes))


# --- frozen ----------------------------------------------------------------------------------------------------------------------


def test_an_estimate_cannot_be_changed():
    conditions = {"shear_rate": Condition(value=100.0, unit="1/s")}
    estimate = _estimate(conditions=conditions, components={"fit": 0.5})
    with pytest.raises(dataclasses.FrozenInstanceError, match="cannot assign to field 'value'"):
        estimate.value = 13.0
    with pytest.raises(TypeError, match="does not support item assignment"):
        estimate.conditions["shear_rate"] = Condition(value=1.0, unit="1/s")
    with pytest.raises(TypeError, match="does not support item assignment"):
        estimate.components["fit"] = 0.1
    conditions.clear()
    assert estimate.conditions["shear_rate"].value == 100.0


# --- units -----------------------------------------------------------------------------------------------------------------------


def test_in_another_unit_everything_that_has_the_unit_is_turned():
    estimate = _estimate(
        components={"fit": 0.3, "load": 0.4},
        interval=Interval(lower=11.0, upper=math.inf, level=0.95, reason="the data end below the yield stress"),
        conditions={"shear_rate": Condition(value=100.0, unit="1/s")},
    )
    turned = estimate.in_unit("dyn/cm²")  # 1 Pa = 10 dyn/cm²
    assert (turned.value, turned.unit, turned.standard_error, turned.degrees_of_freedom) == (120.0, "dyn/cm²", 5.0, 8.0)
    assert turned.components == {"fit": 3.0, "load": 4.0}
    assert turned.interval == Interval(lower=110.0, upper=math.inf, level=0.95, reason="the data end below the yield stress")
    assert turned.conditions == estimate.conditions
    assert (estimate.value, estimate.unit) == (12.0, "Pa")


def test_an_estimate_without_error_is_turned_too():
    turned = _without_error(value=3.4, unit="Pa·s").in_unit("mPa·s")
    assert turned.value == pytest.approx(3400.0, rel=3e-16)
    assert turned.standard_error is None
    assert turned.interval is None


@pytest.mark.parametrize(
    ("unit", "text", "message"),
    [
        ("Pa", "Pa·s", "yield_stress: 'Pa' cannot be turned into 'Pa·s'"),
        ("K", "°C", "'K' cannot be turned into '°C'"),
        ("°C", "°C", "'°C' cannot be turned into '°C'"),
        ("rad/s", "1/s", "'rad/s' cannot be turned into '1/s'"),
        ("Pa", "pa", r"did you mean Pa\?"),
    ],
)
def test_another_dimension_or_an_offset_is_refused(unit, text, message):
    with pytest.raises(UnitError, match=message):
        _estimate(unit=unit).in_unit(text)


@given(st.floats(min_value=1e-6, max_value=1e6), st.floats(min_value=1e-9, max_value=1e3))
def test_there_and_back_is_the_same_estimate(value, error):
    estimate = _estimate(value=value, standard_error=error)
    back = estimate.in_unit("psi").in_unit("Pa")
    # Four roundings.
    assert (back.value, back.standard_error) == (pytest.approx(value, rel=1e-15), pytest.approx(error, rel=1e-15))


def test_the_relative_error():
    assert _estimate(value=-10.0).relative_standard_error == 0.05
    assert _estimate(value=0.0).relative_standard_error is None
    assert _without_error().relative_standard_error is None


# --- comparison ------------------------------------------------------------------------------------------------------------------

RATE = Condition(value=100.0, unit="1/s")


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"name": "viscosity"}, "^yield_stress is not compared with viscosity$"),
        ({"unit": "dyn/cm²"}, "^yield_stress in Pa is not compared with one in dyn/cm²; convert one of them first$"),
        (
            {"conditions": {"shear_rate": Condition(value=101.0, unit="1/s")}},
            r"the condition shear_rate differs \(100.0 1/s and 101.0 1/s\)",
        ),
        ({"conditions": {}}, r"the condition shear_rate differs \(100.0 1/s and not given\)"),
        ({"conditions": {"shear_rate": RATE, "leg": Condition(value="down")}}, r"the condition leg differs \(not given and down\)"),
        ({"conditions": {"shear_rate": Condition(value="fast", unit="1/s")}}, r"the condition shear_rate differs \(100.0 1/s and fast\)"),
        ({"conditions": {"shear_rate": Condition(value=100.0, unit="1/min")}}, "the condition shear_rate differs"),
    ],
)
def test_what_differs_is_named(changes, message):
    mine = _estimate(conditions={"shear_rate": RATE})
    with pytest.raises(ComparisonError, match=message):
        mine.require_comparable(dataclasses.replace(mine, **changes))


def test_equal_units_and_conditions_are_compared():
    mine = _estimate(conditions={"shear_rate": RATE, "leg": Condition(value="down")})
    nearly = {"shear_rate": Condition(value=100.0 * (1 + 9e-7), unit="1/s"), "leg": Condition(value="down")}
    assert mine.require_comparable(_estimate(value=1.0, method="another", conditions=nearly)) is None


@pytest.mark.parametrize(
    ("condition", "shown"),
    [
        (Condition(value=296.15, unit="K"), "23.00 °C"),
        (Condition(value=0.85, unit="1"), "0.8500"),
        (Condition(value="down"), "down"),
        (Condition(value=100.0, unit="1/s"), "100.0 1/s"),
    ],
)
def test_a_condition_reads_as_a_person_writes_it(condition, shown):
    assert str(condition) == shown


# --- how it shows ----------------------------------------------------------------------------------------------------------------


def test_an_estimate_as_a_sentence():
    assert str(_estimate()) == "yield stress 12.00 Pa, standard error 0.50 Pa"
    assert str(_without_error()) == "yield stress 12.00 Pa (one point only)"
    assert str(_estimate(determined=False, reason="at its bound")) == (
        "yield stress 12.00 Pa, standard error 0.50 Pa (not determined: at its bound)"
    )
    assert str(_estimate(name="flow_index", unit="1", value=0.4567, standard_error=0.0123)) == "flow index 0.457, standard error 0.012"


def test_the_table_gives_the_method_or_says_why_an_error_is_missing():
    table = estimates_table(
        [
            _estimate(conditions={"shear_rate": RATE, "leg": Condition(value="down")}),
            _without_error(),
            _estimate(determined=False, reason="the data end below it"),
        ],
        title="results",
    )
    assert table.columns == ("quantity", "value", "standard error", "unit", "conditions", "method or reason")
    assert table.rows == (
        ("yield stress", "12.00", "0.50", "Pa", "shear rate 100.0 1/s, leg down", "Herschel-Bulkley, down leg"),
        ("yield stress", "12.00", "none", "Pa", "", "one point only"),
        ("yield stress", "(12.00)", "not determined", "Pa", "", "the data end below it"),
    )


def test_one_estimate_shows_as_its_table():
    estimate = _estimate(method="<b>loop</b>")
    assert estimate.table() == estimates_table([estimate])
    assert "&lt;b&gt;loop&lt;/b&gt;" in estimate._repr_html_()


def test_sources_and_findings_are_kept():
    source = Source(sha256="0" * 64, run="loop_1", step="3 down", rows=(31, 60))
    finding = Finding(check="noise", severity="info", reason="low torque")
    estimate = _estimate(sources=(source,), findings=(finding,))
    assert estimate.in_unit("kPa").sources == (source,)
    assert estimate.in_unit("kPa").findings == (finding,)


@pytest.mark.parametrize(("other", "same"), [(100.0, True), (102.0, True), (98.0, True), (102.1, False), ("100", False)])
def test_an_amount_that_a_motor_sets_is_the_same_within_what_it_allows(other, same):
    set_rate = Condition(value=100.0, unit="1/s", within=2.0)
    assert set_rate.matches(Condition(value=other, unit="1/s")) is same
    assert Condition(value=other, unit="1/s").matches(set_rate) is same
    assert not set_rate.matches(Condition(value=100.0, unit="Pa"))
