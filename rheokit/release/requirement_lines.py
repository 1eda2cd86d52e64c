"""Give a `[[requirement]]` of a specification file its meaning in SI."""

from __future__ import annotations

import difflib
import math
from decimal import Decimal
from itertools import pairwise

from rheokit.base.errors import UnitError, printable
from rheokit.base.quantities import Amount
from rheokit.base.run import STEP_KINDS
from rheokit.characteristics import CHARACTERISTICS, AtRule, Characteristic
from rheokit.release import specification_text as shape
from rheokit.release.rounding import ABSOLUTE, Rounding
from rheokit.release.span import Span, span_of_time
from rheokit.release.specification import PARTS, Process, Requirement
from rheokit.release.written_file import Key, WrittenFile
from rheokit.statistics.precision import StatedUncertainty

__all__ = ["requirement_from", "sample_condition"]

Here = tuple[str, int]
"""The key path of one requirement."""


def requirement_from(index: int, text: shape.RequirementText, head: shape.HeadText, file: WrittenFile) -> Requirement:
    """Return a requirement; what it does not say of rounding and age is as in `[specification]`.

    Raises
    ------
    SpecificationError
        Naming the line and key that do not stand up.
    """
    here = ("requirement", index)
    if not text.id.strip():
        raise file.error((*here, "id"), "the id is empty", "give the requirement a short name")
    characteristic = _characteristic(here, text, file)
    lower, upper = _limits(here, text, characteristic, file)
    sizes = {part: _uncertainty((*here, part), getattr(text, part), characteristic, file) for part in ("repeatability", *PARTS)}
    return Requirement(
        id=text.id,
        characteristic=characteristic,
        test=text.test or "",
        step=text.step,
        at=_at(here, text, characteristic, file),
        lower=lower,
        upper=upper,
        repeatability=sizes["repeatability"],
        parts={part: known for part in PARTS if (known := sizes[part]) is not None},
        rounding=_rounding(here, text, head, [limit for limit in (lower, upper) if limit], file),
        age=_age(here, text, head, file),
        process=_process(here, text, characteristic, file),
    )


def _limits(
    here: Here, text: shape.RequirementText, characteristic: Characteristic, file: WrittenFile
) -> tuple[Amount | None, Amount | None]:
    lower, upper = (
        None if limit is None else file.amount((*here, name), limit, characteristic.quantity)
        for name, limit in (("lower", text.lower), ("upper", text.upper))
    )
    if lower is None and upper is None:
        raise file.error(here, f"requirement {text.id!r} has neither 'lower' nor 'upper'", "give it a limit")
    if lower and upper and not lower.value < upper.value:
        seen = f"requirement {text.id!r}: the lower limit {lower.text} is not below the upper limit {upper.text}"
        raise file.error((*here, "lower"), seen, "exchange them or mend the units")
    return lower, upper


def _characteristic(here: Here, text: shape.RequirementText, file: WrittenFile) -> Characteristic:
    found = CHARACTERISTICS.get(text.characteristic)
    if found is None:
        near = difflib.get_close_matches(text.characteristic, CHARACTERISTICS, n=1)
        hint = f"did you mean {near[0]!r}?" if near else f"the characteristics are {', '.join(CHARACTERISTICS)}"
        raise file.error((*here, "characteristic"), f"unknown characteristic {text.characteristic!r}", hint)
    wants_test, wants_step = found.needs != "entered", found.needs == "step"
    for name, given, wanted in (("test", text.test, wants_test), ("step", text.step, wants_step)):
        if wanted and given is None:
            raise file.error(here, f"requirement {text.id!r} ({found.name}) needs the key {name!r}", "add it")
        if not wanted and given is not None:
            raise file.error((*here, name), f"{found.name} takes no {name!r}", "leave it out")
    if isinstance(text.step, str) and text.step not in STEP_KINDS:
        raise file.error((*here, "step"), f"there is no kind of step {text.step!r}", f"the kinds are {', '.join(STEP_KINDS)}")
    return found


