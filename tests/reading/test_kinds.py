"""The kinds of all steps of all protocols, over samplings and noises: right, or wrong with a caution, and never wrong without one."""

from __future__ import annotations

from collections import Counter

import pytest
from reading.protocols import NOISES, PROTOCOLS, SAMPLINGS, export

import rheokit as rk

# Least part of right kinds, two hundredths or more below what 60 other seeds gave. Of the 29 protocols two (slow logarithmic ramps, steady
# steps at even rates) give the same rows as another kind of step would, and so can only be told with a caution.
LEAST_RIGHT = {"as measured": 0.95, "12 rows a step": 0.91, "5 rows a step": 0.90, "3 rows a step": 0.78, "1 row a step": 0.5}
LEAST_RIGHT_ROUGH = {"as measured": 0.84, "12 rows a step": 0.83, "5 rows a step": 0.84, "3 rows a step": 0.70, "1 row a step": 0.4}
MOST_CAUTIONS = 0.25  # of the steps as measured with usual noise: what always doubts would never be wrong either


def outcomes(write, sampling, noise, seeds):
    """Count right and wrong kinds with and without a caution, and name the wrong ones without."""
    count, silent = Counter(), []
    for name, make in PROTOCOLS.items():
        case = make()
        for seed in seeds:
            run = rk.read_run(write(export(case, NOISES[noise], SAMPLINGS[sampling], seed)))
            assert len(run.steps) == len(case.kinds)
            for step, kind, controlled in zip(run.steps, case.kinds, case.controlled, strict=True):
                right = (step.kind, step.controlled) == (kind, controlled)
                doubted = any(finding.severity != "info" for finding in step.findings)
                count[right, doubted] += 1
                if not right and not doubted:
                    silent.append(
                        f"{name}, seed {seed}, step {step.number}: {kind} by {controlled} called {step.kind} by {step.controlled}"
                    )
    return count, silent


@pytest.mark.parametrize("noise", NOISES)
@pytest.mark.parametrize("sampling", SAMPLINGS)
def test_no_kind_is_wrong_without_a_caution(write, sampling, noise):
    count, silent = outcomes(write, sampling, noise, seeds=(100,))
    assert silent == []
    right = (count[True, False] + count[True, True]) / count.total()
    assert right >= (LEAST_RIGHT_ROUGH if noise == "rough" else LEAST_RIGHT)[sampling]
    if (sampling, noise) == ("as measured", "usual"):
        assert (count[True, True] + count[False, True]) / count.total() <= MOST_CAUTIONS


def test_without_the_cautions_kinds_would_be_wrong(write):
    # The negative control: the cautions are what covers the steps that cannot be told.
    count, _ = outcomes(write, "1 row a step", "none", seeds=(100,))
    assert count[False, True] > 0.2 * count.total()


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("steady at even rates", "would do for steady steps, but the rate changes evenly with time: called a ramp"),
        ("slow logarithmic ramps", "each as long: steady steps, or a slow ramp; called steady steps"),
        ("steady one by one", "one of a row of constant rates that rise or fall: steady steps, each exported as a step of its own"),
        ("steady of several rows", "80 rows stand at 16 rates: steady steps, of which only the last row of each rate is settled"),
        ("loop by stress", "the stress rises and falls: a loop controlled by stress"),
        ("creep and recovery", "the stress is gone after creep: creep recovery"),
        ("stress ramp below yield", "the stress is ramped while next to nothing moves: a stress ramp that stays below the yield stress"),
        ("temperature steps in one", "the temperature stands at 7 levels: temperature steps in one step"),
        ("recovery by large oscillation", "an oscillation of strain 1.00, 10 times its neighbour's or more: shear"),
    ],
)
def test_why_is_said(write, name, said):
    run = rk.read_run(write(export(PROTOCOLS[name](), NOISES["none"], None, 1)))
    assert any(said in str(finding) for step in run.steps for finding in step.findings)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (["1,100,400"], "the step has one point: whether it rests, holds or moves cannot be seen for sure"),
        (["1,100,400", "2,,410"], "the step has 1 points and cells that are missing"),
        (["1,10,400", "2,50,410", "3,100,420"], "the sweep has 3 points only; it may be another kind of step"),
        (
            ["1,-50,-40", "2,-20,-30", "3,20,30", "4,50,40"],
            "the direction of rotation changes inside the step, so the kind of step cannot be",
        ),
    ],
)
def test_few_points_are_doubted(write, rows, said):
    run = rk.read_run(write("\n".join(["t [s],γ̇ [1/s],τ [Pa]", *rows])))
    cautions = [str(finding) for finding in run.steps[0].findings if finding.severity == "caution"]
    assert any(said.replace("1 points and cells that are missing", "one point") in caution for caution in cautions)


def test_an_oscillation_without_strain_and_frequency_is_doubted(write):
    run = rk.read_run(write("t [s],G' [Pa],G'' [Pa]\n1,1000,100\n2,1000,100\n3,1000,100\n"))
    assert [str(finding) for finding in run.steps[0].findings if finding.severity == "caution"] == [
        "step 1: the strain of the oscillation was not exported; it is taken as held",
        "step 1: the frequency of the oscillation was not exported; it is taken as held",
    ]


def test_a_strain_that_goes_up_and_down_is_no_rest(write):
    strains = [0.1, 1, 10, 100, 10, 1, 0.1]
    rows = [f"{index},{strain},10,1000,100" for index, strain in enumerate(strains)]
    run = rk.read_run(write("\n".join(["t [s],γ [%],ω [rad/s],G' [Pa],G'' [Pa]", *rows])))
    assert run.steps[0].kind == "shear"
    assert "the strain of the oscillation neither holds nor is swept" in str(run.steps[0].findings[0])
