"""Hard limits on the unfavourable bound at every temperature, then front, parts and ranks."""

from __future__ import annotations

import math

import numpy as np
import pytest

from rheokit.base.errors import ComparisonError
from rheokit.base.estimate import Condition, Estimate, Interval
from rheokit.comparison.choice import choose
from rheokit.comparison.desirability import Aim
from rheokit.comparison.feasible import HardLimit, feasible_window, unfavourable_bounds


def made(name, value, error=0.01, *, unit="Pa", freedom=math.inf, **conditions):
    held = {key: Condition(value=amount, unit="K" if key == "temperature" else "") for key, amount in conditions.items()}
    return Estimate(name=name, value=value, unit=unit, standard_error=error, degrees_of_freedom=freedom, method="made", conditions=held)


def yields(cold, room, hot, error=0.01):
    at = {"yield @ cold": (cold, 243.15), "yield": (room, 296.15), "yield @ hot": (hot, 393.15)}
    return {line: made("yield_stress", value, error, temperature=kelvin) for line, (value, kelvin) in at.items()}


LIMIT = HardLimit(line="yield", lower=80.0, upper=400.0, unit="Pa", temperatures=(243.15, 296.15, 393.15))


def test_a_limit_holds_at_every_temperature_of_interest():
    window = feasible_window(
        {"good": yields(300.0, 150.0, 90.0), "hot": yields(300.0, 150.0, 70.0), "cold": yields(420.0, 150.0, 90.0)}, [LIMIT]
    )
    assert window.feasible == ("good",)
    assert "yield at 120.0 °C may be as low as 69.98 Pa, below 80.00" in str(window)
    assert "yield at -30.00 °C may be as high as 420.0 Pa, above 400.0" in str(window)


def test_a_temperature_that_was_not_measured_is_never_a_pass():
    numbers = yields(300.0, 150.0, 90.0)
    del numbers["yield @ hot"]
    window = feasible_window({"a": numbers}, [LIMIT])
    assert window.feasible == ()
    assert "yield at 120.0 °C was not measured" in str(window)


def test_the_unfavourable_bound_counts_and_not_the_value():
    limit = HardLimit(line="y", lower=100.0, unit="Pa")
    inside = {
        "sure": {"y": made("y", 103.0, 1.0)},
        "unsure": {"y": made("y", 103.0, 2.0)},
        "few": {"y": made("y", 103.0, 1.0, freedom=2.0)},
    }
    # 1.96 standard errors are 1.96 and 3.92; Student's t of two degrees of freedom makes the first 4.30.
    assert feasible_window(inside, [limit]).feasible == ("sure",)


def test_more_uncertainty_never_lets_a_candidate_in():
    limit = HardLimit(line="y", lower=90.0, upper=110.0, unit="Pa")
    for value in np.linspace(85.0, 115.0, 13):
        passed = [bool(feasible_window({"a": {"y": made("y", value, error)}}, [limit]).feasible) for error in (0.5, 1.0, 2.0, 4.0, 8.0)]
        assert passed == sorted(passed, reverse=True)


def test_its_own_interval_is_used_and_an_undetermined_number_is_no_pass():
    own = Interval(lower=0.5, upper=3.0, level=0.95)
    skew = Estimate(name="y", value=1.0, unit="1", standard_error=0.1, degrees_of_freedom=9.0, method="m", interval=own)
    assert unfavourable_bounds(skew) == (0.5, 3.0)
    undecided = Estimate(name="y", value=1.0, unit="1", standard_error=None, method="m", determined=False, reason="too few points")
    window = feasible_window({"a": {"y": undecided}}, [HardLimit(line="y", lower=0.1)])
    assert window.feasible == ()
    assert "y is not determined (too few points)" in str(window)


def test_a_consistency_is_never_compared_at_unequal_flow_index():
    limit = HardLimit(line="k", upper=99.0, unit="Pa·s^n")
    free = {name: {"k": made("consistency", 20.0, unit="Pa·s^n")} for name in "ab"}
    with pytest.raises(ComparisonError, match="a consistency is compared only at one flow index"):
        feasible_window(free, [limit])
    unlike = {name: {"k": made("consistency", 20.0, unit="Pa·s^n", flow_index=n)} for name, n in (("a", 0.5), ("b", 0.52))}
    with pytest.raises(ComparisonError, match=r"^consistency: the condition flow_index differs \(0\.5000 and 0\.5200\)$"):
        feasible_window(unlike, [limit])
    alike = {name: {"k": made("consistency", 20.0, unit="Pa·s^n", flow_index=0.5)} for name in "ab"}
    assert feasible_window(alike, [limit]).feasible == ("a", "b")
    with pytest.raises(ComparisonError, match="flow_index differs"):
        choose(unlike, [HardLimit(line="k", upper=99.0, unit="Pa·s^n")], {"k": Aim(lower=0.0, upper=50.0, target=50.0)})


