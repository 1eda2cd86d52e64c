"""Recovery as a characteristic: on the demo runs, against the virtual rheometer's truth, and in a specification."""

from pathlib import Path

import numpy as np
import pytest

import rheokit as rk
from rheokit.characteristics import CHARACTERISTICS, combine_measured, measure
from rheokit.statistics.student import student_quantile
from rheokit.virtual import slate_grey_ink, true_values

SAMPLES = Path(__file__).resolve().parents[2] / "sample_rheometer_runs"
BATCH = rk.read_batch(SAMPLES / "B26-041")  # the approved standard's own ink
TRACKED = {"tracked": "viscosity"}

SPECIFICATION = """\
format = 1
[specification]
product = "slate grey gel paste, 40 series"
revision = "C"
decision_rule = { kind = "probability", conforming = 0.95 }

[method.recovery]
geometry = "cone-plate"
temperature = "23.0 °C ± 0.2"
loads = 2

[[requirement]]
id = "recovery-60"
characteristic = "recovery_at_time"
test = "recovery"
step = "recovery"
at = { time = "60 s", tracked = "viscosity" }
lower = "80 %"
repeatability = { absolute = "1 %", degrees_of_freedom = 24 }

[[requirement]]
id = "half-time"
characteristic = "recovery_half_time"
test = "recovery"
step = "recovery"
at = { tracked = "viscosity" }
upper = "60 s"
repeatability = { relative = 0.1, degrees_of_freedom = 24 }

[[requirement]]
id = "time-90"
characteristic = "time_to_recovery"
test = "recovery"
step = "recovery"
at = { recovery = "90 %", tracked = "viscosity" }
upper = "60 s"
repeatability = { relative = 0.05, degrees_of_freedom = 24 }
"""


def of_batch(name, at, batch=BATCH):
    return measure(batch, CHARACTERISTICS[name], test="recovery", step="recovery", at=at)


@pytest.mark.parametrize(("time", "attribute"), [(60.0, "recovery_at_60"), (300.0, "recovery_at_300")])
def test_the_interval_of_each_load_holds_the_true_recovery(time, attribute):
    truth = getattr(true_values(slate_grey_ink()), attribute)
    loads = [one.estimate for one in of_batch("recovery_at_time", {"time": time, **TRACKED})]
    for load in loads:
        # Of each load the 99.9 % interval: a test that is to hold on any draw of the demo's noise.
        assert abs(load.value - truth) <= student_quantile(0.9995, load.degrees_of_freedom) * load.standard_error
        assert load.standard_error < 0.01
    found = combine_measured(of_batch("recovery_at_time", {"time": time, **TRACKED}), None)
    assert found.value == pytest.approx(np.mean([load.value for load in loads]), abs=0.01)
    assert (found.name, found.unit) == ("recovery_at_time", "1")
    assert (found.conditions["time"].value, found.conditions["time"].unit) == (time, "s")
    assert found.conditions["tracked"].value == "viscosity"
    assert [source.step for source in found.sources[:3]] == ["1 shear", "2 shear", "3 recovery"]


def test_each_characteristic_is_what_the_step_test_says():
    run = BATCH.runs["recovery"][0]
    recovery = rk.step_recovery(run)
    wanted = {
        "recovery_at_time": ({"time": 60.0, **TRACKED}, recovery.fraction_at(60.0)),
        "retained_ratio_at_time": ({"time": 60.0, **TRACKED}, recovery.retained_ratio_at(60.0)),
        "recovery_half_time": (TRACKED, recovery.half_time),
        "recovery_half_way_time": (TRACKED, recovery.half_way_time),
        "time_to_recovery": ({"recovery": 0.9, **TRACKED}, recovery.time_to(0.9)),
    }
    for name, (at, estimate) in wanted.items():
        first = of_batch(name, at)[0].estimate
        assert (first.value, first.standard_error, first.determined) == (estimate.value, estimate.standard_error, estimate.determined)
        assert first.unit == rk.QUANTITIES[CHARACTERISTICS[name].quantity].unit
        assert first.name == name


def test_what_was_not_tracked_is_no_measurement_with_a_reason():
    (first, _) = of_batch("recovery_at_time", {"time": 60.0, "tracked": "storage_modulus"})
    assert first.estimate is None
    assert "has no storage modulus; it has viscosity" in first.reason


def test_a_specification_judges_recovery(tmp_path):
    path = tmp_path / "specification.toml"
    path.write_text(SPECIFICATION, encoding="utf-8")
    decisions = {one.requirement.id: one for one in rk.check_batch(BATCH, rk.read_specification(path)).decisions}
    assert decisions["recovery-60"].outcome == "conforming"
    assert decisions["time-90"].outcome == "conforming"
    # Thinning alone brings r above one half at once: no half time is made up to pass or fail by.
    assert decisions["half-time"].outcome == "no measurement"
    assert "was passed before the first point" in decisions["half-time"].reason


def test_a_condition_left_out_is_named(tmp_path):
    path = tmp_path / "specification.toml"
    path.write_text(SPECIFICATION.replace('at = { time = "60 s", tracked = "viscosity" }', 'at = { time = "60 s" }'), encoding="utf-8")
    with pytest.raises(rk.SpecificationError, match="recovery_at_time needs the condition 'tracked'"):
        rk.read_specification(path)
