"""Every sample export, each in a shape of its own, reads back to the numbers that the virtual rheometer printed."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

import rheokit as rk

SAMPLES = Path(__file__).parents[2] / "sample_rheometer_runs"
sys.path.insert(0, str(SAMPLES))
import generate  # noqa: E402  the script beside the runs
import scenario  # noqa: E402

PLANS = {plan.folder: plan for plan in (*scenario.BATCHES, *scenario.CANDIDATES)}
EXPORTS = [
    (folder, protocol, load)
    for folder, plan in PLANS.items()
    for protocol, _ in generate.PROTOCOLS
    for load in generate.LOADS
    if (protocol.name, load) not in plan.omitted
]
STEPS = {
    "loop": ["shear", "rest", "up", "hold", "down", "shear"],
    "steady": ["shear", "rest", "steady"],
    "recovery": ["shear", "shear", "recovery"],
}


@pytest.mark.parametrize(("folder", "protocol", "load"), EXPORTS, ids=lambda value: getattr(value, "name", str(value)))
def test_a_sample_export_reads_back_to_what_was_printed(folder, protocol, load):
    plan = PLANS[folder]
    shape = generate.shape_of(plan, protocol.name, load)
    measured = generate.measured(plan, protocol, load)
    run = rk.read_run(SAMPLES / folder / generate.run_file(plan, protocol.name, load))
    assert [step.kind for step in run.steps] == STEPS[protocol.name]
    lengths = np.bincount(measured.step.astype(int))[1:].tolist()
    assert [len(step) for step in run.steps] == lengths
    mixed_up = (folder, protocol.name, load) == ("B26-049", "loop", 2)
    for column in shape.columns:
        if column.quantity in {"step", "point", "status", "remark"}:
            continue
        read = np.concatenate([step.column(column.quantity) for step in run.steps])
        factor = 1000.0 if mixed_up and column.quantity == "viscosity" else 1.0
        # Half of the last of five significant digits is 5e-5 of the number as printed; a temperature in kelvin is printed to 0.005 K at
        # the worst, a time at 1000 s to 0.05 s.
        np.testing.assert_allclose(read, factor * getattr(measured, column.quantity), rtol=5.01e-5, atol=1e-15, err_msg=column.quantity)
    for name in ("shear_rate", "shear_stress", "viscosity"):  # also where they were not exported: two factors of five digits each
        read = np.concatenate([step.column(name) for step in run.steps])
        wanted = getattr(measured, name) * (1000.0 if mixed_up and name == "viscosity" else 1.0)
        np.testing.assert_allclose(read, wanted, rtol=1.1e-4, atol=1e-15, err_msg=name)
    serious = [finding.check for finding in run.findings if finding.severity != "info"]
    assert serious == (["unit_mix_up"] if mixed_up else [])


def test_a_batch_without_batch_file_is_placed_by_its_preambles():
    batch = rk.read_batch(SAMPLES / "B26-042")
    assert {test: len(loads) for test, loads in batch.runs.items()} == {"loop": 2, "steady": 2, "recovery": 2}
