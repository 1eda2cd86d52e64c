"""Clock times that pass midnight, or days that a date column counts, go on rising."""

from __future__ import annotations

import io
from datetime import datetime, timedelta

import numpy as np
import pytest
from openpyxl import Workbook

import rheokit as rk
from rheokit.base.errors import ReadError

NIGHT = ("23:59:54", "23:59:56", "23:59:58", "00:00:00", "00:00:02", "00:00:04")
RISING = 86_394.0 + 2.0 * np.arange(6)


def export(times, *, head="Time;γ̇ [1/s];τ [Pa]", before="", dates=None):
    cells = [f"{before}{time};{1 + index};{10 + index}" for index, time in enumerate(times)]
    return head + "\n" + "\n".join(cells if dates is None else map("{};{}".format, dates, cells)) + "\n"


def said(run, check="midnight"):
    return [(finding.severity, str(finding)) for finding in run.findings if finding.check == check]


@pytest.mark.parametrize("delimiter", [";", ",", "\t"])
def test_a_clock_goes_on_over_midnight(write, delimiter):
    run = rk.read_run(write(export(NIGHT).replace(";", delimiter)))
    (step,) = run.steps
    assert step.time.tolist() == RISING.tolist()
    assert said(run) == [("info", "the clock passes midnight in line 5: 24 h are added from there on")]
    assert [finding for finding in (*run.findings, *step.findings) if finding.severity != "info" and finding.check != "step_kind"] == []


def test_a_step_column_and_decimals_change_nothing(write):
    text = export([f"{time},5" for time in NIGHT], head="Step;Uhrzeit;γ̇ [1/s];τ [Pa]", before="1;")
    (step,) = rk.read_run(write(text)).steps
    assert step.time.tolist() == (RISING + 0.5).tolist()
    assert all(finding.check != "time_order" for finding in step.findings)


def test_several_midnights_are_several_days(write):
    times = [f"{hour % 24:02d}:00:00" for hour in range(8, 72, 8)]
    run = rk.read_run(write(export(times)))
    assert run.steps[0].time.tolist() == [3600.0 * hour for hour in range(8, 72, 8)]
    assert said(run) == [("info", "the clock passes midnight in 2 lines, the first line 4: 24 h are added from each on")]


def test_a_clock_that_counts_from_zero_starts_again_with_a_step(write):
    run = rk.read_run(write(export(("00:00:01", "13:00:00", "13:00:01", "00:00:01", "13:00:00"))))
    assert [len(step) for step in run.steps] == [3, 2]
    assert said(run) == []


def test_a_single_time_out_of_order_is_no_midnight(write):
    run = rk.read_run(write(export(("23:10:00", "23:10:02", "03:10:04", "23:10:06", "23:10:08"))))
    reason = "the clock falls back by more than half a day in line 4, and leaps forward elsewhere: is a time wrong?"
    assert said(run) == [("caution", reason)]


def test_a_time_missing_at_midnight_is_no_hindrance(write):
    run = rk.read_run(write(export((*NIGHT[:3], "n/a", *NIGHT[4:]))))
    np.testing.assert_array_equal(run.steps[0].time, np.where(np.arange(6) == 3, np.nan, RISING))


def test_a_workbook_and_a_long_text_go_on_too(write):
    book = Workbook()
    for row in export(NIGHT).splitlines():
        book.active.append([float(cell) if cell.isdigit() else cell for cell in row.split(";")])
    out = io.BytesIO()
    book.save(out)
    run = rk.read_run(write(out.getvalue(), "run.xlsx"))
    assert run.steps[0].time.tolist() == RISING.tolist()
    assert said(run) == [("info", "the clock passes midnight in line 5: 24 h are added from there on")]
    seconds = np.arange(40_000) + 22 * 3600
    times = [f"{second // 3600 % 24:02d}:{second // 60 % 60:02d}:{second % 60:02d}" for second in seconds.tolist()]
    (step,) = rk.read_run(write(export(times))).steps
    assert step.time.tolist() == seconds.tolist()


DAYS = [
    ("2026-01-03", "2026-01-04"),
    ("03.01.2026", "04.01.2026"),
    ("31.01.26", "01.02.26"),
    ("2026/02/28", "2026/03/01"),
]


