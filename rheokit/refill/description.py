"""The refill as its maker describes it: tube, gas, ink, seated tip, ball, writing and filling; a dimension may be a range.

What contradicts itself is refused with the field named: volume and length of the ink that disagree, a gap larger than the ball, a
pressure that does not say gauge or absolute, a refill that is liquid-full when hot.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from math import pi
from pathlib import Path
from types import MappingProxyType

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import ReadError, UnitError
from rheokit.base.quantities import parse_pressure, quantity
from rheokit.base.show import Table
from rheokit.reading.files import PathText, read_bytes
from rheokit.reading.toml_file import check_keys, nearest, read_toml, table_in, text_in
from rheokit.refill.extent import DRAWS, Extent, draw_extents, parse_extent
from rheokit.refill.fields import ASSUMED, FIELDS, LARGEST, MEANINGS, OPTIONAL, SEGMENTS, SHARES
from rheokit.refill.gas import LIQUID_FULL, gas_share_taken

__all__ = ["ASSUMED", "FIELDS", "OPTIONAL", "Refill", "Segment", "read_refill"]

_SAME_VOLUME = 0.02
_ICE = 273.15


@dataclass(frozen=True, kw_only=True)
class Segment:
    """One stretch of the way out: `slot` (gap, length, width) or `tube` (radius, length), each an Extent."""

    kind: str
    dimensions: Mapping[str, Extent]

    def __post_init__(self) -> None:
        object.__setattr__(self, "dimensions", MappingProxyType(dict(self.dimensions)))

    def __str__(self) -> str:
        return f"{self.kind} ({', '.join(f'{name} {extent}' for name, extent in self.dimensions.items())})"


@dataclass(frozen=True, kw_only=True, eq=False)
class Refill(Carried):
    """A refill.

    Attributes
    ----------
    name
        Of the refill.
    values
        `table.key` to Extent [SI], as in `FIELDS`; `gas.pressure` is ABSOLUTE inside.
    seal
        Segments that hold the ink at rest, the ball seated, one after the other.
    feed
        Segments that the ink passes when the pen writes, beside the column in the tube.
    assumed
        Keys of `values` that the description does not state (see `ASSUMED`).
    file, sha256
        Name of the file without its folder, and the digest of its bytes; empty where it was not read from one.
    """

    name: str
    values: Mapping[str, Extent]
    seal: tuple[Segment, ...]
    feed: tuple[Segment, ...] = field(default=())
    assumed: tuple[str, ...] = ()
    file: str = ""
    sha256: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", MappingProxyType(dict(self.values)))

    def __getitem__(self, key: str) -> Extent:
        return self.values[key]

    def draws(self, *, seed: int, draws: int = DRAWS) -> dict[str, FloatArray]:
        """Return values of all dimensions, (draws,), under `table.key`, `seal.0.gap` and so on."""
        every = dict(self.values)
        for path, segments in (("seal", self.seal), ("feed", self.feed)):
            for index, segment in enumerate(segments):
                every |= {f"{path}.{index}.{name}": extent for name, extent in segment.dimensions.items()}
        return draw_extents(every, seed=seed, draws=draws)

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What is not stated and what is taken for it, in words."""
        words = (f"{key.partition('.')[2].replace('_', ' ')} {self.values[key]}: {ASSUMED[key][1]}" for key in self.assumed)
        return tuple(f"{said}, ASSUMED: the description does not state it" for said in words)

    def table(self) -> Table:
        """Return the description as a table."""
        rows = [(key, self._shown(key), self._meaning(key)) for key in self.values]
        rows += [(f"seal {index}", str(segment), "holds at rest, ball seated") for index, segment in enumerate(self.seal, 1)]
        rows += [(f"feed {index}", str(segment), "passed while writing") for index, segment in enumerate(self.feed, 1)]
        return Table(title=f"refill {self.name}", columns=("dimension", "value", "meaning"), rows=tuple(rows))

    def _shown(self, key: str) -> str:
        return str(self.values[key]) + (" absolute" if key == "gas.pressure" else "")

    def _meaning(self, key: str) -> str:
        if key in self.assumed:
            return f"not stated, assumed: {ASSUMED[key][1]}"
        return MEANINGS.get(key, quantity(self.values[key].quantity).meaning)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def read_refill(path: PathText) -> Refill:
    """Return the refill that a TOML file describes.

    Raises
    ------
    ReadError
        Naming the field: an unknown, missing or impossible dimension, and dimensions that contradict each other.
    """
    tables = read_toml(path)
    check_keys(tables, ("format", "refill", "seal", "feed", *FIELDS), "", path)
    head = table_in(tables, "refill", path)
    check_keys(head, ("name",), "refill.", path)
    name = text_in(head, "name", "refill.", path)
    if name is None:
        raise ReadError(path, "it is missing", place="refill.name", remedy="write name = '…' under [refill]")
    values: dict[str, Extent] = {}
    for table, keys in FIELDS.items():
        found = table_in(tables, table, path)
        check_keys(found, tuple(keys), f"{table}.", path)
        values |= _extents(found, keys, f"{table}.", path)
    assumed = tuple(key for key in ASSUMED if key not in values)
    values |= {key: ASSUMED[key][0] for key in assumed}
    refill = Refill(
        name=name, values=values, seal=_segments(tables, "seal", path), feed=_segments(tables, "feed", path), assumed=assumed,
        file=Path(path).name, sha256=sha256(read_bytes(path)).hexdigest(),
    )  # fmt: skip
    if not refill.seal:
        raise ReadError(path, "no segment holds the ink", place="seal", remedy="write at least one [[seal]] with its kind")
    _check(refill, path)
    return refill


