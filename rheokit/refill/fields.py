"""The fields of a refill's description: what each is, which may be left out, and what is taken then."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from rheokit.refill.extent import Extent

__all__ = ["ASSUMED", "FIELDS", "LARGEST", "MEANINGS", "OPTIONAL", "SEGMENTS", "SHARES"]

FIELDS: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "tube": MappingProxyType({"radius": "radius", "ink_length": "length", "ink_volume": "volume"}),
        "gas": MappingProxyType(
            {"volume": "volume", "pressure": "pressure", "temperature": "temperature", "water_activity": "water_activity"}
        ),
        "ink": MappingProxyType(
            {
                "density": "density",
                "expansion": "volume_expansion",
                "yield_decay": "yield_decay",
                "activation_energy": "activation_energy",
            }
        ),
        "holding": MappingProxyType({"eccentricity": "eccentricity", "slip_factor": "slip_factor"}),
        "ball": MappingProxyType({"diameter": "length"}),
        "writing": MappingProxyType({"speed": "writing_speed", "gap": "gap", "line_width": "length", "laydown": "laydown"}),
        "filling": MappingProxyType({"needle_radius": "radius", "needle_length": "length", "time": "time"}),
        "use": MappingProxyType({"coldest": "temperature", "hottest": "temperature", "altitude": "altitude"}),
    }
)
"""Table to key to quantity of a description; every key is needed but those in `OPTIONAL` and `ASSUMED`."""

OPTIONAL = ("tube.ink_volume", "ink.yield_decay", "ink.activation_energy")
ASSUMED: Mapping[str, tuple[Extent, str]] = MappingProxyType(
    {
        "use.altitude": (Extent(lower=0.0, upper=0.0, quantity="altitude"), "used at sea level"),
        "gas.water_activity": (Extent(lower=0.0, upper=0.0, quantity="water_activity"), "no vapour is counted beside the gas"),
        "holding.eccentricity": (Extent(lower=0.0, upper=1.0, quantity="eccentricity"), "nobody knows where the seated ball lies"),
        "holding.slip_factor": (Extent(lower=0.5, upper=1.0, quantity="slip_factor"), "a smooth ball lets a gel slip before it yields"),
    }
)
"""What is taken where a description does not say it (our own settings), and why; a Refill says which it took."""
SHARES = ("water_activity", "eccentricity", "slip_factor")
MEANINGS: Mapping[str, str] = MappingProxyType(
    {
        "tube.radius": "inner radius of the tube that holds the ink",
        "tube.ink_length": "of the ink column when full",
        "tube.ink_volume": "ink when full; agrees with radius and length",
        "gas.volume": "gas behind the ink when full",
        "gas.pressure": "at filling, of gas and vapour",
        "gas.temperature": "at which that pressure was filled",
        "ball.diameter": "of the ball",
        "writing.gap": "between ball and socket while writing",
        "writing.line_width": "of the line on paper",
        "filling.needle_radius": "inner radius of the filling needle",
        "filling.needle_length": "of the filling needle",
        "filling.time": "for the whole dose",
        "use.coldest": "in use",
        "use.hottest": "in use",
        "use.altitude": "in use, above sea level",
    }
)
SEGMENTS: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "slot": MappingProxyType({"gap": "gap", "length": "length", "width": "length"}),
        "tube": MappingProxyType({"radius": "radius", "length": "length"}),
    }
)
LARGEST: Mapping[str, float] = MappingProxyType(
    {"radius": 0.02, "length": 0.5, "gap": 1e-3, "diameter": 0.01, "needle_radius": 0.01, "needle_length": 0.5, "line_width": 0.01}
)
"""[m] Largest dimensions of a refill; a metre is a millimetre whose prefix was forgotten."""
