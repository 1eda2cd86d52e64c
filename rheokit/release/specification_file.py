"""Read a specification file: validate its shape, give it meaning in SI; every message names file, line and key."""

from __future__ import annotations

import difflib
import hashlib
import math
import tomllib
from itertools import pairwise
from pathlib import Path

from pydantic import BaseModel, ValidationError

from rheokit.base.errors import RheokitError, SpecificationError, UnitError, printable
from rheokit.base.quantities import Amount, parse_amount
from rheokit.base.run import STEP_KINDS
from rheokit.characteristics import CHARACTERISTICS, AtRule, Characteristic
from rheokit.release import specification_text as shape
from rheokit.release.method import Method, method_from
from rheokit.release.specification import CheckOilRule, DecisionRule, Requirement, Specification
from rheokit.release.toml_lines import line_of
from rheokit.statistics.precision import StatedUncertainty

__all__ = ["read_specification"]

LARGEST_FILE = 1_000_000
"""Bytes; a specification of any length a person writes is far below."""

LONGEST_VALIDITY = 366 * 86_400.0
"""Seconds; a check-oil reading older than a year says nothing."""


def read_specification(path: str | Path) -> Specification:
    """Read and validate a specification file (TOML, `format = 1`).

    Raises
    ------
    SpecificationError
        Naming file, line, key, what was seen and what to write.
    """
    reader = _Reader(Path(path))
    return reader.specification()


