"""The shape of a specification file, as pydantic models: which keys there are and of what type. Meaning is given in `specification`."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag

__all__ = ["FROM_PRECISION_FILE", "TAGS", "PrecisionFileText", "PrecisionText", "SpecificationText", "Strict"]

FROM_PRECISION_FILE = "from precision file"
STATED_HERE, STATED_ELSEWHERE = "a table", "a reference"
TAGS = frozenset({STATED_HERE, STATED_ELSEWHERE})
"""What pydantic puts into the place of a complaint to say which way of writing was tried."""


class Strict(BaseModel):
    """A table without unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


class RuleText(Strict):
    """How a probability or an interval becomes an outcome."""

    kind: Literal["probability", "guard", "simple"]
    conforming: Annotated[float, Field(gt=0.5, lt=1.0)] | None = None
    factor: Annotated[float, Field(gt=0.0, le=10.0)] | None = None


class RoundingText(Strict):
    """How a value is compared with a limit: as it is, or rounded (ASTM E29)."""

    method: Literal["absolute", "rounding"]
    place: str | None = None
    digits: Annotated[int, Field(ge=1, le=15)] | None = None


class HeadText(Strict):
    """The table `[specification]`."""

    product: str
    revision: str
    decision_rule: RuleText
    rounding: RoundingText | None = None
    precision: str | None = None
    instrument: str | None = None
    age: str | None = None
    effective: date | None = None
    supersedes: str | None = None


class CheckOilText(Strict):
    """The table `[check_oil]`: what the check oil must read, and how old a reading may be."""

    certified: str
    tolerance: str
    valid_for: str
    expires: date | None = None


class MethodText(Strict):
    """A table `[method.TEST]`: what the runs of a test must have been."""

    geometry: str | None = None
    temperature: str | None = None
    pre_shear: str | None = None
    rest: str | None = None
    ramp: str | None = None
    hold: str | None = None
    gap: str | None = None
    points: Annotated[int, Field(ge=2, le=100_000)] | None = None
    time_since_loading: str | None = None
    correction: Literal["local", "global", "single point", "none"] | None = None
    loads: Annotated[int, Field(ge=1, le=10)] = 1


class RetestText(Strict):
    """The table `[retest]`: how many fresh loads each retest after a hold brings, how many retests there may be, and at what risk."""

    fresh_loads: Annotated[int, Field(ge=1, le=10)]
    retests: Annotated[int, Field(ge=1, le=3)] = 1
    rule: Literal["mean of all loads"] = "mean of all loads"
    false_accept: str | None = None


ScreeningText = dict[str, Annotated[float, Field(gt=0.0)]]
"""The table `[screening]`: name of a check to its limit."""


class UncertaintyText(Strict):
    """A standard deviation of the reported number: between loads, between days, of the calibration and so on."""

    relative: Annotated[float, Field(gt=0.0, lt=1.0)] | None = None
    absolute: str | None = None
    degrees_of_freedom: Annotated[float, Field(ge=1.0)] | None = None


def _way_of_writing(value: object) -> str:
    return STATED_ELSEWHERE if isinstance(value, str) else STATED_HERE


RepeatabilityText = Annotated[
    Annotated[UncertaintyText, Tag(STATED_HERE)] | Annotated[Literal["from precision file"], Tag(STATED_ELSEWHERE)],
    Discriminator(_way_of_writing),
]
"""Stated where it is used, or taken from the precision file."""


class ProcessText(Strict):
    """How the true values of the batches scatter, where that is known."""

    standard_deviation: str
    mean: str | None = None


class RequirementText(Strict):
    """A table `[[requirement]]`."""

    id: str
    characteristic: str
    test: str | None = None
    step: str | int | None = None
    at: dict[str, str | list[str]] = {}
    lower: str | None = None
    upper: str | None = None
    repeatability: RepeatabilityText | None = None
    day: UncertaintyText | None = None
    calibration: UncertaintyText | None = None
    geometry: UncertaintyText | None = None
    temperature: UncertaintyText | None = None
    temperature_coefficient: str | None = None
    rounding: RoundingText | None = None
    age: str | None = None
    process: ProcessText | None = None


class SpecificationText(Strict):
    """A whole specification file."""

    format: Annotated[int, Field(ge=1, le=1)]
    specification: HeadText
    check_oil: CheckOilText | None = None
    screening: ScreeningText = {}
    method: dict[str, MethodText] = {}
    retest: RetestText | None = None
    requirement: Annotated[list[RequirementText], Field(min_length=1)]


class StudiedText(UncertaintyText):
    """A standard deviation from a study, which knows its degrees of freedom."""

    degrees_of_freedom: Annotated[float, Field(ge=1.0)]


class PrecisionText(Strict):
    """A table `[[precision]]` of a precision file."""

    characteristic: str
    test: str | None = None
    step: str | int | None = None
    at: dict[str, str | list[str]] = {}
    repeatability: StudiedText
    reproducibility: StudiedText | None = None
    source: str
    date: date


class PrecisionFileText(Strict):
    """A whole precision file."""

    format: Annotated[int, Field(ge=1, le=1)]
    precision: Annotated[list[PrecisionText], Field(min_length=1)]
