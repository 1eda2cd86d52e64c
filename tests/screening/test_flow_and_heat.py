"""Secondary flow, vortices, plates, heat and particles: numbers by hand on either side of the limits."""

import numpy as np
import pytest
from screening.made_runs import CONE, CYLINDERS, PLATES, found, step, with_preamble

from rheokit.screening import screen, unseen
from rheokit.screening.secondary_flow import SECONDARY_FLOW

ANGLE, RADIUS = 2.0 * np.pi / 180.0, 0.0125
RATES = np.linspace(10.0, 1000.0, 30)


def severities(run, check):
    return [one.severity for one in found(screen(run), check)]


@pytest.mark.parametrize(("excess", "expected"), [(0.0099, []), (0.0101, ["caution"]), (0.0499, ["caution"]), (0.0501, ["invalid"])])
def test_secondary_flow_under_a_cone(excess, expected):
    # A liquid of 10 mPa·s at 1000 1/s: Re = ρ (γ̇ α)(R α)²/η.
    reynolds = (excess / 6e-4) ** 0.5
    density = reynolds * 0.01 / (1000.0 * ANGLE * (RADIUS * ANGLE) ** 2)
    run = with_preamble({**CONE, "Density": f"{density!r} kg/m³"}, step(1, "steady", RATES, 0.01 * RATES))
    assert severities(run, "secondary_flow") == expected
    for finding in found(screen(run), "secondary_flow"):
        assert finding.value == pytest.approx(excess, rel=1e-9)
        assert f"at 1000 1/s the Reynolds number is {reynolds:.3g}" in str(finding).replace("4.10 ", "4.1 ")


def test_one_per_cent_is_at_a_reynolds_number_of_four():
    # From memory, trade rule: 1 + 6e-4 Re² is 1 % at Re 4 (exactly 0.96 %).
    assert SECONDARY_FLOW.limit == pytest.approx(6e-4 * 4.0**2, rel=0.05)


@pytest.mark.parametrize(("taylor", "expected"), [(1359.0, []), (1361.0, ["caution"]), (1699.0, ["caution"]), (1701.0, ["invalid"])])
def test_vortices_between_cylinders(taylor, expected):
    # Ω of 1000 1/s at δ = 1.1 is 1000/10.5238095 (reference: narrow cylinders, representative rate); gap 1 mm, inner radius 10 mm.
    speed = 1000.0 / (1.1**2 + 1.0) * (1.1**2 - 1.0)
    density = taylor**0.5 * 0.01 / (speed * (0.001**3 * 0.010) ** 0.5)
    run = with_preamble({**CYLINDERS, "Density": f"{density!r} kg/m³"}, step(1, "steady", RATES, 0.01 * RATES))
    assert severities(run, "taylor_vortices") == expected
    for finding in found(screen(run), "taylor_vortices"):
        assert "the Taylor number ρ² Ω² (Rₒ - Rᵢ)³ Rᵢ/η² is" in str(finding)


@pytest.mark.parametrize("check", ["secondary_flow", "taylor_vortices"])
def test_without_a_density_it_says_so(check):
    run = with_preamble(CONE if check == "secondary_flow" else CYLINDERS, step(1, "steady", RATES, 0.01 * RATES))
    assert str(found(unseen(run), check)[0]).endswith("the density is not known: write 'Density' into the preamble")


def plates(index, *, factor=1.0, torque=True):
    """Return a power-law curve at the rim whose stress is the apparent one times a factor."""
    stress = 50.0 * RATES**index
    columns = {"torque": stress / factor * np.pi * RADIUS**3 / 2.0} if torque else {}
    return with_preamble(PLATES, step(1, "down", RATES[::-1], stress[::-1], **{name: values[::-1] for name, values in columns.items()}))


@pytest.mark.parametrize(("index", "count"), [(0.925, 0), (0.918, 1), (0.0, 1)])
def test_plates_read_as_newtonian(index, count):
    # 4/(3 + n) - 1 is 2 % at n = 0.9216.
    given = found(screen(plates(index)), "uncorrected_plates")
    assert len(given) == count
    if count:
        assert given[0].value == pytest.approx(4.0 / (3.0 + index) - 1.0, rel=1e-9)
        assert given[0].severity == "caution"
        assert str(given[0]).endswith(f"slope of the curve in log-log is {index:.2f}; correct it with rim_flow")


def test_corrected_plates_are_right_and_without_a_torque_nobody_knows():
    assert found(screen(plates(0.0, factor=0.75)), "uncorrected_plates") == []
    assert str(found(unseen(plates(0.0, torque=False)), "uncorrected_plates")[0]).endswith("export the torque")


@pytest.mark.parametrize(("nahme", "expected"), [(0.0999, []), (0.1001, ["caution"]), (0.999, ["caution"]), (1.001, ["invalid"])])
def test_heat_at_the_highest_power(nahme, expected):
    # β τ γ̇ h²/k with β 0.07 1/K, k 0.15 W/(m·K), h the gap at the rim.
    stress = nahme * 0.15 / (0.07 * 1000.0 * (RADIUS * ANGLE) ** 2)
    run = with_preamble(CONE, step(1, "up", RATES, stress * RATES / 1000.0))
    assert severities(run, "viscous_heating") == expected
    for finding in found(screen(run), "viscous_heating"):
        assert f"about {nahme / 0.07 / 8.0:.2g} K warmer than the walls" in str(finding).replace("1.80 K", "1.8 K")


@pytest.mark.parametrize(
    ("particle", "expected"), [("99.9 µm", []), ("100.1 µm", ["caution"]), ("332 µm", ["caution"]), ("335 µm", ["invalid"])]
)
def test_the_gap_is_ten_times_the_largest_particle(particle, expected):
    run = with_preamble({**PLATES, "Largest particle": particle}, step(1, "down", RATES[::-1], 50.0 * np.ones(30)))
    assert severities(run, "particle_gap") == expected
    if expected == ["invalid"]:
        assert str(found(screen(run), "particle_gap")[0]) == (
            "the gap of 1.00 mm is 2.99 times the largest particle of 335 µm; particles jam: use a wider gap"
        )


def test_the_cut_tip_of_a_cone_is_not_known():
    run = with_preamble({**CONE, "Largest particle": "5 µm"}, step(1, "down", RATES[::-1], 50.0 * np.ones(30)))
    assert "under the cut tip of a cone" in str(found(unseen(run), "particle_gap")[0])
