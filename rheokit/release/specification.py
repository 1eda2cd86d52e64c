"""The release specification as the rest of rheokit sees it: validated, in SI. `specification_file` reads it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType

from rheokit.base.quantities import Amount
from rheokit.base.show import Table
from rheokit.characteristics import Characteristic
from rheokit.release.method import Method
from rheokit.statistics.precision import StatedUncertainty

__all__ = ["CheckOilRule", "DecisionRule", "Requirement", "Specification"]


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
class Requirement:
    """One line of a specification: a characteristic, where it is measured, its limits and its repeatability."""

    id: str
    characteristic: Characteristic
    test: str
    step: str | int | None
    at: Mapping[str, float | tuple[float, ...] | str]
    lower: Amount | None
    upper: Amount | None
    repeatability: StatedUncertainty | None

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", MappingProxyType(dict(self.at)))

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
        """The limits as they were written."""
        if self.lower and self.upper:
            return f"{self.lower.text} to {self.upper.text}"
        return f"at least {self.lower.text}" if self.lower else f"at most {self.upper.text if self.upper else ''}"


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

    def __post_init__(self) -> None:
        object.__setattr__(self, "methods", MappingProxyType(dict(self.methods)))

    def table(self) -> Table:
        """Return the requirements as a table."""
        rows = tuple(
            (line.id, line.characteristic.name, _where(line), line.limits, _repeatability(line.repeatability)) for line in self.requirements
        )
        title = f"{self.product}, revision {self.revision}"
        columns = ("requirement", "characteristic", "where", "limits", "repeatability")
        return Table(title=title, columns=columns, rows=rows, notes=(f"decision rule: {self.rule}",))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _where(line: Requirement) -> str:
    if line.characteristic.needs == "entered":
        return "entered"
    return line.test if line.step is None else f"{line.test}, {line.step}"


def _repeatability(known: StatedUncertainty | None) -> str:
    if known is None:
        return "not known"
    size = f"{known.relative:.2%}" if known.relative is not None else f"{known.absolute:g} (SI)"
    return size if math.isinf(known.degrees_of_freedom) else f"{size}, {known.degrees_of_freedom:g} degrees of freedom"
