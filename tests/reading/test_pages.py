"""Headers printed again on every page, and empty lines every few rows, make no steps of one ramp; blocks that are steps stay steps."""

from __future__ import annotations

import io

import numpy as np
import pytest
from openpyxl import Workbook

import rheokit as rk

HEAD = "t [s];γ̇ [1/s];τ [Pa]"


def points(rates, begin=2.0):
    return [f"{begin + 2.0 * index:g};{rate:.6g};{30 + 2 * rate:.6g}" for index, rate in enumerate(rates)]


def paged(rows, every, between):
    pages = ["\n".join(rows[at : at + every]) for at in range(0, len(rows), every)]
    return HEAD + "\n" + between.join(f"{page}\n" for page in pages)


def told(run):
    return [(finding.severity, str(finding)) for finding in run.findings if finding.check == "page_breaks"]


RAMPS = {
    "linear": np.linspace(1.0, 100.0, 32),
    "falling": np.linspace(100.0, 1.0, 32),
    "logarithmic": np.geomspace(0.1, 100.0, 32),
    "five a decade": np.geomspace(0.1, 100.0, 16),
}


@pytest.mark.parametrize("between", [HEAD + "\n", "\n", "\n" + HEAD + "\n"])
@pytest.mark.parametrize("every", [3, 5, 7])
@pytest.mark.parametrize("ramp", RAMPS)
def test_pages_of_one_ramp_are_one_step(write, between, every, ramp):
    run = rk.read_run(write(paged(points(RAMPS[ramp]), every, between)))
    assert len(run.steps) == 1
    ((severity, reason),) = told(run)
    assert severity == "caution"
    assert f"page breaks of {every} rows, over which the steps are joined; if steps begin there, add a step column" in reason
    assert {finding.check for finding in run.findings}.isdisjoint({"step_blocks", "single_row"})


def test_pages_in_other_spellings_are_one_step_too(write):
    text = paged(points(RAMPS["linear"]), 10, HEAD + "\n")
    for other in (text.replace(".", ","), text.replace(";", "\t"), text.replace(";", ","), text.replace("\n", "\r\n")):
        assert len(rk.read_run(write(other)).steps) == 1
    book = Workbook()
    for line in text.splitlines():
        book.active.append([float(cell) if cell[0].isdigit() else cell for cell in line.split(";")])
    out = io.BytesIO()
    book.save(out)
    assert len(rk.read_run(write(out.getvalue(), "run.xlsx")).steps) == 1


def test_where_the_ramp_turns_a_step_begins(write):
    rates = [*np.linspace(1.0, 30.0, 30), *np.linspace(30.0, 1.0, 30)]
    run = rk.read_run(write(paged(points(rates), 10, HEAD + "\n")))
    assert [len(step) for step in run.steps] == [30, 30]
    assert len(told(run)) == 1


def test_one_break_in_a_ramp_is_a_caution(write):
    run = rk.read_run(write(paged(points(RAMPS["linear"]), 25, HEAD + "\n")))
    assert [len(step) for step in run.steps] == [25, 7]
    reason = "a header is repeated before line 28, and all goes on as before it: is it a page break within one step? take it away then, "
    assert told(run) == [("caution", reason + "or add a step column")]


STEPS = {
    "up and down": [np.linspace(1, 100, 10), np.linspace(100, 1, 10)],
    "levels": [np.full(10, 1.0), np.full(10, 10.0), np.full(10, 100.0)],
    "levels that rise evenly": [np.full(10, 10.0), np.full(10, 20.0), np.full(10, 30.0)],
    "rest, load, rest": [np.full(10, 0.1), np.full(10, 50.0), np.full(10, 0.1)],
    "rest, ramp from rest": [np.zeros(10), np.linspace(10, 100, 10)],
    "ramp, hold": [np.linspace(1, 10, 10), np.full(10, 11.0)],
    "ramps that start again": [np.linspace(1, 100, 10)] * 3,
}


@pytest.mark.parametrize("between", [HEAD + "\n", "\n"])
@pytest.mark.parametrize("steps", STEPS)
def test_blocks_that_are_steps_stay_steps(write, between, steps):
    run = rk.read_run(write(paged(points(np.concatenate(STEPS[steps])), 10, between)))
    assert [len(step) for step in run.steps] == [10] * len(STEPS[steps])
    assert told(run) == []


