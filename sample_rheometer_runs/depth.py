"""One batch measured in depth: two loops at unlike ramps, step test, steady steps, and every yield test. Invented, like everything here."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from scenario import USUAL

from rheokit.virtual import (
    HEADER_UNITS,
    OSCILLATION,
    UNDER_STRESS,
    ConePlate,
    Reading,
    Shape,
    creep_steps,
    loop_protocol,
    measure,
    measure_amplitude_sweep,
    measure_under_stress,
    recovery_protocol,
    slate_grey_gel,
    slate_grey_ink,
    startup_series_protocol,
    steady_protocol,
    stress_ramp,
    write_export,
)

FOLDER = "one_batch_in_depth"
BATCH = "B26-060"
FAULTS = USUAL
READING = Reading(noise_sd=0.01, rate_floor=1e-5, strain_floor=1e-5)
INK = slate_grey_ink()
# The fastest that still counts as a start-up: at a tenth of it this ink rebuilds as fast as it breaks and shows no overshoot.
STARTUP_RATE = 1.0

PROTOCOLS = {
    "loop": loop_protocol(),
    "fast_loop": loop_protocol(ramp_duration=30.0),
    "recovery": recovery_protocol(),
    "steady": steady_protocol(),
    "startup": startup_series_protocol(rests=(10.0, 100.0, 1000.0), rate=STARTUP_RATE),
}


def _protocol(name: str, seed: int) -> Callable[[], tuple[object, Shape]]:
    return lambda: (measure(INK, PROTOCOLS[name], ConePlate(), FAULTS, seed), HEADER_UNITS)


FILES: dict[str, Callable[[], tuple[object, Shape]]] = {
    **{f"{name}.csv": _protocol(name, 6000 + number) for number, name in enumerate(PROTOCOLS)},
    "stress_ramp.csv": lambda: (measure_under_stress(INK, (stress_ramp((1.0, 250.0), 180.0, 120),), READING, 6010), UNDER_STRESS),
    "creep.csv": lambda: (measure_under_stress(INK, creep_steps((60.0, 80.0, 100.0, 110.0, 120.0, 140.0), 600.0, 60), READING, 6011),
                          UNDER_STRESS),
    "amplitude_sweep.csv": lambda: (measure_amplitude_sweep(slate_grey_gel(), READING, 6012), OSCILLATION),
}  # fmt: skip
"""Each file of the folder: how it is measured, and its shape."""


def write_depth(output: Path, invented: str) -> None:
    """Write the folder."""
    folder = output / FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    for name, made in FILES.items():
        measurement, shape = made()
        lines = {"Batch": BATCH, "Test": name.removesuffix(".csv"), "Load": "1", "Invented data": invented}
        write_export(folder / name, measurement, replace(shape, suffix=".csv"), lines)
