"""The release specification as the rest of rheokit sees it: validated, in SI. `specification_file` reads it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType

from rheokit.base.quantities import Amount
from rheokit.base.show import Table
from rheokit.base.units import Unit
from rheokit.characteristics import Characteristic
from rheokit.release.instrument import Instrument
from rheokit.release.method import Method
from rheokit.release.precision_file import PrecisionFile
from rheokit.release.retest import RetestRule
from rheokit.release.rounding import ABSOLUTE, Rounding
from rheokit.release.span import Span
from rheokit.statistics.precision import StatedUncertainty
from rheokit.temperature.correction import TemperatureCoefficient

__all__ = ["PARTS", "CheckOilRule", "DecisionRule", "Process", "Requirement", "Specification"]

PARTS = ("day", "calibration", "geometry", "temperature")
"""Parts of the uncertainty that a requirement may state beside its repeatability."""


@dataclass(frozen=True, kw_only=True)
class DecisionRule:
    """How knowledge about a value becomes an outcome; printed on every record."""

    kind: str
    conforming: float = 0.95
    factor: float = 1.0

    def __str__(self) -> str:
        if self.kind == "probability":
            return (
                f"probability of conformity: conforming from {self.conforming:g}, "
                f"not conforming up to {round(1 - self.conforming, 12):g}, between them inconclusive"
            )
        if self.kind == "guard":
            return f"guard band of {self.factor:g} U (U: half the 95 % interval) on either side of each limit; inside it inconclusive"
        return "simple acceptance: the value itself is compared with the limits; at a limit the risk of a wrong outcome is up to 50 %"


@dataclass(frozen=True, kw_only=True)
class CheckOilRule:
    """What the check oil must read [Pa·s], how old a reading may be [s], and when its certificate expires."""

    certified: float
    tolerance: float
    valid_for: float
    expires: date | None


@dataclass(frozen=True, kw_only=True)
class Process:
    """How the true values of the batches scatter [SI]; without a mean they are centred between the limits."""

    standard_deviation: float
    mean: float | None
    text: str


@dataclass(frozen=True, kw_only=True)
class Requirement:
    """One line of a specification: a characteristic, where it is measured, its limits and what is known of its uncertainty.

    Attributes
    ----------
    id, characteristic, test, step, at
        What is measured, and where.
    lower, upper
        Limits, one of which may be absent.
    repeatability, repeatability_source, parts, part_sources
        Standard deviation between loads, the precision file and date it is from (nothing where the line itself states it), and those of
        PARTS that are known besides, with where they are from where that is not the line itself.
    temperature_coefficient
        How the characteristic goes with temperature, where the line says it.
    rounding, age
        How a value is compared with a limit, and the age of the batch at which the limits apply.
    process
        How the batches scatter, for the page about the specification alone: it decides nothing.
    """

    id: str
    characteristic: Characteristic
    test: str
    step: str | int | None
    at: Mapping[str, float | tuple[float, ...] | str]
    lower: Amount | None
    upper: Amount | None
    repeatability: StatedUncertainty | None
    repeatability_source: str = ""
    parts: Mapping[str, StatedUncertainty] = field(default_factory=dict)
    part_sources: Mapping[str, str] = field(default_factory=dict)
    temperature_coefficient: TemperatureCoefficient | None = None
    rounding: Rounding = ABSOLUTE
    age: Span | None = None
    process: Process | None = None

    def __post_init__(self) -> None:
        for name in ("at", "parts", "part_sources"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))

    @property
    def lower_value(self) -> float:
        """Lower limit [SI], minus infinity where there is none."""
        return -math.inf if self.lower is None else self.lower.value

    @property
    def upper_value(self) -> float:
        """Upper limit [SI], infinity where there is none."""
        return math.inf if self.upper is None else self.upper.value

    @property
    def limits(self) -> str:
        """The limits as they were written, and the age at which they apply."""
        if self.lower and self.upper:
            said = f"{self.lower.text} to {self.upper.text}"
        else:
            said = f"at least {self.lower.text}" if self.lower else f"at most {self.upper.text if self.upper else ''}"
        return f"{said}, at an age of {self.age.text}" if self.age else said

    @property
    def unit(self) -> Unit:
        """The unit in which the limits were written."""
        limit = self.lower or self.upper
        assert limit is not None  # a requirement without a limit is refused
        return limit.unit

    @property
    def stated(self) -> dict[str, StatedUncertainty]:
        """The standard deviations that are stated, by the name of their part of the budget."""
        return {**({"load": self.repeatability} if self.repeatability else {}), **self.parts}

    def stated_text(self, part: str) -> str:
        """Return a stated standard deviation in words, nothing where none is stated."""
        known = self.stated.get(part)
        if known is None:
            return ""
        if known.relative is not None:
            size = f"{known.relative * 100.0:.4g} %"
        else:
            size = f"{(known.absolute or 0.0) / self.unit.scale_to_si(1.0):.4g} {self.unit.symbol}".removesuffix(" 1")
        said = [] if math.isinf(known.degrees_of_freedom) else [f"{known.degrees_of_freedom:.4g} d.f."]
        said += [self.repeatability_source] if part == "load" and self.repeatability_source else []
        said += [self.part_sources[part]] if part in self.part_sources else []
        return f"{size} ({'; '.join(said)})" if said else size

    def side(self, value: float, rounding: Rounding | None = None) -> str:
        """Return on which side of the limits a value [SI] lies, nothing inside; compared by the requirement's rounding or another."""
        rounding = rounding or self.rounding
        if self.upper is not None and rounding.compared(value, self.upper) > self.upper.number:
            return "above the upper limit"
        if self.lower is not None and rounding.compared(value, self.lower) < self.lower.number:
            return "below the lower limit"
        return ""