def _extents(found: Mapping[str, object], keys: Mapping[str, str], place: str, path: PathText) -> dict[str, Extent]:
    values = {}
    for key, name in keys.items():
        text = text_in(found, key, place, path)
        if text is None:
            if f"{place}{key}" not in {*OPTIONAL, *ASSUMED}:
                raise ReadError(path, "it is missing", place=f"{place}{key}", remedy=f"give the {name.replace('_', ' ')} with its unit")
            continue
        try:
            values[f"{place}{key}"] = _pressure(text) if name == "pressure" else parse_extent(text, name)
        except UnitError as error:
            raise ReadError(path, str(error), place=f"{place}{key}") from None
        _require_size(values[f"{place}{key}"], key, f"{place}{key}", path)
    return values


def _pressure(text: str) -> Extent:
    """Return an absolute pressure [Pa]; the text says gauge or absolute, also after a range."""
    low, between, high = text.partition(" to ")
    if not between:
        absolute = parse_pressure(text)[1]
        return Extent(lower=absolute, upper=absolute, quantity="pressure")
    last = high.split()
    ends = (parse_pressure(f"{low} {' '.join(last[1:])}")[1], parse_pressure(high)[1])
    if not ends[0] <= ends[1]:
        raise UnitError(f"{text!r} begins above its end; write the smaller number first")
    return Extent(lower=ends[0], upper=ends[1], quantity="pressure")


def _require_size(extent: Extent, key: str, place: str, path: PathText) -> None:
    if key in {"coldest", "hottest", "temperature", "altitude", "expansion", "yield_decay", "activation_energy"}:
        return
    if key in SHARES:
        if not 0.0 <= extent.lower <= extent.upper <= 1.0:
            raise ReadError(path, f"it is {extent}", place=place, remedy="it lies between 0 and 1")
        if key != "slip_factor":
            return
    if not extent.lower > 0.0:
        raise ReadError(path, f"it is {extent}", place=place, remedy="it must be above zero")
    if extent.upper > LARGEST.get(key, np.inf):
        raise ReadError(path, f"it is {extent}, which no refill has", place=place, remedy="look at the unit: m for mm?")


def _segments(tables: Mapping[str, object], which: str, path: PathText) -> tuple[Segment, ...]:
    found = tables.get(which, [])
    if not isinstance(found, list) or not all(isinstance(entry, dict) for entry in found):
        raise ReadError(path, "it is not a list of tables", place=which, remedy=f"write '[[{which}]]' before each segment")
    segments = []
    for index, entry in enumerate(found):
        place = f"{which}[{index}]."
        kind = text_in(entry, "kind", place, path)
        if kind is None or kind not in SEGMENTS:
            seen = "it is missing" if kind is None else f"it is {kind!r}"
            raise ReadError(path, seen, place=f"{place}kind", remedy=nearest(kind or "", tuple(SEGMENTS)))
        check_keys(entry, ("kind", *SEGMENTS[kind]), place, path)
        extents = _extents(entry, SEGMENTS[kind], place, path)
        segments.append(Segment(kind=kind, dimensions={name.removeprefix(place): extent for name, extent in extents.items()}))
    return tuple(segments)


def _check(refill: Refill, path: PathText) -> None:
    """Refuse dimensions that contradict each other."""
    volume = refill.values.get("tube.ink_volume")
    radius, length = refill["tube.radius"], refill["tube.ink_length"]
    if volume is not None:
        inside = pi * radius.middle**2 * length.middle
        if abs(inside / volume.middle - 1.0) > _SAME_VOLUME:
            seen = f"{volume} of ink, but a tube of radius {radius} holds {inside * 1e6:.4g} mL over {length}"
            raise ReadError(path, seen, place="tube.ink_volume", remedy="mend one of the three: they may differ by 2 %")
    ball = refill["ball.diameter"]
    gaps = {"writing.gap": refill["writing.gap"]}
    gaps |= {f"seal[{index}].gap": held.dimensions["gap"] for index, held in enumerate(refill.seal) if "gap" in held.dimensions}
    for place, gap in gaps.items():
        if gap.upper >= ball.lower:
            raise ReadError(path, f"a gap of {gap} beside a ball of {ball}", place=place, remedy="a gap is a small part of the ball")
    if not refill["use.coldest"].upper < refill["use.hottest"].lower:
        seen = f"the coldest use {_celsius(refill['use.coldest'])} is not below the hottest {_celsius(refill['use.hottest'])}"
        raise ReadError(path, seen, place="use")
    _refuse_liquid_full(refill, path)


def _refuse_liquid_full(refill: Refill, path: PathText) -> None:
    ink = pi * refill["tube.radius"].upper ** 2 * refill["tube.ink_length"].upper
    share = float(
        gas_share_taken(
            refill["use.hottest"].upper,
            filled_temperature=refill["gas.temperature"].lower,
            gas_volume=refill["gas.volume"].lower,
            ink_volume=ink,
            expansion=refill["ink.expansion"].upper,
        )
    )
    if share > LIQUID_FULL:
        seen = (
            f"at {_celsius(refill['use.hottest'])} the ink's expansion takes {share:.0%} of the gas volume, more than {LIQUID_FULL:.0%}: "
            "liquid-full, the refill may burst"
        )
        raise ReadError(
            path, seen, place="gas.volume", remedy="more gas, less ink or a lower hottest use; leave pressure to qualified people"
        )


def _celsius(extent: Extent) -> str:
    return f"{extent.upper - _ICE:.4g} °C"
