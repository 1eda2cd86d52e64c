"""A pen sheet as one HTML page that needs nothing else: no network, no script. The same sheet gives the same bytes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

from rheokit.base.errors import printable
from rheokit.base.show import LONGEST_CELL, Table, number, value_and_error
from rheokit.reports.pen_figures import pen_figures

if TYPE_CHECKING:
    from jinja2 import Template

__all__ = ["pen_page"]

Json = Mapping[str, Any]
_ICE = 273.15
_SAID = {
    "holding": "at rest, the ball seated",
    "feeding": "can the gas push the ink?",
    "writing": "under the ball",
    "filling": "at the needle",
    "gas": "behind the ink",
}


def pen_page(document: Json) -> str:
    """Return the page of a pen sheet's document."""
    return _template().render(
        sheet=document,
        heads=_heads(document),
        sections=[(name, words, [row for row in document["rows"] if row["section"] == name]) for name, words in _SAID.items()],
        figures=pen_figures(document),
        passport=_passport(document),
        yields=_yields(document["ink"]),
        laws=_laws(document["ink"]),
        footer=_footer(document),
    )


def _heads(document: Json) -> list[dict[str, str]]:
    """Return the three numbers at the top: does it hold, what must be withstood hot, what at filling."""
    rows = document["rows"]
    index = next(row for row in rows if row["section"] == "holding" and row["what"].endswith(_reference(document)))
    pressure, filling = (next(row for row in rows if row["section"] == section and row["caution"]) for section in ("gas", "filling"))
    return [
        {
            "value": index["shown"]["middle"],
            "unit": "",
            "what": index["what"],
            "note": f"95 %: {index['shown']['interval']}; ranks batches",
        },
        {"value": pressure["shown"]["middle"], "unit": "kPa gauge", "what": "hottest case, at most", "note": "size margins for this"},
        {"value": filling["shown"]["middle"], "unit": filling["unit"], "what": "filling, upper bound", "note": "size equipment by this"},
    ]


def _reference(document: Json) -> str:
    return f" at {document['ink']['reference_temperature'] - _ICE:.3g} °C"


def _passport(document: Json) -> list[tuple[str, str]]:
    time = document["time"]
    known = document["batch"]["passport"]
    kelvin, rates = document["ink"]["reference_temperature"], document["ink"]["bench_range"]
    return [
        ("sample", known.get("sample", "not stated")),
        ("made", known.get("made", "not stated")),
        ("measured at", f"{kelvin - _ICE:.4g} °C, {number(rates[0], 3)} to {number(rates[1], 3)} 1/s"),
        ("refill", document["refill"]["name"]),
        ("worked out", "time not stated" if time is None else time.replace("T", " ").replace("+00:00", " UTC")),
        ("by", document["operator"] or "not stated"),
        ("assumed", _count(document["assumed"], "number or setting", "numbers or settings")),
        ("seen on the way", _count(document["findings"], "finding", "findings")),
    ]


def _count(held: Sequence[object], one: str, many: str) -> str:
    return f"{len(held)} {one if len(held) == 1 else many}, after the figures" if held else "nothing"


def _yields(ink: Json) -> Table:
    """Return the yield stresses that were counted on, and what each is for."""
    rows = []
    for key, use in (
        ("dynamic_yield_stress", "holding: its lower end, where it is the smaller"),
        ("creep_yield_stress", "holding: its lower end, where it is the smaller"),
        ("static_yield_stress", "feeding and first stroke: its upper end"),
    ):
        held = ink[key]
        if held is None:
            rows.append((key.replace("_", " "), "not measured", "", "", use, ""))
            continue
        value, error = value_and_error(held["value"], held["standard_error"])
        freedom = held["degrees_of_freedom"]
        shown = "" if freedom is None else str(freedom) if isinstance(freedom, str) else f"{freedom:.3g}"
        rows.append((held["name"].replace("_", " "), value, error or "none", shown, use, held["method"]))
    columns = ("yield stress", "value [Pa]", "standard error [Pa]", "degrees of freedom", "for", "method")
    return Table(title="The ink", columns=columns, rows=tuple(rows), right=columns[1:4])


def _laws(ink: Json) -> Table:
    rows = []
    for law in ink["laws"]:
        parts = (
            f"{held['name'].replace('_', ' ')} {number(held['value'], 4)}" + ("" if held["unit"] == "1" else f" {held['unit']}")
            for held in law["parameters"]
        )
        rows.append((law["words"], "; ".join(parts)))
    decay, energy = ink["yield_decay"], ink["viscous_energy"]
    rows += [
        (
            "over temperature",
            f"yield stresses fall by exp(-k (T - T_r)), k {number(decay['value'], 3)} ± {number(decay['standard_error'], 2)} 1/K",
        ),
        (
            "",
            f"viscous terms by E_a {number(energy['value'] / 1e3, 3)} ± {number(energy['standard_error'] / 1e3, 2)} kJ/mol",
        ),
    ]
    return Table(title="", columns=("law", "values"), rows=tuple(rows))


def _footer(document: Json) -> str:
    versions = ", ".join(f"{name} {version}" for name, version in sorted(document["versions"].items()))
    refill = document["refill"]
    read = f"Refill {refill['file']}, sha256 {refill['sha256']}"
    return f"Made from the sheet's record alone. {read}. Draws by seed {document['seed']}. {versions}."


@cache
def _template() -> Template:
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - only wanted where a page is made

    environment = Environment(loader=PackageLoader("rheokit.reports"), autoescape=True, undefined=StrictUndefined)
    environment.filters["p"] = lambda value: printable(value, LONGEST_CELL)
    return environment.get_template("pen.html")
