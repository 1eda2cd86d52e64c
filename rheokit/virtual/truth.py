"""True values: what a perfect instrument would find for an ink on the scenario's protocols.

They are read off noise-free runs by formulas of this folder's own, so that they can judge the library.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .ink import FloatArray, Ink
from .instrument import ConePlate, Faults
from .measurement import LABORATORY_TEMPERATURE, Measurement, measure
from .protocol import Protocol, loop_protocol, recovery_protocol, steady_protocol


@dataclass(frozen=True, kw_only=True)
class TrueValues:
    """True values of one ink at one temperature.

    ``loop_viscosity_at_100`` [Pa·s] (down leg), ``loop_area`` [Pa/s] (between the lowest and the highest
    recorded rate), ``steady_viscosity_at_10`` [Pa·s], ``steady_stress_at_1`` [Pa],
    ``shear_thinning_index`` (viscosity at 10 over viscosity at 100 1/s, steady steps),
    ``herschel_bulkley_yield_stress`` [Pa] (steady steps, relative weighting), ``recovery_at_60`` and
    ``recovery_at_300`` (fractions of the viscosity, 60 and 300 s after the shear ends).
    """

    loop_viscosity_at_100: float
    loop_area: float
    steady_viscosity_at_10: float
    steady_stress_at_1: float
    shear_thinning_index: float
    herschel_bulkley_yield_stress: float
    recovery_at_60: float
    recovery_at_300: float


def true_values(ink: Ink, *, temperature: float = LABORATORY_TEMPERATURE) -> TrueValues:
    """Read every true value of an ink off noise-free runs of the scenario's three tests."""
    loop = _perfect(ink, loop_protocol(), temperature)
    steady = _perfect(ink, steady_protocol(), temperature)
    recovery = _perfect(ink, recovery_protocol(), temperature)
    rows = steady.rows(3)
    rates, stresses = steady.shear_rate[rows], steady.shear_stress[rows]
    at_100, at_10, at_1 = (float(stresses[np.argmin(np.abs(rates - rate))]) for rate in (100.0, 10.0, 1.0))
    return TrueValues(
        loop_viscosity_at_100=float(loop.viscosity[loop.rows(5)][0]),
        loop_area=loop_area(loop, up=3, down=5),
        steady_viscosity_at_10=at_10 / 10.0,
        steady_stress_at_1=at_1,
        shear_thinning_index=(at_10 / 10.0) / (at_100 / 100.0),
        herschel_bulkley_yield_stress=herschel_bulkley(rates, stresses)[0],
        recovery_at_60=recovery_fraction(recovery, 60.0),
        recovery_at_300=recovery_fraction(recovery, 300.0),
    )


def _perfect(ink: Ink, protocol: Protocol, temperature: float) -> Measurement:
    """Run without any fault."""
    return measure(ink, protocol, ConePlate(), Faults(), 0, set_temperature=temperature)


def loop_area(measurement: Measurement, *, up: int, down: int) -> float:
    """Area between two legs [Pa/s]: trapezoids over the recorded points of each, positive when the up leg is above."""
    above, below = measurement.rows(up), measurement.rows(down)
    rise = _under(measurement.shear_rate[above], measurement.shear_stress[above])
    return rise + _under(measurement.shear_rate[below], measurement.shear_stress[below])


def _under(rate: FloatArray, stress: FloatArray) -> float:
    """Trapezoids under a leg [Pa/s]; negative when its rate falls."""
    return float(np.sum(0.5 * (stress[1:] + stress[:-1]) * np.diff(rate)))


def recovery_fraction(measurement: Measurement, after: float) -> float:
    """Recovered fraction of the viscosity, some time [s] after the shear of a recovery test ends.

    ``(X(t) - X_end of shear)/(X_rest - X_end of shear)`` with X the viscosity: ``X_rest`` ends the first
    step, ``X_end of shear`` the second, ``X(t)`` is the third.
    """
    rest, sheared = (float(measurement.viscosity[measurement.rows(step)][-1]) for step in (1, 2))
    back = measurement.rows(3)
    reached = float(np.interp(after, measurement.step_time[back], measurement.viscosity[back]))
    return (reached - sheared) / (rest - sheared)


def herschel_bulkley(shear_rate: FloatArray, shear_stress: FloatArray) -> tuple[float, float, float]:
    """Yield stress [Pa], consistency [Pa·s^n] and flow index of the closest Herschel-Bulkley curve.

    Residuals are relative to the measured stress, which for noise-free points is as good as relative
    to the fitted one. The flow index is searched on ever finer grids; the other two are linear.
    """
    centre, width = 0.75, 0.7
    for _ in range(12):
        grid = np.linspace(centre - width, centre + width, 21)
        centre = float(min(grid, key=lambda index: _linear_part(shear_rate, shear_stress, float(index))[1]))
        width /= 5.0
    (yield_stress, consistency), _ = _linear_part(shear_rate, shear_stress, centre)
    return float(yield_stress), float(consistency), centre


def _linear_part(rate: FloatArray, stress: FloatArray, flow_index: float) -> tuple[FloatArray, float]:
    """Yield stress and consistency at one flow index, and the sum of squared relative residuals."""
    design = np.column_stack([1.0 / stress, rate**flow_index / stress])
    solution = np.asarray(np.linalg.lstsq(design, np.ones_like(stress), rcond=None)[0], dtype=np.float64)
    return solution, float(np.sum((design @ solution - 1.0) ** 2))
