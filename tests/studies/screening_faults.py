"""One fault for every check of a measurement, of a size in standard deviations of the run's noise, and good runs of several inks.

The noise-free course of each run is integrated once and kept; a seed only draws the noise anew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from rheokit.base.estimate import Source
from rheokit.base.run import Run, Step
from rheokit.geometry import ConcentricCylinders, ParallelPlates
from rheokit.geometry import ConePlate as KnownCone
from rheokit.screening import Known
from rheokit.virtual import (
    ConePlate,
    Faults,
    History,
    Ink,
    Measurement,
    Protocol,
    Segment,
    constant,
    evenly,
    loop_protocol,
    measure,
    plate_excess,
    recovery_protocol,
    simulate,
    slate_grey_ink,
    startup_protocol,
    steady_protocol,
)  # fmt: skip

SCATTER = 0.01
"""Relative standard deviation of a point in the runs with faults: the unit of every fault's size."""
CONE = ConePlate()
KINDS = {
    "loop": ("shear", "rest", "up", "hold", "down", "shear"),
    "steady": ("shear", "rest", "steady"),
    "waited": ("shear", "rest", "steady"),
    "recovery": ("startup", "shear", "recovery"),
    "startup": ("shear", "rest", "startup"),
}
"""Kinds of the steps of each protocol, as reading would name them."""
COLUMNS = ("time", "step_time", "shear_rate", "shear_stress", "torque", "temperature")


def waited_protocol() -> Protocol:
    """Return steady steps with thirty points at each of seven rates, 30 to 120 s each."""
    rates = np.geomspace(100.0, 0.1, 7)
    dwells = np.clip(60.0 - 30.0 * np.log10(rates), 30.0, 120.0)
    held: list[Segment] = [
        constant(3, float(rate), float(dwell), evenly(float(dwell), 30)) for rate, dwell in zip(rates, dwells, strict=True)
    ]
    first = (constant(1, 100.0, 60.0, evenly(60.0, 20)), constant(2, 0.0, 10.0, evenly(10.0, 2)))
    return Protocol(name="waited", segments=(*first, *held))


PROTOCOLS: dict[str, Protocol] = {
    "loop": loop_protocol(), "steady": steady_protocol(), "waited": waited_protocol(), "recovery": recovery_protocol(),
    "startup": startup_protocol(),
}  # fmt: skip

STANDARD = slate_grey_ink()
THIN = Ink(
    broken_yield_stress=0.0, structure_yield_stress=0.0, broken_consistency=0.0, structure_consistency=0.0, flow_index=1.0,
    infinite_shear_viscosity=0.01, build_up_rate=0.1, breakdown_rate=0.0,
)  # fmt: skip
INKS: dict[str, Ink] = {
    "standard": STANDARD,
    "brittle": replace(STANDARD, breakdown_rate=0.05),  # its overshoot after a rest stands out
    "slow": replace(STANDARD, build_up_rate=0.005, breakdown_rate=0.002),
    "soft": replace(STANDARD, broken_yield_stress=8.0, structure_yield_stress=6.0, broken_consistency=6.0, structure_consistency=2.0),
    "stable": replace(STANDARD, breakdown_rate=0.0),
}
"""Inks of the good runs, all invented."""


@cache
def history(ink: Ink, protocol: str, slip: float = 0.0) -> History:
    return simulate(ink, PROTOCOLS[protocol], slip=slip)


def run_of(measured: Measurement, protocol: str, name: str = "made.csv") -> Run:
    """Return a measurement as reading would give it, less the rounding of an export."""
    steps = []
    for number, kind in enumerate(KINDS[protocol], 1):
        rows = measured.rows(number)
        columns = {column: getattr(measured, column)[rows] for column in COLUMNS}
        steps.append(Step(number=number, kind=kind, controlled="rate", columns=columns))  # type: ignore[arg-type]
    return Run(name=name, steps=tuple(steps), metadata={}, findings=(), source=Source(sha256="0" * 64, run=name))


def made(protocol: str, faults: Faults, seed: int, *, ink: Ink = STANDARD, slip: float = 0.0) -> Run:
    """Return one noisy run."""
    course = history(ink, protocol, slip)
    return run_of(measure(ink, PROTOCOLS[protocol], CONE, replace(faults, point_noise_sd=SCATTER), seed, history=course), protocol)


Built = tuple[tuple[Run, ...], Known]
"""The loads of one draw, and what is known of instrument and sample."""


@dataclass(frozen=True)
class Case:
    """One check: sizes of its fault in standard deviations of a point, what the size is of, and the run for a size and a seed."""

    check: str
    of: str
    sizes: tuple[float, ...]
    build: Callable[[float, int], Built]


def _one(protocol: str, faults: Callable[[float], Faults], *, ink: Ink = STANDARD) -> Callable[[float, int], Built]:
    """Return how a fault of the instrument alone is built; its size comes relative to the stress."""
    return lambda size, seed: ((made(protocol, faults(size * SCATTER), seed, ink=ink),), Known())


