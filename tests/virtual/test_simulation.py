from dataclasses import replace

import numpy as np
import pytest

from rheokit.virtual import (
    ConePlate,
    Faults,
    Ink,
    Protocol,
    constant,
    evenly,
    loop_area,
    measure,
    ramp,
    recovery_fraction,
    recovery_protocol,
    simulate,
    slate_grey_ink,
    startup_protocol,
)

MOORE = Ink(
    broken_yield_stress=0.0,
    structure_yield_stress=0.0,
    broken_consistency=0.0,
    structure_consistency=2.0,
    flow_index=1.0,
    infinite_shear_viscosity=0.5,
    build_up_rate=0.1,
    breakdown_rate=0.02,
)


def test_structure_at_constant_rate_is_moores_exponential() -> None:
    protocol = Protocol(name="constant", segments=(constant(1, 20.0, 10.0, (1.0, 5.0, 10.0)),))
    history = simulate(MOORE, protocol, initial_structure=1.0)
    # L = Lss + (1 - Lss) exp(-(a + b rate) t), a 0.1, b 0.02, rate 20: exact mathematics, eight printed digits.
    assert history.structure == pytest.approx([0.68522453, 0.26566800, 0.20539036], abs=5e-9)
    # The stress follows from it: (0.5 + 2 L) * 20, so its tolerance is forty times that of L.
    assert history.stress == pytest.approx([37.4089812, 20.62672, 18.2156144], abs=2e-7)


def test_the_exponential_holds_across_segments() -> None:
    whole = simulate(MOORE, Protocol(name="one", segments=(constant(1, 20.0, 10.0, (10.0,)),)), initial_structure=1.0)
    halves = (constant(1, 20.0, 4.0, ()), constant(1, 20.0, 6.0, (6.0,)))
    parted = simulate(MOORE, Protocol(name="two", segments=halves), initial_structure=1.0)
    assert parted.structure == pytest.approx(whole.structure, rel=1e-8)  # ten times the integration's tolerance
    assert (parted.time[0], parted.step_time[0]) == (10.0, 10.0)


def test_a_triangular_loop_without_build_up_has_its_exact_area() -> None:
    # Stress D L rate, dL/dt = -b rate L, ramps of beta: area D (beta/b) (1 - exp(-X))^2 with X = b g_m^2/(2 beta) = 1.
    # By integration of L_up = exp(-b g^2/(2 beta)) and L_down = exp(-2X + b g^2/(2 beta)); exact mathematics.
    ink = replace(MOORE, infinite_shear_viscosity=0.0, build_up_rate=0.0, breakdown_rate=0.001)
    fine = 2000
    protocol = Protocol(
        name="triangle",
        segments=(
            ramp(1, (0.0, 100.0), 20.0, evenly(20.0, fine)),
            ramp(2, (100.0, 0.0), 20.0, evenly(20.0, fine, at="starts")),
        ),
    )
    history = simulate(ink, protocol, initial_structure=1.0)
    rate, stress = history.apparent_rate, history.stress
    area = float(np.sum(0.5 * (stress[1:] + stress[:-1]) * np.diff(rate)))
    # Trapezoids miss h^2/12 times the difference of the slopes: (0.05)^2/12 * 2 ends * 2 Pa·s, about 1e-3 Pa/s; the first
    # interval (0 to 0.05 1/s, where the legs differ by 2 * 0.05 * 0.86 Pa at most) misses up to 2.2e-3.
    assert area == pytest.approx(3995.7640089, abs=4e-3)


def test_the_loop_area_of_a_measurement_has_the_right_sign_and_size() -> None:
    ink = replace(MOORE, infinite_shear_viscosity=0.0, build_up_rate=0.0, breakdown_rate=0.001)
    segments = (ramp(1, (0.0, 100.0), 20.0, evenly(20.0, 500)), ramp(2, (100.0, 0.0), 20.0, evenly(20.0, 500, at="starts")))
    measured = measure(ink, Protocol(name="triangle", segments=segments), ConePlate(), Faults(), 0)
    # The run starts at a structure of 0.8, and the area is in proportion. Limits as above, sixteen times for four times the interval.
    assert loop_area(measured, up=1, down=2) == pytest.approx(0.8 * 3995.7640089, abs=0.07)


def test_a_rest_rebuilds_and_releases_the_stress() -> None:
    protocol = Protocol(name="rest", segments=(constant(1, 20.0, 100.0, (100.0,)), constant(2, 0.0, 10.0, (10.0,))))
    history = simulate(MOORE, protocol, initial_structure=1.0)
    # After 100 s the structure is 0.2 to exp(-50); then 1 - 0.8 exp(-0.1 * 10).
    assert history.structure == pytest.approx([0.2, 1.0 - 0.8 * np.exp(-1.0)], abs=1e-8)
    assert history.stress[1] == 0.0


def test_recovery_of_a_moore_ink_is_exact() -> None:
    measured = measure(MOORE, recovery_protocol(), ConePlate(), Faults(), 0)
    # a + b rate: 0.11 at 0.5 1/s, 2.1 at 100 1/s; the steps are long enough for exp(-13) and exp(-126).
    rest, sheared = 0.1 / 0.11, 0.1 / 2.1
    built = rest + (sheared - rest) * np.exp(-0.11 * 9.0)
    # The viscosity is linear in L, so the fraction is that of L; 120 s leave 0.11 * exp(-13.2) = 2e-7 of the start.
    assert recovery_fraction(measured, 9.0) == pytest.approx((built - sheared) / (rest - sheared), abs=1e-6)


def test_start_up_after_a_rest_passes_through_an_overshoot() -> None:
    ink = slate_grey_ink()
    measured = measure(ink, startup_protocol(rate=1.0), ConePlate(), Faults(), 0)
    stress = measured.shear_stress[measured.rows(3)]
    top = int(np.argmax(stress))
    assert 0 < top < stress.size // 4
    assert stress[top] > 1.02 * stress[-1]
    # With neither elasticity nor a rest there is nothing to overshoot.
    settled = Protocol(name="settled", segments=(constant(1, 1.0, 600.0, ()), constant(2, 1.0, 60.0, evenly(60.0, 20))))
    flat = measure(ink, settled, ConePlate(), Faults(), 0).shear_stress
    assert np.ptp(flat) < 1e-6 * flat[0]


def test_an_impossible_start_is_refused() -> None:
    with pytest.raises(ValueError, match=r"initial_structure is 1.5"):
        simulate(MOORE, recovery_protocol(), initial_structure=1.5)