def _at(
    here: Here, text: shape.RequirementText, characteristic: Characteristic, file: WrittenFile
) -> dict[str, float | tuple[float, ...] | str]:
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


def _uncertainty(
    key: Key, text: shape.UncertaintyText | None, characteristic: Characteristic, file: WrittenFile
) -> StatedUncertainty | None:
    if text is None:
        return None
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


def _rounding(here: Here, text: shape.RequirementText, head: shape.HeadText, limits: list[Amount], file: WrittenFile) -> Rounding:
    key: Key = (*here, "rounding") if text.rounding else ("specification", "rounding")
    written = text.rounding or head.rounding
    if written is None:
        return ABSOLUTE
    if written.place is not None and written.digits is not None:
        raise file.error(key, "both 'place' and 'digits' are given", "give one of the two, or neither for the place of the limit")
    if written.method == "absolute" and (written.place or written.digits):
        raise file.error(key, "the absolute method rounds nothing", "leave out 'place' and 'digits', or write method = \"rounding\"")
    place = None if written.place is None else _place(key, written.place, limits, file)
    rounding = Rounding(method=written.method, place=place, digits=written.digits)
    for limit in limits:
        if rounding.loses(limit):
            raise file.error(key, f"requirement {text.id!r}: the limit {limit.text} has digits that are rounded away", "round more finely")
    return rounding


def _place(key: Key, text: str, limits: list[Amount], file: WrittenFile) -> Amount:
    units = {limit.unit.symbol for limit in limits}
    number, _, unit = text.strip().partition(" ")
    if units != {unit.strip() or "1"}:
        raise file.error(key, f"the place {text!r} is not in the unit of the limits", f"write it in {' or '.join(sorted(units))}")
    try:
        size = Decimal(number)
    except ArithmeticError:
        size = Decimal(0)
    if not size.is_finite() or size <= 0 or size.normalize().as_tuple().digits != (1,):
        raise file.error(key, f"the place {text!r} is no power of ten", 'write for example place = "0.01 Pa·s"')
    size = Decimal(1).scaleb(size.adjusted())
    return Amount(value=limits[0].unit.scale_to_si(float(size)), number=size, unit=limits[0].unit, text=text.strip())


def _age(here: Here, text: shape.RequirementText, head: shape.HeadText, file: WrittenFile) -> Span | None:
    key: Key = (*here, "age") if text.age is not None else ("specification", "age")
    written = text.age if text.age is not None else head.age
    if written is None:
        return None
    try:
        return span_of_time(written)
    except UnitError as error:
        raise file.error(key, str(error)) from None


def _process(here: Here, line: shape.RequirementText, characteristic: Characteristic, file: WrittenFile) -> Process | None:
    text = line.process
    if text is None:
        return None
    key = (*here, "process")
    if text.mean is None and (line.lower is None or line.upper is None):
        raise file.error(key, "a process without a mean is centred between two limits, and there is one", "give its mean")
    amount = file.amount(key, text.standard_deviation, characteristic.quantity)
    deviation = amount.unit.scale_to_si(float(amount.number))
    if not deviation > 0.0:
        raise file.error(key, f"{text.standard_deviation!r} is no standard deviation", "write a positive amount")
    mean = None if text.mean is None else file.amount(key, text.mean, characteristic.quantity)
    centre = f"mean {mean.text}" if mean else "centred between the limits"
    said = f"{centre}, standard deviation {amount.text}"
    return Process(standard_deviation=deviation, mean=None if mean is None else mean.value, text=said)


def sample_condition(name: str, rule: AtRule) -> str:
    """Return a condition as a person may write it, for a message or a starter."""
    if rule.choices:
        return f'{name} = "{rule.choices[0]}"'
    return f'{name} = "100 1/s"' if rule.count == 1 else f'{name} = ["10 1/s", "100 1/s"]'
