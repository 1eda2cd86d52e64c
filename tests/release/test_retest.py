"""Measuring again: by the rule fixed beforehand, every result counted; beyond it, refused."""

from __future__ import annotations

import re

import pytest

from rheokit.base.errors import RetestError, SpecificationError
from rheokit.release.check import check_batch
from rheokit.release.retest import EarlierCheck, counted_results, retest_words
from rheokit.release.specification_file import read_specification

TABLE = "\n[retest]\nfresh_loads = 2\n"


@pytest.fixture
def specification(write_specification, specification_text):
    return read_specification(write_specification(specification_text + TABLE))


@pytest.fixture
def plain(write_specification, specification_text):
    return read_specification(write_specification(specification_text, "plain.toml"))


def earlier(check, number=1, **changes):
    document = check.record.document
    return EarlierCheck(number=number, hash="f" * 64, disposition=document["disposition"], results=counted_results(document), **changes)


HELD = (4.15, 4.2)
"""Loads that land on hold beside the upper limit of 4.2 Pa·s."""


def test_a_retest_by_the_rule_is_judged_on_all_loads(make_batch, specification):
    first = check_batch(make_batch(HELD), specification)
    assert (first.disposition, first.record.document["retest"]) == ("hold", None)
    again = check_batch(make_batch((*HELD, 3.6, 3.6)), specification, earlier=[earlier(first)])
    assert again.decisions[0].estimate.value == pytest.approx((4.15 + 4.2 + 3.6 + 3.6) / 4)
    held = again.record.document["retest"]
    assert (held["look"], [one["entry"] for one in held["counted"]], held["void"]) == (2, [1], [])
    assert any("Look 2 at this batch; every result counts" in words for words in retest_words(again.record.document))


def test_without_a_rule_a_second_look_is_refused_with_the_remedy(make_batch, plain):
    first = check_batch(make_batch(HELD), plain)
    with pytest.raises(
        RetestError, match=r"^loop: 4 results where 2 are asked for: testing into compliance; the specification allows no ret"
    ):
        check_batch(make_batch((*HELD, 3.6, 3.6)), plain, earlier=[earlier(first)])
    with pytest.raises(RetestError, match=r"or void entry 1 for an assignable cause in words$"):
        check_batch(make_batch((*HELD, 3.6, 3.6)), plain, earlier=[earlier(first)])


def test_more_loads_than_the_rule_allows_are_refused(make_batch, specification):
    first = check_batch(make_batch(HELD), specification)
    second = check_batch(make_batch((*HELD, 4.2, 4.2)), specification, earlier=[earlier(first)])
    with pytest.raises(
        RetestError, match=r"its rule allows one retest of 2 fresh loads of a test; decide on what is there, or void entry 2"
    ):
        check_batch(make_batch((*HELD, 4.2, 4.2, 3.6, 3.6)), specification, earlier=[earlier(first), earlier(second, 2)])
    with pytest.raises(RetestError, match=r"^loop: 1 of 2 fresh loads of the retest are here; measure the missing before looking$"):
        check_batch(make_batch((*HELD, 3.6)), specification, earlier=[earlier(first)])


def test_a_result_left_out_is_refused(make_batch, make_loop_run, specification):
    first = check_batch(make_batch(HELD), specification)
    fresh = tuple(make_loop_run(load, 360.0) for load in (3, 4))
    with pytest.raises(
        RetestError, match=r"^every result counts: 2 exports or result of loop that entry 1 rests on \(0000.*is not here; put it"
    ):
        check_batch(make_batch(runs=fresh), specification, earlier=[earlier(first)])
    # The same folder, once the first look is void for its cause: the fresh loads stand alone, and the record tells why.
    void = earlier(first, void="air bubble seen in load 2", void_entry=2)
    found = check_batch(make_batch(runs=fresh), specification, earlier=[void])
    assert found.disposition == "release"
    assert any("Entry 1 is void by entry 2: air bubble seen in load 2." in words for words in retest_words(found.record.document))


def test_a_rejection_stands(make_batch, specification):
    first = check_batch(make_batch((4.6, 4.6)), specification)
    assert first.disposition == "reject"
    with pytest.raises(RetestError, match=r"^entry 1 rejects this batch, and a rejection is not measured away: testing into compliance"):
        check_batch(make_batch((4.6, 4.6, 3.6, 3.6)), specification, earlier=[earlier(first)])


def test_the_same_results_looked_at_again_are_no_new_look(make_batch, plain):
    first = check_batch(make_batch((4.6, 4.6)), plain)
    assert check_batch(make_batch((4.6, 4.6)), plain, earlier=[earlier(first)]).record.document["retest"]["look"] == 1


