from dataclasses import replace

import numpy as np
import pytest

from rheokit.virtual import (
    TwoPopulations,
    loop_protocol,
    noisy,
    recovery_protocol,
    simulate,
    simulate_populations,
    slate_grey_ink,
    steady_protocol,
    stretched,
)

INK = replace(slate_grey_ink(), elastic_strain=0.0)


@pytest.mark.parametrize("protocol", [loop_protocol(), recovery_protocol(), steady_protocol()], ids=["loop", "recovery", "steady"])
def test_one_population_alone_is_the_ink_itself(protocol) -> None:
    alone = simulate_populations(TwoPopulations(first=INK, second=INK, share=1.0), protocol)
    whole = simulate(INK, protocol)
    for name in ("step", "time", "step_time", "apparent_rate", "rate_change"):
        assert getattr(alone, name) == pytest.approx(getattr(whole, name), rel=1e-12)
    # The midpoint rule over 1/24 of two seconds: worst where a ramp leaves zero, since there the root of the rate bends; 1e-5 is promised.
    assert alone.structure == pytest.approx(whole.structure, abs=1e-5)
    assert alone.stress == pytest.approx(whole.stress, rel=1e-5)


def test_stresses_add_by_share() -> None:
    slow = stretched(INK, pace=0.1)
    both = simulate_populations(TwoPopulations(first=INK, second=slow, share=0.3), loop_protocol())
    one, other = (simulate(ink, loop_protocol()) for ink in (INK, slow))
    assert both.stress == pytest.approx(0.3 * one.stress + 0.7 * other.stress, rel=1e-5)  # as above


def test_a_stretched_ink_does_the_same_later() -> None:
    assert stretched(INK, pace=2.0).equilibrium_structure(3.0) == pytest.approx(INK.equilibrium_structure(3.0), rel=1e-15)
    assert stretched(INK, pace=2.0).structure_change(3.0, 0.4) == pytest.approx(2.0 * INK.structure_change(3.0, 0.4), rel=1e-14)


def test_noise_has_the_size_asked_for_and_a_load_its_scale() -> None:
    history = simulate_populations(TwoPopulations(first=INK, second=INK, share=1.0), loop_protocol())
    flowing = history.stress > 0.0
    ratio = (noisy(history, np.random.default_rng(1), noise=0.01, factor=1.05)[flowing] / history.stress[flowing]) / 1.05 - 1.0
    assert ratio.std() == pytest.approx(0.01, rel=0.2)  # 169 draws: 5 % of it is one standard error
    assert ratio.mean() == pytest.approx(0.0, abs=0.003)  # four standard errors


def test_a_share_lies_between_none_and_all() -> None:
    with pytest.raises(ValueError, match=r"share is 1\.2; it must lie between 0 and 1"):
        TwoPopulations(first=INK, second=INK, share=1.2)
