"""Many loops at once: the road of one loop, to rounding."""

import pickle

import numpy as np
import pytest

import rheokit as rk
from rheokit.thixotropy.loop import HysteresisLoop
from rheokit.thixotropy.many_loops import loop_areas

NUMBERS = (
    ("area", "area", "value"),
    ("standard_error", "area", "standard_error"),
    ("degrees_of_freedom", "area", "degrees_of_freedom"),
    ("relative_area", "relative_area", "value"),
    ("relative_standard_error", "relative_area", "standard_error"),
    ("relative_degrees_of_freedom", "relative_area", "degrees_of_freedom"),
)


def pairs(count, seed=0, points=(31, 40)):
    """Return legs of unlike numbers of points at rates of their own, from 0 or above it, with gaps, repeats and rates that run back."""
    generator = np.random.default_rng(seed)
    legs = []
    for size in points:
        rate = (np.arange(size) + generator.uniform(0.1, 0.9, (count, size))) * (100.0 / size)
        rate[:, 0] = np.where(generator.random(count) < 0.5, 0.0, 0.3)
        rate[:, -1] = 100.0 + generator.uniform(-0.4, 0.4, count)
        stress = (60.0 + 12.0 * rate**0.6) * (1.0 + 0.02 * generator.standard_normal(rate.shape))
        legs.append((rate, stress * (1.3 if not legs else 1.0)))
    (up, above), (down, below) = legs
    down, below = down[:, ::-1].copy(), below[:, ::-1].copy()
    up[0::5, 7] = up[0::5, 6]  # a rate twice
    down[1::5, 9] = down[1::5, 8] + 0.5  # a rate that runs back
    above[2::5, 11] = np.nan
    up[3::5, 20:25] = np.nan
    below[3::5, 3] = -5.0  # no power law there
    down[4::5, 5] = -0.2  # left out
    return up, above, down, below


def one_by_one(up, above, down, below):
    """Return the loop of one pair, or its refusal; times make both legs alike."""
    times = np.linspace(0.0, 100.0, up.size), np.linspace(100.0, 200.0, down.size)
    try:
        return rk.hysteresis_loop(rk.Leg(times[0], up, above), rk.Leg(times[1], down, below))
    except rk.RheokitError as error:
        return error


@pytest.mark.parametrize("points", [(31, 40), (60, 60), (28, 90)])
def test_every_number_is_that_of_the_loop_alone(points):
    legs = pairs(520, points=points)  # more than one chunk
    many = loop_areas(*legs)
    loops = [one_by_one(*(part[row] for part in legs)) for row in range(520)]
    fine = np.array([not isinstance(loop, Exception) for loop in loops])
    assert fine.mean() > 0.95
    assert ((many.reasons == "") == fine).all()
    for name, part, number in NUMBERS:
        wanted = np.array([getattr(getattr(loop, part), number) if isinstance(loop, HysteresisLoop) else np.nan for loop in loops])
        # Areas are differences of sums of a hundred terms about ten times as large; the others are sums of squares.
        assert getattr(many, name) == pytest.approx(wanted, rel=1e-11, nan_ok=True), name
    right = np.array([sum(seen.value for seen in loop.findings) if hasattr(loop, "findings") else -1 for loop in loops])
    assert many.put_right[fine].max() > 0
    # A row without a rate and a stress is missing and not put right.
    missing = np.array([np.isnan(legs[0][row]).sum() if np.isnan(legs[1][row]).all() else 0 for row in range(520)])
    assert (many.put_right[fine] == right[fine] - missing[fine]).all()


def test_refusals_are_those_of_the_loop_alone():
    rate = np.tile(np.linspace(1.0, 20.0, 20), (8, 1))
    up, above, down, below = rate.copy(), 5.0 + rate, rate[:, ::-1].copy(), (4.0 + rate)[:, ::-1].copy()
    up[1] = up[1, ::-1]
    up[2, 10:] = up[2, 5:15]
    up[3, 2:] = np.nan
    down[4] = np.repeat([20.0, 1.0], 10)
    down[5] += 3.0
    above[6] = -above[6]
    up[7] = np.nan
    many = loop_areas(up, above, down, below)
    assert many.reasons.tolist() == [
        "",
        "the up leg falls",
        "the up leg runs back",
        "the up leg has too few usable points",
        "the down leg has too few different rates",
        "the legs have unlike ranges of rates",
        "the area under the up leg is not positive",
        "the up leg has too few usable points",
    ]
    said = ("", "falls", "runs back", "usable points", "different rates", "unlike ramps", "is not positive", "usable points")
    for row, words in enumerate(said):
        alone = one_by_one(up[row], above[row], down[row], below[row])
        assert words in str(alone)
        assert isinstance(alone, Exception) is bool(words)
    for name, _, _ in NUMBERS:
        assert np.isnan(getattr(many, name)[1:]).all()
    assert many.area[0] == pytest.approx(19.0, rel=1e-3)  # 1 Pa over 19 1/s, but for the power laws between points


def test_rates_of_all_and_too_few_points_for_an_error():
    rate = np.linspace(1.0, 10.0, 4)
    stress = np.stack([3.0 * rate, 4.0 * rate])
    many = loop_areas(rate, stress, rate[::-1], 2.0 * np.stack([rate, rate])[:, ::-1])
    assert many.area == pytest.approx([49.5, 99.0], rel=1e-14)  # lines through the origin are power laws: 0.5 (100 - 1) of the slope
    assert many.relative_area == pytest.approx([1.0 / 3.0, 0.5], rel=1e-14)
    assert np.isnan(many.standard_error).all()
    assert len(loop_areas(rate, np.empty((0, 4)), rate[::-1], np.empty((0, 4)))) == 0


def test_shapes_that_do_not_belong_together():
    rate = np.linspace(1.0, 10.0, 4)
    with pytest.raises(rk.FitError, match=r"the up legs have rates of shape \(3,\) and stresses of shape \(2, 4\); give stresses of"):
        loop_areas(rate[:3], np.ones((2, 4)), rate[::-1], np.ones((2, 4)))
    with pytest.raises(rk.FitError, match="2 up legs do not pair with 3 down legs"):
        loop_areas(rate, np.ones((2, 4)), rate[::-1], np.ones((3, 4)))


def test_table_data_and_travel():
    up, above, down, below = pairs(10)
    up[0] = np.nan
    many = loop_areas(up, above, down, below)
    assert "1 without an area: the up leg has too few usable points" in str(many)
    assert many._repr_html_() == many.table()._repr_html_()
    assert list(many.data["reasons"]) == ["the up leg has too few usable points"] + [""] * 9
    back = pickle.loads(pickle.dumps(many))
    assert np.array_equal(back.area, many.area, equal_nan=True)
    assert not back.area.flags.writeable
