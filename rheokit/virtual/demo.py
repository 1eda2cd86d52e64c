"""The ink of the demo scenario: slate grey gel paste, 40 series. Invented, as is every number here."""

from __future__ import annotations

from .ink import Ink


def slate_grey_ink() -> Ink:
    """Return the approved standard of the demo scenario, at 23 °C.

    The numbers are chosen, not measured: equilibrium viscosity near 3.8 Pa·s at 100 1/s and above
    100 Pa·s at 1 1/s, a flow curve that rises everywhere (no shear banding) and that the Herschel-Bulkley
    law follows within 1 % from 0.1 to 100 1/s, and a structure that rebuilds within about 40 s, so that
    ramps of two minutes open a clear loop.
    """
    return Ink(
        broken_yield_stress=60.0,
        structure_yield_stress=70.0,
        broken_consistency=20.0,
        structure_consistency=10.0,
        flow_index=0.5,
        infinite_shear_viscosity=0.63,
        build_up_rate=0.025,
        breakdown_rate=0.005,
        breakdown_exponent=0.5,
        elastic_strain=0.3,
        reference_temperature=296.15,
        activation_energy=50e3,
        yield_temperature_scale=60.0,
    )
