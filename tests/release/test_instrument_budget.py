"""What geometry and temperature add to a decision, by hand; and that more uncertainty never makes a hold a release."""

import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rheokit.base.errors import SpecificationError
from rheokit.characteristics import CHARACTERISTICS, SCALINGS
from rheokit.geometry import single_point_factor
from rheokit.reading.batch import read_batch
from rheokit.release.check import check_batch
from rheokit.release.instrument_file import read_instrument
from rheokit.release.instrument_starter import STARTER
from rheokit.release.specification_file import read_specification

OIL = STARTER[STARTER.index("[[check_oil]]\nid") :]
CONE = STARTER[STARTER.index('kind = "cone') : STARTER.index("# One [[check_oil]]")]
NO_OIL = STARTER.replace(OIL, "").replace('temperature_uncertainty = "0.05 K"', "")
PLATES = """\
kind = "parallel plates"
radius = { value = "25 mm", standard_uncertainty = "0.25 mm" }
gap = { value = "1 mm", standard_uncertainty = "0.001 µm" }
"""
ALL_OF_IT = """
[[requirement]]
id = "loop-area"
characteristic = "loop_area"
test = "loop"
upper = "1e6 Pa/s"
repeatability = { relative = 0.06, degrees_of_freedom = 24 }

[[requirement]]
id = "dynamic-yield"
characteristic = "dynamic_yield_stress"
test = "loop"
step = "down"
at = { law = "bingham" }
upper = "1000 Pa"
repeatability = { relative = 0.05, degrees_of_freedom = 24 }

[[requirement]]
id = "thinning"
characteristic = "shear_thinning_index"
test = "loop"
step = "down"
at = { shear_rates = ["10 1/s", "100 1/s"] }
upper = "100"
repeatability = { relative = 0.015, degrees_of_freedom = 24 }
"""


@pytest.fixture
def instrument(write_specification):
    def make(*changes, text=NO_OIL):
        for old, new in changes:
            assert old in text
            text = text.replace(old, new, 1)
        return read_instrument(write_specification(text, "instrument.toml"))

    return make


@pytest.fixture
def check(write_specification, specification_text):
    def run(batch, instrument=None, text=specification_text):
        return check_batch(batch, replace(read_specification(write_specification(text)), instrument=instrument))

    return run


@pytest.fixture
def plates_batch(make_batch, make_loop_run):
    """Make loads whose stress is a given function of the rate."""

    def make(stress, *, torque=None, **changes):
        runs = []
        for load in (1, 2):
            run = make_loop_run(load, 380.0, geometry="parallel plates", metadata={"Plate radius": "25 mm", "Gap": "1 mm"}, **changes)
            steps = []
            for step in run.steps:
                columns = dict(step.columns)
                if step.kind in {"up", "down"}:
                    columns["shear_stress"] = stress(step.shear_rate) * (1.2 + 0.001 * load if step.kind == "up" else 1.0)
                if torque is not None:
                    columns["torque"] = torque(columns["shear_stress"])
                steps.append(replace(step, columns=columns))
            runs.append(replace(run, steps=tuple(steps)))
        return make_batch(runs=tuple(runs))

    return make


def parts_of(checked, number=0):
    return checked.decisions[number].estimate.components


# --- geometry ---------------------------------------------------------------------------------------------------------------------


def test_the_cone_by_hand(check, make_batch, instrument):
    # Radius 0.01/12.5 mm = 0.08 %, to the power 3: 0.24 %. Angle 0.005/2 ° = 0.25 %, to the flow index 0.5 of these legs: 0.125 %.
    # Together 0.2706 % of 3.8 Pa·s. Beside it the loads, 2 % of 3.8 over √2.
    checked = check(make_batch((3.75, 3.85)), instrument())
    estimate = checked.decisions[0].estimate
    assert estimate.components["geometry"] == pytest.approx(0.0027060 * 3.8, rel=1e-4)
    assert estimate.standard_error == pytest.approx(math.hypot(0.02 * 3.8 / 2**0.5, 0.0027060 * 3.8), rel=1e-6)
    assert "geometry: 0.27 % from the dimensions at the local flow index 0.50" in estimate.method
    document = checked.record.document
    assert document["requirements"][0]["stated_uncertainty"]["geometry"]["shown"] == "0.2706 % (instrument.toml)"
    assert document["specification"]["instrument"]["file"] == "instrument.toml"


