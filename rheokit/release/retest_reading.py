"""The table `[retest]` of a specification: its rule, with the false acceptance at a limit that it brings, simulated."""

from __future__ import annotations

import math

from rheokit.release.acceptance import typical_value
from rheokit.release.method import Method
from rheokit.release.retest import RetestRule
from rheokit.release.specification import DecisionRule, Requirement
from rheokit.release.specification_text import RetestText
from rheokit.release.written_file import WrittenFile
from rheokit.statistics.repeated_looks import LookRisk, repeated_looks
from rheokit.statistics.student import student_quantile

__all__ = ["retest_rule"]

HALF = 0.5


def retest_rule(
    text: RetestText | None, requirements: tuple[Requirement, ...], rule: DecisionRule, methods: dict[str, Method], file: WrittenFile
) -> RetestRule | None:
    """Return the rule that the table states, with its simulated risk, or None without the table.

    Raises
    ------
    SpecificationError
        When more than one retest states no false acceptance, or the simulated one is larger than stated.
    """
    if text is None:
        return None
    stated = _stated(text, file)
    risk, worst = _worst(text, requirements, rule, methods)
    if text.retests > 1 and stated is None:
        remedy = f"write for example false_accept = '{100.0 * risk.accepted + 0.5:.0f} %'" if risk else "allow one retest"
        raise file.error(("retest", "retests"), f"{text.retests} retests without the false acceptance that they may bring", remedy)
    if stated is not None and risk is None:
        raise file.error(("retest", "false_accept"), "no requirement states a repeatability, so no risk can be simulated", "state one")
    if stated is not None and risk is not None and risk.accepted - 2.0 * risk.standard_error > stated:
        seen = f"{worst!r}: {risk}, more than the {100.0 * stated:.3g} % stated"
        raise file.error(("retest", "false_accept"), seen, "allow fewer retests, bring more loads each time, or state what it is")
    return RetestRule(fresh_loads=text.fresh_loads, retests=text.retests, stated=stated, risk=risk, requirement=worst)


def _stated(text: RetestText, file: WrittenFile) -> float | None:
    if text.false_accept is None:
        return None
    key = ("retest", "false_accept")
    if "%" not in text.false_accept:
        raise file.error(key, f"{text.false_accept!r} is not a percentage", "write for example '6 %'")
    share = file.amount(key, text.false_accept, "solids").value
    if not 0.0 < share < HALF:
        raise file.error(key, f"{text.false_accept!r} is not between 0 and 50 %", "write for example '6 %'")
    return share


def _worst(
    text: RetestText, requirements: tuple[Requirement, ...], rule: DecisionRule, methods: dict[str, Method]
) -> tuple[LookRisk | None, str]:
    """Return the largest risk over the requirements whose repeatability is stated, and the id of that requirement."""
    asked: dict[tuple[int, float, float], str] = {}
    for line in requirements:
        if line.repeatability is not None and line.characteristic.needs != "entered":
            first = methods[line.test].loads if line.test in methods else 1
            asked.setdefault((first, round(_reach(rule, line), 3), round(_common(line), 3)), line.id)
    found = [
        (repeated_looks([first + look * text.fresh_loads for look in range(text.retests + 1)], reach=reach, common=common), name)
        for (first, reach, common), name in asked.items()
    ]
    return max(found, key=lambda one: one[0].accepted) if found else (None, "")


def _reach(rule: DecisionRule, line: Requirement) -> float:
    """Return by how many standard uncertainties a mean must lie inside a limit to be accepted."""
    freedom = line.repeatability.degrees_of_freedom if line.repeatability else math.inf
    if rule.kind == "probability":
        return student_quantile(rule.conforming, freedom)
    return rule.factor * student_quantile(0.975, freedom) if rule.kind == "guard" else 0.0


def _common(line: Requirement) -> float:
    """Return the standard uncertainty that more loads do not make smaller, over that between loads."""
    value = typical_value(line)
    assert line.repeatability is not None  # asked before
    shared = math.hypot(*(part.standard_deviation(value) for part in line.parts.values())) if line.parts else 0.0
    return shared / line.repeatability.standard_deviation(value)
