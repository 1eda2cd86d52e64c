"""Step, Run and Batch: read-only, and a question with two answers is an error that lists them."""

from __future__ import annotations

from pathlib import PurePath

import numpy as np
import pytest

from rheokit.base.errors import StepError, UnitError
from rheokit.base.estimate import Source
from rheokit.base.finding import Finding
from rheokit.base.run import CONTROLS, STEP_KINDS, Batch, Run, RunPlace, Step

SOURCE = Source(sha256="a" * 64, run="loop_1")


def _step(number: int = 1, kind: str = "up", **changes: object) -> Step:
    columns = {"time": [0.0, 1.0, 2.0], "shear_rate": [1.0, 5.0, 10.0], "shear_stress": [2.0, 3.0, 4.0]}
    return Step(**({"number": number, "kind": kind, "controlled": "rate", "columns": columns} | changes))


def _run(*steps: Step, **changes: object) -> Run:
    return Run(**({"name": "loop_1", "steps": steps, "metadata": {"operator": "x"}, "findings": (), "source": SOURCE} | changes))


# --- Step ------------------------------------------------------------------------------------------------------------------------


def test_the_columns_are_read_only_copies():
    rate = np.array([1.0, 2.0])
    step = _step(columns={"shear_rate": rate})
    rate[0] = 99.0
    assert step.shear_rate.tolist() == [1.0, 2.0]
    with pytest.raises(ValueError, match="read-only"):
        step.shear_rate[0] = 0.0
    with pytest.raises(TypeError, match="does not support item assignment"):
        step.columns["shear_rate"] = rate


def test_the_usual_columns_have_names():
    step = _step()
    assert (step.time.tolist(), step.shear_rate.tolist(), step.shear_stress.tolist()) == ([0, 1, 2], [1, 5, 10], [2, 3, 4])
    assert len(step) == 3
    assert len(_step(columns={})) == 0


def test_a_missing_column_is_an_error_that_lists_the_others():
    with pytest.raises(StepError, match=r"step 1 \(up\) has no column 'torque'; it has time, shear_rate, shear_stress"):
        _step().column("torque")


@pytest.mark.parametrize("kind", STEP_KINDS)
@pytest.mark.parametrize("controlled", CONTROLS)
def test_every_kind_may_be_controlled_by_anything(kind, controlled):
    assert _step(kind=kind, controlled=controlled).kind == kind


@pytest.mark.parametrize(
    ("changes", "error", "message"),
    [
        ({"kind": "sideways"}, ValueError, "step 1: 'sideways' controlled by 'rate' is no kind of step"),
        ({"controlled": "luck"}, ValueError, "step 1: 'up' controlled by 'luck' is no kind of step"),
        ({"columns": {"speed": [1.0]}}, UnitError, "unknown quantity 'speed'"),
        ({"columns": {"time": [1.0], "torque": [1.0, 2.0]}}, ValueError, "step 1: columns of unequal length"),
        ({"columns": {"time": [[1.0]]}}, ValueError, "time must be one-dimensional"),
    ],
)
def test_a_step_that_cannot_be_is_refused(changes, error, message):
    with pytest.raises(error, match=message):
        _step(**changes)


def test_the_mean_leaves_out_missing_numbers():
    step = _step(columns={"temperature": [296.0, np.nan, 297.0], "torque": [np.nan] * 3})
    assert step.mean("temperature") == 296.5
    assert step.mean("torque") is None
    assert step.mean("time") is None


# --- Run -------------------------------------------------------------------------------------------------------------------------


def test_a_step_is_found_by_kind_or_number():
    up, down = _step(1, "up"), _step(2, "down")
    run = _run(up, down)
    assert run.step("down") is down
    assert run.step(1) is up


@pytest.mark.parametrize(
    ("which", "message"),
    [
        ("up", r"^loop_1 has 2 steps 'up'; ask by number: 1 or 3 \(steps: 1 up, 2 rest, 3 up\)$"),
        ("down", "^loop_1 has no step 'down'; its steps are 1 up, 2 rest, 3 up$"),
        (4, "^loop_1 has no step '4'; its steps are 1 up, 2 rest, 3 up$"),
        ("\x1b[2J", r"has no step '\\\\x1b\[2J'"),
    ],
)
def test_no_step_or_more_than_one_is_an_error_that_lists_them(which, message):
    with pytest.raises(StepError, match=message):
        _run(_step(1, "up"), _step(2, "rest"), _step(3, "up")).step(which)