def test_one_percent_of_plate_radius(check, plates_batch, instrument, specification_text):
    """3 % of a yield stress, (3 + n) % of the viscosity at a stated rate, 2 % of a loop area, nothing of a ratio in a power law."""
    text = specification_text.replace("cone-plate", "parallel plates") + ALL_OF_IT
    power_law = check(plates_batch(lambda rate: 380.0 * (rate / 100.0) ** 0.5), instrument((CONE, PLATES)), text)
    found = [decision.estimate.components["geometry"] / decision.estimate.value for decision in power_law.decisions[:2]]
    # The gap is known to 1e-6 here. A power law's slope is found to rounding.
    assert found == pytest.approx([0.035, 0.02], rel=1e-6)
    assert "geometry" not in parts_of(power_law, 3)
    assert "geometry: cancels in a ratio of one run, nothing of it is left" in power_law.decisions[3].estimate.method
    bingham = check(plates_batch(lambda rate: 4.0 / 3.0 * 200.0 + 1.8 * rate), instrument((CONE, PLATES)), text)
    yielding = bingham.decisions[2].estimate
    assert yielding.components["geometry"] / yielding.value == pytest.approx(0.03, rel=1e-6)
    # The true flow index is 1.8 · 100/380 = 0.474 at 100 1/s and 18/218 = 0.083 at 10 1/s: of 1 % in the rate 0.391 % is left in the ratio.
    # The slope is that of a stress that was itself corrected by slopes, so it is good to 0.01 of a flow index.
    ratio = bingham.decisions[3].estimate
    assert ratio.components["geometry"] / ratio.value == pytest.approx(0.00391, abs=1.5e-4)


def test_a_part_that_the_requirement_states_is_not_added_again(check, make_batch, instrument, specification_text):
    for stated, counts in ((0.02, 0.02), (0.001, 0.0027060)):
        text = specification_text + f"geometry = {{ relative = {stated} }}\n"
        found = check(make_batch((3.8, 3.8)), instrument(), text)
        assert parts_of(found)["geometry"] == pytest.approx(counts * 3.8, rel=1e-4)


def test_without_an_instrument_file_nothing_changes(check, make_batch):
    assert set(parts_of(check(make_batch((3.75, 3.85))))) == {"load"}


def test_every_characteristic_says_how_it_scales():
    for name, entry in CHARACTERISTICS.items():
        assert entry.scales in SCALINGS
        assert (entry.scales == "nothing") == (entry.needs == "entered"), name


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(viscosity=st.floats(3.3, 4.3), one=st.floats(0.001, 0.3), more=st.floats(1.0, 10.0))
def test_more_uncertainty_of_a_dimension_never_turns_a_hold_into_a_release(check, make_batch, instrument, viscosity, one, more):
    def disposition(error):
        return check(make_batch((viscosity, viscosity)), instrument(("0.01 mm", f"{min(error, 1.2):.6f} mm"))).disposition

    order = {"release": 0, "hold": 1, "reject": 1}
    assert order[disposition(one)] <= order[disposition(one * more)]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(viscosity=st.floats(3.3, 4.3), off=st.floats(-0.19, 0.19), one=st.floats(0.1, 10.0), more=st.floats(1.0, 10.0))
def test_a_worse_known_coefficient_never_turns_a_hold_into_a_release(check, make_batch, specification_text, viscosity, off, one, more):
    def disposition(error):
        text = specification_text + f'temperature_coefficient = "-7 %/K ± {error:.6f}"\n'
        return check(make_batch((viscosity, viscosity), temperature=296.15 + off), text=text).disposition

    order = {"release": 0, "hold": 1, "reject": 1}
    assert order[disposition(one)] <= order[disposition(one * more)]


