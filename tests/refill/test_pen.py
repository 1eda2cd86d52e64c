"""Holding, feeding, writing and filling against common-practice figures and hand arithmetic."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from refill.inks import CASSON, HERSCHEL_BULKLEY, INK, estimate, exact

from rheokit.base.errors import RangeError
from rheokit.base.estimate import Interval
from rheokit.models import MODELS
from rheokit.refill.description import read_refill
from rheokit.refill.duct import Flowing
from rheokit.refill.extent import Extent
from rheokit.refill.feeding import feeding
from rheokit.refill.filling import FIRST_STROKE, filling, needle_pressure
from rheokit.refill.holding import creep_bound, creep_viscosity_needed, holding_index
from rheokit.refill.ink import bounds
from rheokit.refill.path import flow_pressure, pressure_per_stress
from rheokit.refill.writing import writing


@pytest.fixture
def refill(demo_file):
    return read_refill(demo_file)


def test_a_slot_of_one_in_two_hundred_needs_613_pascal(tmp_path, demo_text):
    # Common practice, no source: 245 kPa on a slot with h/L 1/200 needs 613 Pa. Exact: p h/(2 L).
    refill = exact(tmp_path, demo_text, ('gap = "0.05 to 0.2 µm"', 'gap = "0.2 µm"'), ('length = "30 to 80 µm"', 'length = "40 µm"'))
    held = pressure_per_stress(refill.seal, "seal", refill.draws(seed=0))
    assert np.unique(245e3 / held) == pytest.approx([612.5], rel=1e-12)


def test_the_column_starts_at_its_own_pressure(tmp_path, demo_text):
    # Exact: 2 yield L/R; 100 Pa, 70 mm, R 1.15 mm -> 12173.913 Pa. The feed of this refill is that column.
    refill = exact(tmp_path, demo_text, ('radius = "0.25 to 0.3 mm"', 'radius = "1.15 mm"'), ('length = "2 mm"', 'length = "70 mm"'))
    assert np.unique(100.0 * pressure_per_stress(refill.feed, "feed", refill.draws(seed=0))) == pytest.approx([12_173.913], abs=1e-3)
    thin = Flowing(MODELS["herschel_bulkley"], {"yield_stress": 100.0, "consistency": 1e-6, "flow_index": 1.0})
    slow = flow_pressure(refill.feed, "feed", refill.draws(seed=0), thin, 1e-15)
    assert np.unique(slow) == pytest.approx([12_173.913], rel=1e-6)  # next to nothing flows: next to nothing is added


def test_holding_falls_with_heat_and_counts_on_the_lower_end(refill):
    index = holding_index(refill, INK)
    # Student's t of 20 degrees of freedom at 95 %: 2.086 (tables).
    assert index.yield_stress == bounds(INK.dynamic_yield_stress)[0] == pytest.approx(200.0 - 2.086 * 5.0, abs=0.005)
    assert index.worst_ink_left == 1.0  # the gas is squeezed most by a full refill
    middles = [answer.middle for answer in index.index]
    assert all(np.diff(middles) < 0.0)
    kelvin, worst = index.worst
    assert kelvin == pytest.approx(393.15)
    assert worst.middle == middles[-1]
    # By hand at 120 °C, median draw: 417 kPa; the decay exp(-100/60) leaves 0.189 of 190 Pa = 35.9 Pa; Σ 2 L/h of the middle draw
    # 2 · 50 µm/0.1 µm = 1000, eccentricity about 1.5, slip about 0.75: 35.9 · 1000/1.5 · 0.75/417e3 = 0.043.
    assert worst.middle == pytest.approx(0.043, rel=0.1)
    low, high = worst.interval()
    assert low < worst.middle / 2.0 < 2.0 * worst.middle < high * 1.3
    assert "never alone a release requirement" in str(index)


def test_the_smaller_lower_end_holds():
    bracket = replace(estimate("creep_yield_stress", 150.0, 1.0), standard_error=None, degrees_of_freedom=None, components={},
                      interval=Interval(lower=120.0, upper=180.0, level=0.95), reason="a bracket")  # fmt: skip
    assert replace(INK, creep_yield_stress=bracket).holding_yield_stress.name == "creep_yield_stress"
    assert INK.holding_yield_stress.name == "dynamic_yield_stress"


def test_an_unseen_yield_stress_holds_nothing(refill):
    with pytest.raises(
        RangeError, match=r"^the lower end of dynamic_yield_stress is zero: the data do not show that the ink holds anything"
    ):
        holding_index(refill, replace(INK, dynamic_yield_stress=estimate("dynamic_yield_stress", 20.0, 15.0)))


def test_creep_of_a_year_is_bounded(tmp_path, demo_text):
    # Common practice, no source: 0.1 mg a year past a ball of 0.7 mm, slot 1 µm by 0.2 mm, needs some 8e4 Pa·s at 245 kPa.
    refill = exact(tmp_path, demo_text, ('gap = "0.05 to 0.2 µm"', 'gap = "1 µm"'), ('length = "30 to 80 µm"', 'length = "0.2 mm"'),
                   ('[ball]', '[holding]\neccentricity = "0"\n[ball]'))  # fmt: skip
    bound = creep_bound(refill, 8e4, temperature=293.15)
    assert bound.middle == pytest.approx(1e-7, rel=0.15)
    assert "a bound over 4 to 5 decades" in bound.method
    assert creep_viscosity_needed(refill, bound.middle, temperature=293.15).middle == pytest.approx(8e4, rel=1e-12)
    # A ball that touches leaks 2.5 times as much: 1 + 1.5 e² is the mean of (1 + e cos φ)³ round the ball.
    angle = np.linspace(0.0, 2.0 * pi, 1000, endpoint=False)
    touching = replace(refill, values={**refill.values, "holding.eccentricity": Extent(lower=1.0, upper=1.0, quantity="eccentricity")})
    factor = creep_bound(touching, 8e4, temperature=293.15).middle / bound.middle
    assert factor == pytest.approx(((1.0 + np.cos(angle)) ** 3).mean(), rel=1e-9) == pytest.approx(2.5, rel=1e-9)


def test_feeding_is_scanned_and_its_worst_place_found(refill):
    found = feeding(refill, INK)
    assert found.middle.shape == (10, 50)  # nine temperatures and that of the measurement
    assert found.yield_name == "static_yield_stress"
    low, _ = found.worst.interval()
    assert low == pytest.approx(found.lower.min(), rel=0.05)
    # By hand, full, 20 °C: 245 kPa over (2 · 70/2.59 + 2 · 2/0.275) · (320 + 2.086 · 20) Pa (upper end) = 9.9.
    near = np.argmin(np.abs(found.temperature - 293.15))
    assert found.pressure[0] / found.needed[0] == pytest.approx(245e3 / ((2 * 70 / 2.59 + 2 * 2 / 0.274) * 361.7), rel=0.01)
    assert found.middle[near, 0] > 5.0
    # Cold: yield stress e^(50/60) times as high, pressure lower.
    assert found.middle[0, 0] < found.middle[near, 0] < found.middle[-1, 0]


def test_the_upper_end_feeds_and_its_name_is_said(refill):
    found = feeding(refill, replace(INK, static_yield_stress=None))
    assert found.yield_stress == pytest.approx(3.0 * 210.43, abs=0.02)
    assert "by the upper end of dynamic yield stress, 631 Pa: no static yield stress was measured, so the largest first-stroke" in str(
        found
    )


def test_writing_is_told_by_every_law_and_labelled(refill):
    found = writing(refill, INK)
    assert set(found.viscosity) == {"herschel_bulkley", "casson"}
    # 0.075 m/s over 2 to 3 µm: 2.5e4 to 3.75e4 1/s, 1.8 decades beyond 500 1/s.
    assert found.rate.middle == pytest.approx(3.0e4, rel=0.02)
    assert found.decades == pytest.approx(1.78, abs=0.02)
    assert found.viscosity["casson"].middle > found.viscosity["herschel_bulkley"].middle
    # Common practice, no source: 1.7 g over 3 km; 57 mg/100 m is a film of 1.2 µm on a 0.4 mm line.
    assert found.film.middle == pytest.approx(1.24e-6, rel=0.01)
    assert found.distance.middle == pytest.approx(pi * 2.59e-3**2 * 0.07 * 1150.0 / 57e-8, rel=1e-9)
    assert found.distance.middle == pytest.approx(3.0e3, rel=0.01)
    assert "decades beyond the bench: an extrapolation" in str(found)


def test_one_law_alone_is_not_extrapolated(refill):
    with pytest.raises(RangeError, match=r"^the viscosity under the ball lies far beyond the bench: give two laws or more"):
        writing(refill, replace(INK, laws={"casson": CASSON}))


@pytest.mark.parametrize(("radius", "bar"), [(0.5e-3, 8.9), (0.75e-3, 3.8), (1.0e-3, 2.1)])
def test_the_needle_takes_so_many_bar(radius, bar):
    # Computed by an independent hand: dose 1.48 mL in 1 s through 40 mm, Herschel-Bulkley 200, 100, 0.40; two digits.
    pressure = needle_pressure(HERSCHEL_BULKLEY, dose=1.48e-6, time=1.0, radius=radius, length=0.04)
    assert pressure / 1e5 == pytest.approx(bar, abs=0.06)


@pytest.mark.parametrize(("plateau", "bar"), [(0.5, 21.0), (1.0, 33.0)])
def test_a_plateau_that_the_bench_hardly_sees_makes_it_two_or_four_times_as_much(plateau, bar):
    flowing = Flowing(MODELS["herschel_bulkley_plateau"], {**HERSCHEL_BULKLEY.values, "infinite_shear_viscosity": plateau})
    pressure = needle_pressure(flowing, dose=1.48e-6, time=1.0, radius=0.5e-3, length=0.04)
    assert pressure / 1e5 == pytest.approx(bar, abs=0.6)
    assert flowing.viscosity(100.0) / HERSCHEL_BULKLEY.viscosity(100.0) - 1.0 < 0.13  # 6 to 12 % at 100 1/s


def test_filling_prints_an_upper_bound_with_the_first_stroke(refill):
    found = filling(refill, INK, recovery_time=40_000.0)
    assert set(found.pressure) == {"herschel_bulkley", "herschel_bulkley + 0.5 Pa·s", "herschel_bulkley + 1 Pa·s", "casson"}
    # Upper end of the static over lower end of the dynamic: Student's t 2.086 times 20 and 5 Pa.
    assert found.first_stroke == pytest.approx(361.72 / 189.57, rel=1e-4)
    assert found.upper_bound == pytest.approx(max(a.draws.max() for a in found.pressure.values()) * found.first_stroke, rel=1e-12)
    assert found.rest == 200_000.0
    assert "size equipment by this, never by a middle" in str(found)
    assert filling(refill, replace(INK, static_yield_stress=None)).first_stroke == FIRST_STROKE[1]


def test_the_caution_about_injection_stands_where_it_is_needed(tmp_path, demo_text):
    thin = exact(tmp_path, demo_text, ('needle_radius = "0.75 mm"', 'needle_radius = "0.4 mm"'))
    assert "above 20 bar a jet injects through skin" in str(filling(thin, INK))
    wide = exact(tmp_path, demo_text, ('needle_radius = "0.75 mm"', 'needle_radius = "2 mm"'))
    assert "injects" not in str(filling(wide, INK))


def test_an_undetermined_or_odd_yield_stress_is_refused():
    bad = replace(INK.dynamic_yield_stress, determined=False, reason="too far below the points")
    with pytest.raises(RangeError, match=r"^dynamic_yield_stress is not determined \(too far below the points\); the pen cannot be judged"):
        replace(INK, dynamic_yield_stress=bad)


def test_figures_draw(refill):
    said = [text.get_text() for text in holding_index(refill, INK).plot().texts] + [t.get_text() for t in feeding(refill, INK).plot().texts]
    assert "below 1 the gas pushes ink past the ball" in said
    assert "gas pressure, gauge" in said
