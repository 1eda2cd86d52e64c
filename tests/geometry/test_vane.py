"""The vane, against the book's example and the sum of the torques on side and ends."""

from math import pi

import numpy as np
import pytest
from reference_data import reference
from scipy.integrate import quad

import rheokit as rk


def test_the_example_of_the_book():
    known = reference("vane")
    vane = rk.Vane(diameter=known["diameter"], height=known["height"])
    assert vane.shear_stress(known["torque"]) == pytest.approx(known["yield_stress"], abs=0.005)  # the digits printed
    assert vane.shear_stress(np.array([0.0, known["torque"]]))[0] == 0.0


def test_the_torque_is_that_of_an_even_stress_over_side_and_both_ends():
    vane, stress = rk.Vane(diameter=0.02, height=0.03), 50.0
    side = stress * pi * 0.02 * 0.03 * 0.01
    end = quad(lambda radius: stress * 2.0 * pi * radius**2, 0.0, 0.01)[0]
    assert vane.shear_stress(side + 2.0 * end) == pytest.approx(stress, rel=1e-12)


@pytest.mark.parametrize(("change", "said"), [({"diameter": 0.0}, "vane diameter is 0 m"), ({"height": 5.0}, "vane height is 5 m")])
def test_a_vane_of_no_size_is_refused(change, said):
    with pytest.raises(rk.GeometryError, match=said):
        rk.Vane(**({"diameter": 0.02, "height": 0.03} | change))
