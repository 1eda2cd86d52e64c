"""Each check sees its fault and keeps silent without it."""

import numpy as np
import pytest

from rheokit.base.estimate import Source
from rheokit.base.finding import Finding
from rheokit.base.run import Run, Step
from rheokit.screening import CHECKS, screen


def step(number, kind, rates, stresses, **columns):
    rates = np.broadcast_to(np.asarray(rates, dtype=float), np.shape(stresses))
    held = {"time": np.arange(len(stresses), dtype=float), "shear_rate": rates, "shear_stress": np.asarray(stresses, dtype=float)}
    held["temperature"] = np.full(len(stresses), 296.15)
    return Step(number=number, kind=kind, controlled="rate", columns={**held, **columns}, rows=(10 * number, 10 * number + 9))


def run(*steps, findings=()):
    return Run(name="r.csv", steps=steps, metadata={}, findings=findings, source=Source(sha256="0" * 64, run="r.csv"))


RATES = np.linspace(1, 100, 40)
GOOD_DOWN = step(3, "down", RATES[::-1], 38 * RATES[::-1] ** 0.5)


def conditioning(number, level, rate=100.0):
    """Return a thixotropic fall to a level: the first points are high, the last third is level."""
    return step(number, "shear", rate, level * (1 + 0.3 * np.exp(-np.arange(30) / 4)))


def names(findings, severity=None):
    return [finding.check for finding in findings if severity in {None, finding.severity}]


def test_a_good_rested_gel_raises_nothing():
    overshoot = 38 * RATES**0.5 * (1 + 2.0 * np.exp(-RATES / 10))  # the up leg falls at first: structure, no fault
    good = run(conditioning(1, 380), step(2, "up", RATES, overshoot), GOOD_DOWN, conditioning(4, 381))
    assert screen(good) == ()


@pytest.mark.parametrize(("level", "word"), [(300.0, "sample was lost"), (440.0, "the sample dried")])
def test_a_lasting_change_at_the_repeated_point_is_invalid(level, word):
    (finding,) = screen(run(conditioning(1, 380.0), GOOD_DOWN, conditioning(4, level)))
    assert (finding.check, finding.severity, finding.rows) == ("reference_point", "invalid", (40, 49))
    assert finding.value == pytest.approx(level / 380.0 - 1.0, rel=1e-6)
    assert word in finding.reason
    assert "steps 1 and 4 shear at the same 100 1/s" in str(finding)


@pytest.mark.parametrize("level", [380.0 * 0.951, 380.0 * 1.049])
def test_a_change_inside_the_limit_is_not(level):
    assert names(screen(run(conditioning(1, 380.0), conditioning(4, level)))) == []


def test_only_the_settled_last_third_is_compared():
    # The first conditioning begins high, as a rested gel does; its last third is level.
    high = step(1, "shear", 100.0, np.r_[np.full(20, 900.0), np.full(10, 380.0)])
    assert names(screen(run(high, step(2, "shear", 100.0, np.full(30, 380.0))))) == []


def test_rates_two_per_cent_apart_are_the_same_and_five_are_not():
    near, far = (step(2, "shear", rate, np.full(30, 200.0)) for rate in (101.5, 105.0))
    first = step(1, "shear", 100.0, np.full(30, 380.0))
    assert names(screen(run(first, near))) == ["reference_point"]
    assert names(screen(run(first, far))) == []


def test_what_was_seen_in_a_step_is_passed_on_with_its_step():
    odd = Finding(check="step_kind", severity="caution", reason="less than a decade")
    told = Step(number=3, kind="down", controlled="rate", columns=dict(GOOD_DOWN.columns), findings=(odd,))
    assert [finding.source for finding in screen(run(told))] == ["r.csv, step 3"]


def test_steps_at_other_rates_are_not_compared():
    assert names(screen(run(conditioning(1, 380.0), conditioning(2, 10.0, rate=0.5)))) == []


@pytest.mark.parametrize(("lost", "severity"), [(1, "caution"), (8, "caution"), (9, "invalid")])
def test_stress_that_is_not_positive_is_counted(lost, severity):
    stresses = 38 * RATES**0.5
    stresses[:lost] = -0.1
    found = screen(run(step(1, "up", RATES, stresses)))
    assert names(found, severity) == ["stress_sign"]
    assert f"{lost} of 40 sheared points" in str(found[0])


@pytest.mark.parametrize(("missing", "severity"), [(1, "caution"), (9, "invalid")])
def test_missing_values_are_counted(missing, severity):
    stresses = 38 * RATES**0.5
    stresses[-missing:] = np.nan
    assert names(screen(run(step(1, "up", RATES, stresses))), severity) == ["missing_values"]


@pytest.mark.parametrize(("noise", "found"), [(0.01, []), (0.15, ["point_scatter"])])
def test_scatter_beyond_the_limit_is_a_caution(noise, found):
    stresses = 38 * RATES**0.5 * np.exp(noise * np.random.default_rng(1).standard_normal(40))
    assert names(screen(run(step(1, "down", RATES[::-1], stresses[::-1]))), "caution") == found


def test_temperature_that_moves_or_is_not_there():
    warm = step(1, "shear", 100.0, np.full(30, 380.0), temperature=np.linspace(296.0, 297.0, 30))
    (moved,) = screen(run(warm))
    assert (moved.check, moved.value) == ("temperature_known", pytest.approx(1.0))
    bare = Step(number=1, kind="shear", controlled="rate", columns={"shear_rate": np.full(3, 1.0), "shear_stress": np.full(3, 1.0)})
    assert "no temperature was recorded" in str(screen(run(bare))[0])


def test_what_reading_saw_is_passed_on():
    read = Finding(check="unit_mix_up", severity="invalid", reason="columns disagree")
    assert screen(run(GOOD_DOWN, findings=(read,)))[0].source == "r.csv"


def test_every_check_names_its_limit_and_where_it_comes_from():
    assert len({check.name for check in CHECKS}) == len(CHECKS)
    for check in CHECKS:
        assert check.limit > 0
        assert check.source.startswith(("common practice, no source", "our own setting"))