def test_loop_areas_of_another_method_are_refused():
    numbers = {"a": {"loop": made("loop_area", 1700.0, rest_time=300.0)}, "b": {"loop": made("loop_area", 1700.0, rest_time=60.0)}}
    with pytest.raises(ComparisonError, match=r"^loop_area: the condition rest_time differs"):
        feasible_window(numbers, [HardLimit(line="loop", upper=2000.0, unit="Pa")])


def test_units_are_not_guessed_and_limits_stand_up():
    with pytest.raises(ComparisonError, match="y is measured in Pa and limited in Pa·s; convert one of them first"):
        feasible_window({"a": {"y": made("y", 1.0)}}, [HardLimit(line="y", lower=0.0, unit="Pa·s")])
    with pytest.raises(ComparisonError, match="a hard limit needs a lower end below its upper end"):
        HardLimit(line="y", lower=2.0, upper=1.0)
    with pytest.raises(ComparisonError, match="a window needs candidates"):
        feasible_window({}, [])


AIMS = {"y": Aim(lower=0.0, upper=10.0, target=10.0), "v": Aim(lower=0.0, upper=10.0, target=0.0)}
OPEN = [HardLimit(line="y", lower=-99.0, unit="Pa")]


def pair(y, v, error=0.01):
    return {"y": made("y", y, error), "v": made("v", v, error)}


def test_the_front_the_parts_and_sure_ranks():
    found = choose({"a": pair(8.0, 6.0), "b": pair(5.0, 2.0), "c": pair(4.0, 3.0)}, OPEN, AIMS)
    assert found.front == ("a", "b")
    assert found.front_share["c"] == 0.0
    assert dict(found.parts["b"].parts) == pytest.approx({"y": 0.5, "v": 0.8})
    assert found.parts["b"].whole == pytest.approx(0.4**0.5)
    assert found.ranks["b"].tolist() == [1.0, 0.0, 0.0]  # sqrt(0.40), sqrt(0.32), sqrt(0.28): far apart for an error of 0.01


def test_candidates_that_cannot_be_told_apart_share_their_ranks():
    found = choose({"a": pair(5.0, 5.0, 0.5), "b": pair(5.0, 5.0, 0.5)}, OPEN, AIMS, draws=4000, seed=3)
    # Half of 4000 resamples, give or take four times sqrt(4000/4) = 32, is 0.5 ± 0.032.
    assert found.ranks["a"][0] == pytest.approx(0.5, abs=0.032)
    assert found.ranks["a"].sum() == pytest.approx(1.0)


def test_a_rank_is_as_sure_as_the_errors_make_it():
    one = {name: {"y": made("y", value, 0.5)} for name, value in (("a", 5.5), ("b", 5.0))}
    found = choose(one, OPEN, {"y": AIMS["y"]}, draws=4000, seed=4)
    # The difference 0.5 over its error 0.5 sqrt(2): the normal distribution says 0.760; four times sqrt(0.76 0.24 / 4000) is 0.027.
    assert found.ranks["a"][0] == pytest.approx(0.760, abs=0.027)
    few = {name: {"y": made("y", value, 0.5, freedom=2.0)} for name, value in (("a", 5.5), ("b", 5.0))}
    assert choose(few, OPEN, {"y": AIMS["y"]}, draws=4000, seed=4).ranks["a"][0] < 0.74


def test_a_score_never_appears_without_its_parts():
    found = choose({"a": pair(8.0, 6.0), "b": pair(5.0, 2.0)}, OPEN, AIMS)
    for table in (found.table(), *(held.table() for held in found.parts.values())):
        if "all together" in [*table.columns, *(row[0] for row in table.rows)]:
            shown = [*table.columns, *(row[0] for row in table.rows)]
            assert set(AIMS) <= set(shown)
    assert "all together" in found.table().columns


def test_who_is_outside_is_not_weighed():
    found = choose({"a": pair(8.0, 6.0), "b": pair(5.0, 2.0)}, [HardLimit(line="y", lower=7.0, unit="Pa")], AIMS)
    assert set(found.parts) == {"a"}
    nobody = choose({"b": pair(5.0, 2.0)}, [HardLimit(line="y", lower=7.0, unit="Pa")], AIMS)
    assert nobody.front == ()
    assert "no candidate lies inside the window: nothing is weighed" in str(nobody)


def test_an_aim_without_its_number_is_refused():
    with pytest.raises(ComparisonError, match=r"^a: v was not measured; every aim needs its number with an error$"):
        choose({"a": {"y": made("y", 1.0)}}, OPEN, AIMS)
    with pytest.raises(ComparisonError, match="a choice needs at least one aim"):
        choose({"a": pair(1.0, 1.0)}, OPEN, {})
