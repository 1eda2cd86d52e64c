"""The description of a refill: read with its units, ranges drawn evenly, contradictions refused with the field named."""

from __future__ import annotations

import numpy as np
import pytest

from rheokit.base.errors import ReadError, UnitError
from rheokit.refill.description import ASSUMED, read_refill
from rheokit.refill.extent import Extent, draw_extents, parse_extent


def test_a_description_is_read_in_si(demo_file):
    refill = read_refill(demo_file)
    assert refill["tube.radius"].lower == pytest.approx(2.59e-3, rel=1e-15)
    assert refill["gas.pressure"].lower == pytest.approx(245e3 + 101_325.0, rel=1e-15)  # absolute inside
    assert refill["use.hottest"].upper == pytest.approx(393.15, rel=1e-15)
    assert refill["writing.laydown"].lower == pytest.approx(57e-8, rel=1e-12)
    assert (refill.seal[0].dimensions["gap"].lower, refill.seal[0].dimensions["gap"].upper) == pytest.approx((5e-8, 2e-7), rel=1e-12)
    assert str(refill.seal[0]).startswith("slot (gap 0.05 to 0.2 µm, length 30 to 80 µm")
    assert "absolute" in str(refill)


def test_ranges_are_drawn_evenly_and_by_seed(demo_file):
    refill = read_refill(demo_file)
    draws = refill.draws(seed=7)
    gap = draws["seal.0.gap"]
    assert gap.size == 1024
    assert 5e-8 <= gap.min() < 5.1e-8
    assert 1.96e-7 < gap.max() <= 2e-7
    # Wider than a factor of two: even in the logarithm, so half of 1024 points of a net lie below the geometric middle 0.1 µm.
    assert (gap < 1e-7).sum() == pytest.approx(512, abs=2)
    assert np.unique(draws["tube.radius"]).size == 1
    np.testing.assert_array_equal(gap, refill.draws(seed=7)["seal.0.gap"])
    assert not np.array_equal(gap, refill.draws(seed=8)["seal.0.gap"])


def test_a_range_may_change_its_unit():
    found = parse_extent("30 µm to 0.08 mm", "length")
    assert (found.lower, found.upper) == pytest.approx((3e-5, 8e-5), rel=1e-12)
    assert parse_extent("1.0 mL ± 0.1", "volume").upper == pytest.approx(1.1e-6, rel=1e-12)
    with pytest.raises(UnitError, match=r"^'0\.2 to 0\.1 µm' begins above its end; write the smaller number first$"):
        parse_extent("0.2 to 0.1 µm", "gap")


def test_a_number_without_a_unit_may_be_a_range():
    found = parse_extent("0.5 to 1", "slip_factor")
    assert (found.lower, found.upper) == (0.5, 1.0)
    assert str(parse_extent("0 to 0.8", "eccentricity")) == "0 to 0.8"
    # 1e-4 to 1e-3: exponents and the word "to" side by side.
    assert parse_extent("1e-4 to 1e-3 1/K", "volume_expansion").upper == 1e-3


def test_what_is_not_stated_is_assumed_and_said(demo_file):
    refill = read_refill(demo_file)
    assert set(refill.assumed) == set(ASSUMED)
    assert refill["holding.eccentricity"].upper == 1.0
    assert (
        "slip factor 0.5 to 1: a smooth ball lets a gel slip before it yields, ASSUMED: the description does not state it"
        in refill.assumptions
    )
    assert "not stated, assumed: no vapour is counted beside the gas" in str(refill)


