"""The feasible window of the yield stress and the viscosity over seven decades."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from refill.inks import HERSCHEL_BULKLEY, INK, exact

from rheokit.refill.decades import viscosity_over_decades
from rheokit.refill.description import read_refill
from rheokit.refill.feeding import feeding
from rheokit.refill.gas import ambient_pressure
from rheokit.refill.holding import gauge_pressure, holding_index, worst_pressure
from rheokit.refill.window import yield_window


def plain_refill(tmp_path, demo_text, *more):
    """Return the demo refill without ranges: one slot h/L 1/200, a ball in the middle, no slip."""
    return exact(
        tmp_path, demo_text, ('gap = "0.05 to 0.2 µm"', 'gap = "0.2 µm"'), ('length = "30 to 80 µm"', 'length = "40 µm"'),
        ("[ball]", '[holding]\neccentricity = "0"\nslip_factor = "1"\n[ball]'), ('radius = "0.25 to 0.3 mm"', 'radius = "0.25 mm"'), *more,
    )  # fmt: skip


def at(window, celsius):
    return int(np.argmin(np.abs(window.temperature - 273.15 - celsius)))


def test_the_lower_limit_is_that_of_the_slot(tmp_path, demo_text):
    window = yield_window(plain_refill(tmp_path, demo_text), INK)
    # Common practice, no source: h/L 1/200 needs 613 Pa at 245 kPa.
    assert window.to_hold[:, at(window, 20.0)] == pytest.approx([612.5] * 3, rel=1e-9)
    # Common practice, no source: 417 kPa at 120 °C with 1.0 cm³ of gas and 7e-4 1/K.
    assert window.to_hold[1, -1] == pytest.approx(417e3 / 400.0, rel=2e-3)


def test_the_upper_limit_is_the_worst_of_the_way_to_empty(tmp_path, demo_text):
    refill = plain_refill(
        tmp_path, demo_text, ('length = "2 mm"', 'length = "0.001 mm"'), ('expansion = "7e-4 1/K"', 'expansion = "1e-9 1/K"')
    )
    window = yield_window(refill, INK)
    full = 245e3 * 2.59e-3 / (2.0 * 70e-3)
    # Common practice, no source: with 1.0 cm³ of gas the pressure for each length of column is least at 0.79 of the full one.
    assert window.to_feed[1, at(window, 20.0)] / full == pytest.approx(0.79, abs=0.005)


def test_the_window_says_the_same_as_the_index_and_the_feeding(tmp_path, demo_text):
    refill = plain_refill(tmp_path, demo_text)
    sure = replace(INK, yield_decay=(1.0 / 60.0, 0.0))
    window, index, fed = yield_window(refill, sure), holding_index(refill, sure), feeding(refill, sure)
    np.testing.assert_array_equal(window.temperature, index.temperature)
    np.testing.assert_allclose(window.ink[0] / window.to_hold[1], [answer.middle for answer in index.index], rtol=1e-12)
    assert (window.to_feed[1] / window.ink[1]).min() == pytest.approx(fed.middle.min(), rel=1e-9)


def test_the_window_draws_and_tabulates(demo_file):
    window = yield_window(read_refill(demo_file), INK)
    assert len(window.table().rows) == 5
    said = [text.get_text() for text in window.plot().texts]
    assert said == ["above: the gas does not feed", "below: not held", "this ink"]


def test_the_worst_pressure_is_above_every_draw(tmp_path, demo_text):
    ranges = (
        ('volume = "1.0 mL"', 'volume = "0.9 to 1.1 mL"'),
        ('temperature = "20 °C"', 'temperature = "18 to 25 °C"\nwater_activity = "0 to 0.4"'),
        ('expansion = "7e-4 1/K"', 'expansion = "6e-4 to 9e-4 1/K"'),
        ('hottest = "120 °C"', 'hottest = "120 °C"\naltitude = "0 to 4000 m"'),
    )
    refill = exact(tmp_path, demo_text, *ranges)
    drawn = gauge_pressure(refill.draws(seed=0), 393.15)
    assert drawn.max() < worst_pressure(refill) < 1.05 * drawn.max()
    # Altitude by hand: the whole difference in air pressure is gauge pressure more.
    low = exact(tmp_path, demo_text)
    high = exact(tmp_path, demo_text, ('hottest = "120 °C"', 'hottest = "120 °C"\naltitude = "2500 m"'))
    assert worst_pressure(high) - worst_pressure(low) == pytest.approx(101_325.0 - float(ambient_pressure(2500.0)), rel=1e-9)
    assert ambient_pressure(2500.0) == pytest.approx(74_683.0, rel=1e-3)  # ISO 2533 table, from memory


def test_seven_decades_by_every_law(demo_file):
    points = np.array([[0.1, 10.0, 500.0], HERSCHEL_BULKLEY.stress([0.1, 10.0, 500.0])])
    ink = replace(INK, points=points, law_errors={"casson": np.array([[1e-3, 1e6], [0.1, 0.1]])})
    found = viscosity_over_decades(read_refill(demo_file), ink)
    assert np.log10(found.shear_rate[-1] / found.shear_rate[0]) == pytest.approx(7.0, rel=1e-12)
    np.testing.assert_allclose(found.laws["herschel_bulkley"][0], HERSCHEL_BULKLEY.viscosity(found.shear_rate), rtol=1e-12)
    np.testing.assert_allclose(found.laws["casson"][2] / found.laws["casson"][0], np.exp(1.96 * 0.1), rtol=1e-12)
    np.testing.assert_allclose(found.points[1], points[1] / points[0], rtol=1e-15)
    # 0.075 m/s over 2 to 3 µm is 2.5e4 to 3.75e4 1/s; from 500 1/s that is 1.8 decades.
    assert 2.5e4 < found.ball_range[0] < found.ball_range[1] < 3.75e4
    assert found.decades_beyond == pytest.approx(1.8, abs=0.05)
    rows = found.table().rows
    assert [row[-1] for row in rows] == ["extrapolated", "", "", "", "", "extrapolated", "extrapolated", "extrapolated"]
    drawn = found.plot()
    assert {"herschel bulkley", "casson", "bench", "writing"} == {text.get_text() for text in drawn.texts}
    assert sum(line.get_linestyle() == "--" for line in drawn.lines) == 2  # every law beyond its points