def test_loads_that_were_still_missing_are_no_retest(make_batch, plain):
    first = check_batch(make_batch((3.8,)), plain)
    assert first.disposition == "hold"
    assert check_batch(make_batch((3.8, 3.8)), plain, earlier=[earlier(first)]).disposition == "release"


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ("fresh_load = 2", r"line 29, retest, fresh_load: unknown key 'fresh_load'; did you mean 'fresh_loads'\?$"),
        ("fresh_loads = 0", r"line 29, retest, fresh_loads: input should be greater than or equal to 1, not 0$"),
        (
            "fresh_loads = 2\nretests = 2",
            r"line 30, retest, retests: 2 retests without the false acceptance .* write for example false_accept = ",
        ),
        ("fresh_loads = 2\nfalse_accept = '0.05'", r"line 30, retest, false_accept: '0.05' is not a percentage; write for example '6 %'$"),
        (
            "fresh_loads = 2\nfalse_accept = '5 %'",
            r"by the first look and 6\.9 % by the whole rule \(simulated.*more than the 5 % stated; allow",
        ),
        ("fresh_loads = 2\nrule = 'best load'", r"line 30, retest, rule: input should be 'mean of all loads', not 'best load'$"),
    ],
)
def test_a_table_that_does_not_stand_up_is_refused_with_line_and_key(write_specification, specification_text, table, message):
    text = specification_text.rstrip() + "\n\n[retest]\n" + table + "\n"
    number = len(text[: text.index(table)].splitlines()) + 1
    shift = number - 29
    pattern = re.sub(r"line (\d+)", lambda found: f"line {int(found[1]) + shift}", message)
    with pytest.raises(SpecificationError, match=pattern):
        read_specification(write_specification(text))


def test_the_simulated_risk_is_printed(write_specification, specification_text):
    text = specification_text + "\n[retest]\nfresh_loads = 2\nretests = 2\nfalse_accept = '11 %'\n"
    rule = read_specification(write_specification(text)).retest
    assert rule.requirement == "viscosity-100"
    # 24 degrees of freedom: t 0.95 is 1.711, so one look accepts 4.4 % at a limit.
    assert 100.0 * rule.risk.first == pytest.approx(4.35, abs=0.05)
    assert rule.risk.first < rule.risk.accepted < 0.11
    assert "11 % are allowed" in str(rule)
    assert "retest: up to 2 retests of 2 fresh loads" in str(read_specification(write_specification(text)))


def test_typed_in_results_count_too(make_batch, make_entered, write_specification, specification_text):
    text = (
        specification_text + '\n[[requirement]]\nid = "density"\ncharacteristic = "density"\nlower = "1100 kg/m³"\nupper = "1200 kg/m³"\n'
    )
    specification = read_specification(write_specification(text))
    first = check_batch(make_batch(HELD, results=(make_entered("density", 1199.0, "kg/m³", 3.0),)), specification)
    better = make_entered("density", 1150.0, "kg/m³", 3.0, time="2026-09-15T09:10:00+00:00")
    with pytest.raises(RetestError, match=r"^every result counts: 1 export or result of density that entry 1 rests on \(1199\.0"):
        check_batch(make_batch(HELD, results=(better,)), specification, earlier=[earlier(first)])


def test_a_look_too_many_is_refused_though_no_test_has_too_many_loads(make_batch, make_entered, write_specification, specification_text):
    lines = '\n[[requirement]]\nid = "density"\ncharacteristic = "density"\nlower = "1100 kg/m³"\nupper = "1200 kg/m³"\n'
    specification = read_specification(write_specification(specification_text + lines + "\n[retest]\nfresh_loads = 1\n"))
    densities = tuple(make_entered("density", 1150.0 + place, "kg/m³", 3.0) for place in range(2))
    looks = [(HELD, densities[:1]), ((*HELD, 4.2), densities[:1])]
    first, second = (check_batch(make_batch(loads, results=results), specification) for loads, results in looks)
    with pytest.raises(RetestError, match=r"^this would be look 3 where 2 are allowed: testing into compliance; decide on what is there$"):
        check_batch(make_batch((*HELD, 4.2), results=densities), specification, earlier=[earlier(first), earlier(second, 2)])


def test_what_more_loads_do_not_make_smaller_makes_a_second_look_cheaper(write_specification, specification_text):
    alone = read_specification(write_specification(specification_text + TABLE, "alone.toml")).retest
    text = specification_text.rstrip() + "\nday = { relative = 0.03, degrees_of_freedom = 24 }\n" + TABLE
    with_day = read_specification(write_specification(text, "day.toml")).retest
    # The looks share the day: little is drawn anew (0.03 beside 0.02/sqrt(2) and 0.02/sqrt(4)).
    assert with_day.risk.accepted - with_day.risk.first < 0.6 * (alone.risk.accepted - alone.risk.first)
