"""What the scatter of points makes of an area, exact for single spikes."""

import numpy as np
import pytest

from rheokit.thixotropy.area_scatter import area_variances, degrees_of_freedom

RATE = np.arange(7.0)


@pytest.mark.parametrize("padding", [0, 3])
@pytest.mark.parametrize("place", [1, 3, 5])
def test_a_spike_counts_where_it_stands(place, padding):
    # Negative stresses have straight pieces. A spike d is d off the middle of its neighbours, and these are d/2 off; the variance of that
    # distance is 1.5 of a point's. A point counts with its width, 1, an end with half of it, by the scatter of the point beside it.
    stress = np.full(7, -10.0)
    stress[place] += 0.6
    expected = np.zeros(5)
    for point, off in ((place - 1, 0.3), (place, 0.6), (place + 1, 0.3)):
        if 0 < point < 6:
            expected[point - 1] = off**2 / 1.5 * (1.25 if point in {1, 5} else 1.0)
    rate, stress = (np.append(values, np.full(padding, np.nan)) for values in (RATE, stress))
    found = area_variances(rate, stress)
    assert found[:5] == pytest.approx(expected, rel=1e-12, abs=1e-30)
    assert (found[5:] == 0.0).all()


def test_a_power_law_has_no_scatter_and_a_spike_on_it_has():
    rate = np.array([1.0, 2.0, 4.0, 8.0, 16.0])
    assert area_variances(rate, 3.0 * rate**0.4) == pytest.approx(0.0, abs=1e-25)
    # Rates in ratio: the middle of the neighbours is their geometric mean, here 1 by 1, so that the variance is 1 + 2/4 of a point's.
    found = area_variances(rate, np.array([1.0, 1.0, 1.2, 1.0, 1.0]))
    assert found[1] == pytest.approx(0.2**2 / 1.5 * 3.0**2, rel=1e-12)


def test_degrees_of_freedom():
    # Of n alike parts 3 n over 1 + 2 (4/9 + 1/36); one that outweighs all others leaves 3/1.944, never less than 1.
    assert degrees_of_freedom(np.ones((2, 20))) == pytest.approx([60.0 / (35.0 / 18.0)] * 2, rel=1e-12)
    assert degrees_of_freedom(np.array([1.0, 0.0, 0.0])) == pytest.approx(3.0 / (35.0 / 18.0), rel=1e-12)
    assert degrees_of_freedom(np.zeros(3)) == 1.0