@pytest.mark.parametrize(
    ("floor", "outcome", "words"), [("0.2 µN·m", "release", ""), ("200 µN·m", "release", "7.8 times"), ("700 µN·m", "hold", "2.2 times")]
)
def test_the_torque_floor_by_hand(check, make_batch, instrument, floor, outcome, words):
    # 380 Pa on a cone of 12.5 mm: 380 · 2 π · 0.0125³/3 = 1.5544e-3 N·m; 7.77 times 200 µN·m and 2.22 times 700 µN·m.
    checked = check(make_batch((3.8, 3.8)), instrument(("0.2 µN·m", floor)))
    found = [finding for finding in checked.findings if finding.check == "torque_of_number"]
    assert checked.disposition == outcome
    assert bool(found) == bool(words)
    assert all(words in str(finding) for finding in found)


# --- parallel plates --------------------------------------------------------------------------------------------------------------


def apparent(rate):
    """Apparent stress at the rim of a Bingham body of 200 Pa and 1.8 Pa·s: 4/3 of the yield stress and all of the viscous part."""
    return 4.0 / 3.0 * 200.0 + 1.8 * rate


def torque(stress):
    return stress * np.pi * 0.025**3 / 2.0


def plates_text(specification_text, correction=None):
    text = specification_text.replace("cone-plate", "parallel plates")
    return text if correction is None else text.replace("loads = 2", f'loads = 2\ncorrection = "{correction}"')


def correction_of(checked):
    return next(finding for finding in checked.findings if finding.check == "rim_correction")


@pytest.mark.parametrize("correction", [None, "local"])
def test_a_viscosity_between_plates_is_corrected(check, plates_batch, specification_text, correction):
    checked = check(plates_batch(apparent, torque=torque), text=plates_text(specification_text, correction))
    # True at 100 1/s: 200 + 180 = 380 Pa, so 3.8 Pa·s; apparent 446.7 Pa, 4.467 Pa·s: above the upper limit. Smoothing costs 0.15 %.
    assert checked.decisions[0].estimate.value == pytest.approx(3.8, rel=2e-3)
    assert checked.disposition == "release"
    finding = correction_of(checked)
    assert finding.severity == "info"
    assert re.search(
        r"corrected by the local slope: the stress was changed by -2\d\.\d to -1\d\.\d %; before, it was the apparent", str(finding)
    )


def test_an_export_without_torque_is_corrected_with_a_caution(check, plates_batch, specification_text):
    finding = correction_of(check(plates_batch(apparent), text=plates_text(specification_text)))
    assert finding.severity == "caution"
    assert "the export's stress was taken for the apparent one at the rim: export the torque to show it, or write" in str(finding)


def test_a_stress_that_the_export_corrected_is_left_alone(check, plates_batch, specification_text):
    def true(rate):
        return 200.0 + 1.8 * rate

    batch = plates_batch(true, torque=lambda stress: torque(stress + 200.0 / 3.0))
    checked = check(batch, text=plates_text(specification_text))
    assert checked.decisions[0].estimate.value == pytest.approx(3.8, rel=1e-9)
    assert "the export corrects it, and it is taken as it stands" in str(correction_of(checked))


def test_none_is_a_caution_that_names_a_third(check, plates_batch, specification_text):
    checked = check(plates_batch(apparent), text=plates_text(specification_text, "none"))
    assert checked.decisions[0].estimate.value == pytest.approx(4.46667, rel=1e-3)
    assert correction_of(checked).severity == "caution"
    assert "up to 33 % too high; write correction = 'local' in the method" in str(correction_of(checked))


def test_the_global_slope_is_exact_for_a_power_law(check, plates_batch, specification_text):
    # n = 0.5: the true stress is 3.5/4 of the apparent one.
    checked = check(plates_batch(lambda rate: 380.0 * 4.0 / 3.5 * (rate / 100.0) ** 0.5), text=plates_text(specification_text, "global"))
    assert checked.decisions[0].estimate.value == pytest.approx(3.8, rel=1e-9)
    assert "changed by -12.5 %" in str(correction_of(checked))


