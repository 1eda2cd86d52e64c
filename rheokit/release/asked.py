"""What a line of a specification or of a precision file asks for: a characteristic, where it is measured, and a standard deviation."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from itertools import pairwise
from typing import Protocol

from rheokit.base.errors import printable
from rheokit.base.run import STEP_KINDS
from rheokit.characteristics import CHARACTERISTICS, AtRule, Characteristic
from rheokit.release import specification_text as shape
from rheokit.release.written_file import Key, WrittenFile
from rheokit.statistics.precision import StatedUncertainty

__all__ = ["Asked", "Here", "characteristic_of", "conditions_of", "sample_condition", "uncertainty_of"]

Here = tuple[str, int]
"""The key path of one table: its name and its place, from 0."""


class Asked(Protocol):
    """What is written about a characteristic and where it is measured."""

    @property
    def characteristic(self) -> str:
        """Its name."""

    @property
    def test(self) -> str | None:
        """The test, where it needs one."""

    @property
    def step(self) -> str | int | None:
        """The step, where it needs one."""

    @property
    def at(self) -> Mapping[str, str | list[str]]:
        """Its conditions."""


def characteristic_of(here: Here, text: Asked, called: str, file: WrittenFile) -> Characteristic:
    """Return the characteristic that is named, checked to have the test and step it needs, and no other; `called` names the line."""
    found = CHARACTERISTICS.get(text.characteristic)
    if found is None:
        near = difflib.get_close_matches(text.characteristic, CHARACTERISTICS, n=1)
        hint = f"did you mean {near[0]!r}?" if near else f"the characteristics are {', '.join(CHARACTERISTICS)}"
        raise file.error((*here, "characteristic"), f"unknown characteristic {text.characteristic!r}", hint)
    wants_test, wants_step = found.needs != "entered", found.needs == "step"
    for name, given, wanted in (("test", text.test, wants_test), ("step", text.step, wants_step)):
        if wanted and given is None:
            raise file.error(here, f"{called} ({found.name}) needs the key {name!r}", "add it")
        if not wanted and given is not None:
            raise file.error((*here, name), f"{found.name} takes no {name!r}", "leave it out")
    if isinstance(text.step, str) and text.step not in STEP_KINDS:
        raise file.error((*here, "step"), f"there is no kind of step {text.step!r}", f"the kinds are {', '.join(STEP_KINDS)}")
    return found


def conditions_of(here: Here, text: Asked, characteristic: Characteristic, file: WrittenFile) -> dict[str, float | tuple[float, ...] | str]:
    """Return the conditions at which the characteristic is measured, in SI."""
    for name in text.at:
        if name not in characteristic.at:
            allowed = ", ".join(characteristic.at) or "none"
            raise file.error((*here, "at"), f"{characteristic.name} has no condition {name!r}", f"its conditions are: {allowed}")
    found = {}
    for name, rule in characteristic.at.items():
        if name not in text.at:
            raise file.error(
                (*here, "at"), f"{characteristic.name} needs the condition {name!r}", f"write at = {{ {sample_condition(name, rule)} }}"
            )
        found[name] = _condition((*here, "at"), name, text.at[name], rule, file)
    return found


def _condition(key: Key, name: str, text: str | list[str], rule: AtRule, file: WrittenFile) -> float | tuple[float, ...] | str:
    if rule.choices:
        if not isinstance(text, str) or text not in rule.choices:
            raise file.error(key, f"{name} is {printable(text)!r}", f"write one of {', '.join(rule.choices)}")
        return text
    texts = [text] if isinstance(text, str) else text
    if len(texts) != rule.count:
        raise file.error(key, f"{name} takes {rule.count} amount(s), not {len(texts)}", f"write at = {{ {sample_condition(name, rule)} }}")
    values = tuple(file.amount(key, one, rule.quantity).value for one in texts)
    if not all(value > 0.0 for value in values) or any(a >= b for a, b in pairwise(values)):
        raise file.error(key, f"{name}: {printable(text)}", "the amounts are positive and rising")
    return values[0] if rule.count == 1 else values


def uncertainty_of(key: Key, text: shape.UncertaintyText, characteristic: Characteristic, file: WrittenFile) -> StatedUncertainty:
    """Return a standard deviation of the characteristic as it is stated, in SI."""
    what = "repeatability" if key[-1] == "repeatability" else f"part {key[-1]!r}"
    if (text.relative is None) == (text.absolute is None):
        raise file.error(key, f"a {what} is either relative or absolute", "give one of the two")
    absolute = None
    if text.absolute is not None:
        amount = file.amount(key, text.absolute, characteristic.quantity)
        absolute = amount.unit.scale_to_si(float(amount.number))
    try:
        return StatedUncertainty(relative=text.relative, absolute=absolute, degrees_of_freedom=text.degrees_of_freedom or math.inf)
    except ValueError as error:
        raise file.error(key, str(error), "write for example relative = 0.02, degrees_of_freedom = 24") from None


def sample_condition(name: str, rule: AtRule) -> str:
    """Return a condition as a person may write it, for a message or a starter."""
    if rule.choices:
        return f'{name} = "{rule.choices[0]}"'
    return f'{name} = "100 1/s"' if rule.count == 1 else f'{name} = ["10 1/s", "100 1/s"]'
