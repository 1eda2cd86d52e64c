"""Read an instrument file: validate its shape, give it meaning in SI; every message names file, line and key."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

from pydantic import BaseModel

from rheokit.base.errors import GeometryError, RangeError
from rheokit.geometry import Geometry, read_geometry
from rheokit.geometry.read import KEYS
from rheokit.release import instrument_text as shape
from rheokit.release.certificate import Certificate, CertifiedLaw, CertifiedRows
from rheokit.release.instrument import DIMENSIONS, CheckOil, Instrument
from rheokit.release.toml_document import Shape, read_document
from rheokit.release.written_file import Key, WrittenFile

__all__ = ["read_instrument"]

LONGEST_VALIDITY = 366 * 86_400.0
"""Seconds; a reading or a gap zero older than a year says nothing."""


def read_instrument(path: str | Path) -> Instrument:
    """Read and validate an instrument file (TOML, `format = 1`).

    Raises
    ------
    SpecificationError
        Naming file, line, key, what was seen and what to write.
    """
    document = read_document(Path(path), SHAPE)
    file, content = document.file, document.content
    head, zero = content.instrument, content.gap_zero
    for key, text in ((("instrument", "id"), head.id), (("geometry", "id"), content.geometry.id)):
        if not text.strip():
            raise file.error(key, "the id is empty", "write the id that stands on it")
    if not head.calibrated < head.calibration_due:
        raise file.error(("instrument", "calibration_due"), "the calibration is due before it was done", "mend one of the two dates")
    if zero.set is not None and zero.set.tzinfo is None:
        remedy = "write the offset from UTC, such as 2026-09-15T08:20:00Z"
        raise file.error(("gap_zero", "set"), f"{zero.set.isoformat()} has no time zone", remedy)
    geometry, errors = _geometry(content.geometry, file)
    warm = head.temperature_uncertainty
    return Instrument(
        name=file.name,
        sha256=document.sha256,
        id=head.id.strip(),
        torque_floor=_positive(("instrument", "torque_floor"), head.torque_floor, "torque", file),
        moment_of_inertia=_positive(("instrument", "moment_of_inertia"), head.moment_of_inertia, "moment_of_inertia", file),
        temperature_error=None if warm is None else _size(("instrument", "temperature_uncertainty"), warm, "temperature", file),
        calibrated=head.calibrated,
        calibration_due=head.calibration_due,
        gap_zero=zero.set,
        gap_zero_valid_for=_validity(("gap_zero", "valid_for"), zero.valid_for, file),
        geometry=geometry,
        geometry_id=content.geometry.id.strip(),
        dimension_errors=errors,
        check_oils=_oils(content.check_oil, file),
    )


def _positive(key: Key, text: str, quantity: str, file: WrittenFile) -> float:
    value = file.amount(key, text, quantity).value
    if not value > 0.0:
        raise file.error(key, f"{text!r} is not positive", "write what the instrument's papers say")
    return value


def _size(key: Key, text: str, quantity: str, file: WrittenFile) -> float:
    """Return a standard uncertainty [SI]: a difference, so that °C and K are the same."""
    amount = file.amount(key, text, quantity)
    size = amount.unit.scale_to_si(float(amount.number))
    if not (math.isfinite(size) and size > 0.0):
        raise file.error(key, f"{text!r} is no standard uncertainty", "write a positive amount")
    return size


def _validity(key: Key, text: str, file: WrittenFile) -> float:
    time = file.amount(key, text, "time").value
    if not 0.0 < time <= LONGEST_VALIDITY:
        raise file.error(key, f"{text!r} is no time between zero and a year", "write for example '7 d'")
    return time


def _part(key: Key, text: str, file: WrittenFile, most: float) -> float:
    """Return a relative amount, which is written as a percentage."""
    if "%" not in text:
        raise file.error(key, f"{text!r} is not a percentage", "write for example '0.3 %'")
    value = file.amount(key, text, "relative_standard_uncertainty").value
    if not 0.0 < value <= most:
        raise file.error(key, f"{text!r} is not between 0 and {100.0 * most:g} %", "write for example '0.3 %'")
    return value


def _geometry(text: shape.GeometryText, file: WrittenFile) -> tuple[Geometry, dict[str, float]]:
    needed = KEYS[text.kind]
    entries: dict[str, str] = {"Geometry": text.kind}
    errors: dict[str, float] = {}
    for name, quantity in DIMENSIONS.items():
        written: shape.DimensionText | None = getattr(text, name)
        key: Key = ("geometry", name)
        if written is None:
            if name in needed:
                remedy = f'write {name} = {{ value = "...", standard_uncertainty = "..." }}'
                raise file.error(("geometry", "kind"), f"{text.kind} needs the key {name!r}", remedy)
            continue
        if name not in needed:
            raise file.error(key, f"{text.kind} has no {name.replace('_', ' ')}", f"its dimensions are {', '.join(needed)}")
        entries[name] = written.value
        errors[name] = _size(key, written.standard_uncertainty, quantity, file)
    try:
        geometry = read_geometry(entries)
    except GeometryError as error:
        raise file.error(("geometry",), str(error)) from None
    assert geometry is not None  # its kind is named
    for name, size in errors.items():
        if not size <= 0.1 * abs(float(getattr(geometry, name))):
            seen = f"the standard uncertainty of the {name.replace('_', ' ')} is more than a tenth of it"
            raise file.error(("geometry", name), seen, "look at its unit")
    return geometry, errors


def _oils(texts: list[shape.CheckOilFileText], file: WrittenFile) -> tuple[CheckOil, ...]:
    oils: list[CheckOil] = []
    for index, text in enumerate(texts):
        here: Key = ("check_oil", index)
        if not text.id.strip() or any(text.id.strip() == oil.id for oil in oils):
            raise file.error((*here, "id"), f"the id {text.id!r} is empty or stands twice", "give each oil its own")
        oils.append(
            CheckOil(
                id=text.id.strip(),
                certificate=_certificate(here, text, file),
                relative_error=_part((*here, "certified_uncertainty"), text.certified_uncertainty, file, 0.1),
                tolerance=_part((*here, "tolerance"), text.tolerance, file, 0.2),
                valid_for=_validity((*here, "valid_for"), text.valid_for, file),
                expires=text.expires,
            )
        )
    return tuple(oils)


def _certificate(here: Key, text: shape.CheckOilFileText, file: WrittenFile) -> Certificate:
    if (text.certified is None) == (text.vogel is None):
        raise file.error(here, "an oil is certified either by 'certified' rows or by a 'vogel' law", "give one of the two")
    key: Key = (*here, "certified" if text.certified is not None else "vogel")
    try:
        return _rows(key, text.certified, file) if text.certified is not None else _law(key, text.vogel, file)
    except RangeError as error:
        raise file.error(key, str(error), "compare it with the certificate") from None


def _rows(key: Key, texts: list[shape.CertifiedText], file: WrittenFile) -> CertifiedRows:
    rows = sorted(
        (file.amount(key, row.temperature, "temperature").value, file.amount(key, row.viscosity, "viscosity").value) for row in texts
    )
    if any(a[0] == b[0] for a, b in pairwise(rows)):
        raise file.error(key, "one temperature stands twice", "keep one row for each")
    return CertifiedRows(temperatures=tuple(row[0] for row in rows), viscosities=tuple(row[1] for row in rows))


def _law(key: Key, text: shape.VogelText | None, file: WrittenFile) -> CertifiedLaw:
    assert text is not None
    kelvin = {}
    for name in ("vogel_constant", "vogel_temperature", "lowest", "highest"):
        amount = file.amount((*key, name), getattr(text, name), "temperature")
        if amount.unit.offset and name == "vogel_constant":
            raise file.error((*key, name), f"{amount.text!r} is a temperature, not a constant", "write it in K")
        kelvin[name] = amount.value
    return CertifiedLaw(prefactor=file.amount((*key, "prefactor"), text.prefactor, "viscosity").value, **kelvin)


def _known_keys(key: Key) -> list[str]:
    places: dict[tuple[str, ...], type[BaseModel]] = {
        (): shape.InstrumentFileText,
        ("instrument",): shape.InstrumentText,
        ("gap_zero",): shape.GapZeroText,
        ("geometry",): shape.GeometryText,
        ("check_oil", "*"): shape.CheckOilFileText,
        ("check_oil", "*", "certified", "*"): shape.CertifiedText,
        ("check_oil", "*", "vogel"): shape.VogelText,
        **{("geometry", name): shape.DimensionText for name in DIMENSIONS},
    }
    plain = tuple("*" if isinstance(part, int) else part for part in key)
    return list(places[plain].model_fields) if plain in places else []


SHAPE = Shape(
    kind=shape.InstrumentFileText,
    what="instrument file",
    known_keys=_known_keys,
    needed="",  # no list in it that must not be empty
    without="",
)
