"""FlowCurve and Leg hold copies that nobody can write to."""

from __future__ import annotations

import numpy as np
import pytest

from rheokit.base.curve import FlowCurve, Leg, read_only


def test_the_arrays_are_copies_and_read_only():
    rate, stress = np.array([1.0, 2.0]), [3, 4]
    curve = FlowCurve(rate, stress, name="batch 7")
    rate[0] = 99.0
    assert curve.shear_rate.tolist() == [1.0, 2.0]
    assert curve.shear_stress.dtype == np.float64
    assert curve.name == "batch 7"
    for array in (curve.shear_rate, curve.shear_stress):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0.0


def test_the_viscosity_is_stress_over_rate_and_no_number_at_rest():
    viscosity = FlowCurve([0.0, 2.0, -4.0], [1.0, 6.0, -8.0]).viscosity
    assert np.isnan(viscosity[0])
    assert viscosity[1:].tolist() == [3.0, 2.0]


def test_a_leg_has_time_as_well():
    leg = Leg([0.0, 1.0], [10.0, 20.0], [5.0, 7.0], name="up")
    assert (leg.time.tolist(), leg.shear_rate.tolist(), leg.shear_stress.tolist()) == ([0.0, 1.0], [10.0, 20.0], [5.0, 7.0])
    with pytest.raises(ValueError, match="read-only"):
        leg.time[0] = 5.0


def test_missing_numbers_are_kept():
    assert np.isnan(FlowCurve([1.0, 2.0], [np.nan, 3.0]).shear_stress[0])


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: FlowCurve([1.0, 2.0], [1.0]), "columns of unequal length: shear_rate 2, shear_stress 1"),
        (lambda: Leg([0.0], [1.0, 2.0], [1.0, 2.0]), "columns of unequal length: time 1, shear_rate 2, shear_stress 2"),
        (lambda: FlowCurve([[1.0]], [1.0]), r"shear_rate must be one-dimensional, not of shape \(1, 1\)"),
        (lambda: Leg(0.0, [1.0], [1.0]), r"time must be one-dimensional, not of shape \(\)"),
    ],
)
def test_arrays_that_do_not_fit_are_refused(make, message):
    with pytest.raises(ValueError, match=message):
        make()


def test_a_read_only_copy_of_whole_numbers_is_float():
    assert read_only(range(3), "x").tolist() == [0.0, 1.0, 2.0]
    assert not read_only(range(3), "x").flags.writeable
