"""Findings: a severity, a reason, and the worst first."""

from __future__ import annotations

import dataclasses
from itertools import permutations

import pytest

from rheokit.base.finding import SEVERITIES, Finding, findings_table, worst


def _finding(severity="caution", **changes):
    return Finding(**({"check": "wall_slip", "severity": severity, "reason": "the stress drops; roughen the plate"} | changes))


def test_a_finding_says_its_reason():
    assert str(_finding()) == "the stress drops; roughen the plate"


def test_a_finding_is_frozen():
    with pytest.raises(dataclasses.FrozenInstanceError, match="cannot assign to field 'severity'"):
        _finding().severity = "info"


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"severity": "bad"}, "finding 'wall_slip': severity 'bad' is none of info, caution, invalid"),
        ({"reason": ""}, "finding 'wall_slip' gives no reason"),
    ],
)
def test_a_finding_that_says_nothing_is_refused(changes, message):
    with pytest.raises(ValueError, match=message):
        _finding(**changes)


def test_a_finding_takes_a_source_once():
    placed = _finding().at("run_1, step 2")
    assert placed.source == "run_1, step 2"
    assert placed.at("elsewhere") is placed
    assert _finding().source == ""


def test_the_worst_wins_in_any_order():
    for order in permutations(SEVERITIES):
        assert worst(_finding(severity) for severity in order) == "invalid"
    assert worst([_finding("info"), _finding("caution"), _finding("info")]) == "caution"
    assert worst([]) is None


def test_the_table_puts_the_worst_first_and_keeps_the_order_of_equals():
    seen = [_finding("info", check="a"), _finding("invalid", check="b"), _finding("caution", check="c"), _finding("invalid", check="d_e")]
    table = findings_table(seen)
    assert [(row[0], row[2]) for row in table.rows] == [("invalid", "b"), ("invalid", "d e"), ("caution", "c"), ("info", "a")]


@pytest.mark.parametrize(
    ("changes", "shown"),
    [
        ({}, ""),
        ({"value": 0.034567, "unit": "1"}, "0.0346"),
        ({"value": 12.0, "limit": 10.0, "unit": "Pa"}, "12.0 Pa (10.0 Pa)"),
        ({"value": 0.0, "limit": 1.0}, "0 (1.00)"),
        ({"limit": 1.0}, ""),
    ],
)
def test_the_table_shows_value_and_limit_with_their_unit(changes, shown):
    assert findings_table([_finding(**changes)]).rows[0][3] == shown