def test_the_single_point_rule_by_hand(check, plates_batch, specification_text):
    text = plates_text(specification_text, "single point").replace('at = { shear_rate = "100 1/s" }', 'at = { shear_rate = "50 1/s" }')
    text = text.replace('lower = "3.4 Pa·s"', 'lower = "4.5 Pa·s"').replace('upper = "4.2 Pa·s"', 'upper = "7 Pa·s"')
    checked = check(plates_batch(lambda rate: 380.0 * 4.0 / 3.5 * (rate / 100.0) ** 0.5), text=text)
    # Apparent viscosity 43.429 rate^-0.5 at rate/0.7644 = 65.411 1/s: 5.3697 Pa·s; true 38 · 50^-0.5 = 5.3740. Its own uncertainty:
    # (1 - 0.5) of 0.00831/0.7644, that is 0.544 %.
    factor, error = single_point_factor()
    estimate = checked.decisions[0].estimate
    assert estimate.value == pytest.approx(43.4286 * (50.0 / factor) ** -0.5, rel=1e-4)
    assert estimate.components["geometry"] / estimate.value == pytest.approx(0.5 * error / factor, rel=1e-3)
    assert estimate.components["geometry"] / estimate.value == pytest.approx(0.00544, abs=1e-5)


def test_a_correction_that_is_none_of_ours_is_refused(write_specification, specification_text):
    with pytest.raises(SpecificationError, match=r"method, loop, correction: .*'local', 'global', 'single point' or 'none'"):
        read_specification(write_specification(plates_text(specification_text, "by eye")))


def test_plates_that_only_the_batch_file_names_are_corrected(check, tmp_path, specification_text):
    folder = tmp_path / "P-1"
    folder.mkdir()
    rates = 100.0 * np.arange(60, 0, -1) / 60.0
    lines = [
        f"1,{time:.1f},{rate * 0.001 / 0.025:.8g},{torque(apparent(rate)):.9g},23.0"
        for time, rate in zip(np.arange(2.0, 122.0, 2.0), rates, strict=True)
    ]
    header = "Step,Time [s],Angular velocity [rad/s],Torque [N·m],Temperature [°C]"
    listed = 'format = 1\n[batch]\nid = "P-1"\n[geometry]\nkind = "parallel plates"\nradius = "25 mm"\ngap = "1 mm"\n'
    (folder / "loop_load1.csv").write_text("\n".join(["Measured,2026-09-15T08:40:00Z", "", header, *lines]) + "\n", encoding="utf-8")
    run = '[[run]]\nfile = "loop_load1.csv"\ntest = "loop"\nload = 1\n'
    (folder / "batch.toml").write_text(listed + run, encoding="utf-8")
    text = (
        specification_text[: specification_text.index("[method.loop]")] + specification_text[specification_text.index("[[requirement]]") :]
    )
    checked = check(read_batch(folder), text=text)
    assert checked.decisions[0].estimate.value == pytest.approx(3.8, rel=2e-3)
    assert "before, it was the apparent one of the torque" in str(correction_of(checked))


def test_a_cone_is_not_corrected(check, make_batch):
    checked = check(make_batch((3.8, 3.8)))
    assert not [finding for finding in checked.findings if finding.check == "rim_correction"]


# --- temperature ------------------------------------------------------------------------------------------------------------------

COEFFICIENT = 'temperature_coefficient = "-7 %/K ± 1"\n'


def test_a_deviation_inside_the_tolerance_is_corrected(check, make_batch, specification_text):
    # 0.15 K too warm: the viscosity at 23 °C is exp(-0.07 · -0.15) = 1.010555 times the measured one. The coefficient's own 1 %/K over
    # 0.15 K is 0.15 % of it; without a thermometer's uncertainty that is all.
    checked = check(make_batch((3.8, 3.8), temperature=296.30), text=specification_text + COEFFICIENT)
    estimate = checked.decisions[0].estimate
    assert estimate.value == pytest.approx(3.8 * math.exp(0.0105), rel=1e-9)
    assert estimate.components["temperature"] == pytest.approx(0.0015 * estimate.value, rel=1e-6)
    assert "temperature: corrected by -7 ± 1 %/K over up to +0.15 K" in estimate.method
    assert "corrected by +1.06%" in checked.decisions[0].loads[0].estimate.method
    assert str(estimate.conditions["temperature"]) == "23.00 °C"


