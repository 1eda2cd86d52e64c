"""Measuring geometries: torque and angular velocity to shear stress and shear rate, and back; one file each.

Beside them `geometry` (what each of them does), `words` (dimensions as people write them) and `read` (find one in a preamble).
"""

from rheokit.geometry.concentric_cylinders import ConcentricCylinders
from rheokit.geometry.cone_plate import ConePlate
from rheokit.geometry.geometry import Geometry
from rheokit.geometry.parallel_plates import ParallelPlates
from rheokit.geometry.read import GEOMETRIES, geometry_named, read_geometry

__all__ = ["GEOMETRIES", "ConcentricCylinders", "ConePlate", "Geometry", "ParallelPlates", "geometry_named", "read_geometry"]
