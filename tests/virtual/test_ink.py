from dataclasses import replace
from math import exp, inf

import numpy as np
import pytest

from rheokit.virtual import Ink, slate_grey_ink


def test_stress_is_the_sum_of_its_terms() -> None:
    ink = slate_grey_ink()
    # By hand at 100 1/s and half structure: 60 + 70/2 + (20 + 10/2) * 10 + 0.63 * 100.
    assert float(ink.stress(100.0, 0.5)) == pytest.approx(408.0, rel=1e-14)


def test_equilibrium_makes_the_structure_stand_still() -> None:
    ink = slate_grey_ink()
    for rate in (0.01, 1.0, 100.0):
        built = float(ink.equilibrium_structure(rate))
        # The two terms are of the order of 0.05 1/s; they cancel to rounding.
        assert ink.structure_change(rate, built) == pytest.approx(0.0, abs=1e-16)


def test_the_demo_ink_is_what_the_scenario_promises() -> None:
    ink = slate_grey_ink()
    # "Near 3.8 Pa·s at 100 1/s, above 100 Pa·s at 1 1/s": the promise has two digits.
    assert float(ink.equilibrium_stress(100.0)) / 100.0 == pytest.approx(3.8, abs=0.05)
    assert float(ink.equilibrium_stress(1.0)) > 100.0
    # No shear banding: the equilibrium flow curve rises over all rates that the instrument reaches.
    assert np.all(np.diff(ink.equilibrium_stress(np.geomspace(1e-3, 1e3, 200))) > 0.0)


def test_temperature_acts_on_each_term_by_its_own_law() -> None:
    ink = replace(slate_grey_ink(), elastic_strain=0.0)
    warm = ink.at_temperature(306.15)
    # R in eight digits by hand, so that the constant of the module is checked too.
    viscous = exp(50e3 / 8.3144626 * (1.0 / 306.15 - 1.0 / 296.15))
    assert warm.broken_consistency / ink.broken_consistency == pytest.approx(viscous, rel=1e-7)
    assert warm.structure_consistency / ink.structure_consistency == pytest.approx(viscous, rel=1e-7)
    assert warm.infinite_shear_viscosity / ink.infinite_shear_viscosity == pytest.approx(viscous, rel=1e-7)
    assert warm.broken_yield_stress / ink.broken_yield_stress == pytest.approx(exp(-10.0 / 60.0), rel=1e-12)
    assert warm.structure_yield_stress / ink.structure_yield_stress == pytest.approx(exp(-10.0 / 60.0), rel=1e-12)
    assert (warm.build_up_rate, warm.breakdown_rate) == (ink.build_up_rate, ink.breakdown_rate)


def test_there_and_back_in_temperature_is_the_same_ink() -> None:
    ink = slate_grey_ink()
    back = ink.at_temperature(330.0).at_temperature(ink.reference_temperature)
    for name, value in vars(ink).items():
        assert getattr(back, name) == pytest.approx(value, rel=1e-13)  # two exponentials and their rounding


def test_elastic_start_takes_up_the_yield_stress_only() -> None:
    ink = Ink(
        broken_yield_stress=10.0,
        structure_yield_stress=0.0,
        broken_consistency=0.0,
        structure_consistency=0.0,
        flow_index=1.0,
        infinite_shear_viscosity=2.0,
        build_up_rate=1.0,
        breakdown_rate=1.0,
        elastic_strain=0.5,
    )
    assert float(ink.stress(3.0, 1.0, 0.0)) == pytest.approx(6.0, rel=1e-14)
    assert float(ink.stress(3.0, 1.0, 0.5)) == pytest.approx(6.0 + 10.0 * (1.0 - exp(-1.0)), rel=1e-14)
    assert float(ink.stress(3.0, 1.0, inf)) == pytest.approx(16.0, rel=1e-14)


@pytest.mark.parametrize(
    ("name", "value", "message"),
    [
        ("broken_yield_stress", -1.0, "broken_yield_stress is -1.0"),
        ("build_up_rate", float("nan"), "build_up_rate is nan"),
        ("structure_consistency", inf, "structure_consistency is inf"),
        ("flow_index", 0.0, "flow_index is 0"),
    ],
)
def test_an_impossible_ink_is_refused(name: str, value: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        replace(slate_grey_ink(), **{name: value})


def test_a_temperature_below_absolute_zero_is_refused() -> None:
    with pytest.raises(ValueError, match=r"temperature is -1.0 K"):
        slate_grey_ink().at_temperature(-1.0)