class _Reader:
    """Turns one file into a Specification; keeps the text so that a message can name the line."""

    def __init__(self, path: Path) -> None:
        self.name = path.name
        try:
            if path.is_dir():
                raise SpecificationError(path, "is a folder", remedy="name the specification file itself")
            with path.open("rb") as file:
                raw = file.read(LARGEST_FILE + 1)
        except OSError as error:
            raise SpecificationError(path, f"cannot be read ({error.strerror or error})", remedy="check the path") from None
        self.sha256 = hashlib.sha256(raw).hexdigest()
        if len(raw) > LARGEST_FILE:
            raise SpecificationError(path, f"is larger than {LARGEST_FILE} bytes", remedy="name a specification file")
        try:
            self.text = raw.decode("utf-8-sig")
            document = tomllib.loads(self.text)
        except UnicodeDecodeError:
            raise SpecificationError(path, "is not UTF-8 text", remedy="save it as UTF-8 TOML") from None
        except tomllib.TOMLDecodeError as error:
            raise SpecificationError(path, f"is not valid TOML: {error}", remedy="mend that line") from None
        try:
            self.content = shape.SpecificationText.model_validate(document)
        except ValidationError as error:
            raise self._shape_error(error, document) from None

    def _error(self, key: tuple[str | int, ...], seen: str, remedy: str = "") -> SpecificationError:
        return SpecificationError(self.name, seen, key=_dotted(key), line=line_of(self.text, key), remedy=remedy)

    def _shape_error(self, error: ValidationError, document: object) -> SpecificationError:
        """Turn pydantic's first complaint into a sentence of ours; a misspelt key comes before the key it leaves missing."""
        complaints = sorted(error.errors(include_url=False), key=lambda complaint: complaint["type"] != "extra_forbidden")
        first = complaints[0]
        key = tuple(part for part in first["loc"] if part not in {"str", "int", "list[str]"})
        if first["type"] == "extra_forbidden":
            known = _known_keys(key[:-1])
            near = difflib.get_close_matches(str(key[-1]), known, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"the keys here are {', '.join(known)}"
            return self._error(key, f"unknown key {str(key[-1])!r}", hint)
        if first["type"] == "missing":
            if key == ("requirement",):
                return self._error(key, "there is no [[requirement]]", "a specification without requirements decides nothing; add one")
            return self._error(key, f"the key {str(key[-1])!r} is missing", "add it")
        if first["type"] == "too_short" and key == ("requirement",):
            return self._error(key, "there is no [[requirement]]", "a specification without requirements decides nothing; add one")
        seen = _value_at(document, key)
        shown = repr(printable(seen)) if isinstance(seen, str) else printable(seen)
        return self._error(key, f"{first['msg'][:1].lower()}{first['msg'][1:]}, not {shown}")

    def specification(self) -> Specification:
        head = self.content.specification
        requirements = tuple(self._requirement(index, line) for index, line in enumerate(self.content.requirement))
        seen: set[str] = set()
        for index, line in enumerate(requirements):
            if line.id in seen:
                raise self._error(("requirement", index, "id"), f"the id {line.id!r} stands twice", "give each requirement its own")
            seen.add(line.id)
        return Specification(
            name=self.name,
            sha256=self.sha256,
            product=head.product,
            revision=head.revision,
            rule=self._rule(head.decision_rule),
            requirements=requirements,
            methods={test: self._method(test, text) for test, text in self.content.method.items()},
            check_oil=self._check_oil(self.content.check_oil),
        )

    def _rule(self, text: shape.RuleText) -> DecisionRule:
        key = ("specification", "decision_rule")
        needed = {"probability": "conforming", "guard": "factor", "simple": None}[text.kind]
        for name in ("conforming", "factor"):
            given = getattr(text, name) is not None
            if given and name != needed:
                raise self._error(key, f"the rule {text.kind!r} has no {name!r}", "leave it out")
            if not given and name == needed:
                raise self._error(key, f"the rule {text.kind!r} needs {name!r}", "write for example conforming = 0.95 or factor = 1.0")
        return DecisionRule(kind=text.kind, conforming=text.conforming or 0.95, factor=text.factor or 1.0)

    def _method(self, test: str, text: shape.MethodText) -> Method:
        def refuse(name: str, error: RheokitError) -> SpecificationError:
            return self._error(("method", test, name), str(error))

        return method_from(text, refuse)

    def _amount(self, key: tuple[str | int, ...], text: str, quantity: str) -> Amount:
        try:
            amount = parse_amount(text, quantity)
        except UnitError as error:
            raise self._error(key, str(error)) from None
        if amount.tolerance is not None:
            raise self._error(key, f"{text!r} carries a tolerance", "write the number and its unit alone")
        return amount

    def _check_oil(self, text: shape.CheckOilText | None) -> CheckOilRule | None:
        if text is None:
            return None
        certified = self._amount(("check_oil", "certified"), text.certified, "viscosity").value
        if not certified > 0.0:
            raise self._error(("check_oil", "certified"), f"{text.certified!r} is no viscosity of an oil", "write the certified value")
        valid_for = self._amount(("check_oil", "valid_for"), text.valid_for, "time").value
        if not 0.0 < valid_for <= LONGEST_VALIDITY:
            raise self._error(
                ("check_oil", "valid_for"), f"{text.valid_for!r} is no time between zero and a year", "write for example '7 d'"
            )
        tolerance = self._oil_tolerance(text.tolerance, certified)
        return CheckOilRule(certified=certified, tolerance=tolerance, valid_for=valid_for, expires=text.expires)

    def _oil_tolerance(self, text: str, certified: float) -> float:
        """Return the tolerance [Pa·s]; it is written relative, as a percentage."""
        key = ("check_oil", "tolerance")
        if "%" not in text:
            raise self._error(key, f"{text!r} is not a percentage", "write for example '2 %'")
        relative = self._amount(key, text, "relative_loop_area").value
        if not 0.0 < relative <= 0.2:
            raise self._error(key, f"{text!r} is not between 0 and 20 %", "write for example '2 %'")
        return relative * certified

    def _requirement(self, index: int, text: shape.RequirementText) -> Requirement:
        here = ("requirement", index)
        if not text.id.strip():
            raise self._error((*here, "id"), "the id is empty", "give the requirement a short name")
        characteristic = self._characteristic(index, text)
        lower, upper = (
            None if limit is None else self._amount((*here, name), limit, characteristic.quantity)
            for name, limit in (("lower", text.lower), ("upper", text.upper))
        )
        if lower is None and upper is None:
            raise self._error(here, f"requirement {text.id!r} has neither 'lower' nor 'upper'", "give it a limit")
        if lower and upper and not lower.value < upper.value:
            seen = f"requirement {text.id!r}: the lower limit {lower.text} is not below the upper limit {upper.text}"
            raise self._error((*here, "lower"), seen, "exchange them or mend the units")
        return Requirement(
            id=text.id,
            characteristic=characteristic,
            test=text.test or "",
            step=text.step,
            at=self._at(here, text, characteristic),
            lower=lower,
            upper=upper,
            repeatability=self._known_repeatability(here, text.repeatability, characteristic),
        )

    def _characteristic(self, index: int, text: shape.RequirementText) -> Characteristic:
        here = ("requirement", index)
        found = CHARACTERISTICS.get(text.characteristic)
        if found is None:
            near = difflib.get_close_matches(text.characteristic, CHARACTERISTICS, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"the characteristics are {', '.join(CHARACTERISTICS)}"
            raise self._error((*here, "characteristic"), f"unknown characteristic {text.characteristic!r}", hint)
        wants_test, wants_step = found.needs != "entered", found.needs == "step"
        for name, given, wanted in (("test", text.test, wants_test), ("step", text.step, wants_step)):
            if wanted and given is None:
                raise self._error(here, f"requirement {text.id!r} ({found.name}) needs the key {name!r}", "add it")
            if not wanted and given is not None:
                raise self._error((*here, name), f"{found.name} takes no {name!r}", "leave it out")
        if isinstance(text.step, str) and text.step not in STEP_KINDS:
            raise self._error((*here, "step"), f"there is no kind of step {text.step!r}", f"the kinds are {', '.join(STEP_KINDS)}")
        return found

    def _at(
        self, here: tuple[str, int], text: shape.RequirementText, characteristic: Characteristic
    ) -> dict[str, float | tuple[float, ...] | str]:
        for name in text.at:
            if name not in characteristic.at:
                allowed = ", ".join(characteristic.at) or "none"
                raise self._error((*here, "at"), f"{characteristic.name} has no condition {name!r}", f"its conditions are: {allowed}")
        found = {}
        for name, rule in characteristic.at.items():
            if name not in text.at:
                raise self._error(
                    (*here, "at"), f"{characteristic.name} needs the condition {name!r}", f"write at = {{ {_sample(name, rule)} }}"
                )
            found[name] = self._condition(here, name, text.at[name], rule)
        return found

    def _condition(self, here: tuple[str, int], name: str, text: str | list[str], rule: AtRule) -> float | tuple[float, ...] | str:
        key = (*here, "at")
        if rule.choices:
            if not isinstance(text, str) or text not in rule.choices:
                raise self._error(key, f"{name} is {printable(text)!r}", f"write one of {', '.join(rule.choices)}")
            return text
        texts = [text] if isinstance(text, str) else text
        if len(texts) != rule.count:
            raise self._error(key, f"{name} takes {rule.count} amount(s), not {len(texts)}", f"write at = {{ {_sample(name, rule)} }}")
        values = tuple(self._amount(key, one, rule.quantity).value for one in texts)
        if not all(value > 0.0 for value in values) or any(a >= b for a, b in pairwise(values)):
            raise self._error(key, f"{name}: {printable(text)}", "the amounts are positive and rising")
        return values[0] if rule.count == 1 else values

    def _known_repeatability(
        self, here: tuple[str, int], text: shape.RepeatabilityText | None, characteristic: Characteristic
    ) -> StatedUncertainty | None:
        if text is None:
            return None
        key = (*here, "repeatability")
        if (text.relative is None) == (text.absolute is None):
            raise self._error(key, "a repeatability is either relative or absolute", "give one of the two")
        absolute = None
        if text.absolute is not None:
            amount = self._amount(key, text.absolute, characteristic.quantity)
            absolute = amount.unit.scale_to_si(float(amount.number))
        try:
            return StatedUncertainty(relative=text.relative, absolute=absolute, degrees_of_freedom=text.degrees_of_freedom or math.inf)
        except ValueError as error:
            raise self._error(key, str(error), "write for example relative = 0.02, degrees_of_freedom = 24") from None


def _sample(name: str, rule: AtRule) -> str:
    if rule.choices:
        return f'{name} = "{rule.choices[0]}"'
    return f'{name} = "100 1/s"' if rule.count == 1 else f'{name} = ["10 1/s", "100 1/s"]'


def _dotted(key: tuple[str | int, ...]) -> str:
    """Return a key path as a person writes it: `requirement 3, upper`."""
    words: list[str] = []
    for part in key:
        if isinstance(part, int) and words:
            words[-1] += f" {part + 1}"
        else:
            words.append(str(part))
    return ", ".join(words)


def _known_keys(key: tuple[str | int, ...]) -> list[str]:
    places: dict[tuple[str, ...], type[BaseModel]] = {
        (): shape.SpecificationText,
        ("specification",): shape.HeadText,
        ("specification", "decision_rule"): shape.RuleText,
        ("check_oil",): shape.CheckOilText,
        ("method", "*"): shape.MethodText,
        ("requirement", "*"): shape.RequirementText,
        ("requirement", "*", "repeatability"): shape.RepeatabilityText,
    }
    plain = tuple("*" if index == 1 and key[0] in {"method", "requirement"} else str(part) for index, part in enumerate(key))
    return list(places[plain].model_fields) if plain in places else []


def _value_at(document: object, key: tuple[str | int, ...]) -> object:
    for part in key:
        try:
            document = document[part]  # type: ignore[index]  # anything else than a table or list is refused below
        except (KeyError, IndexError, TypeError):
            return "nothing"
    return document