def _fracture(lost: float) -> Faults:
    return Faults(edge_fracture_time=485.0, edge_fracture_radius_loss=1.0 - (1.0 - min(lost, 0.99)) ** (1.0 / 3.0))


def _torque_floor(size: float, seed: int) -> Built:
    lowest = float(history(STANDARD, "steady").stress[-1]) * CONE.torque_per_stress
    return (made("steady", Faults(), seed),), Known(least_torque=max(size * SCATTER, 1e-9) * lowest)


def _strain(size: float, seed: int) -> Built:
    """Cut the time at the lowest rate of a steady step: by a size of 100 to nothing, of the three strain units there are."""
    (run,), _ = _one("steady", lambda _: Faults())(0.0, seed)
    *first, steady = run.steps
    times = steady.columns["step_time"].copy()
    times[-1] = times[-2] + (times[-1] - times[-2]) * (1.0 - size * SCATTER)
    return (replace(run, steps=(*first, replace(steady, columns={**steady.columns, "step_time": times}))),), Known()


def _slip(size: float, seed: int) -> Built:
    """Slip that is so much of the lowest rate at the stress there."""
    return (made("steady", Faults(), seed, slip=size * SCATTER * 0.1 / _lowest()),), Known()


def _lowest() -> float:
    return float(history(STANDARD, "steady").stress[-1])


def _gaps(size: float, seed: int) -> Built:
    """Two loads at gaps of 1 and 0.5 mm; at the lowest rate the narrow one slips by so much more than the wide one."""
    loads = []
    for number, gap in enumerate((1e-3, 0.5e-3)):
        slip = size * SCATTER * 0.1 / _lowest() * 1e-3 / gap
        run = made("steady", Faults(), 2 * seed + number, slip=slip)
        plates = {"Geometry": "parallel plates", "Plate radius": "12.5 mm", "Gap": f"{gap * 1e3:g} mm"}
        loads.append(replace(run, name=f"{number}.csv", metadata=plates))
    return tuple(loads), Known()


def _repeats(size: float, seed: int) -> Built:
    first, second = (made("loop", Faults(), 2 * seed + number) for number in range(2))
    steps = tuple(
        replace(step, columns={**step.columns, "shear_stress": step.shear_stress * (1.0 + size * SCATTER)}) for step in second.steps
    )
    return (first, replace(second, name="again.csv", steps=steps)), Known()


def _inertia(size: float, seed: int) -> Built:
    course = history(STANDARD, "loop")
    ramp = course.rate_change != 0.0
    share = np.abs(course.rate_change[ramp]) * CONE.angle / (course.stress[ramp] * CONE.torque_per_stress)
    inertia = size * SCATTER / float(share.max())
    return (made("loop", Faults(inertia=inertia), seed),), Known(
        inertia=max(inertia, 1e-12), geometry=KnownCone(radius=0.0125, angle=CONE.angle)
    )


def _secondary(size: float, seed: int) -> Built:
    rim = CONE.radius * CONE.angle
    density = (size * SCATTER / 6e-4) ** 0.5 * 0.01 / (100.0 * CONE.angle * rim**2)
    run = made("loop", Faults(density=density), seed, ink=THIN)
    return (run,), Known(density=max(density, 1e-9), geometry=KnownCone(radius=0.0125, angle=CONE.angle))


def _taylor(size: float, seed: int) -> Built:
    """Build a Taylor number of 1700 at a size of 100."""
    bob = ConcentricCylinders(inner_radius=0.010, outer_radius=0.011, length=0.030, end_factor=1.1)
    speed = 100.0 / bob.rate_per_speed
    density = (1700.0 * size * SCATTER) ** 0.5 * 0.01 / (speed * (0.001**3 * 0.010) ** 0.5)
    return (made("loop", Faults(), seed, ink=THIN),), Known(density=max(density, 1e-9), geometry=bob)


def _plates(size: float, seed: int) -> Built:
    """Take a power law of the index that makes the apparent stress too high by so much, read at the rim by the Newtonian formula."""
    ink = replace(THIN, broken_consistency=20.0, infinite_shear_viscosity=0.0, flow_index=4.0 / (1.0 + size * SCATTER) - 3.0)
    plates = ParallelPlates(radius=0.0125, gap=1e-3)
    run = made("loop", Faults(), seed, ink=ink)
    factor = float(plate_excess(ink, np.array([10.0]))[0])
    steps = []
    for step in run.steps:
        apparent = step.shear_stress * factor
        steps.append(replace(step, columns={**step.columns, "shear_stress": apparent, "torque": plates.torque(apparent)}))
    return (replace(run, steps=tuple(steps)),), Known(geometry=plates)


def _heat(size: float, seed: int) -> Built:
    """Take the gap that gives a Nahme number of so much; the ink warms as the middle of that gap would."""
    power = float(np.max(history(STANDARD, "loop").stress * history(STANDARD, "loop").true_rate))
    square = max(size * SCATTER, 1e-9) * 0.15 / (0.07 * power)
    run = made("loop", Faults(heating=square / (8.0 * 0.15)), seed)
    return (run,), Known(geometry=ParallelPlates(radius=0.0125, gap=max(square**0.5, 2e-6)))


