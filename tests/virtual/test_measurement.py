from dataclasses import fields, replace
from math import exp, pi, sqrt

import numpy as np
import pytest

from rheokit.virtual import ConePlate, Faults, Ink, Measurement, Protocol, constant, evenly, loop_protocol, measure, slate_grey_ink
from rheokit.virtual.instrument import load_factor, relative_noise, sensor_noise, torque_noise

CONE = ConePlate()
PERFECT = measure(slate_grey_ink(), loop_protocol(), CONE, Faults(), 1)
NEWTONIAN = Ink(
    broken_yield_stress=0.0,
    structure_yield_stress=0.0,
    broken_consistency=0.0,
    structure_consistency=0.0,
    flow_index=1.0,
    infinite_shear_viscosity=5.0,
    build_up_rate=1.0,
    breakdown_rate=0.0,
    activation_energy=50e3,
)
STRESS_COLUMNS = {"shear_stress", "viscosity", "torque"}


def loop_with(seed: int = 1, **faults: float) -> Measurement:
    return measure(slate_grey_ink(), loop_protocol(), CONE, Faults(**faults), seed)


def changed(measurement: Measurement) -> set[str]:
    names = [field.name for field in fields(Measurement)]
    return {name for name in names if not np.array_equal(getattr(measurement, name), getattr(PERFECT, name), equal_nan=True)}


def test_a_perfect_instrument_reports_the_ink() -> None:
    newtonian = measure(NEWTONIAN, loop_protocol(), CONE, Faults(), 0)
    sheared = newtonian.shear_rate > 0.0
    # Stress is 5 Pa·s times the rate; the torque there and back costs two roundings.
    assert newtonian.shear_stress == pytest.approx(5.0 * newtonian.shear_rate, rel=1e-14)
    assert newtonian.viscosity[sheared] == pytest.approx(5.0, rel=1e-14)
    assert np.all(np.isnan(newtonian.viscosity[~sheared]))
    assert np.all(newtonian.temperature == 296.15)


def test_the_geometry_ties_torque_to_stress_and_speed_to_rate() -> None:
    cone = ConePlate(radius=0.02, angle=0.03)
    measured = measure(NEWTONIAN, loop_protocol(), cone, Faults(), 0)
    # 2 pi R^3 / 3 with R 20 mm is 1.675516e-5 m^3, by hand.
    assert measured.torque == pytest.approx(1.6755161e-5 * measured.shear_stress, rel=1e-7)
    assert measured.angular_velocity == pytest.approx(0.03 * measured.shear_rate, rel=1e-14)
    assert 2.0 * pi / 180.0 == pytest.approx(CONE.angle)


def test_the_same_seed_gives_the_same_numbers_and_another_seed_does_not() -> None:
    noise = {
        "load_factor_sd": 0.02,
        "point_noise_sd": 0.006,
        "correlated_noise_sd": 0.004,
        "torque_floor": 2e-7,
        "temperature_scatter": 0.03,
    }
    first, again, other = (loop_with(seed, **noise) for seed in (5, 5, 6))
    for field in fields(Measurement):
        assert np.array_equal(getattr(first, field.name), getattr(again, field.name), equal_nan=True)
    assert not np.any(first.shear_stress == other.shear_stress)


@pytest.mark.parametrize(
    ("faults", "columns"),
    [
        ({}, set()),
        ({"load_factor_sd": 0.02}, STRESS_COLUMNS),
        ({"point_noise_sd": 0.01}, STRESS_COLUMNS),
        ({"correlated_noise_sd": 0.01}, STRESS_COLUMNS),
        ({"torque_floor": 1e-6}, STRESS_COLUMNS),
        ({"inertia": 1e-3}, STRESS_COLUMNS),
        ({"slip_coefficient": 1e-8}, STRESS_COLUMNS),
        ({"edge_fracture_time": 400.0}, STRESS_COLUMNS),
        ({"drying_rate": 1e-4}, STRESS_COLUMNS),
        ({"temperature_offset": 1.0}, STRESS_COLUMNS),
        ({"temperature_scatter": 0.05}, {"temperature"}),
    ],
)
def test_a_fault_changes_its_own_columns_only(faults: dict[str, float], columns: set[str]) -> None:
    assert changed(loop_with(**faults)) == columns


def test_switching_one_fault_leaves_the_draws_of_the_others() -> None:
    noisy = loop_with(point_noise_sd=0.006, torque_floor=0.0)
    noisy_and_scaled = loop_with(point_noise_sd=0.006, load_factor_sd=0.02)
    sheared = noisy.shear_rate > 0.0
    ratio = noisy_and_scaled.shear_stress[sheared] / noisy.shear_stress[sheared]
    assert ratio == pytest.approx(ratio[0], rel=1e-12)
    assert abs(ratio[0] - 1.0) > 1e-4