def test_without_a_coefficient_it_is_budgeted_by_a_labelled_default(check, make_batch, specification_text):
    # 7 %/K over 0.15 K: 1.05 % of 3.8 Pa·s. The value stays.
    estimate = check(make_batch((3.8, 3.8), temperature=296.30)).decisions[0].estimate
    assert estimate.value == pytest.approx(3.8, rel=1e-9)
    assert estimate.components["temperature"] == pytest.approx(0.0105 * 3.8, rel=1e-6)
    assert "budgeted with 7 %/K by default (50 kJ/mol near 20 °C, common practice, no source); not corrected" in estimate.method


def test_the_thermometer_counts_even_where_nothing_is_off(check, make_batch, instrument, specification_text):
    # 7 %/K times 0.05 K: 0.35 %.
    warm = instrument(text=STARTER.replace(OIL, ""))
    found = check(make_batch((3.8, 3.8)), warm, specification_text + COEFFICIENT)
    assert parts_of(found)["temperature"] == pytest.approx(0.0035 * 3.8, rel=1e-6)


def test_outside_the_tolerance_it_stays_a_deviation(check, make_batch, specification_text):
    checked = check(make_batch((3.8, 3.8), temperature=296.40), text=specification_text + COEFFICIENT)
    assert checked.decisions[0].outcome == "no measurement"
    assert "method: the temperature was 23.25 °C" in checked.decisions[0].reason
    assert checked.decisions[0].estimate.value == pytest.approx(3.8, rel=1e-9)


def test_what_lies_too_far_off_is_not_moved_but_measured_again(check, make_batch, specification_text):
    text = specification_text.replace("23.0 °C ± 0.2", "23.0 °C ± 10") + COEFFICIENT
    (decision,) = check(make_batch((3.8, 3.8), temperature=303.15), text=text).decisions
    assert decision.outcome == "no measurement"
    assert "was measured 7 K off its stated temperature; more than 5 K is not corrected: measure again" in decision.reason


def test_a_ratio_of_one_run_cancels_it(check, make_batch, specification_text):
    checked = check(make_batch((3.8, 3.8), temperature=296.30), text=specification_text + ALL_OF_IT)
    estimate = checked.decisions[3].estimate
    assert "temperature" not in estimate.components
    assert "temperature: cancels in a ratio of one run" in estimate.method


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('"-7 %/K"', r"'-7 %/K' has no uncertainty; write for example '-7 %/K ± 1'"),
        ('"-7 % ± 1"', r"'%' is not a unit of temperature coefficient"),
        ('"-700 %/K ± 1"', r"'-700 %/K ± 1' is steeper than 50 % for each kelvin"),
    ],
)
def test_a_coefficient_that_makes_no_sense_is_refused(write_specification, specification_text, text, message):
    with pytest.raises(SpecificationError, match=rf"line 24, requirement 1, temperature_coefficient: {message}"):
        read_specification(write_specification(specification_text + f"temperature_coefficient = {text}\n"))


def test_the_budget_stands_on_the_record_of_a_sample_batch():
    samples = Path(__file__).resolve().parents[2] / "sample_rheometer_runs"
    spec = replace(read_specification(samples / "specification.toml"), instrument=read_instrument(samples / "instrument.toml"))
    checked = check_batch(read_batch(samples / "B26-041"), spec)
    assert checked.disposition == "release"
    for line in checked.record.document["requirements"][:3]:
        assert set(line["estimate"]["components"]) == {"geometry", "load", "temperature"}
        squares = sum(size**2 for size in line["estimate"]["components"].values())
        assert line["estimate"]["standard_error"] ** 2 == pytest.approx(squares)
