"""Yield tests of the virtual rheometer: closed forms, faults, and exports that the reader takes for what they are."""

from math import hypot

import numpy as np
import pytest

import rheokit as rk
from rheokit.virtual import (
    OSCILLATION,
    UNDER_STRESS,
    UNITS_ROW,
    Column,
    Gel,
    Reading,
    creep_steps,
    export_text,
    measure_amplitude_sweep,
    measure_under_stress,
    rested_structure,
    simulate_stress,
    slate_grey_gel,
    slate_grey_ink,
    stress_ramp,
    write_export,
)  # fmt: skip

GEL = slate_grey_gel()
RAMP = (stress_ramp((1.0, 200.0), 180.0, 120),)
HISTORY = simulate_stress(slate_grey_ink(), RAMP, structure=rested_structure(slate_grey_ink(), 300.0))


def ramp(seed=0, **faults):
    return measure_under_stress(slate_grey_ink(), RAMP, Reading(**faults), seed, history=HISTORY)


def test_the_moduli_at_the_linear_limit_and_the_flow_point():
    storage, _ = GEL.moduli(GEL.linear_limit(0.05))
    assert float(storage) == pytest.approx(0.95 * 1500.0, rel=1e-12)
    storage, loss = GEL.moduli(GEL.flow_point)
    assert float(storage) == pytest.approx(float(loss), rel=1e-12)
    # x = 0.9/0.4 = 2.25 and x^1.5 = 3.375 by hand, so both moduli are 1500/4.375 and the strain 0.225.
    assert GEL.stress(GEL.flow_point) == pytest.approx(hypot(1.0, 1.0) * 1500.0 / 4.375 * 0.225, rel=1e-12)


@pytest.mark.parametrize(("change", "said"), [({"plateau_modulus": 0.0}, "above zero"), ({"loss_share": 1.5}, "above and below 1")])
def test_a_gel_without_a_plateau_or_flow_point_is_refused(change, said):
    with pytest.raises(ValueError, match=said):
        Gel(**(vars(GEL) | change))


def test_a_perfect_reading_is_the_history_and_each_fault_leaves_its_mark():
    perfect = ramp()
    assert np.array_equal(perfect.shear_strain, HISTORY.strain)
    assert np.array_equal(perfect.shear_rate, HISTORY.rate)
    assert np.isnan(perfect.storage_modulus).all()
    noisy = ramp(1, noise_sd=0.02)
    relative = np.concatenate([noisy.shear_strain / perfect.shear_strain, noisy.shear_rate / perfect.shear_rate]) - 1.0
    # 240 deviates: their standard deviation is known to 4.6 %; four of those are allowed.
    assert relative.std() == pytest.approx(0.02, rel=0.2)
    assert np.array_equal(ramp(1, noise_sd=0.02).shear_rate, noisy.shear_rate)
    slipped = ramp(slip_rate=1e-4)
    assert slipped.shear_rate - perfect.shear_rate == pytest.approx(1e-4 * perfect.shear_stress, rel=1e-9)
    assert ramp(lost_after=0.25).time.size == 90
    assert (ramp(2, rate_floor=1e-3).shear_rate - perfect.shear_rate).std() == pytest.approx(1e-3, rel=0.3)


@pytest.mark.parametrize(("change", "said"), [({"noise_sd": -1.0}, "zero or more"), ({"lost_after": 1.0}, "below 1")])
def test_a_reading_that_makes_no_sense_is_refused(change, said):
    with pytest.raises(ValueError, match=said):
        Reading(**change)


def test_exports_are_read_as_what_they_are(tmp_path):
    noisy = Reading(noise_sd=0.005, rate_floor=1e-6)
    creep = creep_steps((80.0, 120.0, 150.0), 600.0, 80)
    made = {
        "ramp": (measure_under_stress(slate_grey_ink(), RAMP, noisy, 1, history=HISTORY), UNDER_STRESS, ["stress_ramp"]),
        "creep": (measure_under_stress(slate_grey_ink(), creep, noisy, 1), UNDER_STRESS, ["creep"] * 3),
        "sweep": (measure_amplitude_sweep(GEL, noisy, 1), OSCILLATION, ["amplitude_sweep"]),
    }
    for name, (measurement, shape, kinds) in made.items():
        write_export(tmp_path / f"{name}.csv", measurement, shape)
        run = rk.read_run(tmp_path / f"{name}.csv")
        assert [step.kind for step in run.steps] == kinds
        # Six printed digits of strain in per cent.
        read = np.concatenate([step.column("shear_strain") for step in run.steps])
        assert read == pytest.approx(measurement.shear_strain, rel=1e-5)


def test_a_status_needs_a_torque():
    shape = UNITS_ROW.__class__(name="status", units="in header", columns=(Column(quantity="status", heading="Status"),))
    with pytest.raises(TypeError, match="told by the torque"):
        export_text(ramp(), shape)