def test_each_kind_of_noise_has_draws_of_its_own() -> None:
    count = 40_000
    white = relative_noise(Faults(point_noise_sd=1.0), count, 3)
    remembering = relative_noise(Faults(correlated_noise_sd=1.0, correlated_noise_coefficient=0.0), count, 3)
    kinds = [white, remembering, torque_noise(Faults(torque_floor=1.0), count, 3), sensor_noise(Faults(temperature_scatter=1.0), count, 3)]
    # Independent series correlate with a standard error of 1/sqrt(N); five of them.
    assert np.max(np.abs(np.corrcoef(kinds) - np.eye(4))) < 5 / sqrt(count)
    assert load_factor(Faults(load_factor_sd=1.0), 3) - 1.0 not in [kind[0] for kind in kinds]


def test_a_load_has_one_factor() -> None:
    sheared = PERFECT.shear_rate > 0.0
    ratio = loop_with(load_factor_sd=0.02).shear_stress[sheared] / PERFECT.shear_stress[sheared]
    assert ratio == pytest.approx(load_factor(Faults(load_factor_sd=0.02), 1), rel=1e-12)


def test_load_factors_scatter_as_stated() -> None:
    count = 4000
    factors = np.array([load_factor(Faults(load_factor_sd=0.02), seed) for seed in range(count)])
    # Standard errors: of the mean sd/sqrt(N), of the sd sd/sqrt(2 N). Five of them: one in two million by chance.
    assert factors.mean() == pytest.approx(1.0, abs=5 * 0.02 / sqrt(count))
    assert factors.std(ddof=1) == pytest.approx(0.02, abs=5 * 0.02 / sqrt(2 * count))


def test_point_noise_is_white_and_as_large_as_stated() -> None:
    count = 40_000
    noise = relative_noise(Faults(point_noise_sd=0.01), count, 3)
    # Five standard errors each, as above; the correlation of neighbours has 1/sqrt(N).
    assert noise.std(ddof=1) == pytest.approx(0.01, abs=5 * 0.01 / sqrt(2 * count))
    assert np.corrcoef(noise[1:], noise[:-1])[0, 1] == pytest.approx(0.0, abs=5 / sqrt(count))


def test_correlated_noise_remembers_and_is_as_large_as_stated() -> None:
    count, kept = 40_000, 0.8
    noise = relative_noise(Faults(correlated_noise_sd=0.01, correlated_noise_coefficient=kept), count, 3)
    # The variance of a first-order autoregression is known as well as from N (1 - k^2)/(1 + k^2) independent points;
    # the correlation of neighbours has the standard error sqrt((1 - k^2)/N) (Bartlett, J. R. Stat. Soc. Suppl. 8 (1946) 27, from memory).
    independent = count * (1 - kept**2) / (1 + kept**2)
    assert noise.std(ddof=1) == pytest.approx(0.01, abs=5 * 0.01 / sqrt(2 * independent))
    assert np.corrcoef(noise[1:], noise[:-1])[0, 1] == pytest.approx(kept, abs=5 * sqrt((1 - kept**2) / count))


def test_correlated_noise_is_stationary_from_the_first_point() -> None:
    count = 4000
    first = np.array([relative_noise(Faults(correlated_noise_sd=0.01), 1, seed)[0] for seed in range(count)])
    assert first.std(ddof=1) == pytest.approx(0.01, abs=5 * 0.01 / sqrt(2 * count))


def test_the_torque_floor_is_absolute() -> None:
    count = 40_000
    assert torque_noise(Faults(torque_floor=2e-7), count, 3).std(ddof=1) == pytest.approx(2e-7, abs=5 * 2e-7 / sqrt(2 * count))
    measured = loop_with(torque_floor=2e-7)
    resting = measured.rows(2)
    assert np.all(measured.torque[resting] != 0.0)
    # Six standard deviations for the 200 points of a run.
    assert np.max(np.abs(measured.torque - PERFECT.torque)) < 6 * 2e-7


def test_inertia_is_booked_during_ramps_only() -> None:
    measured = loop_with(inertia=1e-3)
    extra = measured.torque - PERFECT.torque
    # I times cone angle times 100 1/s in 120 s; the difference of torques of 1e-3 N·m keeps ten digits of it.
    expected = 1e-3 * (2.0 * pi / 180.0) * 100.0 / 120.0
    assert extra[measured.rows(3)] == pytest.approx(expected, rel=1e-9)
    assert extra[measured.rows(5)] == pytest.approx(-expected, rel=1e-9)
    for step in (1, 2, 4, 6):
        assert np.all(extra[measured.rows(step)] == 0.0)


