"""Lines that name steps by words alone begin steps."""

from __future__ import annotations

import pytest

import rheokit as rk
from rheokit.reading.words import names_step

HEAD = "t [s],Shear rate [1/s],Shear stress [Pa]\n"
UP = "1,1,10\n2,2,20\n3,3,30\n"
DOWN = "4,2,18\n5,1,9\n6,0.5,4\n"


@pytest.mark.parametrize(
    "lines",
    [
        ("[Ramp up]", "[Ramp down]"),
        ("--- Up ramp ---", "--- Down ramp ---"),
        ("Ramp up, 0 to 3 1/s", "Ramp down, 3 to 0 1/s"),
        ("# Aufwärtsrampe", "# Abwärtsrampe"),
        ("<Hinlauf>", "<Rücklauf>"),
        ("Ramp up,,", "Ramp down,,"),
        ("", "[Ramp down]"),
        ("[High shear]", "[Low shear]"),
    ],
)
@pytest.mark.parametrize("layout", ["comma", "semicolon", "tab"])
def test_a_line_of_words_begins_a_step(write, lines, layout):
    first = f"{lines[0]}\n" if lines[0] else ""
    text = HEAD + first + UP + f"{lines[1]}\n" + DOWN
    if layout == "semicolon":
        text = text.replace(",", ";").replace("0.5", "0,5")
    elif layout == "tab":
        text = text.replace(",", "\t")
    run = rk.read_run(write(text))
    assert [step.columns["time"].tolist() for step in run.steps] == [[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]]
    assert [step.kind for step in run.steps] == ["up", "down"]
    (said,) = (str(finding) for finding in run.findings if finding.check == "step_blocks")
    assert said.startswith("there is no step column; the steps are blocks of rows, announced by lines such as ")
    assert said.endswith("2 steps, the second from line " + ("7" if first else "6"))
    assert not [finding for finding in run.findings if finding.severity != "info"]


def test_a_header_between_does_not_matter(write):
    text = f"[Ramp up]\n{HEAD}{UP}\n[Ramp down]\n{HEAD}{DOWN}"
    run = rk.read_run(write(text))
    assert [len(step) for step in run.steps] == [3, 3]
    assert not [finding for finding in run.findings if finding.severity != "info"]


def test_numbered_lines_and_a_step_column_count_more(write):
    run = rk.read_run(write(f"{HEAD}Step 1\n1,1,10\nHold\n2,2,20\nStep 2\n3,3,30\n"))
    assert [len(step) for step in run.steps] == [2, 1]
    (said,) = (str(finding) for finding in run.findings if finding.check == "notes")
    assert said == "line 4, among the points: not a row of the table, and left out: 'Hold'"
    labelled = "Step," + HEAD + "1,1,1,10\n1,2,2,20\n[Hold]\n2,3,2,20\n"
    assert [len(step) for step in rk.read_run(write(labelled)).steps] == [2, 1]


def test_the_last_line_of_words_is_a_step_that_has_no_points(write):
    run = rk.read_run(write(f"{HEAD}{UP}[Ramp down]\n{DOWN}[Rest]\n"))
    assert [len(step) for step in run.steps] == [3, 3]
    assert [finding.severity for finding in run.findings if finding.check == "cut_short"] == ["caution"]


@pytest.mark.parametrize(
    "line", ["[Pause by hand]", "ramp paused", "End of ramp", "Operator down", "shear stress", "Rest of the sample is in the cup"]
)
def test_other_words_are_notes(write, line):
    run = rk.read_run(write(f"{HEAD}{UP}{line}\n{DOWN}"))
    assert len(run.steps) == 1
    assert [finding.severity for finding in run.findings if finding.check == "notes"] == ["caution"]
    assert names_step(line) is None
