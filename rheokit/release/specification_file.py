"""Read a specification file: validate its shape, give it meaning in SI; every message names file, line and key."""

from __future__ import annotations

from pathlib import Path, PurePosixPath

from pydantic import BaseModel

from rheokit.base.errors import RangeError, RheokitError, SpecificationError
from rheokit.release import specification_text as shape
from rheokit.release.acceptance import leaves_nothing
from rheokit.release.instrument import Instrument
from rheokit.release.instrument_file import read_instrument
from rheokit.release.method import Method, method_from
from rheokit.release.precision_file import PrecisionFile, read_precision_file
from rheokit.release.requirement_lines import requirement_from
from rheokit.release.retest_reading import retest_rule
from rheokit.release.specification import PARTS, CheckOilRule, DecisionRule, Requirement, Specification
from rheokit.release.toml_document import Shape, read_document
from rheokit.screening import ALL_CHECKS, require_limits

__all__ = ["read_specification"]

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
        document = read_document(path, SHAPE)
        self.file, self.sha256, self.content = document.file, document.sha256, document.content
        self.folder, self.name = path.parent, path.name

    def specification(self) -> Specification:
        head = self.content.specification
        rule = self._rule(head.decision_rule)
        methods = {test: self._method(test, text) for test, text in self.content.method.items()}
        precision = self._precision(head.precision)
        instrument = self._instrument(head.instrument)
        lines = enumerate(self.content.requirement)
        requirements = tuple(requirement_from(index, line, head, precision, self.file) for index, line in lines)
        self._hold_together(requirements, rule, methods)
        return Specification(
            name=self.name,
            sha256=self.sha256,
            product=head.product,
            revision=head.revision,
            rule=rule,
            requirements=requirements,
            methods=methods,
            check_oil=self._check_oil(self.content.check_oil),
            effective=head.effective,
            supersedes=head.supersedes,
            precision=precision,
            instrument=instrument,
            retest=retest_rule(self.content.retest, requirements, rule, methods, self.file),
            screening=self._screening(self.content.screening),
        )

    def _screening(self, limits: dict[str, float]) -> dict[str, float]:
        """Return the limits of the checks of a measurement, each of them one that its check can have."""
        for name, limit in limits.items():
            try:
                require_limits({name: limit}, ALL_CHECKS)
            except RangeError as error:
                raise self.file.error(("screening", name), str(error)) from None
        return limits

    def _precision(self, name: str | None) -> PrecisionFile | None:
        """Return the precision file that is named."""
        return None if name is None else read_precision_file(self._beside(name, "precision"))

    def _instrument(self, name: str | None) -> Instrument | None:
        """Return the instrument file that is named."""
        return None if name is None else read_instrument(self._beside(name, "instrument"))

    def _beside(self, name: str, what: str) -> Path:
        """Return the path of a file that is named, which lies beside the specification or below it."""
        key = ("specification", what)
        path = PurePosixPath(name)
        if path.is_absolute() or ".." in path.parts or "\\" in name or not path.name:
            raise self.file.error(key, f"{name!r} is no file beside the specification", f'write for example {what} = "{what}.toml"')
        if not (self.folder / path).is_file():
            raise self.file.error(key, f"{name!r} is not there", f"put the {what} file beside the specification")
        return self.folder / path

    def _hold_together(self, requirements: tuple[Requirement, ...], rule: DecisionRule, methods: dict[str, Method]) -> None:
        """Refuse an id that stands twice, and a requirement that no value could conform to."""
        seen: set[str] = set()
        for index, line in enumerate(requirements):
            here = ("requirement", index)
            if line.id in seen:
                raise self.file.error((*here, "id"), f"the id {line.id!r} stands twice", "give each requirement its own")
            seen.add(line.id)
            loads = methods[line.test].loads if line.test in methods else 1
            if leaves_nothing(line, rule, loads):
                counted = f"{loads} loads" if loads > 1 else "one load"
                words = f"requirement {line.id!r}: with {counted} its stated uncertainty leaves no value that could conform by the rule"
                raise self.file.error((*here, "upper" if line.upper else "lower"), words, "widen the limits or ask for more loads")

    def _rule(self, text: shape.RuleText) -> DecisionRule:
        key = ("specification", "decision_rule")
        needed = {"probability": "conforming", "guard": "factor", "simple": None}[text.kind]
        for name in ("conforming", "factor"):
            given = getattr(text, name) is not None
            if given and name != needed:
                raise self.file.error(key, f"the rule {text.kind!r} has no {name!r}", "leave it out")
            if not given and name == needed:
                raise self.file.error(key, f"the rule {text.kind!r} needs {name!r}", "write for example conforming = 0.95 or factor = 1.0")
        return DecisionRule(kind=text.kind, conforming=text.conforming or 0.95, factor=text.factor or 1.0)

    def _method(self, test: str, text: shape.MethodText) -> Method:
        def refuse(name: str, error: RheokitError) -> SpecificationError:
            return self.file.error(("method", test, name), str(error))

        return method_from(text, refuse)

    def _check_oil(self, text: shape.CheckOilText | None) -> CheckOilRule | None:
        if text is None:
            return None
        certified = self.file.amount(("check_oil", "certified"), text.certified, "viscosity").value
        if not certified > 0.0:
            raise self.file.error(("check_oil", "certified"), f"{text.certified!r} is no viscosity of an oil", "write the certified value")
        valid_for = self.file.amount(("check_oil", "valid_for"), text.valid_for, "time").value
        if not 0.0 < valid_for <= LONGEST_VALIDITY:
            raise self.file.error(
                ("check_oil", "valid_for"), f"{text.valid_for!r} is no time between zero and a year", "write for example '7 d'"
            )
        tolerance = self._oil_tolerance(text.tolerance, certified)
        return CheckOilRule(certified=certified, tolerance=tolerance, valid_for=valid_for, expires=text.expires)

    def _oil_tolerance(self, text: str, certified: float) -> float:
        """Return the tolerance [Pa·s]; it is written relative, as a percentage."""
        key = ("check_oil", "tolerance")
        if "%" not in text:
            raise self.file.error(key, f"{text!r} is not a percentage", "write for example '2 %'")
        relative = self.file.amount(key, text, "relative_loop_area").value
        if not 0.0 < relative <= 0.2:
            raise self.file.error(key, f"{text!r} is not between 0 and 20 %", "write for example '2 %'")
        return relative * certified


def _known_keys(key: tuple[str | int, ...]) -> list[str]:
    places: dict[tuple[str, ...], type[BaseModel]] = {
        (): shape.SpecificationText,
        ("specification",): shape.HeadText,
        ("specification", "decision_rule"): shape.RuleText,
        ("check_oil",): shape.CheckOilText,
        ("method", "*"): shape.MethodText,
        ("retest",): shape.RetestText,
        ("requirement", "*"): shape.RequirementText,
        ("requirement", "*", "repeatability"): shape.UncertaintyText,
        **{("requirement", "*", part): shape.UncertaintyText for part in PARTS},
        ("specification", "rounding"): shape.RoundingText,
        ("requirement", "*", "rounding"): shape.RoundingText,
        ("requirement", "*", "process"): shape.ProcessText,
    }
    plain = tuple("*" if index == 1 and key[0] in {"method", "requirement"} else str(part) for index, part in enumerate(key))
    return list(places[plain].model_fields) if plain in places else []


SHAPE = Shape(
    kind=shape.SpecificationText,
    what="specification file",
    known_keys=_known_keys,
    needed="requirement",
    without="a specification without requirements decides nothing; add one",
)
