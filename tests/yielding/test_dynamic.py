"""Dynamic yield stress by each law, and the stress at a low rate."""

import matplotlib.pyplot as plt
import numpy as np
import pytest
from reference_data import reference
from yielding.made import noise, step

import rheokit as rk
from rheokit.yielding import YIELD_LAWS

RATES = np.geomspace(0.1, 100.0, 19)
CURVES = {
    "herschel_bulkley": 100.0 + 12.0 * RATES**0.6,
    "bingham": 100.0 + 3.0 * RATES,
    "casson": (10.0 + np.sqrt(2.0 * RATES)) ** 2,
    "herschel_bulkley_plateau": 100.0 + 12.0 * RATES**0.5 + 1.5 * RATES,
}


@pytest.mark.parametrize("law", YIELD_LAWS)
def test_each_law_gives_back_the_yield_stress_of_its_own_curve(law):
    found = rk.dynamic_yield_stress(rk.FlowCurve(RATES, CURVES[law] * noise(19, 1e-6)), law=law)
    assert found.stress.value == pytest.approx(100.0, rel=1e-3)
    assert found.stress.name == "dynamic_yield_stress"
    assert str(found.stress.conditions["method"]) == str(found.stress.conditions["law"]) == law
    assert found.stress.determined


def test_milk_chocolate_by_casson():
    # The published number is that of the unweighted line of roots; by stress the points of high rate count for more.
    known = reference("milk_chocolate_40_c")
    found = rk.dynamic_yield_stress(rk.FlowCurve(known["shear_rate"], known["shear_stress"]), law="casson")
    assert found.stress.value == pytest.approx(29.747, rel=0.1)


def test_of_a_stair_the_last_row_counts_and_the_step_is_named():
    rates = np.repeat(RATES[::-1], 3)
    stress = (100.0 + 12.0 * rates**0.6) * np.tile([1.3, 1.1, 1.0], 19)
    made = step("steady", "rate", time=np.arange(57.0), shear_rate=rates, shear_stress=stress)
    found = rk.dynamic_yield_stress(made)
    assert found.stress.value == pytest.approx(100.0, rel=1e-6)
    assert found.stress.method.startswith("Herschel-Bulkley law on the steady step; ")


@pytest.mark.parametrize(
    ("rates", "level", "said"),
    [(np.geomspace(30.0, 100.0, 15), 130.0, "less than a decade"), (np.geomspace(10.0, 1000.0, 25), 10.0, "of the lowest stress measured")],
)
def test_a_yield_stress_far_below_the_points_is_not_determined(rates, level, said):
    found = rk.dynamic_yield_stress(rk.FlowCurve(rates, level + 12.0 * rates**0.68)).stress
    assert not found.determined
    assert said in found.reason


@pytest.mark.parametrize("law", YIELD_LAWS)
@pytest.mark.parametrize("stress", [np.linspace(100.0, 14.0, 25), np.full(25, 50.0)], ids=["falling", "flat"])
def test_points_at_one_rate_determine_no_yield_stress(law, stress):
    found = rk.dynamic_yield_stress(rk.FlowCurve(np.ones(25), stress), law=law).stress
    assert not found.determined


def test_a_law_that_does_not_follow_is_said():
    found = rk.dynamic_yield_stress(rk.FlowCurve(RATES, CURVES["herschel_bulkley"] * noise(19, 1e-3)), law="bingham")
    assert "law_does_not_follow" in {finding.check for finding in found.findings}
    own = rk.dynamic_yield_stress(rk.FlowCurve(RATES, CURVES["bingham"] * noise(19, 1e-3)), law="bingham")
    assert "law_does_not_follow" not in {finding.check for finding in own.findings}


def test_a_law_without_a_yield_stress_is_refused():
    with pytest.raises(rk.FitError, match="is taken by one of herschel_bulkley, bingham, casson, herschel_bulkley_plateau, not 'cross'"):
        rk.dynamic_yield_stress(rk.FlowCurve(RATES, CURVES["bingham"]), law="cross")


def test_a_power_law_is_read_exactly_at_any_low_rate():
    found = rk.stress_at_low_rate(rk.FlowCurve(RATES, 40.0 * RATES**0.3), shear_rate=0.1234)
    assert found.stress.value == pytest.approx(40.0 * 0.1234**0.3, rel=1e-12)
    assert found.stress.name == "stress_at_low_rate"
    assert str(found.stress.conditions["shear_rate"]) == "0.1230 1/s"
    with pytest.raises(rk.RangeError, match=r"the flow curve: 0\.01000 1/s lies outside the measured 0\.100 to 100 1/s"):
        rk.stress_at_low_rate(rk.FlowCurve(RATES, 40.0 * RATES**0.3), shear_rate=0.01)


def test_figures():
    curve = rk.FlowCurve(RATES, CURVES["casson"] * noise(19, 0.005))
    for found in (rk.dynamic_yield_stress(curve, law="casson"), rk.stress_at_low_rate(curve, shear_rate=0.2)):
        figure, axes = plt.subplots()
        assert found.plot(axes) is axes
        assert any(" Pa (" in text.get_text() for text in axes.texts)
        plt.close(figure)


@pytest.mark.parametrize("rate", [0.0, -1.0, np.nan])
def test_a_stress_at_no_rate_is_refused(rate):
    curve = rk.Leg(np.arange(5.0), np.geomspace(100.0, 1.0, 5), np.linspace(200.0, 140.0, 5))
    with pytest.raises(rk.RangeError, match="a stress is read at a rate above zero"):
        rk.stress_at_low_rate(curve, shear_rate=rate)
