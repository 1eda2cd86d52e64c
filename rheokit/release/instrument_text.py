"""The shape of an instrument file, as pydantic models: which keys there are and of what type. `instrument_file` gives them meaning."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import Field

from rheokit.release.specification_text import Strict

__all__ = ["CheckOilFileText", "DimensionText", "GeometryText", "InstrumentFileText"]


class InstrumentText(Strict):
    """The table `[instrument]`: the drive, its calibration and its thermometer."""

    id: str
    torque_floor: str
    moment_of_inertia: str
    calibrated: date
    calibration_due: date
    temperature_uncertainty: str | None = None


class GapZeroText(Strict):
    """The table `[gap_zero]`: when the gap was last set to zero (an export's `Gap zero` counts as well), and how long that holds."""

    set: datetime | None = None
    valid_for: str


class DimensionText(Strict):
    """A dimension with its standard uncertainty."""

    value: str
    standard_uncertainty: str


class GeometryText(Strict):
    """The table `[geometry]`: one measuring body, with the dimensions of its kind and their standard uncertainties."""

    id: str
    kind: Literal["cone-plate", "parallel plates", "concentric cylinders"]
    radius: DimensionText | None = None
    angle: DimensionText | None = None
    gap: DimensionText | None = None
    inner_radius: DimensionText | None = None
    outer_radius: DimensionText | None = None
    length: DimensionText | None = None
    end_factor: DimensionText | None = None


class CertifiedText(Strict):
    """One row of a certificate."""

    temperature: str
    viscosity: str


class VogelText(Strict):
    """A certificate as a law, prefactor · exp(vogel_constant / (T - vogel_temperature)), and the span in which it holds."""

    prefactor: str
    vogel_constant: str
    vogel_temperature: str
    lowest: str
    highest: str


class CheckOilFileText(Strict):
    """A table `[[check_oil]]`: what an oil is certified to be, and what is asked of a reading of it."""

    id: str
    certified: Annotated[list[CertifiedText], Field(min_length=3)] | None = None
    vogel: VogelText | None = None
    certified_uncertainty: str
    tolerance: str
    valid_for: str
    expires: date


class InstrumentFileText(Strict):
    """A whole instrument file."""

    format: Annotated[int, Field(ge=1, le=1)]
    instrument: InstrumentText
    gap_zero: GapZeroText
    geometry: GeometryText
    check_oil: Annotated[list[CheckOilFileText], Field(default_factory=list)]
