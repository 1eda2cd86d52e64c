"""Measuring geometries: torque and angular velocity to shear stress and shear rate, and back; one file each.

Beside them `geometry` (what each of them does), `words` (dimensions as people write them) and `read` (find one in a preamble);
corrections where the rate is not the same everywhere (`rim`, `bob`, `capillary`), by `slopes`; and `sensitivity`, what an error of a
dimension does.
"""

from rheokit.geometry.bob import bob_flow, krieger_correction, plug_radius
from rheokit.geometry.capillary import Capillary, end_pressure_drop, wall_flow
from rheokit.geometry.concentric_cylinders import ConcentricCylinders
from rheokit.geometry.cone_plate import ConePlate
from rheokit.geometry.corrected_flow import CorrectedFlow
from rheokit.geometry.falling_rod import FallingRod
from rheokit.geometry.geometry import Geometry
from rheokit.geometry.parallel_plates import ParallelPlates
from rheokit.geometry.read import GEOMETRIES, geometry_named, read_geometry
from rheokit.geometry.rim import rim_flow, single_point_factor, single_point_flow
from rheokit.geometry.sensitivity import Powers, relative_uncertainty
from rheokit.geometry.vane import Vane

__all__ = [
    "GEOMETRIES",
    "Capillary",
    "ConcentricCylinders",
    "ConePlate",
    "CorrectedFlow",
    "FallingRod",
    "Geometry",
    "ParallelPlates",
    "Powers",
    "Vane",
    "bob_flow",
    "end_pressure_drop",
    "geometry_named",
    "krieger_correction",
    "plug_radius",
    "read_geometry",
    "relative_uncertainty",
    "rim_flow",
    "single_point_factor",
    "single_point_flow",
    "wall_flow",
]
