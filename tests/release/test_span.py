"""Spans of time as a specification writes them."""

import math
import re

import pytest

from rheokit.base.errors import UnitError
from rheokit.release.span import DAY, shown_time, span_of_time


@pytest.mark.parametrize(
    ("text", "lower", "upper", "whole"),
    [
        ("1 d to 7 d", DAY, 7 * DAY, True),
        ("1 to 7 d", DAY, 7 * DAY, True),
        ("4 h to 2 d", 14_400.0, 2 * DAY, False),
        ("at least 24 h", DAY, math.inf, True),
        ("at most 30 min", 0.0, 1800.0, False),
        ("0 to 30 min", 0.0, 1800.0, False),
    ],
)
def test_a_span_is_read_in_seconds(text, lower, upper, whole):
    span = span_of_time(text)
    assert (span.lower, span.upper, span.in_whole_days, span.text) == (lower, upper, whole, text)
    assert span.holds(lower)
    assert not span.holds(lower - 1.0)
    assert not math.isfinite(upper) or (span.holds(upper) and not span.holds(upper + 1.0))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("a week", "is no span of time; write for example '1 d to 7 d'"),
        ("7 d to 1 d", "goes from a shorter to a longer one"),
        ("1 d to 1 d", "goes from a shorter to a longer one"),
        ("1 d ± 1 to 7 d", "plain numbers from zero up"),
        ("-1 d to 7 d", "plain numbers from zero up"),
        ("1 d to 7 Pa", "'Pa' is not a unit of time"),
        ("at least soon", "is not a number with a unit"),
    ],
)
def test_what_is_no_span_is_refused(text, message):
    with pytest.raises(UnitError, match=re.escape(message)):
        span_of_time(text)


@pytest.mark.parametrize(("seconds", "shown"), [(DAY, "1 d"), (1.5 * DAY, "1.50 d"), (7200.0, "2 h"), (90.0, "1.50 min"), (0.0, "0 s")])
def test_a_time_is_shown_as_a_person_says_it(seconds, shown):
    assert shown_time(seconds) == shown
