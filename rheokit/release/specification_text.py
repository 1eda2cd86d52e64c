"""The shape of a specification file, as pydantic models: which keys there are and of what type. Meaning is given in `specification`."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["SpecificationText"]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


class RuleText(_Strict):
    """How a probability or an interval becomes an outcome."""

    kind: Literal["probability", "guard", "simple"]
    conforming: Annotated[float, Field(gt=0.5, lt=1.0)] | None = None
    factor: Annotated[float, Field(gt=0.0, le=10.0)] | None = None


class HeadText(_Strict):
    """The table `[specification]`."""

    product: str
    revision: str
    decision_rule: RuleText


class CheckOilText(_Strict):
    """The table `[check_oil]`: what the check oil must read, and how old a reading may be."""

    certified: str
    tolerance: str
    valid_for: str
    expires: date | None = None


class MethodText(_Strict):
    """A table `[method.TEST]`: what the runs of a test must have been."""

    geometry: str | None = None
    temperature: str | None = None
    pre_shear: str | None = None
    rest: str | None = None
    ramp: str | None = None
    hold: str | None = None
    loads: Annotated[int, Field(ge=1, le=10)] = 1


class RepeatabilityText(_Strict):
    """Between-load standard deviation of the reported number."""

    relative: Annotated[float, Field(gt=0.0, lt=1.0)] | None = None
    absolute: str | None = None
    degrees_of_freedom: Annotated[float, Field(ge=1.0)] | None = None


class RequirementText(_Strict):
    """A table `[[requirement]]`."""

    id: str
    characteristic: str
    test: str | None = None
    step: str | int | None = None
    at: dict[str, str | list[str]] = {}
    lower: str | None = None
    upper: str | None = None
    repeatability: RepeatabilityText | None = None


class SpecificationText(_Strict):
    """A whole specification file."""

    format: Annotated[int, Field(ge=1, le=1)]
    specification: HeadText
    check_oil: CheckOilText | None = None
    method: dict[str, MethodText] = {}
    requirement: Annotated[list[RequirementText], Field(min_length=1)]
