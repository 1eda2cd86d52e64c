"""Rows that sum up points are no points: left out, kept as notes, and said."""

from __future__ import annotations

import numpy as np
import pytest

import rheokit as rk

HEAD = "t [s],γ̇ [1/s],τ [Pa]\n"
POINTS = "".join(f"{index},{10 * index},{20 * index + 3}\n" for index in range(1, 11))
ONE_STEP = "".join(f"1,{line}\n" for line in POINTS.splitlines())
NUMBERED = "".join(f"{index},{line}\n" for index, line in enumerate(POINTS.splitlines(), 1))

SUMMED = {
    "behind the points": (HEAD + POINTS + "Mean,55,113\n", {"Mean": "55,113"}),
    "behind an empty line": (HEAD + POINTS + "\nMean,55,113\n", {"Mean": "55,113"}),
    "two rows": (HEAD + POINTS + "Mean,55,113\nStd. Dev.,30.3,60.6\n", {"Mean": "55,113", "Std. Dev.": "30.3,60.6"}),
    "one number": (HEAD + POINTS + "Average,,113\n", {"Average": "113"}),
    "further words": (HEAD + POINTS + "Mean of 10 points,55,113\nMin (1),10,23\n", {"Mean of 10 points": "55,113", "Min (1)": "10,23"}),
    "under the point number": ("Point," + HEAD + NUMBERED + "Mean,,55,113\nStd,3,30.3,60.6\n", {"Mean": "55,113", "Std": "3,30.3,60.6"}),
    "under the step": ("Step," + HEAD + ONE_STEP + "Mean,5.5,55,113\n", {"Mean": "5.5,55,113"}),
    "a first cell without heading": ("," + HEAD + NUMBERED + "median,5.5,55,113\n", {"median": "5.5,55,113"}),
    "narrower than the header": ("Point," + HEAD + NUMBERED + "Mean,55,113\n", {"Mean": "55,113"}),
    "German": (
        HEAD.replace(",", ";") + POINTS.replace(",", ";") + "Mittelwert;55,5;113,2\nStandardabweichung;30,3;60,6\n",
        {"Mittelwert": "55,5;113,2", "Standardabweichung": "30,3;60,6"},
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", SUMMED)
def test_a_summary_is_left_out_and_said(write, case):
    content, notes = SUMMED[case]
    run = rk.read_run(write(content))
    (step,) = run.steps
    assert step.shear_rate.tolist() == [10.0 * index for index in range(1, 11)]
    assert step.shear_stress.tolist() == [20.0 * index + 3.0 for index in range(1, 11)]
    (finding,) = [finding for finding in run.findings if finding.check == "summary_rows"]
    line = content.splitlines().index(next(line for line in content.splitlines() if line.startswith(next(iter(notes))))) + 1
    assert finding.severity == "info"
    assert finding.rows == (line, line + len(notes) - 1)
    assert f"line{'s' if len(notes) > 1 else ''} {line}" in str(finding)
    assert "a summary of points and no point, left out and kept as a note" in str(finding)
    assert dict(run.metadata) == notes
    assert [str(one) for one in run.findings if one.severity != "info"] == []


def test_a_summary_of_every_step_makes_no_step(write):
    head, mean = "Step," + HEAD, "Mean,5.5,55,113\n"
    blocks = ["".join(f"{step},{line}\n" for line in POINTS.splitlines()) for step in (1, 2)]
    run = rk.read_run(write(head + blocks[0] + mean + blocks[1] + mean))
    assert [len(step) for step in run.steps] == [10, 10]
    (finding,) = [finding for finding in run.findings if finding.check == "summary_rows"]
    assert str(finding).startswith("2 rows ('Mean', the first in line 12): a summary")


def test_a_summary_behind_a_long_table_is_left_out(write):
    count = 40_000
    points = "".join(f"{index}.0,{1 + index / count:.6f},{20 + index / count:.6f}\n" for index in range(count))
    path = write(HEAD + points + "Mean,1.5,20.5\n")
    assert path.stat().st_size > 400_000
    run = rk.read_run(path)
    assert len(run.steps[0]) == count
    assert np.isfinite(run.steps[0].shear_stress).all()
    assert [finding.rows for finding in run.findings if finding.check == "summary_rows"] == [(count + 2, count + 2)]


@pytest.mark.parametrize("word", ["Max", "mean"])
def test_steps_and_remarks_may_bear_such_words(write, word):
    named = "".join(f"{word if index > 5 else 'Rest'},{line}\n" for index, line in enumerate(POINTS.splitlines(), 1))
    run = rk.read_run(write("Step," + HEAD + named))
    assert [len(step) for step in run.steps] == [5, 5]
    remarked = "".join(f"{word if index == 5 else 'ok'},{line}\n" for index, line in enumerate(POINTS.splitlines(), 1))
    run = rk.read_run(write("Status," + HEAD + remarked))
    assert len(run.steps[0]) == 10


def test_a_key_and_its_value_below_the_table_stay_a_note(write):
    run = rk.read_run(write(HEAD + POINTS + "\nCount,10\n"))
    assert len(run.steps[0]) == 10
    assert dict(run.metadata) == {"Count": "10"}
    assert [finding.check for finding in run.findings if finding.check == "summary_rows"] == []
