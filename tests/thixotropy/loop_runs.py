"""Runs of loops made by hand and by the virtual rheometer, for the tests of this folder."""

from __future__ import annotations

import numpy as np

from rheokit.base.estimate import Source
from rheokit.base.run import Run, Step
from rheokit.virtual import ConePlate, Faults, Protocol, constant, evenly, loop_protocol, measure, ramp, slate_grey_ink


def step(number, kind, time, rate, stress, **columns):
    """Return one step of a run controlled by rate."""
    held = {"time": time, "shear_rate": rate, "shear_stress": stress} | columns
    return Step(number=number, kind=kind, controlled="rate", columns={name: np.asarray(values, float) for name, values in held.items()})


def run(*steps, name="loop.csv"):
    """Return a run of steps."""
    return Run(name=name, steps=steps, metadata={}, findings=(), source=Source(sha256="0" * 64, run=name))


def held(number, kind, begin, duration, rate, stress=200.0, points=10):
    """Return a step at one rate, its points at the ends of even intervals."""
    times = begin + np.asarray(evenly(duration, points))
    return step(number, kind, times, np.full(points, rate), np.full(points, stress))


def measured_run(protocol, kinds, seed=1, ink=None, faults=None):
    """Return what the virtual rheometer reports of a protocol as a run; `kinds` are those of the steps."""
    found = measure(ink or slate_grey_ink(), protocol, ConePlate(), faults or Faults(point_noise_sd=0.005), seed)
    steps = []
    for number, kind in enumerate(kinds, 1):
        rows = found.rows(number)
        columns = {name: getattr(found, name)[rows] for name in ("time", "step_time", "shear_rate", "shear_stress", "temperature")}
        steps.append(Step(number=number, kind=kind, controlled="rate", columns=columns))
    return run(*steps)


def single_loop(seed=1, **settings):
    """Return a run of the scenario's loop: pre-shear, rest, up, hold, down, and the pre-shear again."""
    return measured_run(loop_protocol(**settings), ("shear", "rest", "up", "hold", "down", "shear"), seed)


def repeated_protocol(cycles=3, *, top=100.0, durations=(60.0,), hold=20.0, points=40, course="linear", pause=0.0):
    """Return pre-shear, rest and several loops one after the other; durations are dealt to the loops in turn."""
    segments = [constant(1, top, 60.0, evenly(60.0, 10)), constant(2, 0.0, 300.0, evenly(300.0, 5))]
    kinds = ["shear", "rest"]
    bottom = 0.1 if course == "logarithmic" else 0.0
    for cycle in range(cycles):
        duration = durations[cycle % len(durations)]
        if cycle and pause:
            segments.append(constant(len(kinds) + 1, 0.0, pause, evenly(pause, 5)))
            kinds.append("rest")
        number = len(kinds) + 1
        segments.append(ramp(number, (bottom, top), duration, evenly(duration, points), course=course))
        segments.append(constant(number + 1, top, hold, evenly(hold, 10)[:-1]))
        segments.append(ramp(number + 2, (top, bottom), duration, evenly(duration, points, at="starts"), course=course))
        kinds += ["up", "hold", "down"]
    return Protocol(name="repeated", segments=tuple(segments)), tuple(kinds)
