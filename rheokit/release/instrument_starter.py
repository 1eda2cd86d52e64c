"""What an instrument file may be: a commented one to start from, and its JSON Schema.

`rheokit instrument --schema > docs/instrument.schema.json` writes the published one.
"""

from __future__ import annotations

import json
from typing import Any

from rheokit.release.instrument_text import InstrumentFileText
from rheokit.release.schema import without_null

__all__ = ["STARTER", "instrument_schema", "instrument_schema_text"]

STARTER = """\
# An instrument file to start from. Every number in it is invented: replace them by those of your papers and certificates.
format = 1

[instrument]
id = "R-2"                              # compared with the exports' 'Instrument', where they name one
torque_floor = "0.2 µN·m"               # least torque that it resolves
moment_of_inertia = "1e-5 kg·m²"        # of the drive and the measuring body
calibrated = 2026-03-02
calibration_due = 2027-03-01            # a run after this day is no measurement
temperature_uncertainty = "0.05 K"      # standard uncertainty of the temperature in the gap; leave it out where it is not known

[gap_zero]
set = 2026-09-15T08:20:00Z              # may be left out where the exports say 'Gap zero'; the later one before a run counts
valid_for = "12 h"

# One measuring body: its kind, and each dimension with its standard uncertainty.
#   cone-plate: radius, angle     parallel plates: radius, gap     concentric cylinders: inner_radius, outer_radius, length, end_factor
[geometry]
id = "CP 25-2, body 0417"               # compared with the exports' 'Geometry id', where they give one
kind = "cone-plate"
radius = { value = "12.5 mm", standard_uncertainty = "0.01 mm" }
angle = { value = "2 °", standard_uncertainty = "0.005 °" }

# One [[check_oil]] for each oil. results.csv holds its readings as check_oil_viscosity and, at the same time, check_oil_temperature.
[[check_oil]]
id = "oil A, lot 7"                     # with several oils, the method of a reading names the one that was read
certified = [                           # three temperatures or more
    { temperature = "18 °C", viscosity = "1.722 Pa·s" },
    { temperature = "20 °C", viscosity = "1.389 Pa·s" },
    { temperature = "23 °C", viscosity = "1.020 Pa·s" },
    { temperature = "25 °C", viscosity = "0.8368 Pa·s" },
    { temperature = "30 °C", viscosity = "0.5236 Pa·s" },
]
# or, instead of rows, prefactor · exp(vogel_constant / (T - vogel_temperature)):
# vogel = { prefactor = "3.164e-6 Pa·s", vogel_constant = "1600 K", vogel_temperature = "170 K", lowest = "15 °C", highest = "40 °C" }
certified_uncertainty = "0.3 %"         # standard uncertainty of the certificate
tolerance = "2 %"                       # how far a reading may lie from it
valid_for = "7 d"                       # oldest reading that still counts when a run is made
expires = 2027-06-30
"""


def instrument_schema() -> dict[str, Any]:
    """Return the schema (JSON Schema, draft 2020-12) of an instrument file as a document; a TOML date counts as its text."""
    schema = without_null(InstrumentFileText.model_json_schema())
    oil = schema["$defs"]["CheckOilFileText"]
    oil["oneOf"] = [{"required": ["certified"]}, {"required": ["vogel"]}]
    needed = {
        "cone-plate": ["radius", "angle"],
        "parallel plates": ["radius", "gap"],
        "concentric cylinders": ["inner_radius", "outer_radius", "length", "end_factor"],
    }
    geometry = schema["$defs"]["GeometryText"]
    dimensions = [name for name in geometry["properties"] if name not in {"id", "kind"}]
    geometry["allOf"] = [
        {
            "if": {"properties": {"kind": {"const": kind}}},
            "then": {"required": names, "properties": {name: {"not": {}} for name in dimensions if name not in names}},
        }
        for kind, names in needed.items()
    ]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "Instrument file, format 1",
        "description": "What measures, how well it is known and until when (TOML); a specification names it.",
    }


def instrument_schema_text() -> str:
    """Return the schema as text, the same each time."""
    return json.dumps(instrument_schema(), ensure_ascii=False, indent=1) + "\n"
