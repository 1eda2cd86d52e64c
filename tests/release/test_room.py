"""What the limits of a specification leave, against numbers worked out here by another way."""

import math
from statistics import NormalDist

import pytest

from rheokit.base.errors import SpecificationError
from rheokit.release.acceptance import accepted_zone, kept_zone
from rheokit.release.room import process_table, room_of, room_table
from rheokit.release.specification_file import read_specification
from rheokit.statistics.risk import global_risk

RULE = 'decision_rule = { kind = "probability", conforming = 0.95 }'
KNOWN = "repeatability = { relative = 0.02, degrees_of_freedom = 24 }\n"


@pytest.fixture
def spec(write_specification, specification_text):
    def read(rule=RULE, known=KNOWN, loads=2, **limits):
        text = specification_text.replace(RULE, rule).replace(KNOWN, known).replace("loads = 2", f"loads = {loads}")
        for name, written in limits.items():
            old = {"lower": 'lower = "3.4 Pa·s"\n', "upper": 'upper = "4.2 Pa·s"\n'}[name]
            assert old in text
            text = text.replace(old, f'{name} = "{written}"\n' if written else "")
        return read_specification(write_specification(text))

    return read


@pytest.mark.parametrize(("loads", "ratio", "left", "held"), [(1, 86, 43, 26), (2, 60, 60, 6)])
def test_the_width_of_a_fifth_with_a_scatter_of_three_per_cent(spec, loads, ratio, left, held):
    # Width 0.8 about 3.8, s = 3 %: gauge ratio 86 %, 43 % of the width left by a guard of two standard errors, 26 % of centred batches
    # of capability 1.33 on hold, 6 % with two loads. Worked out by hand: 60 degrees of freedom make the 95 % interval two standard
    # errors (t(0.975; 60) = 2.000, any table).
    (room,) = room_of(
        spec('decision_rule = { kind = "guard", factor = 1.0 }', "repeatability = { relative = 0.03, degrees_of_freedom = 60 }\n", loads)
    )
    assert abs(100 * room.gauge_ratio - ratio) <= 0.5 + 1e-9  # 85.5 to the printed digit
    assert round(100 * room.left) == left
    assert round(100 * room.on_hold) == held
    # Independently, with the error held at that of the middle; the ends move by some per cent of the guard where it follows the value.
    error = 0.03 * 3.8 / math.sqrt(loads)
    spread = NormalDist(0.0, math.hypot(0.1, error))
    assert room.gauge_ratio == pytest.approx(6 * error / 0.8, rel=1e-12)
    assert room.left == pytest.approx((0.8 - 4.0 * error) / 0.8, abs=0.01)
    assert room.on_hold == pytest.approx(2 * spread.cdf(-(0.4 - 2.0 * error)), abs=0.01)


def test_the_ends_are_where_the_rule_changes_its_mind(spec):
    # Absolute error 0.1/√2 and known: the probability rule accepts up to 1.6449 of it inside the limit and rejects as far outside.
    held = spec(known='repeatability = { absolute = "0.1 Pa·s" }\n')
    line, reach = held.requirements[0], NormalDist().inv_cdf(0.95) * 0.1 / math.sqrt(2.0)
    # The other limit takes a share of 1e-8 of the probability.
    assert accepted_zone(line, held.rule, 2) == pytest.approx((3.4 + reach, 4.2 - reach), rel=1e-7)
    assert kept_zone(line, held.rule, 2) == pytest.approx((3.4 - reach, 4.2 + reach), rel=1e-7)


def test_simple_acceptance_leaves_everything_and_holds_nothing(spec):
    (room,) = room_of(spec('decision_rule = { kind = "simple" }'))
    assert room.left == pytest.approx(1.0, rel=1e-12)
    assert room.on_hold == pytest.approx(0.0, abs=1e-12)


def test_further_parts_narrow_what_is_left(spec):
    plain, parts = (room_of(spec(known=KNOWN + more))[0] for more in ("", "day = { relative = 0.02 }\n"))
    assert parts.standard_error == pytest.approx(math.hypot(0.02 / math.sqrt(2.0), 0.02) * 3.8, rel=1e-12)
    assert parts.left < plain.left


def test_one_limit_has_no_width_but_an_end(spec):
    (room,) = room_of(spec(upper=None))
    assert (room.gauge_ratio, room.left, room.on_hold) == (None, None, None)
    assert 3.4 < room.accepted[0] < 3.6
    assert room.accepted[1] == math.inf
    assert room.remark == "one limit: no width to compare with"


def test_without_a_repeatability_nothing_is_known(spec):
    (room,) = room_of(spec(known=""))
    assert room.standard_error is None
    assert "never more than inconclusive" in room.remark
    assert "not known" in str(room_table((room,)))


