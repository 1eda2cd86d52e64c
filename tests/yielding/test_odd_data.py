"""Odd columns end in a table that says what is wrong: no exception but our own, no warning, and no number out of nothing."""

import numpy as np
import pytest
from yielding.made import run, step

import rheokit as rk

COLUMNS = {
    "startup": ("rate", ("time", "shear_rate", "shear_stress")),
    "stress_ramp": ("stress", ("time", "shear_rate", "shear_stress", "shear_strain")),
    "amplitude_sweep": ("strain", ("shear_strain", "storage_modulus", "loss_modulus")),
    "steady": ("rate", ("time", "shear_rate", "shear_stress")),
    "down": ("rate", ("time", "shear_rate", "shear_stress")),
    "creep": ("stress", ("time", "shear_stress", "shear_strain")),
}


def odd(random, size):
    shapes = (
        np.geomspace(1e-3, 1e3, size), np.linspace(0.0, 100.0, size), np.full(size, random.choice([0.0, 1.0, 50.0])),
        random.standard_normal(size), np.exp(3.0 * random.standard_normal(size)), np.linspace(100.0, 1.0, size),
        np.full(size, 1e-300), np.geomspace(1e-200, 1e200, size),
    )  # fmt: skip
    values = shapes[random.integers(len(shapes))].copy()
    for chance, put in ((0.4, np.nan), (0.1, np.inf)):
        if random.random() < chance:
            values[random.random(size) < 0.2] = put
    return -values if random.random() < 0.1 else values


@pytest.mark.parametrize("seed", range(150))
def test_odd_columns_end_in_a_table(seed):
    random = np.random.default_rng(seed)
    steps = []
    for number in range(1, 5):
        kind = str(random.choice(list(COLUMNS)))
        size = int(random.choice([0, 1, 2, 5, 8, 12, 30, 60]))
        controlled, names = COLUMNS[kind]
        steps.append(step(kind, controlled, number, **{name: odd(random, size) for name in names}))
    found = rk.yield_methods(run(*steps), low_rate=1.0, rest=10.0)
    assert "for the pen" in str(found)
    for one in found.placed:
        # What is neither determined nor an own refusal would be an invention.
        assert one.estimate.determined or one.estimate.reason


@pytest.mark.parametrize("seed", range(40))
def test_noise_alone_gives_no_static_yield_stress_and_no_flow_point(seed):
    random = np.random.default_rng(seed)
    time = np.linspace(1.0, 120.0, 100)
    noise = {name: np.abs(1.0 + 0.3 * random.standard_normal(100)) + 1e-3 for name in ("shear_strain", "shear_rate", "shear_stress")}
    storage = 3.0 * noise["shear_stress"]
    steps = (
        step("startup", "rate", 1, time=time, shear_rate=np.full(100, 0.1), shear_stress=noise["shear_stress"]),
        step("stress_ramp", "stress", 2, time=time, shear_stress=time, shear_strain=noise["shear_strain"], shear_rate=noise["shear_rate"]),
        step("amplitude_sweep", "strain", 3, shear_strain=time / 1e3, storage_modulus=storage, loss_modulus=np.ones(100)),
    )
    found = rk.yield_methods(run(*steps), rest=10.0)
    ramp = [one for one in found.placed if one.estimate.name == "static_yield_stress_tangents"]
    assert len(ramp) == 1
    assert not ramp[0].estimate.determined
    for name in ("flow_point_stress", "linear_limit_stress"):
        assert not next(one for one in found.placed if one.estimate.name == name).estimate.determined
