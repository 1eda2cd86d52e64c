"""The creep bracket, on creep whose compliance rate is a power of time by construction."""

import matplotlib.pyplot as plt
import numpy as np
import pytest
from yielding.made import crept, step

import rheokit as rk
from rheokit.yielding import YieldReading


@pytest.mark.parametrize(
    ("power", "verdict"), [(1.0, "flows"), (0.95, "flows"), (0.65, "undecided"), (1.0 / 3.0, "stops"), (0.1, "stops"), (-0.5, "stops")]
)
def test_the_verdict_follows_the_slope_of_the_compliance_rate(power, verdict):
    found = rk.creep_bracket([crept(50.0, power, relative=1e-4), crept(90.0, 1.0, relative=1e-4)]).steps[0]
    assert found.verdict == verdict
    if power > 0.0:
        # A parabola over a factor of four in time misses the exponential's slope by less than 0.05.
        assert found.slope == pytest.approx(power - 1.0, abs=0.1)


def test_the_bracket_is_between_the_last_that_stops_and_the_first_that_flows():
    steps = [crept(stress, power, relative=1e-3) for stress, power in ((90.0, 1.0), (40.0, 0.1), (70.0, 0.65), (60.0, 0.2), (120.0, 1.0))]
    found = rk.creep_bracket(steps, rest=300.0)
    assert (found.stress.interval.lower, found.stress.interval.upper) == (60.0, 90.0)
    assert found.stress.value == pytest.approx(np.sqrt(60.0 * 90.0))
    assert (found.stress.standard_error, found.stress.determined) == (None, True)
    assert "anywhere between its ends" in found.stress.reason
    assert [one.shear_stress for one in found.steps] == [40.0, 60.0, 70.0, 90.0, 120.0]
    assert "creep at 70.0 Pa neither clearly stops nor clearly flows" in str(found.findings[-1])


@pytest.mark.parametrize(
    ("powers", "said", "ends"),
    [
        ((0.1, 0.1), "no stress flows: creep at a higher one", (80.0, np.inf)),
        ((1.0, 1.0), "no stress creeps to a stop: creep at a lower one", (0.0, 40.0)),
        ((0.65, 0.65), "no stress clearly stops or flows", (0.0, np.inf)),
        ((1.0, 0.1), "40.0 Pa flows while 80.0 Pa stops", (40.0, 80.0)),
    ],
)
def test_a_bracket_with_an_open_or_crossed_end_is_not_determined(powers, said, ends):
    found = rk.creep_bracket([crept(stress, power, relative=1e-4) for stress, power in zip((40.0, 80.0), powers, strict=True)]).stress
    assert not found.determined
    assert said in found.reason
    assert (found.interval.lower, found.interval.upper) == ends


def test_a_strain_lost_in_noise_decides_nothing():
    found = rk.creep_bracket([crept(40.0, 0.02, relative=0.2), crept(80.0, 1.0, relative=1e-3)])
    assert found.steps[0].verdict == "undecided"
    assert not found.stress.determined


def test_a_compliance_or_a_rate_serves_as_well():
    made = crept(50.0, 1.0)
    compliance = {**made.columns, "creep_compliance": made.column("shear_strain") / 50.0}
    del compliance["shear_strain"]
    rate = {**made.columns, "shear_rate": np.full(80, 0.05)}
    del rate["shear_strain"]
    for columns in (compliance, rate):
        found = rk.creep_bracket([crept(20.0, 0.1), step("creep", "stress", 2, **columns)])
        assert (found.stress.interval.lower, found.stress.interval.upper) == (20.0, 50.0)


def test_too_little_is_refused():
    with pytest.raises(rk.FitError, match="a bracket needs creep at two stresses or more, not 1"):
        rk.creep_bracket([crept(50.0, 1.0)])
    with pytest.raises(rk.FitError, match=r"creep at 50\.0 Pa has \d points in the last three quarters of its time; it needs 6"):
        rk.creep_bracket([crept(50.0, 1.0, points=9), crept(60.0, 1.0)])


def test_figure_and_words():
    found = rk.creep_bracket([crept(40.0, 0.1, relative=1e-3), crept(80.0, 1.0, relative=1e-3)])
    assert isinstance(found, YieldReading)
    figure, axes = plt.subplots()
    assert found.plot(axes) is axes
    words = {text.get_text() for text in axes.texts}
    assert {"40.0 Pa stops", "80.0 Pa flows"} <= words
    plt.close(figure)
    assert "40.0 to 80.0" in str(found)