def test_a_clock_that_starts_again_or_an_announcement_makes_a_step(write):
    ramp = points(RAMPS["linear"][:10]), points(RAMPS["linear"][10:20]), points(RAMPS["linear"][20:30])
    again = HEAD + "\n" + (HEAD + "\n").join("\n".join(rows) + "\n" for rows in ramp)
    assert [len(step) for step in rk.read_run(write(again)).steps] == [10, 10, 10]
    announced = HEAD + "\n" + "".join(f"Step {number}\n" + "\n".join(rows) + "\n" for number, rows in enumerate(ramp, 1))
    assert [len(step) for step in rk.read_run(write(announced)).steps] == [10, 10, 10]


def held(count=38, *, seed=4):
    """Return rows of a hold whose rate keeps within half a per cent while the stress falls."""
    generator = np.random.default_rng(seed)
    rates = 100.0 * (1.0 + 0.005 * generator.uniform(-1.0, 1.0, count))
    return [f"{2 + 2 * index};{rate:.6g};{900.0 * 0.98**index:.6g}" for index, rate in enumerate(rates)]


@pytest.mark.parametrize("between", [HEAD + "\n", "\n"])
@pytest.mark.parametrize("every", [3, 10])
def test_pages_of_one_hold_are_one_step(write, between, every):
    run = rk.read_run(write(paged(held(), every, between)))
    assert [len(step) for step in run.steps] == [38]
    ((severity, reason),) = told(run)
    assert severity == "caution"
    assert f"and all goes on as before it: page breaks of {every} rows, over which the steps are joined" in reason


@pytest.mark.parametrize("rate", ["0", "0.0"])
def test_pages_of_a_rest_are_one_step(write, rate):
    rows = [f"{2 + 2 * index};{rate};0.5" for index in range(30)]
    assert [len(step) for step in rk.read_run(write(paged(rows, 10, HEAD + "\n"))).steps] == [30]


def test_a_hold_on_two_pages_is_a_caution(write):
    run = rk.read_run(write(paged(held(), 25, HEAD + "\n")))
    assert [len(step) for step in run.steps] == [25, 13]
    ((severity, reason),) = told(run)
    assert severity == "caution"
    assert "is it a page break within one step?" in reason


def test_pages_of_an_oscillation_held_are_one_step_and_other_strains_are_steps(write):
    head = "t [s];f [Hz];γ [%];G' [Pa];G'' [Pa]"

    def at(strains):
        rows = [f"{2 + 2 * index};1;{strain};{200 + 3 * index};{90 - index}" for index, strain in enumerate(strains)]
        return rk.read_run(write(paged(rows, 10, head + "\n").replace(HEAD, head))).steps

    assert [len(step) for step in at([0.1] * 30)] == [30]
    assert [len(step) for step in at([0.1] * 10 + [10] * 10 + [0.1] * 10)] == [10, 10, 10]


HOLDS_APART = {
    "at another temperature": [f"{row};{23 + 5 * (index // 10)}" for index, row in enumerate(held(30))],
    "after a pause": [
        f"{float(row.partition(';')[0]) + 60 * (index // 10):g};{row.partition(';')[2]};23" for index, row in enumerate(held(30))
    ],
}


@pytest.mark.parametrize("rows", HOLDS_APART)
def test_holds_at_one_rate_that_are_steps_stay_steps(write, rows):
    head = HEAD + ";T [°C]"
    run = rk.read_run(write(paged(HOLDS_APART[rows], 10, head + "\n").replace(HEAD + "\n", head + "\n", 1)))
    assert [len(step) for step in run.steps] == [10, 10, 10]
    assert told(run) == []


def test_a_temperature_that_is_held_or_missing_joins_the_pages_of_a_hold(write):
    head = HEAD + ";T [°C]"
    for cells in ([f"{23 + 0.1 * (index % 3):.1f}" for index in range(30)], ["23.0"] * 9 + ["n/a"] * 3 + ["23.1"] * 18, ["n/a"] * 30):
        rows = map("{};{}".format, held(30), cells)
        run = rk.read_run(write(paged(list(rows), 10, head + "\n").replace(HEAD + "\n", head + "\n", 1)))
        assert [len(step) for step in run.steps] == [30]


def test_pages_of_a_long_text_are_one_step(write):
    rows = points(np.linspace(1.0, 100.0, 40_000))
    run = rk.read_run(write(paged(rows, 9_000, HEAD + "\n")))
    assert [len(step) for step in run.steps] == [40_000]
    assert len(told(run)) == 1
