"""Step tests made of functions of time, for tests."""

import numpy as np

import rheokit as rk
from rheokit.base.run import Run, Step

DURATIONS = (120.0, 60.0, 300.0)


def made(rest, shear, recovery, *, tracked="viscosity", points=(40, 20, 100), durations=DURATIONS, noise=0.0, seed=0, change=None):
    """Return a run whose three steps follow functions of their own time [s], with relative noise; `change` edits the columns."""
    generator, steps, begun = np.random.default_rng(seed), [], 0.0
    kinds = ("rest", "shear", "recovery") if tracked == "storage_modulus" else ("shear", "shear", "recovery")
    for index, (follow, count, duration) in enumerate(zip((rest, shear, recovery), points, durations, strict=True)):
        time = duration * np.arange(1, count + 1) / count
        columns = {"time": begun + time, "step_time": time}
        columns[tracked] = follow(time) * (1.0 + noise * generator.standard_normal(count))
        held = ("shear_strain", (0.001, 1.0, 0.001)) if tracked == "storage_modulus" else ("shear_rate", (0.5, 100.0, 0.5))
        columns[held[0]] = np.full(count, held[1][index])
        if change is not None:
            change(index, columns)
        controlled = "strain" if tracked == "storage_modulus" else "rate"
        steps.append(Step(number=index + 1, kind=kinds[index], controlled=controlled, columns=columns))
        begun += duration
    return Run(name="made", steps=tuple(steps), metadata={}, findings=(), source=rk.Source(sha256="0" * 64, run="made"))


def level(value):
    return lambda time: value + 0.0 * time


def stretched(start, plateau, time_constant, exponent=1.0):
    return lambda time: plateau + (start - plateau) * np.exp(-((time / time_constant) ** exponent))
