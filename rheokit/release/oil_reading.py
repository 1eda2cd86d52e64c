"""A reading of a check oil, judged at its own temperature against the certificate, with the uncertainty of both."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from rheokit.base.errors import RangeError, printable
from rheokit.base.estimate import Estimate, Source
from rheokit.base.show import number
from rheokit.reading.preamble import moment
from rheokit.release.instrument import CheckOil, Instrument

__all__ = ["CHECK_OIL", "CHECK_OIL_TEMPERATURE", "OilReading", "Standing", "oil_readings"]

CHECK_OIL = "check_oil_viscosity"
"""Name under which a reading is entered in results.csv."""
CHECK_OIL_TEMPERATURE = "check_oil_temperature"
"""Name under which its temperature is entered, at the same time."""
COVERAGE = 2.0
"""Half of a 95 % interval over the standard uncertainty: of normal errors 1.96, as GUM 6.3.3 rounds it."""

Standing = Literal["stands", "doubtful", "failed", "not judged"]

_CELSIUS = re.compile(r"(?<![\w.,])(-?\d+(?:\.\d+)?)\s*°C")


@dataclass(frozen=True, kw_only=True)
class OilReading:
    """One reading.

    Attributes
    ----------
    oil
        Id of the oil, nothing where the reading does not say which.
    time, value, temperature
        When it was read, what [Pa·s], and at which temperature [K] (None where it does not say).
    certified, ratio
        Certified viscosity [Pa·s] at that temperature, and the reading over it; None where there is none.
    relative_error
        Standard uncertainty of the ratio [1]: of the certificate, the reading and its temperature, those that are known.
    tolerance
        How far the ratio may lie from 1.
    standing, reason
        `stands`; `doubtful` where it lies within the tolerance but its 95 % interval does not, or its own uncertainty is not known;
        `failed` beyond the tolerance, or where that interval is wider than the tolerance; `not judged` where something is missing.
    """

    oil: str
    time: datetime
    value: float
    temperature: float | None
    certified: float | None
    ratio: float | None
    relative_error: float | None
    tolerance: float | None
    standing: Standing
    reason: str
    source: Source | None = None


def oil_readings(results: Iterable[Estimate], instrument: Instrument) -> tuple[OilReading, ...]:
    """Return the readings of check oils among entered results, judged, in the order of their times."""
    entered = tuple(results)
    found = (_judged(result, entered, instrument) for result in entered if result.name == CHECK_OIL)
    return tuple(sorted(found, key=lambda reading: reading.time))


def _judged(reading: Estimate, entered: Sequence[Estimate], instrument: Instrument) -> OilReading:
    oil = _oil_of(reading, instrument)
    temperature, error = _temperature_of(reading, entered)
    if isinstance(oil, str):
        return _not_judged(reading, "", temperature, oil)
    if temperature is None:
        reason = f"the check-oil reading does not say at which temperature; write a row {CHECK_OIL_TEMPERATURE} with the same time"
        return _not_judged(reading, oil.id, None, reason)
    try:
        certified = oil.certificate.viscosity(temperature)
    except RangeError as out:
        return _not_judged(reading, oil.id, temperature, f"the check oil {printable(oil.id)} was read where it is not certified: {out}")
    by_temperature = oil.certificate.coefficient(temperature) * (error if error is not None else instrument.temperature_error or 0.0)
    own = reading.relative_standard_error
    size = math.hypot(oil.relative_error, own or 0.0, by_temperature)
    ratio = reading.value / certified
    standing, reason = _standing(oil, ratio, size, own is not None)
    return OilReading(
        oil=oil.id,
        time=_taken(reading),
        value=reading.value,
        temperature=temperature,
        certified=certified,
        ratio=ratio,
        relative_error=size,
        tolerance=oil.tolerance,
        standing=standing,
        reason=f"{_words(oil, reading.value, certified, temperature, size)}{reason}",
        source=reading.sources[0] if reading.sources else None,
    )


def _standing(oil: CheckOil, ratio: float, size: float, own_known: bool) -> tuple[Standing, str]:
    off, reach = abs(ratio - 1.0), COVERAGE * size
    # A reading that lies on its tolerance on paper stands, whatever its binary digits.
    if off > oil.tolerance * (1.0 + 1e-9):
        return "failed", f", more than {100.0 * oil.tolerance:.3g} % off; no number of this instrument counts until it reads right"
    if reach > oil.tolerance:
        wide = f"its 95 % interval of ± {100.0 * reach:.2g} % is wider than the tolerance of {100.0 * oil.tolerance:.3g} %"
        return "failed", f"; {wide}: it shows nothing; read it again, with a smaller uncertainty"
    if off + reach > oil.tolerance:
        return "doubtful", f"; within {100.0 * oil.tolerance:.3g} %, but its 95 % interval reaches beyond: read it again"
    if not own_known:
        return "doubtful", "; the uncertainty of the reading is not entered: only that of the certificate counts"
    return "stands", ""


def _words(oil: CheckOil, value: float, certified: float, temperature: float, size: float) -> str:
    """Return reading, certified value and their ratio in words."""
    return (
        f"the check oil {printable(oil.id)} reads {number(value)} Pa·s at {temperature - 273.15:.2f} °C, where it is certified "
        f"{number(certified)} Pa·s: {100.0 * (value / certified - 1.0):+.2f} % with a standard uncertainty of {100.0 * size:.2g} %"
    )


def _not_judged(reading: Estimate, oil: str, temperature: float | None, reason: str) -> OilReading:
    return OilReading(
        oil=oil, time=_taken(reading), value=reading.value, temperature=temperature, certified=None, ratio=None, relative_error=None,
        tolerance=None, standing="not judged", reason=reason, source=reading.sources[0] if reading.sources else None,
    )  # fmt: skip


def _oil_of(reading: Estimate, instrument: Instrument) -> CheckOil | str:
    """Return the oil that was read: the only one, or the one that the method names; else why it is not known."""
    oils = instrument.check_oils
    named = [oil for oil in oils if oil.id.casefold() in reading.method.casefold()]
    if len(named) == 1:
        return named[0]
    if len(oils) == 1:
        return oils[0]
    known = ", ".join(printable(oil.id) for oil in oils) or "none"
    how = "names several" if named else "does not say which"
    return f"{instrument.name} lists the check oils {known}, and the method of the reading {how}: write the id of one into it"


def _temperature_of(reading: Estimate, entered: Sequence[Estimate]) -> tuple[float | None, float | None]:
    """Return the temperature of a reading [K] and its standard uncertainty: of the row at the same time, else the one its method names."""
    same = [result for result in entered if result.name == CHECK_OIL_TEMPERATURE and _taken(result) == _taken(reading)]
    if len({result.value for result in same}) == 1:
        return same[0].value, same[0].standard_error
    named = {float(text) for text in _CELSIUS.findall(reading.method)}
    if same or len(named) != 1:
        return None, None
    return named.pop() + 273.15, None


def _taken(result: Estimate) -> datetime:
    taken = moment(str(result.conditions["time"].value))
    assert taken is not None  # a result is entered with its time and zone, or refused while reading
    return taken
