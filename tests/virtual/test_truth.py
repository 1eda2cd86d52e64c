from dataclasses import replace

import numpy as np
import pytest

from rheokit.virtual import herschel_bulkley, slate_grey_ink, true_values


def test_herschel_bulkley_gets_back_what_made_the_curve() -> None:
    rate = np.geomspace(0.1, 100.0, 16)
    found = herschel_bulkley(rate, 200.0 + 100.0 * rate**0.4)
    # The last of twelve grids has steps of 1.4/20/5^11 = 1.4e-9 in the index; what the others lose by it is a few times that.
    assert found == pytest.approx((200.0, 100.0, 0.4), rel=1e-6)


def test_true_values_agree_with_the_equilibrium_where_the_structure_is_settled() -> None:
    ink = slate_grey_ink()
    true = true_values(ink)
    # After 30 s at 100 1/s (time constant 1/(a + b rate^m) = 13 s) a tenth of the excess of structure is left,
    # and the whole excess was 0.06 of 170 Pa: 1 Pa in 380, 0.3 %.
    assert true.loop_viscosity_at_100 == pytest.approx(float(ink.equilibrium_stress(100.0)) / 100.0, rel=3e-3)
    # Steady steps lag behind: dwell 15 s at 10 1/s against a time constant of 24 s, so within 5 % and below.
    assert 0.95 < true.steady_viscosity_at_10 * 10.0 / float(ink.equilibrium_stress(10.0)) < 1.0
    assert true.shear_thinning_index > 1.0
    assert true.loop_area > 0.0


def test_a_warmer_ink_is_thinner() -> None:
    ink = slate_grey_ink()
    cool, warm = (true_values(ink, temperature=temperature) for temperature in (296.15, 298.15))
    # Between the yield stress (exp(-2/60), 3.3 % less) and the viscous part (50 kJ/mol, 12.7 % less).
    assert 0.87 < warm.loop_viscosity_at_100 / cool.loop_viscosity_at_100 < 0.967


def test_slower_build_up_recovers_less() -> None:
    ink = slate_grey_ink()
    slow = replace(ink, build_up_rate=ink.build_up_rate / 3.0, breakdown_rate=ink.breakdown_rate / 3.0)
    assert true_values(slow).recovery_at_60 < true_values(ink).recovery_at_60 < 1.0
