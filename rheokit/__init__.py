"""rheokit: from the rheometer exports of one batch of thixotropic writing ink to a defensible recommendation.

``import rheokit as rk`` offers the names below; each is loaded when it is first used, so that importing costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from rheokit.base.version import VERSION as __version__  # noqa: N811 - the name that Python expects

_HOME = {
    "Addition": "rheokit.comparison.addition",
    "Aim": "rheokit.comparison.desirability",
    "Batch": "rheokit.base.run",
    "BatchCheck": "rheokit.release.check",
    "Capillary": "rheokit.geometry",
    "CHARACTERISTICS": "rheokit.characteristics",
    "ComparisonError": "rheokit.base.errors",
    "ConcentricCylinders": "rheokit.geometry",
    "Condition": "rheokit.base.estimate",
    "ConePlate": "rheokit.geometry",
    "CorrectedFlow": "rheokit.geometry",
    "DeclarationError": "rheokit.base.errors",
    "Effects": "rheokit.comparison.effects",
    "Estimate": "rheokit.base.estimate",
    "FallingRod": "rheokit.geometry",
    "Finding": "rheokit.base.finding",
    "FitError": "rheokit.base.errors",
    "FlowCurve": "rheokit.base.curve",
    "GeometryError": "rheokit.base.errors",
    "HardLimit": "rheokit.comparison.feasible",
    "Instrument": "rheokit.release.instrument",
    "InkInPen": "rheokit.refill.ink",
    "Interval": "rheokit.base.estimate",
    "Known": "rheokit.screening",
    "Law": "rheokit.law",
    "Leg": "rheokit.base.curve",
    "MODELS": "rheokit.models",
    "MissingFileError": "rheokit.base.errors",
    "OutputError": "rheokit.base.errors",
    "ParallelPlates": "rheokit.geometry",
    "Parameter": "rheokit.law",
    "PenSheet": "rheokit.release.pen_sheet",
    "PrecisionEntry": "rheokit.release.precision_file",
    "QUANTITIES": "rheokit.base.quantities",
    "RECOVERY_LAWS": "rheokit.thixotropy.recovery",
    "ReadError": "rheokit.base.errors",
    "Register": "rheokit.register.store",
    "RetestError": "rheokit.base.errors",
    "Refill": "rheokit.refill.description",
    "RheokitError": "rheokit.base.errors",
    "Run": "rheokit.base.run",
    "RangeError": "rheokit.base.errors",
    "Record": "rheokit.release.record",
    "Sensitivity": "rheokit.comparison.addition",
    "Source": "rheokit.base.estimate",
    "SpecificationError": "rheokit.base.errors",
    "Step": "rheokit.base.run",
    "StepError": "rheokit.base.errors",
    "TEMPERATURE_LAWS": "rheokit.temperature",
    "TemperatureCoefficient": "rheokit.temperature",
    "UnitError": "rheokit.base.errors",
    "Vane": "rheokit.geometry",
    "Piece": "rheokit.thixotropy.kinetics.programme",
    "Programme": "rheokit.thixotropy.kinetics.programme",
    "STRUCTURE_LAWS": "rheokit.thixotropy.kinetics.laws",
    "StructureLaw": "rheokit.thixotropy.kinetics.laws",
    "AgainstStandard": "rheokit.comparison.reference",
    "ResultRow": "rheokit.release.result_rows",
    "advise_rework": "rheokit.comparison.rework",
    "against_standard": "rheokit.comparison.reference",
    "append_check": "rheokit.register.history",
    "at_stated_temperature": "rheokit.temperature",
    "attribute": "rheokit.comparison.attribution",
    "bob_flow": "rheokit.geometry",
    "bridging_study": "rheokit.statistics.bridging",
    "check_batch": "rheokit.release.check",
    "choose": "rheokit.comparison.choice",
    "combine_loads": "rheokit.statistics.combination",
    "compare_laws": "rheokit.fitting",
    "compare_models": "rheokit.fitting",
    "compare_recipes": "rheokit.comparison.recipe_comparison",
    "compare_with_standard": "rheokit.comparison.with_standard",
    "creep_bracket": "rheokit.yielding",
    "curve_ratio": "rheokit.comparison.curve_ratio",
    "decide": "rheokit.register.history",
    "dynamic_yield_stress": "rheokit.yielding",
    "falling_rod_values": "rheokit.characteristics.falling_rod_values",
    "feasible_window": "rheokit.comparison.feasible",
    "feeding": "rheokit.refill.feeding",
    "filling": "rheokit.refill.filling",
    "find_exports": "rheokit.reading.exports",
    "fit_archive": "rheokit.fitting.archive",
    "fit_effects": "rheokit.comparison.effects",
    "fit_flow_curve": "rheokit.fitting",
    "fit_gellant": "rheokit.comparison.gellant",
    "fit_law": "rheokit.fitting",
    "fit_many": "rheokit.fitting.many",
    "fit_structure": "rheokit.thixotropy.kinetics.fit",
    "fitted_addition": "rheokit.comparison.addition",
    "flow_point": "rheokit.yielding",
    "gauge_study": "rheokit.statistics.gauge",
    "history_of": "rheokit.register.history",
    "hold_breakdown": "rheokit.thixotropy.hold",
    "holding_index": "rheokit.refill.holding",
    "hysteresis_loop": "rheokit.thixotropy.loop",
    "ink_in_pen": "rheokit.characteristics.ink_in_pen",
    "linear_limit": "rheokit.yielding",
    "lmfit_model": "rheokit.fitting",
    "loop_areas": "rheokit.thixotropy.many_loops",
    "loop_method": "rheokit.thixotropy.loop_method",
    "loop_of_run": "rheokit.thixotropy.loop",
    "loop_programme": "rheokit.thixotropy.kinetics.programme",
    "most_desirable": "rheokit.comparison.desirability",
    "next_candidates": "rheokit.comparison.next_candidate",
    "oil_chart": "rheokit.release.oil_chart",
    "master_curve": "rheokit.temperature",
    "pen_sheet": "rheokit.release.pen_sheet",
    "plot_curve_ratios": "rheokit.comparison.recipe_figures",
    "plot_ternary": "rheokit.comparison.mixture_plots",
    "plot_traces": "rheokit.comparison.mixture_plots",
    "plot_trade_off": "rheokit.comparison.recipe_figures",
    "plot_window": "rheokit.comparison.recipe_figures",
    "precision_entry": "rheokit.release.precision_writing",
    "read_batch": "rheokit.reading.batch",
    "read_instrument": "rheokit.release.instrument_file",
    "read_precision_file": "rheokit.release.precision_file",
    "read_recipes": "rheokit.comparison.recipe_sheet",
    "read_refill": "rheokit.refill.description",
    "read_run": "rheokit.reading.export",
    "read_specification": "rheokit.release.specification_file",
    "register_rows": "rheokit.register.history",
    "recorded_load": "rheokit.thixotropy.kinetics.recorded",
    "repeatability_and_reproducibility": "rheokit.statistics.interlaboratory",
    "repeated_loops": "rheokit.thixotropy.repeated",
    "rim_flow": "rheokit.geometry",
    "screen": "rheokit.screening",
    "screen_loads": "rheokit.screening",
    "screening_table": "rheokit.screening",
    "silica_by_trade": "rheokit.comparison.addition",
    "simulate_structure": "rheokit.thixotropy.kinetics.simulation",
    "single_point_flow": "rheokit.geometry",
    "startup_programme": "rheokit.thixotropy.kinetics.programme",
    "static_yield_growth": "rheokit.yielding",
    "static_yield_stress_peak": "rheokit.yielding",
    "static_yield_stress_tangents": "rheokit.yielding",
    "static_yield_stress_vane": "rheokit.yielding",
    "static_yield_stress_viscosity_maximum": "rheokit.yielding",
    "step_recovery": "rheokit.thixotropy.recovery",
    "step_test_programme": "rheokit.thixotropy.kinetics.programme",
    "stress_at_low_rate": "rheokit.yielding",
    "result_rows": "rheokit.release.result_rows",
    "trend": "rheokit.comparison.trend",
    "trend_page": "rheokit.reports.trend_page",
    "verify_register": "rheokit.register.verification",
    "temperature_dependence": "rheokit.temperature",
    "viscosity_over_decades": "rheokit.refill.decades",
    "unseen": "rheokit.screening",
    "wall_flow": "rheokit.geometry",
    "write_precision_file": "rheokit.release.precision_writing",
    "writing": "rheokit.refill.writing",
    "yield_methods": "rheokit.yielding",
    "yield_window": "rheokit.refill.window",
}
"""Where each public name lives."""

__all__ = ["__version__", *_HOME]  # noqa: PLE0604 - every name is a string

if TYPE_CHECKING:
    from rheokit.base.curve import FlowCurve as FlowCurve
    from rheokit.base.curve import Leg as Leg
    from rheokit.base.errors import ComparisonError as ComparisonError
    from rheokit.base.errors import DeclarationError as DeclarationError
    from rheokit.base.errors import FitError as FitError
    from rheokit.base.errors import GeometryError as GeometryError
    from rheokit.base.errors import MissingFileError as MissingFileError
    from rheokit.base.errors import OutputError as OutputError
    from rheokit.base.errors import RangeError as RangeError
    from rheokit.base.errors import ReadError as ReadError
    from rheokit.base.errors import RetestError as RetestError
    from rheokit.base.errors import RheokitError as RheokitError
    from rheokit.base.errors import SpecificationError as SpecificationError
    from rheokit.base.errors import StepError as StepError
    from rheokit.base.errors import UnitError as UnitError
    from rheokit.base.estimate import Condition as Condition
    from rheokit.base.estimate import Estimate as Estimate
    from rheokit.base.estimate import Interval as Interval
    from rheokit.base.estimate import Source as Source
    from rheokit.base.finding import Finding as Finding
    from rheokit.base.quantities import QUANTITIES as QUANTITIES
    from rheokit.base.run import Batch as Batch
    from rheokit.base.run import Run as Run
    from rheokit.base.run import Step as Step
    from rheokit.characteristics import CHARACTERISTICS as CHARACTERISTICS
    from rheokit.characteristics.falling_rod_values import falling_rod_values as falling_rod_values
    from rheokit.characteristics.ink_in_pen import ink_in_pen as ink_in_pen
    from rheokit.comparison.addition import Addition as Addition
    from rheokit.comparison.addition import Sensitivity as Sensitivity
    from rheokit.comparison.addition import fitted_addition as fitted_addition
    from rheokit.comparison.addition import silica_by_trade as silica_by_trade
    from rheokit.comparison.attribution import attribute as attribute
    from rheokit.comparison.choice import choose as choose
    from rheokit.comparison.curve_ratio import curve_ratio as curve_ratio
    from rheokit.comparison.desirability import Aim as Aim
    from rheokit.comparison.desirability import most_desirable as most_desirable
    from rheokit.comparison.effects import Effects as Effects
    from rheokit.comparison.effects import fit_effects as fit_effects
    from rheokit.comparison.feasible import HardLimit as HardLimit
    from rheokit.comparison.feasible import feasible_window as feasible_window
    from rheokit.comparison.gellant import fit_gellant as fit_gellant
    from rheokit.comparison.mixture_plots import plot_ternary as plot_ternary
    from rheokit.comparison.mixture_plots import plot_traces as plot_traces
    from rheokit.comparison.next_candidate import next_candidates as next_candidates
    from rheokit.comparison.recipe_comparison import compare_recipes as compare_recipes
    from rheokit.comparison.recipe_figures import plot_curve_ratios as plot_curve_ratios
    from rheokit.comparison.recipe_figures import plot_trade_off as plot_trade_off
    from rheokit.comparison.recipe_figures import plot_window as plot_window
    from rheokit.comparison.recipe_sheet import read_recipes as read_recipes
    from rheokit.comparison.reference import AgainstStandard as AgainstStandard
    from rheokit.comparison.reference import against_standard as against_standard
    from rheokit.comparison.rework import advise_rework as advise_rework
    from rheokit.comparison.trend import trend as trend
    from rheokit.comparison.with_standard import compare_with_standard as compare_with_standard
    from rheokit.fitting import compare_laws as compare_laws
    from rheokit.fitting import compare_models as compare_models
    from rheokit.fitting import fit_flow_curve as fit_flow_curve
    from rheokit.fitting import fit_law as fit_law
    from rheokit.fitting import lmfit_model as lmfit_model
    from rheokit.fitting.archive import fit_archive as fit_archive
    from rheokit.fitting.many import fit_many as fit_many
    from rheokit.geometry import Capillary as Capillary
    from rheokit.geometry import ConcentricCylinders as ConcentricCylinders
    from rheokit.geometry import ConePlate as ConePlate
    from rheokit.geometry import CorrectedFlow as CorrectedFlow
    from rheokit.geometry import FallingRod as FallingRod
    from rheokit.geometry import ParallelPlates as ParallelPlates
    from rheokit.geometry import Vane as Vane
    from rheokit.geometry import bob_flow as bob_flow
    from rheokit.geometry import rim_flow as rim_flow
    from rheokit.geometry import single_point_flow as single_point_flow
    from rheokit.geometry import wall_flow as wall_flow
    from rheokit.law import Law as Law
    from rheokit.law import Parameter as Parameter
    from rheokit.models import MODELS as MODELS
    from rheokit.reading.batch import read_batch as read_batch
    from rheokit.reading.export import read_run as read_run
    from rheokit.reading.exports import find_exports as find_exports
    from rheokit.refill.decades import viscosity_over_decades as viscosity_over_decades
    from rheokit.refill.description import Refill as Refill
    from rheokit.refill.description import read_refill as read_refill
    from rheokit.refill.feeding import feeding as feeding
    from rheokit.refill.filling import filling as filling
    from rheokit.refill.holding import holding_index as holding_index
    from rheokit.refill.ink import InkInPen as InkInPen
    from rheokit.refill.window import yield_window as yield_window
    from rheokit.refill.writing import writing as writing
    from rheokit.register.history import append_check as append_check
    from rheokit.register.history import decide as decide
    from rheokit.register.history import history_of as history_of
    from rheokit.register.history import register_rows as register_rows
    from rheokit.register.store import Register as Register
    from rheokit.register.verification import verify_register as verify_register
    from rheokit.release.check import BatchCheck as BatchCheck
    from rheokit.release.check import check_batch as check_batch
    from rheokit.release.instrument import Instrument as Instrument
    from rheokit.release.instrument_file import read_instrument as read_instrument
    from rheokit.release.oil_chart import oil_chart as oil_chart
    from rheokit.release.pen_sheet import PenSheet as PenSheet
    from rheokit.release.pen_sheet import pen_sheet as pen_sheet
    from rheokit.release.precision_file import PrecisionEntry as PrecisionEntry
    from rheokit.release.precision_file import read_precision_file as read_precision_file
    from rheokit.release.precision_writing import precision_entry as precision_entry
    from rheokit.release.precision_writing import write_precision_file as write_precision_file
    from rheokit.release.record import Record as Record
    from rheokit.release.result_rows import ResultRow as ResultRow
    from rheokit.release.result_rows import result_rows as result_rows
    from rheokit.release.specification_file import read_specification as read_specification
    from rheokit.reports.trend_page import trend_page as trend_page
    from rheokit.screening import Known as Known
    from rheokit.screening import screen as screen
    from rheokit.screening import screen_loads as screen_loads
    from rheokit.screening import screening_table as screening_table
    from rheokit.screening import unseen as unseen
    from rheokit.statistics.bridging import bridging_study as bridging_study
    from rheokit.statistics.combination import combine_loads as combine_loads
    from rheokit.statistics.gauge import gauge_study as gauge_study
    from rheokit.statistics.interlaboratory import repeatability_and_reproducibility as repeatability_and_reproducibility
    from rheokit.temperature import TEMPERATURE_LAWS as TEMPERATURE_LAWS
    from rheokit.temperature import TemperatureCoefficient as TemperatureCoefficient
    from rheokit.temperature import at_stated_temperature as at_stated_temperature
    from rheokit.temperature import master_curve as master_curve
    from rheokit.temperature import temperature_dependence as temperature_dependence
    from rheokit.thixotropy.hold import hold_breakdown as hold_breakdown
    from rheokit.thixotropy.kinetics.fit import fit_structure as fit_structure
    from rheokit.thixotropy.kinetics.laws import STRUCTURE_LAWS as STRUCTURE_LAWS
    from rheokit.thixotropy.kinetics.laws import StructureLaw as StructureLaw
    from rheokit.thixotropy.kinetics.programme import Piece as Piece
    from rheokit.thixotropy.kinetics.programme import Programme as Programme
    from rheokit.thixotropy.kinetics.programme import loop_programme as loop_programme
    from rheokit.thixotropy.kinetics.programme import startup_programme as startup_programme
    from rheokit.thixotropy.kinetics.programme import step_test_programme as step_test_programme
    from rheokit.thixotropy.kinetics.recorded import recorded_load as recorded_load
    from rheokit.thixotropy.kinetics.simulation import simulate_structure as simulate_structure
    from rheokit.thixotropy.loop import hysteresis_loop as hysteresis_loop
    from rheokit.thixotropy.loop import loop_of_run as loop_of_run
    from rheokit.thixotropy.loop_method import loop_method as loop_method
    from rheokit.thixotropy.many_loops import loop_areas as loop_areas
    from rheokit.thixotropy.recovery import RECOVERY_LAWS as RECOVERY_LAWS
    from rheokit.thixotropy.recovery import step_recovery as step_recovery
    from rheokit.thixotropy.repeated import repeated_loops as repeated_loops
    from rheokit.yielding import creep_bracket as creep_bracket
    from rheokit.yielding import dynamic_yield_stress as dynamic_yield_stress
    from rheokit.yielding import flow_point as flow_point
    from rheokit.yielding import linear_limit as linear_limit
    from rheokit.yielding import static_yield_growth as static_yield_growth
    from rheokit.yielding import static_yield_stress_peak as static_yield_stress_peak
    from rheokit.yielding import static_yield_stress_tangents as static_yield_stress_tangents
    from rheokit.yielding import static_yield_stress_vane as static_yield_stress_vane
    from rheokit.yielding import static_yield_stress_viscosity_maximum as static_yield_stress_viscosity_maximum
    from rheokit.yielding import stress_at_low_rate as stress_at_low_rate
    from rheokit.yielding import yield_methods as yield_methods


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'rheokit' has no attribute {name!r}")
    found = getattr(import_module(_HOME[name]), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted(__all__)