@dataclass(frozen=True, kw_only=True)
class Specification:
    """A release specification."""

    name: str
    sha256: str
    product: str
    revision: str
    rule: DecisionRule
    requirements: tuple[Requirement, ...]
    methods: Mapping[str, Method]
    check_oil: CheckOilRule | None = None
    effective: date | None = None
    supersedes: str | None = None
    precision: PrecisionFile | None = None
    instrument: Instrument | None = None
    retest: RetestRule | None = None
    screening: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name in ("methods", "screening"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))

    @property
    def rounding(self) -> str:
        """How values are compared with limits, in words; requirement by requirement where they differ."""
        ways = {line.id: str(line.rounding) for line in self.requirements}
        return next(iter(ways.values())) if len(set(ways.values())) == 1 else "; ".join(f"{name}: {way}" for name, way in ways.items())

    def table(self) -> Table:
        """Return the requirements as a table."""
        rows = tuple((line.id, line.characteristic.name, _where(line), line.limits, _known(line)) for line in self.requirements)
        title = f"{self.product}, revision {self.revision}"
        if self.effective:
            title += f", effective {self.effective.isoformat()}"
        if self.supersedes:
            title += f", supersedes {self.supersedes}"
        columns = ("requirement", "characteristic", "where", "limits", "known uncertainty")
        notes = [f"decision rule: {self.rule}", f"rounding: {self.rounding}"]
        notes += [f"precision: {self.precision.name}, sha256 {self.precision.sha256[:12]}"] if self.precision else []
        notes += [f"instrument: {self.instrument.name}, sha256 {self.instrument.sha256[:12]}"] if self.instrument else []
        notes += [f"retest: {self.retest}" if self.retest else "retest: none; a second look is testing into compliance"]
        notes += [f"screening limit of {name.replace('_', ' ')}: {limit:g}" for name, limit in self.screening.items()]
        return Table(title=title, columns=columns, rows=rows, notes=tuple(notes))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _where(line: Requirement) -> str:
    if line.characteristic.needs == "entered":
        return "entered"
    return line.test if line.step is None else f"{line.test}, {line.step}"


def _known(line: Requirement) -> str:
    if line.characteristic.needs == "entered" and line.repeatability is None:
        said = ["entered with each result"]
    else:
        said = [f"load {line.stated_text('load') or 'not known'}"]
    return "; ".join([*said, *(f"{part} {line.stated_text(part)}" for part in line.parts)])
