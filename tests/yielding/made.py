"""Steps by closed formulas whose yield values are known by construction."""

from __future__ import annotations

import numpy as np

from rheokit.base.estimate import Source
from rheokit.base.run import Run, Step


def step(kind: str, controlled: str, number: int = 1, **columns: np.ndarray) -> Step:
    return Step(number=number, kind=kind, controlled=controlled, columns=columns)  # type: ignore[arg-type]


def run(*steps: Step, name: str = "made.csv") -> Run:
    return Run(name=name, steps=steps, metadata={}, findings=(), source=Source(sha256="0" * 64, run=name))


def noise(size: int, relative: float, seed: int = 0) -> np.ndarray:
    return 1.0 + relative * np.random.default_rng(seed).standard_normal(size)


def overshoot(height: float = 120.0, plateau: float = 80.0, at: float = 5.0, seconds: float = 60.0, points: int = 120) -> Step:
    """Return a hump that is a parabola in the logarithm of time down to the plateau: its peak is the height, by construction."""
    time = np.geomspace(0.3, seconds, points)
    stress = np.where(np.log(time / at) > 1.5, plateau, height - (height - plateau) * (np.log(time / at) / 1.5) ** 2)
    return step("startup", "rate", time=time, step_time=time, shear_rate=np.full(points, 0.1), shear_stress=np.maximum(stress, 1.0))


def bent(at: float = 50.0, lower: float = 1.0, upper: float = 15.0, top: float = 200.0, points: int = 160, relative: float = 0.0) -> Step:
    """Return the strain of a stress ramp: two power laws that meet at a stress, and a third, less steep, from 1.5 times it on."""
    stress = np.linspace(1.0, top, points)
    x = np.log(stress / at)
    logs = lower * np.minimum(x, 0.0) + upper * np.clip(x, 0.0, np.log(1.5)) + 3.0 * np.maximum(x - np.log(1.5), 0.0)
    strain = 0.2 * np.exp(logs) * noise(points, relative)
    return step("stress_ramp", "stress", shear_stress=stress, shear_strain=strain, shear_rate=strain / 10.0, time=stress)


def softened(points: int = 41, strains: tuple[float, float] = (1e-4, 1.0), relative: float = 0.0, seed: int = 0) -> Step:
    """G' = 1000/(1 + (10 strain)^2), G'' = 1000 (0.2 + 4 strain)/(1 + (10 strain)^2): equal at a strain of 0.2, by construction."""
    strain = np.geomspace(*strains, points)
    below = 1.0 + (10.0 * strain) ** 2
    return step(
        "amplitude_sweep",
        "strain",
        shear_strain=strain,
        storage_modulus=1000.0 / below * noise(points, relative, seed),
        loss_modulus=1000.0 * (0.2 + 4.0 * strain) / below * noise(points, relative, seed + 1),
        angular_frequency=np.full(points, 10.0),
    )


def crept(stress: float, power: float, seconds: float = 600.0, points: int = 80, relative: float = 0.0, number: int = 1) -> Step:
    """Return creep whose compliance is 0.002 + 0.001 t^power: the slope of its rate is power - 1, by construction."""
    time = np.geomspace(seconds / 1000.0, seconds, points)
    strain = stress * (0.002 + 0.001 * time**power) * noise(points, relative, number)
    return step("creep", "stress", number, time=time, step_time=time, shear_stress=np.full(points, stress), shear_strain=strain)
