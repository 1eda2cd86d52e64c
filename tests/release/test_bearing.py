"""One load counted twice is told by what was measured, not by what was set."""

from dataclasses import replace

import numpy as np
import pytest
from screening.made_runs import CONE, PLATES, with_preamble
from screening.made_runs import run as made_run
from screening.made_runs import step as made_step
from yielding.made import bent, run

from rheokit.base.run import Batch
from rheokit.release.bearing import findings_by_run
from rheokit.release.instrument_file import read_instrument
from rheokit.release.instrument_starter import STARTER
from rheokit.release.specification_file import read_specification


@pytest.mark.parametrize(("relative", "copied"), [((0.01, 0.02), False), ((0.01, 0.01), True)])
def test_loads_on_one_programme_of_stress_hold_the_same_stresses_as_they_should(write_specification, specification_text, relative, copied):
    steps = [bent(relative=size) for size in relative]
    assert np.array_equal(steps[0].shear_stress, steps[1].shear_stress)
    loads = tuple(run(step, name=f"ramp_load{number}.csv") for number, step in enumerate(steps, 1))
    batch = Batch(name="B", runs={"ramp": loads}, metadata={})
    found = findings_by_run(batch, read_specification(write_specification(specification_text)))
    for load in loads:
        said = [str(finding) for finding in found[load.name] if finding.check == "copied_load"]
        assert bool(said) == copied
        assert all("hold the same measured numbers: one load counted twice" in words for words in said)


def scattered(name):
    """Return a run whose stresses alternate by 2 % about a straight line in log-log: a scatter of 3.3 %."""
    rates = np.geomspace(100.0, 1.0, 30)
    return made_run(made_step(1, "down", rates, 50.0 * rates**0.4 * np.exp(0.02 * np.resize([1.0, -1.0], 30))), name=name)


@pytest.mark.parametrize(
    ("limit", "count"), [("", 0), ("[screening]\npoint_scatter = 0.03\n", 1), ("[screening]\npoint_scatter = 0.04\n", 0)]
)
def test_the_specification_sets_the_limits_of_the_screening(write_specification, specification_text, limit, count):
    batch = Batch(name="B", runs={"loop": (scattered("loop_load1.csv"),)}, metadata={})
    found = findings_by_run(batch, read_specification(write_specification(specification_text + limit)))
    seen = [finding for finding in found["loop_load1.csv"] if finding.check == "point_scatter"]
    assert len(seen) == count
    assert [finding.limit for finding in seen] == [0.03] * count


def test_loads_at_two_gaps_are_held_against_each_other(write_specification, specification_text):
    rates = np.geomspace(100.0, 1.0, 30)
    loads = tuple(
        with_preamble({**PLATES, "Gap": gap}, made_step(1, "down", rates * faster, 50.0 * rates**0.4), name=f"{gap}.csv")
        for gap, faster in (("1 mm", 1.0), ("0.5 mm", 1.2))
    )
    found = findings_by_run(Batch(name="B", runs={"loop": loads}, metadata={}), read_specification(write_specification(specification_text)))
    assert [finding.severity for finding in found["0.5 mm.csv"] if finding.check == "two_gaps"] == ["caution"]
    assert [finding for finding in found["1 mm.csv"] if finding.check == "two_gaps"] == []


@pytest.mark.parametrize(("floor", "severity"), [("0.1 µN·m", None), ("30 µN·m", "caution"), ("100 µN·m", "invalid")])
def test_the_torque_that_the_instrument_file_resolves_bears_on_a_run(write_specification, specification_text, tmp_path, floor, severity):
    # 50 Pa in a cone of 12.5 mm is 205 µN·m, by 2 π R³/3.
    path = tmp_path / "instrument.toml"
    path.write_text(STARTER.replace('"0.2 µN·m"', f'"{floor}"'), encoding="utf-8")
    rates = np.geomspace(100.0, 1.0, 30)
    load = with_preamble(CONE, made_step(1, "down", rates, np.full(30, 50.0)), name="loop_load1.csv")
    specification = replace(read_specification(write_specification(specification_text)), instrument=read_instrument(path))
    found = findings_by_run(Batch(name="B", runs={"loop": (load,)}, metadata={}), specification)["loop_load1.csv"]
    assert [finding.severity for finding in found if finding.check == "torque_floor"] == ([] if severity is None else [severity])
