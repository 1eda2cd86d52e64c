"""Give a `[[requirement]]` of a specification file its meaning in SI."""

from __future__ import annotations

from decimal import Decimal

from rheokit.base.errors import UnitError
from rheokit.base.quantities import Amount, parse_amount
from rheokit.characteristics import Characteristic
from rheokit.release import specification_text as shape
from rheokit.release.asked import Here, characteristic_of, conditions_of, uncertainty_of
from rheokit.release.precision_file import PrecisionFile, described
from rheokit.release.rounding import ABSOLUTE, Rounding
from rheokit.release.span import Span, span_of_time
from rheokit.release.specification import PARTS, Process, Requirement
from rheokit.release.written_file import Key, WrittenFile
from rheokit.statistics.precision import StatedUncertainty
from rheokit.temperature.correction import TemperatureCoefficient

__all__ = ["requirement_from"]

STEEPEST = 0.5
"""[1/K] Steepest temperature coefficient that is believed: five times that of a viscosity at 70 kJ/mol near 20 °C (our own setting)."""


def requirement_from(
    index: int, text: shape.RequirementText, head: shape.HeadText, precision: PrecisionFile | None, file: WrittenFile
) -> Requirement:
    """Return a requirement; what it does not say of rounding and age is as in `[specification]`.

    A repeatability that is to come from the precision file is looked up there.

    Raises
    ------
    SpecificationError
        Naming the line and key that do not stand up.
    """
    here = ("requirement", index)
    if not text.id.strip():
        raise file.error((*here, "id"), "the id is empty", "give the requirement a short name")
    characteristic = characteristic_of(here, text, f"requirement {text.id!r}", file)
    lower, upper = _limits(here, text, characteristic, file)
    repeatability, source = _repeatability(here, text, characteristic, precision, file)
    stated = {part: written for part in PARTS if (written := getattr(text, part)) is not None}
    return Requirement(
        id=text.id,
        characteristic=characteristic,
        test=text.test or "",
        step=text.step,
        at=conditions_of(here, text, characteristic, file),
        lower=lower,
        upper=upper,
        repeatability=repeatability,
        repeatability_source=source,
        parts={part: uncertainty_of((*here, part), written, characteristic, file) for part, written in stated.items()},
        temperature_coefficient=_coefficient(here, text, file),
        rounding=_rounding(here, text, head, [limit for limit in (lower, upper) if limit], file),
        age=_age(here, text, head, file),
        process=_process(here, text, characteristic, file),
    )


def _repeatability(
    here: Here,
    text: shape.RequirementText,
    characteristic: Characteristic,
    precision: PrecisionFile | None,
    file: WrittenFile,
) -> tuple[StatedUncertainty | None, str]:
    """Return the standard deviation between loads, and the file it is from where it is not stated in the line itself."""
    key, written = (*here, "repeatability"), text.repeatability
    if written is None:
        return None, ""
    if isinstance(written, shape.UncertaintyText):
        return uncertainty_of(key, written, characteristic, file), ""
    if precision is None:
        remedy = 'write for example precision = "precision.toml" in [specification]'
        raise file.error(key, "the specification names no precision file", remedy)
    at = conditions_of(here, text, characteristic, file)
    found = precision.find(characteristic.name, text.test or "", text.step, at)
    if found is None:
        where = described(characteristic.name, text.test or "", text.step, at)
        remedy = "add a [[precision]] for it there, or state the repeatability here"
        raise file.error(key, f"{precision.name} states nothing for {where}", remedy)
    return found.repeatability, f"{precision.name}, {found.date.isoformat()}"


def _coefficient(here: Here, line: shape.RequirementText, file: WrittenFile) -> TemperatureCoefficient | None:
    """Return how the characteristic goes with temperature; the ± is one standard uncertainty."""
    text, key, example = line.temperature_coefficient, (*here, "temperature_coefficient"), "write for example '-7 %/K ± 1'"
    if text is None:
        return None
    if not line.test:
        raise file.error(key, f"{line.characteristic} takes no temperature coefficient", "enter the result at the stated temperature")
    try:
        amount = parse_amount(text, "temperature_coefficient")
    except UnitError as error:
        raise file.error(key, str(error)) from None
    if amount.tolerance is None or not amount.tolerance > 0.0:
        raise file.error(key, f"{text!r} has no uncertainty", example)
    if not abs(amount.value) <= STEEPEST:
        raise file.error(key, f"{text!r} is steeper than {100.0 * STEEPEST:g} % for each kelvin", example)
    return TemperatureCoefficient(value=amount.value, standard_error=amount.tolerance)


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