def test_slip_takes_its_part_of_the_apparent_rate() -> None:
    coefficient = 2e-6
    measured = measure(NEWTONIAN, loop_protocol(), CONE, Faults(slip_coefficient=coefficient), 0)
    # apparent = stress/5 + 2 * coefficient * stress / h with h = 2/3 R alpha.
    gap = 2.0 / 3.0 * 0.0125 * 2.0 * pi / 180.0
    expected = measured.shear_rate / (1.0 / 5.0 + 2.0 * coefficient / gap)
    assert measured.shear_stress == pytest.approx(expected, rel=1e-12)


def test_below_the_yield_stress_the_ink_slips_as_a_plug() -> None:
    ink = replace(NEWTONIAN, broken_yield_stress=1000.0)
    coefficient = 2e-6
    protocol = Protocol(name="slow", segments=(constant(1, 1.0, 10.0, (10.0,)),))
    measured = measure(ink, protocol, CONE, Faults(slip_coefficient=coefficient), 0)
    gap = 2.0 / 3.0 * 0.0125 * 2.0 * pi / 180.0
    # All of the apparent rate is slip: stress = rate h / (2 coefficient), 73 Pa, far below 1000 Pa.
    assert measured.shear_stress[0] == pytest.approx(1.0 * gap / (2.0 * coefficient), rel=1e-12)


def test_edge_fracture_persists() -> None:
    measured = loop_with(edge_fracture_time=400.0, edge_fracture_radius_loss=0.1, edge_fracture_spread=20.0)
    sheared = PERFECT.shear_rate > 0.0
    ratio, time = measured.shear_stress[sheared] / PERFECT.shear_stress[sheared], measured.time[sheared]
    assert ratio[time <= 400.0] == pytest.approx(1.0, rel=1e-13)
    assert ratio[time >= 420.0] == pytest.approx(0.9**3, rel=1e-13)
    between = ratio[(time > 400.0) & (time < 420.0)]
    assert np.all(np.diff(between) < 0.0)


def test_drying_raises_the_stress_in_proportion_to_time() -> None:
    sheared = PERFECT.shear_rate > 0.0
    ratio = loop_with(drying_rate=1e-4).shear_stress[sheared] / PERFECT.shear_stress[sheared]
    assert ratio == pytest.approx(1.0 + 1e-4 * PERFECT.time[sheared], rel=1e-13)


def test_a_temperature_offset_is_felt_and_not_shown() -> None:
    warm = measure(NEWTONIAN, loop_protocol(), CONE, Faults(temperature_offset=2.0), 0)
    # NEWTONIAN holds at 296.15 K; R to eight digits.
    expected = 5.0 * exp(50e3 / 8.3144626 * (1.0 / 298.15 - 1.0 / 296.15))
    assert warm.viscosity[warm.rows(1)] == pytest.approx(expected, rel=1e-7)
    assert np.all(warm.temperature == 296.15)


def test_the_set_temperature_is_felt_and_shown() -> None:
    warm = measure(NEWTONIAN, loop_protocol(), CONE, Faults(), 0, set_temperature=298.15)
    offset = measure(NEWTONIAN, loop_protocol(), CONE, Faults(temperature_offset=2.0), 0)
    assert warm.shear_stress == pytest.approx(offset.shear_stress, rel=1e-12)
    assert np.all(warm.temperature == 298.15)


def test_a_measurement_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        PERFECT.shear_stress[0] = 0.0


def test_asking_for_a_step_that_is_not_there_lists_those_that_are() -> None:
    with pytest.raises(ValueError, match=r"step 7 is not in this run; it has \[1, 2, 3, 4, 5, 6\]"):
        PERFECT.rows(7)


@pytest.mark.parametrize(
    ("faults", "message"),
    [
        ({"point_noise_sd": -0.1}, "point_noise_sd is -0.1"),
        ({"torque_floor": float("nan")}, "torque_floor is nan"),
        ({"edge_fracture_radius_loss": 1.0}, "edge_fracture_radius_loss is 1.0"),
        ({"correlated_noise_coefficient": 1.0}, "correlated_noise_coefficient is 1.0"),
    ],
)
def test_an_impossible_fault_is_refused(faults: dict[str, float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Faults(**faults)


def test_an_impossible_cone_is_refused() -> None:
    with pytest.raises(ValueError, match=r"radius is 0.0 m"):
        ConePlate(radius=0.0)


def test_points_are_counted_over_the_whole_run() -> None:
    protocol = Protocol(name="two", segments=(constant(1, 1.0, 10.0, evenly(10.0, 2)), constant(2, 2.0, 4.0, evenly(4.0, 2))))
    measured = measure(NEWTONIAN, protocol, CONE, Faults(), 0)
    assert list(measured.step) == [1.0, 1.0, 2.0, 2.0]
    assert list(measured.time) == [5.0, 10.0, 12.0, 14.0]
    assert list(measured.step_time) == [5.0, 10.0, 2.0, 4.0]
