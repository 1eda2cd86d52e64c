"""Fits of an archive: the same numbers as fits one by one, in any company and by any executor, and no number where there is none."""

import dataclasses
import shutil
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pytest

import rheokit as rk
from rheokit.base.settled import settled_points
from rheokit.fitting.archive_part import name_of

SAMPLES = Path(__file__).resolve().parents[2] / "sample_rheometer_runs"
LOOPS = sorted(SAMPLES.glob("B26-04[1-4]/loop_load*"))


def write_export(path, rates, stresses):
    """Write a ramp down as a plain export."""
    lines = ["Time [s],Shear rate [1/s],Shear stress [Pa]"]
    lines += [f"{second},{rate:.17g},{stress:.17g}" for second, (rate, stress) in enumerate(zip(rates, stresses, strict=True))]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def cells(fits):
    return [fit.cells() for fit in fits.fits]


def test_every_curve_gets_the_numbers_of_its_own_fit():
    fits = rk.fit_archive(LOOPS, "herschel_bulkley", step="down")
    assert len(fits) == len(LOOPS) == 8
    for path, fit in zip(LOOPS, fits.fits, strict=True):
        run = rk.read_run(path)
        alone = rk.fit_flow_curve(settled_points(run.step("down")), "herschel_bulkley")
        assert (fit.file, fit.sha256, fit.step) == (path.as_posix(), run.source.sha256, run.step("down").number)
        assert fit.points == alone.y.size
        for name, unit, value, error, remark in fit.parameters:
            expected = alone.parameters[name]
            # Two roads to one minimum: both stop where a step is below 1e-8 of a standard error, itself about 1 % of the value.
            assert value == pytest.approx(expected.value, rel=1e-8)
            assert error == pytest.approx(expected.standard_error, rel=1e-6)
            assert (unit, remark) == (expected.unit, "")
        assert fit.sum_of_squares == pytest.approx(alone.sum_of_squares, rel=1e-10)


def test_a_stair_counts_its_last_point_at_each_rate(tmp_path):
    rates = np.repeat(np.geomspace(100.0, 0.1, 13), 3)
    stresses = 20.0 * rates**0.4
    path = write_export(tmp_path / "stair.csv", rates, stresses * np.tile([1.4, 1.1, 1.0], 13))
    step = rk.read_run(path).step(1)
    assert (step.kind, len(step)) == ("steady", 39)
    (fit,) = rk.fit_archive([path], "power_law", step="steady").fits
    assert fit.points == 13
    # The last rows lie on the law to the 17 digits written; so a fit that used others would miss by 10 % and more.
    assert fit.parameters[1][2] == pytest.approx(0.4, rel=1e-9)


def test_numbers_hardly_depend_on_the_company():
    together = {fit.file: fit for fit in rk.fit_archive(LOOPS, "herschel_bulkley", step="down").fits}
    for path in LOOPS[::3]:
        (alone,) = rk.fit_archive([path], "herschel_bulkley", step="down").fits
        for mine, theirs in zip(alone.parameters, together[path.as_posix()].parameters, strict=True):
            # Sums are taken in another order: rounding (2e-16) times the condition of the fit, here about 1e4.
            assert mine[2:4] == pytest.approx(theirs[2:4], rel=1e-10)


@pytest.fixture(scope="module")
def many_paths(tmp_path_factory):
    """More exports than one worker takes at a time."""
    folder = tmp_path_factory.mktemp("archive")
    random = np.random.default_rng(20)
    rates = np.geomspace(100.0, 0.1, 25)
    paths = []
    for index in range(70):
        stresses = (30.0 + index + 10.0 * rates**0.5) * (1.0 + 0.02 * random.standard_normal(rates.size))
        paths.append(write_export(folder / f"run_{index:03}.csv", rates, stresses))
    paths[40].write_text("nothing that is an export\n", encoding="utf-8")
    return paths


@pytest.mark.parametrize("kind", ["threads", "processes"])
def test_workers_give_the_same_to_the_last_digit(monkeypatch, many_paths, kind):
    monkeypatch.setattr("rheokit.fitting.archive._AHEAD", 2)  # so that three parts are more than are handed out at a time
    here = rk.fit_archive(many_paths, "herschel_bulkley", step="down")
    assert (len(here), len(here.failures)) == (69, 1)
    seen = []
    pool = ThreadPoolExecutor(2) if kind == "threads" else ProcessPoolExecutor(2, mp_context=get_context("spawn"))
    with pool as executor:
        there = rk.fit_archive(
            many_paths, "herschel_bulkley", step="down", executor=executor, progress=lambda done, whole: seen.append((done, whole))
        )
    assert cells(there) == cells(here)
    assert there.failures == here.failures
    assert seen == [(32, 70), (64, 70), (70, 70)]