def test_what_is_stated_is_not_assumed(tmp_path, demo_text):
    path = tmp_path / "refill.toml"
    stated = demo_text.replace('hottest = "120 °C"', 'hottest = "120 °C"\naltitude = "0 to 2500 m"').replace(
        'temperature = "20 °C"', 'temperature = "20 °C"\nwater_activity = "0 to 0.3"'
    )
    path.write_text(stated + '\n[holding]\neccentricity = "0.2"\nslip_factor = "0.9 to 1"\n', encoding="utf-8")
    refill = read_refill(path)
    assert refill.assumed == refill.assumptions == ()
    assert np.unique(refill.draws(seed=0)["holding.eccentricity"]).tolist() == [0.2]
    assert refill["use.altitude"].upper == 2500.0


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ('eccentricity = "0 to 1.2"', r"holding\.eccentricity: it is 0 to 1\.2; it lies between 0 and 1$"),
        ('slip_factor = "0 to 1"', r"holding\.slip_factor: it is 0 to 1; it must be above zero$"),
        ('slip_factor = "0.9 mm"', r"holding\.slip_factor: 'mm' is not a unit of slip factor"),
        ('slipfactor = "1"', r"holding\.slipfactor: unknown key; did you mean 'slip_factor'\?$"),
    ],
)
def test_shares_that_cannot_be_are_refused(tmp_path, demo_text, line, message):
    path = tmp_path / "refill.toml"
    path.write_text(f"{demo_text}\n[holding]\n{line}\n", encoding="utf-8")
    with pytest.raises(ReadError, match=message):
        read_refill(path)


def test_narrow_ranges_are_drawn_evenly():
    drawn = draw_extents({"a": Extent(lower=1.0, upper=1.5, quantity="length")}, seed=1)["a"]
    assert drawn.mean() == pytest.approx(1.25, abs=1e-3)  # a net: the mean of 1024 even points is good to 1/1024


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            'ink_length = "70 mm"',
            'ink_length = "209 mm"',
            r"tube\.ink_volume: 1\.48 mL of ink, but a tube of radius 2\.59 mm holds 4",
        ),
        (
            'pressure = "245 kPa gauge"',
            'pressure = "245 kPa"',
            r"gas\.pressure: '245 kPa' does not say which pressure it is; write",
        ),
        ('pressure = "245 kPa gauge"', 'pressure = "-150 kPa gauge"', r"gas\.pressure: '-150 kPa gauge' is below zero absolute pressure"),
        ('gap = "2 to 3 µm"', 'gap = "0.8 mm"', r"writing\.gap: a gap of 0\.8 mm beside a ball of 0\.7 mm; a gap is a small part"),
        ('radius = "2.59 mm"', 'radius = "2.59 m"', r"tube\.radius: it is 2590 mm, which no refill has; look at the unit: m for mm\?"),
        (
            'volume = "1.0 mL"',
            'volume = "0.1 mL"',
            r"gas\.volume: at 120 °C the ink's expansion takes 103% of the gas volume",
        ),
        ('coldest = "-30 °C"', 'coldest = "130 °C"', r"use: the coldest use 130 °C is not below the hottest 120 °C"),
        ('speed = "0.075 m/s"', "", r"writing\.speed: it is missing; give the writing speed with its unit"),
        ('kind = "slot"', 'kind = "slit"', r"seal\[0\]\.kind: it is 'slit'; did you mean 'slot'\?"),
        ("[ball]", "[bal]", r"bal: unknown key; did you mean 'ball'\?"),
        ('width = "2.2 mm"', 'width = "2.2"', r"seal\[0\]\.width: no unit is given"),
        ('density = "1150 kg/m³"', 'density = "0 kg/m³"', r"ink\.density: it is 0 g/cm³; it must be above zero"),
    ],
)
def test_contradictions_are_refused_with_the_field_named(tmp_path, demo_text, old, new, message):
    assert old in demo_text
    path = tmp_path / "refill.toml"
    path.write_text(demo_text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ReadError, match=message):
        read_refill(path)


def test_a_refill_without_a_seal_is_refused(tmp_path, demo_text):
    path = tmp_path / "refill.toml"
    start, end = demo_text.index("[[seal]]"), demo_text.index("[[feed]]")
    path.write_text(demo_text[:start] + demo_text[end:], encoding="utf-8")
    with pytest.raises(ReadError, match=r"seal: no segment holds the ink; write at least one \[\[seal\]\] with its kind$"):
        read_refill(path)
