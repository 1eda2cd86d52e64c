"""A batch whose numbers are exact by construction, and a specification text to judge it by."""

from __future__ import annotations

import numpy as np
import pytest

from rheokit.base.estimate import Condition, Estimate, Source
from rheokit.base.run import Batch, Run, RunPlace, Step

SPECIFICATION = """\
format = 1
[specification]
product = "paste"
revision = "A"
decision_rule = { kind = "probability", conforming = 0.95 }

[method.loop]
geometry = "cone-plate"
temperature = "23.0 °C ± 0.2"
pre_shear = "100 1/s for 60 s"
rest = "300 s"
ramp = "0 to 100 1/s in 120 s"
loads = 2

[[requirement]]
id = "viscosity-100"
characteristic = "viscosity_at_rate"
test = "loop"
step = "down"
at = { shear_rate = "100 1/s" }
lower = "3.4 Pa·s"
upper = "4.2 Pa·s"
repeatability = { relative = 0.02, degrees_of_freedom = 24 }
"""


def held(number, kind, rate, duration, stress, temperature=296.15):
    times = np.linspace(duration / 20, duration, 20)
    columns = {
        "step_time": times,
        "shear_rate": np.full(20, rate),
        "shear_stress": np.full(20, stress),
        "temperature": np.full(20, temperature),
    }
    return Step(number=number, kind=kind, controlled="rate", columns=columns)


def ramp(number, kind, stress_at_100, index=0.5, temperature=296.15, top=100.0, duration=120.0):
    times = np.linspace(duration / 60, duration, 60)
    rates = top * times / duration
    if kind == "down":
        rates = rates[::-1]
    columns = {
        "step_time": times,
        "time": times,
        "shear_rate": rates,
        "shear_stress": stress_at_100 * (rates / 100.0) ** index,
        "temperature": np.full(60, temperature),
    }
    return Step(number=number, kind=kind, controlled="rate", columns=columns)


def loop_run(load, stress_at_100, *, reference_ratio=1.0, without=(), metadata=None, **changes):
    settings = {
        "temperature": 296.15,
        "top": 100.0,
        "duration": 120.0,
        "pre_shear": 100.0,
        "rest": 300.0,
        "geometry": "cone-plate",
    } | changes
    warm = settings["temperature"]
    ramps = {name: settings[name] for name in ("temperature", "top", "duration")}
    steps = (
        held(1, "shear", settings["pre_shear"], 60.0, stress_at_100, warm),
        held(2, "rest", 0.0, settings["rest"], 0.0, warm),
        ramp(3, "up", (1.2 + 0.001 * load) * stress_at_100, **ramps),  # no two loads are the same measurement
        ramp(4, "down", stress_at_100, **ramps),
        held(5, "shear", settings["pre_shear"], 60.0, stress_at_100 * reference_ratio, warm),
    )
    said = {"Measured": "2026-09-15T08:40:00+00:00", "Product": "paste"}
    if settings["geometry"]:
        said["Geometry"] = settings["geometry"]
    said |= metadata or {}
    name = f"loop_load{load}.csv"
    kept = tuple(step for step in steps if step.number not in without)
    source = Source(sha256=f"{load:064d}", run=name)
    return Run(name=name, steps=kept, metadata={key: text for key, text in said.items() if text}, findings=(), source=source)


def entered(name, value, unit, error=None, time="2026-09-15T08:10:00+00:00"):
    certain = (
        {"standard_error": None, "reason": "no uncertainty was entered"}
        if error is None
        else {"standard_error": error, "degrees_of_freedom": float("inf"), "components": {"entered": error}}
    )
    return Estimate(name=name, value=value, unit=unit, method="entered", conditions={"time": Condition(value=time)}, **certain)


@pytest.fixture
def make_batch():
    def make(viscosities=(3.8, 3.8), *, results=(), metadata=None, findings=(), runs=None, **changes):
        runs = runs or tuple(loop_run(load, 100.0 * viscosity, **changes) for load, viscosity in enumerate(viscosities, 1))
        places = {run.name: RunPlace(test="loop", load=load) for load, run in enumerate(runs, 1)}
        return Batch(name="T-1", runs={"loop": runs}, places=places, metadata=metadata or {}, entered=results, findings=findings)

    return make


@pytest.fixture
def specification_text():
    return SPECIFICATION


@pytest.fixture
def make_loop_run():
    return loop_run


@pytest.fixture
def make_entered():
    return entered


@pytest.fixture
def write_specification(tmp_path):
    def write(text=SPECIFICATION, name="specification.toml"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write