@pytest.mark.parametrize(("known", "words"), [("0.001", "good"), ("0.01", "usable"), ("0.02", "too coarse")])
def test_the_verdict_follows_the_ratio(spec, known, words):
    (room,) = room_of(spec(known=f"repeatability = {{ relative = {known} }}\n"))
    assert words in room.remark


def test_a_stated_process_sees_the_global_risk(spec):
    # The published pair at a test uncertainty ratio of four, moved to these limits: process sd 0.2, limits 3.8 ± 0.4, error 0.05.
    known = 'repeatability = { absolute = "0.05 Pa·s" }\nprocess = { standard_deviation = "0.2 Pa·s" }\n'
    (room,) = room_of(spec('decision_rule = { kind = "simple" }', known, loads=1))
    assert 100 * room.risk.false_accept == pytest.approx(0.8006, abs=5e-5)
    assert 100 * room.risk.false_reject == pytest.approx(1.4851, abs=5e-5)
    table = str(process_table((room,)))
    assert "0.8006 %" in table
    assert "1.485 %" in table
    guarded = room_of(spec(known=known, loads=1))[0].risk
    assert guarded.false_accept < room.risk.false_accept / 10
    assert guarded.false_reject < room.risk.false_reject / 10
    assert guarded == global_risk(
        mean=3.8,
        process_sd=0.2,
        uncertainty=0.05,
        limits=(3.4, 4.2),
        accepted=accepted_zone(spec(known=known, loads=1).requirements[0], spec(known=known, loads=1).rule, 1),
        kept=kept_zone(spec(known=known, loads=1).requirements[0], spec(known=known, loads=1).rule, 1),
    )


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"known": 'repeatability = { absolute = "0.4 Pa·s" }\n'}, 22),
        ({"known": "repeatability = { relative = 0.08 }\n", "loads": 1}, 22),
        ({"known": "repeatability = { relative = 0.02 }\nday = { relative = 0.08 }\n"}, 22),
        ({"known": "repeatability = { relative = 0.9 }\n", "upper": None, "loads": 1}, 21),  # a lower limit drawn in for ever
    ],
)
def test_limits_that_leave_nothing_are_refused(spec, changes, line):
    with pytest.raises(
        SpecificationError, match="leaves no value that could conform by the rule; widen the limits or ask for more loads"
    ) as no:
        spec(**changes)
    assert no.value.line == line


def test_more_loads_can_leave_something(spec):
    known = 'repeatability = { absolute = "0.3 Pa·s", degrees_of_freedom = 24 }\n'
    with pytest.raises(SpecificationError, match="with one load its stated uncertainty"):
        spec(known=known, loads=1)
    assert 0.0 < room_of(spec(known=known, loads=4))[0].left < 0.5


@pytest.mark.parametrize(
    ("process", "message"),
    [
        ('{ standard_deviation = "0 Pa·s" }', "is no standard deviation"),
        ('{ standard_deviation = "1 Pa" }', "'Pa' is not a unit of viscosity"),
        ('{ deviation = "1 Pa·s" }', "unknown key 'deviation'; did you mean 'standard_deviation'"),
    ],
)
def test_a_process_that_makes_no_sense_is_refused(spec, process, message):
    with pytest.raises(SpecificationError, match=message):
        spec(known=f"{KNOWN}process = {process}\n")


def test_a_process_beside_one_limit_has_a_mean(spec):
    with pytest.raises(SpecificationError, match="a process without a mean is centred between two limits, and there is one; give its mean"):
        spec(known=KNOWN + 'process = { standard_deviation = "0.2 Pa·s" }\n', upper=None)
    known = KNOWN + 'process = { standard_deviation = "0.2 Pa·s", mean = "3.8 Pa·s" }\n'
    (room,) = room_of(spec(known=known, upper=None))
    assert 0.0 < room.risk.false_accept < 0.01


def test_a_typed_in_result_may_bring_a_smaller_uncertainty(write_specification, specification_text):
    density = '[[requirement]]\nid = "density"\ncharacteristic = "density"\nlower = "1.10 g/cm³"\nupper = "1.20 g/cm³"\n'
    text = f"{specification_text}{density}repeatability = {{ relative = 0.2 }}\n"
    assert room_of(read_specification(write_specification(text)))[1].remark == "no value could conform"


def test_the_middle_at_zero_has_no_relative_uncertainty(write_specification, specification_text):
    area = '[[requirement]]\nid = "loop"\ncharacteristic = "loop_area"\ntest = "loop"\nlower = "-10 Pa/s"\nupper = "10 Pa/s"\n'
    text = f"{specification_text}{area}repeatability = {{ relative = 0.02 }}\n"
    assert "says nothing at zero" in room_of(read_specification(write_specification(text)))[1].remark