def test_the_executor_of_a_dask_client_serves(many_paths):
    distributed = pytest.importorskip("distributed", reason="distributed is not installed; it comes with the extra 'test'")
    here = rk.fit_archive(many_paths, "bingham", step="down")
    with (
        distributed.LocalCluster(n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
        client.get_executor() as executor,
    ):
        there = rk.fit_archive(many_paths, "bingham", step="down", executor=executor)
    assert cells(there) == cells(here)


def test_what_is_not_determined_is_left_empty_with_the_reason(tmp_path):
    rates = np.geomspace(100.0, 1.0, 20)
    # A straight line that meets the axis below zero, so that the yield stress ends at its bound.
    path = write_export(tmp_path / "line.csv", rates, 2.0 * (rates - 0.2) * (1.0 + 0.01 * np.cos(9.0 * np.arange(20.0))))
    fits = rk.fit_archive([path], "bingham", step="down")
    row = fits.data.iloc[0]
    assert np.isnan(row["yield_stress [Pa]"])
    assert np.isnan(row["yield_stress standard error [Pa]"])
    assert row["yield_stress remark"] == "at its lower bound 0 Pa"
    assert row["plastic_viscosity [Pa·s]"] == pytest.approx(2.0, rel=0.05)  # to a line through zero, which is 20 % off at the end
    assert row["plastic_viscosity remark"] == ""
    (shown,) = fits.table().rows
    assert shown[4] == ""
    assert shown[-1] == "yield stress: at its lower bound 0 Pa"


def test_an_invalid_measurement_gives_no_parameter_but_the_reason():
    # Made so: in this load the column of the stress is 1000 times too small (sample_rheometer_runs/README.md).
    (fit,) = rk.fit_archive([SAMPLES / "B26-049" / "loop_load2.csv"], "herschel_bulkley", step="down").fits
    assert fit.worst_finding == "invalid"
    assert all(value is None and error is None for _, _, value, error, _ in fit.parameters)
    assert "1,000 times 'Shear stress [Pa]'" in fit.parameters[0][4]
    assert fit.parameters[0][4].startswith("not to be used: ")


def test_what_gives_no_fit_is_named_with_its_reason_and_stops_nothing(tmp_path):
    rates = np.geomspace(100.0, 1.0, 20)
    short = write_export(tmp_path / "short.csv", rates[:2], 5.0 + rates[:2])
    empty = tmp_path / "empty.csv"
    empty.write_bytes(b"")
    gone = tmp_path / "gone.csv"
    other = SAMPLES / "B26-041" / "recovery_load1.csv"
    fits = rk.fit_archive([short, LOOPS[0], empty, gone, other], "herschel_bulkley", step="down")
    assert [fit.file for fit in fits.fits] == [LOOPS[0].as_posix()]
    reasons = {failure.file: failure.reason for failure in fits.failures}
    assert list(reasons) == [path.as_posix() for path in (short, empty, gone, other)]
    assert "there is no such file" in reasons[gone.as_posix()]
    assert "has no step 'down'; its steps are 1 shear" in reasons[other.as_posix()]
    assert not any(reason.startswith((":", ",", " ")) or tmp_path.as_posix() in reason for reason in reasons.values())


def test_copies_have_no_row_of_their_own(tmp_path):
    copy = Path(shutil.copy(LOOPS[0], tmp_path / "copy.csv"))
    fits = rk.fit_archive([LOOPS[0], copy], "bingham", step="down")
    assert len(fits) == 1
    assert fits.copies == ((copy.as_posix(), LOOPS[0].as_posix()),)
    assert "holds the same bytes as" in str(fits)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"model": "crosss", "step": "down"}, "unknown model 'crosss'"),
        ({"model": "cross", "step": "downn"}, "'downn' is no kind of step; the kinds are up, down"),
        ({"model": "cross", "step": "down", "weighting": "none"}, "weighting: 'none' is none of"),
        ({"model": "cross", "step": "down", "weighting": "absolute", "floor": 1.0}, "floor goes with weighting='relative'"),
        ({"model": "cross", "step": "down", "floor": -1.0}, "is not a value of zero or more"),
    ],
)
def test_a_request_that_makes_no_sense_is_refused_before_anything_is_read(options, message):
    with pytest.raises(rk.FitError, match=message):
        rk.fit_archive(["is never read"], **options)


def test_a_law_without_a_guess_is_refused():
    law = dataclasses.replace(rk.MODELS["bingham"], guess=None)
    with pytest.raises(rk.FitError, match="has no guess, so it cannot be fitted to curves that nobody has looked at"):
        rk.fit_archive(LOOPS, law, step="down")


def test_results_are_frozen_and_travel():
    fits = rk.fit_archive(LOOPS[:2], "bingham", step="down")
    with pytest.raises(dataclasses.FrozenInstanceError):
        fits.failures = ()
    assert len(fits.data) == 2
    assert "yield_stress [Pa]" in fits.data


def test_names_are_one_line_and_nothing_a_terminal_acts_on():
    assert name_of(Path("a") / "\x1b[31mred\n\u202e.csv") == "a/\\x1b[31mred\\n\\u202e.csv"


# --- the exports that are named --------------------------------------------------------------------------------------------------


@pytest.fixture
def tree(tmp_path):
    for name in (
        "one/batch.toml",
        "one/results.csv",
        "one/a.csv",
        "one/b.txt",
        "one/.hidden.csv",
        "one/notes.md",
        "two/deep/c.csv",
        "d[1].csv",
    ):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(name, encoding="utf-8")
    return tmp_path


def found(tree, *names):
    return [path.relative_to(tree).as_posix() for path in rk.find_exports([tree / name for name in names]).paths]


def test_a_folder_gives_its_exports_without_the_side_files(tree):
    assert found(tree, "one") == ["one/a.csv", "one/b.txt"]


def test_a_pattern_gives_files_and_the_exports_of_folders(tree):
    assert found(tree, "*") == ["d[1].csv", "one/a.csv", "one/b.txt"]
    assert found(tree, "**") == ["d[1].csv", "one/a.csv", "one/b.txt", "two/deep/c.csv"]
    assert found(tree, "*/*.csv") == ["one/a.csv"]


def test_a_file_is_taken_as_named_and_once(tree):
    assert found(tree, "one/notes.md", "one/a.csv", "one", "d[1].csv") == ["one/notes.md", "one/a.csv", "one/b.txt", "d[1].csv"]


def test_names_that_lead_nowhere_say_so(tree):
    named = rk.find_exports([tree / "two", tree / "x*"])
    assert named.paths == ()
    assert [reason for _, reason in named.missing] == [
        "there is no export in this folder; those of its subfolders are named by a pattern, as in 'folder/*'",
        "no export matches this pattern",
    ]
