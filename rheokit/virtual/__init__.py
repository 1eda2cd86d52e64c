"""The virtual rheometer: a thixotropic ink of known true values, measured by an instrument of known faults.

It writes the demo runs, gives the tests their truth and serves the notebooks. It imports nothing of
the library and nothing in the library imports it, so it can judge the library. Its errors are plain
built-in ones for the same reason.
"""

from .demo import slate_grey_ink
from .disturbance import plate_excess
from .export import export_bytes, export_sheets, export_text, write_export
from .history import demo_history
from .ink import Ink
from .instrument import ConePlate, Faults
from .measurement import Measurement, measure
from .oscillation import Gel, slate_grey_gel
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
from .stress_control import StressHistory, StressSegment, creep_limit, creep_steps, rested_structure, simulate_stress, stress_ramp
from .truth import TrueValues, herschel_bulkley, loop_area, recovery_fraction, true_values
from .two_populations import TwoPopulations, noisy, simulate_populations, stretched
from .yield_tests import (
    OSCILLATION,
    UNDER_STRESS,
    Reading,
    YieldMeasurement,
    measure_amplitude_sweep,
    measure_under_stress,
    startup_series_protocol,
)

__all__ = [
    "CLOCK",
    "HEADER_UNITS",
    "OSCILLATION",
    "UNDER_STRESS",
    "UNITS_ROW",
    "Column",
    "ConePlate",
    "Faults",
    "Gel",
    "History",
    "Ink",
    "Measurement",
    "Protocol",
    "Reading",
    "Segment",
    "Shape",
    "StressHistory",
    "StressSegment",
    "TrueValues",
    "TwoPopulations",
    "YieldMeasurement",
    "constant",
    "creep_limit",
    "creep_steps",
    "demo_history",
    "evenly",
    "export_bytes",
    "export_sheets",
    "export_text",
    "herschel_bulkley",
    "loop_area",
    "loop_protocol",
    "measure",
    "measure_amplitude_sweep",
    "measure_under_stress",
    "noisy",
    "plate_excess",
    "ramp",
    "recovery_fraction",
    "recovery_protocol",
    "rested_structure",
    "simulate",
    "simulate_populations",
    "simulate_stress",
    "slate_grey_gel",
    "slate_grey_ink",
    "startup_protocol",
    "startup_series_protocol",
    "steady_protocol",
    "stepped",
    "stress_ramp",
    "stretched",
    "true_values",
    "write_export",
]