def test_the_metadata_cannot_be_changed():
    given = {"operator": "x"}
    run = _run(_step(), metadata=given)
    given["operator"] = "y"
    assert run.metadata == {"operator": "x"}
    with pytest.raises(TypeError, match="does not support item assignment"):
        run.metadata["operator"] = "z"


def test_the_data_frame_has_every_row_and_a_gap_where_a_step_lacks_a_column():
    run = _run(_step(1, "up"), _step(2, "rest", columns={"time": [3.0], "temperature": [296.15]}))
    frame = run.data
    assert list(frame.columns) == ["step", "kind", "time", "shear_rate", "shear_stress", "temperature"]
    assert frame["step"].tolist() == [1, 1, 1, 2]
    assert frame["kind"].tolist() == ["up", "up", "up", "rest"]
    assert frame["time"].tolist() == [0.0, 1.0, 2.0, 3.0]
    assert frame["shear_rate"].isna().tolist() == [False, False, False, True]
    assert frame["temperature"].tolist()[3] == 296.15


def test_a_run_without_steps_has_an_empty_frame():
    frame = _run().data
    assert list(frame.columns) == ["step", "kind"]
    assert len(frame) == 0


def test_the_source_of_a_step_names_file_step_and_lines():
    run = _run(_step(2, "down", rows=(31, 60)))
    assert run.source_of(run.step(2)) == Source(sha256="a" * 64, run="loop_1", step="2 down", rows=(31, 60))


def test_the_table_of_a_run_shows_spans_and_temperature():
    steps = (
        _step(1, "up", columns={"time": [0.0, 60.0], "shear_rate": [np.nan, 100.0], "temperature": [296.15, 296.35]}),
        _step(2, "rest", columns={"time": [61.0, 90.0], "shear_rate": [0.0, 0.0]}),
        _step(3, "creep", controlled="stress", columns={}),
    )
    assert _run(*steps).table().rows == (
        ("1", "up", "rate", "2", "100", "0 to 60.0", "23.10"),
        ("2", "rest", "rate", "2", "0", "61.0 to 90.0", ""),
        ("3", "creep", "stress", "0", "", "", ""),
    )
    run = _run(*steps, name="<i>loop</i>")
    assert str(run).startswith("<i>loop</i>\nstep  kind")
    assert "&lt;i&gt;loop&lt;/i&gt;" in run._repr_html_()


# --- Batch -----------------------------------------------------------------------------------------------------------------------


def test_a_batch_lists_its_runs_by_test_and_load():
    first, second = _run(_step(), name="loop_a"), _run(_step(), name="loop_b", findings=(Finding(check="c", severity="info", reason="r"),))
    rest = _run(_step(1, "rest"), _step(2, "recovery"), name="recovery_a")
    batch = Batch(
        name="SG-0412",
        runs={"loop": (first, second), "recovery": (rest,)},
        metadata={"product": "slate grey"},
        places={"loop_b": RunPlace(test="loop", load=3)},
        folder=PurePath("runs"),
    )
    assert batch.all_runs == (first, second, rest)
    assert batch.table().rows == (
        ("loop", "1", "loop_a", "up", "0"),
        ("loop", "3", "loop_b", "up", "1"),
        ("recovery", "1", "recovery_a", "rest recovery", "0"),
    )
    assert str(batch).startswith("SG-0412\n")
    assert "<caption>SG-0412</caption>" in batch._repr_html_()


@pytest.mark.parametrize("held", ["runs", "metadata", "places"])
def test_a_batch_cannot_be_changed(held):
    given = {}
    batch = Batch(**({"name": "b", "runs": {}, "metadata": {}, "places": {}} | {held: given}))
    given["new"] = "x"
    assert getattr(batch, held) == {}
    with pytest.raises(TypeError, match="does not support item assignment"):
        getattr(batch, held)["new"] = "x"
