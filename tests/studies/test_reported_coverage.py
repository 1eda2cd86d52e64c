"""Coverage of reported characteristics: short runs of the study, with the negative control and a temperature that is not budgeted."""

import numpy as np
import pytest

from rheokit.virtual import ConePlate, measure, recovery_protocol, slate_grey_ink
from studies.reported_coverage import ASKED, OFFSETS, SETTINGS, load_of, study, table, temperature_part

READ = ASKED[:2]
NOISE, WARM = SETTINGS[0], SETTINGS[3]
FOUND = study(300, 3, loads=300, costly_repeats=3, asked=READ, settings=(NOISE, WARM))
ALL = study(4, 3, loads=8, costly_repeats=2, settings=(NOISE,))


def rows(setting, way):
    return [one for one in FOUND if (one.setting, one.way) == (setting.name, way)]


@pytest.mark.parametrize(("setting", "way"), [(NOISE, "stated"), (WARM, "stated, with temperature")])
def test_what_is_stated_in_its_true_size_covers_as_it_says(setting, way):
    found = rows(setting, way)
    assert len(found) == 2
    assert [one for one in found if one.verdict != "as stated"] == []


def test_three_loads_alone_never_cover_less_where_they_see_all_that_scatters():
    assert [one for one in rows(NOISE, "estimated") if one.held < one.limits[0]] == []


def test_without_load_factors_the_stated_repeatability_covers_too_little():
    found = rows(NOISE, "control")
    assert [one.verdict for one in found] == ["less: the stated repeatability holds no load factors"] * 2
    assert max(one.held for one in found) < 0.9 * 300


def test_a_temperature_that_is_in_no_budget_is_said():
    viscosity, _ = rows(WARM, "stated")  # a stress near yield depends on temperature half as much
    assert viscosity.verdict == "less: the temperature is in no part of the budget"


def test_a_temperature_that_the_sensor_sees_is_corrected():
    found = {one.way: one for one in study(200, 5, loads=300, costly_repeats=1, asked=READ[:1], settings=(SETTINGS[4],))}
    assert found["corrected"].verdict == "as stated"
    assert found["by default"].held >= found["by default"].limits[0]
    assert found["by default"].half_width > found["corrected"].half_width
    assert found["stated"].verdict == "less: the temperature is in no part of the budget"


def test_every_characteristic_is_measured_on_every_batch():
    assert {one.asked.characteristic for one in ALL} == {one.characteristic for one in ASKED}
    assert all(one.repeats == (2 if one.asked.costly else 4) for one in ALL)
    # Four or two batches: a mean within four of its standard errors, of a scatter of at most 3 % between loads.
    assert all(abs(one.bias) < 4.0 * 0.03 / np.sqrt(3 * one.repeats) for one in ALL)
    assert table(ALL).count("\n") == 1 + len(ALL)


def test_the_temperature_part_is_what_the_true_ink_does():
    # 50 kJ/mol at 296.15 K are 6.9 % a kelvin for the viscous part, exp(-ΔT/60 K) 1.7 % for the yield stress; the sum lies between.
    viscosity = next(one for one in ASKED if one.characteristic == "viscosity_at_rate")
    per_kelvin = np.sqrt(3.0) * temperature_part(viscosity, 0.2).relative / 0.2
    assert 1.0 / 60.0 < per_kelvin < 50e3 / 8.314462618 / 296.15**2
    assert np.std(OFFSETS) == pytest.approx(1.0 / np.sqrt(3.0), rel=0.01)  # eight parts of an even distribution


def test_faults_put_on_afterwards_are_those_of_the_virtual_rheometer():
    run = load_of("recovery", NOISE, 5, 0.25)
    noisy = measure(slate_grey_ink(), recovery_protocol(), ConePlate(), NOISE.faults, 5, set_temperature=296.15 + 0.25)
    assert run.step("recovery").columns["viscosity"] == pytest.approx(
        noisy.viscosity[noisy.rows(3)], rel=1e-13
    )  # some roundings of products
