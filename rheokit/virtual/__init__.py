"""The virtual rheometer: a thixotropic ink of known true values, measured by an instrument of known faults.

It writes the demo runs, gives the tests their truth and serves the notebooks. It imports nothing of
the library and nothing in the library imports it, so it can judge the library. Its errors are plain
built-in ones for the same reason.
"""

from .demo import slate_grey_ink
from .export import export_bytes, export_sheets, export_text, write_export
from .ink import Ink
from .instrument import ConePlate, Faults
from .measurement import Measurement, measure
from .protocol import (
    Protocol,
    Segment,
    constant,
    evenly,
    loop_protocol,
    ramp,
    recovery_protocol,
    startup_protocol,
    steady_protocol,
    stepped,
)
from .shape import CLOCK, HEADER_UNITS, UNITS_ROW, Column, Shape
from .simulation import History, simulate
from .truth import TrueValues, herschel_bulkley, loop_area, recovery_fraction, true_values
from .two_populations import TwoPopulations, noisy, simulate_populations, stretched

__all__ = [
    "CLOCK",
    "HEADER_UNITS",
    "UNITS_ROW",
    "Column",
    "ConePlate",
    "Faults",
    "History",
    "Ink",
    "Measurement",
    "Protocol",
    "Segment",
    "Shape",
    "TrueValues",
    "TwoPopulations",
    "constant",
    "evenly",
    "export_bytes",
    "export_sheets",
    "export_text",
    "herschel_bulkley",
    "loop_area",
    "loop_protocol",
    "measure",
    "noisy",
    "ramp",
    "recovery_fraction",
    "recovery_protocol",
    "simulate",
    "simulate_populations",
    "slate_grey_ink",
    "startup_protocol",
    "steady_protocol",
    "stepped",
    "stretched",
    "true_values",
    "write_export",
]