def _particles(size: float, seed: int) -> Built:
    plates = ParallelPlates(radius=0.0125, gap=1e-3)
    return (made("loop", Faults(), seed),), Known(geometry=plates, largest_particle=max(size * SCATTER, 1e-6) * plates.gap)


def _drift(size: float, seed: int) -> Built:
    """Take a sensor that scatters by 0.03 K and drifts by so many times that over the run."""
    return (made("loop", Faults(temperature_scatter=0.03, temperature_drift=size * 0.03 / 690.0), seed),), Known()


def cases() -> tuple[Case, ...]:
    """Return a case for every check; each begins with the fault switched off."""
    lost, part = "stress lost", "part of the points, in hundredths"
    lag = 1.0 / (np.exp(-2.0 / 3.0) - np.exp(-1.0))
    return (
        Case("reference_point", lost, (0, 3, 4, 5, 6, 8), _one("loop", _fracture)),
        Case("edge_fracture", lost, (0, 3, 4, 5, 6, 8), _one("loop", _fracture)),
        Case("drying", "rise over the step", (0, 10, 20, 40, 60, 100), _one("recovery", lambda rise: Faults(drying_rate=rise / 300.0))),
        Case("stress_sign", "noise of the torque", (0, 20, 40, 60, 100, 200),
             _one("loop", lambda noise: Faults(torque_floor=noise * 300.0 * CONE.torque_per_stress))),
        Case("torque_floor", "least torque over the lowest", (0, 6, 9, 10, 11, 15), _torque_floor),
        Case("missing_values", part, (0, 1, 2, 3, 5, 10), _one("loop", lambda share: Faults(lost_share=share))),
        Case("point_scatter", "added scatter", (0, 3, 4, 5, 6, 8),
             _one("loop", lambda noise: Faults(correlated_noise_sd=noise, correlated_noise_coefficient=0.0))),
        Case("spikes", "height of a spike at one point in 20", (0, 5, 8, 10, 15, 20),
             _one("loop", lambda high: Faults(spike_share=0.05, spike_size=high))),
        Case("particle_gap", "particle in hundredths of the gap", (0, 5, 9, 11, 15, 40), _particles),
        Case("not_steady", "drift in the last third", (0, 2, 3, 4, 6, 10),
             _one("waited", lambda drift: Faults(lag_size=lag * drift, lag_time=30.0))),
        Case("strain_reached", "time cut, in hundredths", (0, 30, 60, 70, 80, 90), _strain),
        Case("wall_slip", "slip over the lowest rate", (0, 90, 110, 150, 200, 300), _slip),
        Case("two_gaps", "slip over the lowest rate", (0, 50, 100, 150, 200, 300), _gaps),
        Case("instrument_inertia", "share of the torque", (0, 1, 1.5, 2, 2.5, 4), _inertia),
        Case("ringing", "first swing", (0, 5, 10, 15, 20, 30), _one("loop", lambda swing: Faults(ringing_size=swing, ringing_decay=10.0))),
        Case("secondary_flow", "torque added", (0, 0.5, 0.9, 1, 1.2, 2), _secondary),
        Case("taylor_vortices", "of 1700, in hundredths", (0, 60, 75, 80, 90, 120), _taylor),
        Case("uncorrected_plates", "stress too high", (0, 1, 1.5, 2, 3, 5), _plates),
        Case("viscous_heating", "Nahme number, in hundredths", (0, 5, 9, 10, 12, 20), _heat),
        Case("temperature_known", "drift over the scatter of the sensor", (0, 5, 10, 12, 15, 20), _drift),
        Case("repeat_loads", "stress apart", (0, 4, 6, 7, 8, 10), _repeats),
    )  # fmt: skip


NOISES = (0.005, 0.01, 0.02)
"""Relative standard deviations of a point in the good runs."""


def good_run(seed: int) -> tuple[Run, Known, str, float]:
    """Return a good run of an ink, protocol and noise that the seed picks in turn, what is known, the protocol and the noise.

    On top of the noise of single points come noise that remembers, a load's own scale, a torque floor, inertia and a sensor's scatter.
    """
    protocol = tuple(PROTOCOLS)[seed % len(PROTOCOLS)]
    ink = tuple(INKS.values())[seed // len(PROTOCOLS) % len(INKS)]
    noise = NOISES[seed // (len(PROTOCOLS) * len(INKS)) % len(NOISES)]
    faults = Faults(
        point_noise_sd=noise,
        correlated_noise_sd=0.5 * noise,
        load_factor_sd=0.02,
        torque_floor=2e-8,
        inertia=1e-5,
        temperature_scatter=0.03,
    )
    measured = measure(ink, PROTOCOLS[protocol], CONE, faults, seed, history=history(ink, protocol))
    known = Known(
        geometry=KnownCone(radius=0.0125, angle=CONE.angle), least_torque=2e-8, inertia=1e-5, density=1150.0, largest_particle=5e-6
    )
    return run_of(measured, protocol), known, protocol, noise
