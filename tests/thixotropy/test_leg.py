"""A leg made ready, or refused."""

import numpy as np
import pytest

import rheokit as rk
from rheokit.thixotropy.leg import ready_leg

RATES = np.linspace(1.0, 20.0, 20)


def leg(rate, stress=None, time=None):
    rate = np.asarray(rate, dtype=float)
    return rk.Leg(np.arange(float(rate.size)) if time is None else time, rate, 5.0 + rate if stress is None else stress)


def test_a_clean_leg_is_left_alone():
    ready = ready_leg(leg(RATES), "up", rises=True)
    assert np.array_equal(ready.rate, RATES)
    assert ready.findings == ()
    assert (ready.ramp.lowest_rate, ready.ramp.highest_rate, ready.ramp.duration) == (1.0, 20.0, 19.0)
    assert ready.ramp.rate_per_second == 1.0
    assert str(ready.ramp) == "1.000 to 20.00 1/s in 19.00 s"
    falling = ready_leg(leg(RATES[::-1]), "down", rises=False)
    assert np.array_equal(falling.rate, RATES)
    assert np.array_equal(falling.stress, 5.0 + RATES)


def test_noise_of_the_rate_is_sorted_and_said():
    noisy = RATES.copy()
    noisy[4] = RATES[3] - 0.2  # 1 % of the range back
    ready = ready_leg(leg(noisy), "up", rises=True)
    assert (np.diff(ready.rate) > 0.0).all()
    assert [str(finding) for finding in ready.findings] == ["1 of 20 points of the up leg run back and are sorted by rate"]


def test_repeated_rates_are_averaged_and_said():
    ready = ready_leg(leg(np.insert(RATES, 3, RATES[3]), np.insert(5.0 + RATES, 3, 20.0)), "up", rises=True)
    assert ready.stress[3] == 0.5 * (20.0 + 5.0 + RATES[3])
    assert ready.findings[0].check == "rates_repeated"


def test_rows_without_a_number_are_left_out_and_said():
    rate = RATES.copy()
    rate[2] = np.nan
    ready = ready_leg(leg(rate, 5.0 + RATES), "up", rises=True)
    assert ready.rate.size == 19
    assert ready.findings[0].check == "rows_left_out"


@pytest.mark.parametrize(
    ("rate", "time", "said"),
    [
        (RATES[::-1], None, "the up leg falls from 20.00 to 1.000 1/s; give the rising leg first, then the falling"),
        (np.concatenate([RATES, RATES[-6::-1], RATES]), None, "runs back by 5.000 1/s at its point"),
        ([1.0, 2.0], None, "the up leg has 2 usable points; a loop needs at least 3"),
        ([1.0, 1.0, 2.0, 2.0], None, "the up leg has 2 different rates"),
        ([1.0, 2.0, 3.0], np.array([3.0, 2.0, 1.0]), "ends 2.000 s before it begins"),
    ],
)
def test_what_is_no_ramp_is_refused(rate, time, said):
    if "runs back" in said:
        rate = np.concatenate([RATES, [15.0], RATES[15:]])
    with pytest.raises(rk.FitError) as caught:
        ready_leg(leg(rate, time=time), "up", rises=True)
    assert said in str(caught.value)


def test_a_leg_of_unequal_columns():
    class Odd:
        time, shear_rate, shear_stress = np.ones(3), np.ones(4), np.ones(4)

    with pytest.raises(rk.FitError, match="columns of unequal length: time 3, shear rate 4"):
        ready_leg(Odd(), "up", rises=True)