@pytest.mark.parametrize("days", DAYS)
@pytest.mark.parametrize("heading", ["Date", "Datum"])
def test_a_date_column_counts_the_days(write, days, heading):
    dates = [days[0]] * 3 + [days[1]] * 3
    run = rk.read_run(write(export(NIGHT, head=f"{heading};Time;γ̇ [1/s];τ [Pa]", dates=dates)))
    assert run.steps[0].time.tolist() == RISING.tolist()
    later = rk.read_run(write(export([f"1{index}:00:00" for index in range(6)], head=f"{heading};Time;γ̇ [1/s];τ [Pa]", dates=dates)))
    hours = np.array([10, 11, 12, 37, 38, 39])
    assert later.steps[0].time.tolist() == (3600.0 * hours).tolist()
    assert said(later) == [("info", f"the days of column 1 ({heading!r}) are added to the clock times")]


def test_a_date_that_stays_the_same_says_nothing(write):
    run = rk.read_run(write(export(("08:00:00", "08:00:02"), head="Date;Time;γ̇ [1/s];τ [Pa]", dates=["2026-01-03"] * 2)))
    assert run.steps[0].time.tolist() == [28_800.0, 28_802.0]
    assert said(run) == []


@pytest.mark.parametrize("days", [("03/01/2026", "04/01/2026"), ("Monday", "Tuesday"), ("2026-01-04", "2026-01-03")])
def test_dates_that_change_and_cannot_be_counted_are_a_caution(write, days):
    dates = [days[0]] * 3 + [days[1]] * 3
    run = rk.read_run(write(export([f"1{index}:00:00" for index in range(6)], head="Date;Time;γ̇ [1/s];τ [Pa]", dates=dates)))
    ((severity, reason),) = said(run)
    assert severity == "caution"
    assert reason.startswith(f"column 1 ('Date') changes from {days[0]!r} to {days[1]!r} and is not used")


def test_a_date_column_in_a_long_text_counts_too(write):
    times = [f"{8 + index // 3600 % 12:02d}:{index // 60 % 60:02d}:{index % 60:02d}" for index in range(40_000)]
    dates = ["2026-01-03"] * 20_000 + ["2026-01-04"] * 20_000
    run = rk.read_run(write(export(times, head="Date;Time;γ̇ [1/s];τ [Pa]", dates=dates)))
    wanted = np.array([28_800.0 + index % 43_200 for index in range(40_000)]) + 86_400.0 * (np.arange(40_000) >= 20_000)
    assert run.steps[0].time.tolist() == wanted.tolist()


def moments(first, heading="Time"):
    book = Workbook()
    book.active.append([heading, "γ̇ [1/s]", "τ [Pa]"])
    for index in range(4):
        book.active.append([first + timedelta(seconds=2 * index), 1.0 + index, 10.0 + index])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@pytest.mark.parametrize("first", [datetime(2026, 1, 4), datetime(2026, 1, 3, 23, 59, 58), datetime(2026, 1, 3, 23, 59, 57)])
def test_moments_of_a_workbook_may_begin_at_midnight(write, first):
    (step,) = rk.read_run(write(moments(first), "run.xlsx")).steps
    assert step.time.tolist() == [0.0, 2.0, 4.0, 6.0]


def test_a_first_time_that_is_missing_leaves_the_form_to_the_next(write):
    (step,) = rk.read_run(write(export(("n/a", "08:00:00", "08:00:02")))).steps
    assert step.time[1:].tolist() == [28_800.0, 28_802.0]


def test_days_alone_are_no_times(write):
    with pytest.raises(ReadError, match="time has no unit"):
        rk.read_run(write(export(["2026-01-03"] * 4)))


@pytest.mark.parametrize("at", [10, 20_000])
def test_a_time_of_another_clock_is_refused_with_file_and_line(write, at):
    times = [f"{index // 3600:02d}:{index // 60 % 60:02d}:{index % 60:02d}" for index in range(40_000)]
    times[at] = "08:40"
    remedy = "the column holds hh:mm:ss; if this is mm:ss, name that as its unit"
    with pytest.raises(ReadError, match=rf"run_07\.csv, line {at + 2}, column 1 \('Time'\): '08:40' is no clock time; {remedy}"):
        rk.read_run(write(export(times)))
