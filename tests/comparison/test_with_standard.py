"""A batch with the retained standard beside it in its folder: ratios, curve and cause, from the record alone."""

from __future__ import annotations

import copy
import json
import math
import shutil
from pathlib import Path

import pytest

from rheokit.base.errors import ComparisonError
from rheokit.cli import main
from rheokit.comparison.with_standard import compare_with_standard
from rheokit.reading.batch import read_batch
from rheokit.release.check import check_batch
from rheokit.release.result_rows import result_rows
from rheokit.release.specification_file import read_specification
from rheokit.reports.page import page

SAMPLES = Path(__file__).resolve().parents[2] / "sample_rheometer_runs"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return the released sample batch with the loads of the invented standard beside it, as one session."""
    made = Path(shutil.copytree(SAMPLES / "B26-041", tmp_path_factory.mktemp("session") / "B26-041"))
    text = (made / "batch.toml").read_text(encoding="utf-8")
    for test in ("loop", "steady"):
        for load in (1, 2):
            name = f"standard_{test}{load}.txt"
            shutil.copy(SAMPLES / "B26-017" / f"{test}_load{load}.txt", made / name)
            text += f'\n[[run]]\nfile = "{name}"\ntest = "{test}"\nload = {load}\nrole = "reference"\nset_temperature = "23.0 °C"\n'
    (made / "batch.toml").write_text(text, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def check(folder):
    return check_batch(read_batch(folder), read_specification(SAMPLES / "specification.toml"))


@pytest.fixture
def document(check):
    return copy.deepcopy(dict(check.record.document))


def test_the_standard_beside_it_changes_no_decision(check):
    alone = check_batch(read_batch(SAMPLES / "B26-041"), read_specification(SAMPLES / "specification.toml"))
    assert [one.outcome for one in check.decisions] == [one.outcome for one in alone.decisions]
    assert [one.estimate.value for one in check.decisions] == [one.estimate.value for one in alone.decisions]
    assert compare_with_standard(alone) is None


def test_ratios_curve_and_cause(check, document):
    found = compare_with_standard(check)
    line = document["requirements"][0]
    ratio = found.ratios["viscosity-100"].ratio
    assert ratio.value == pytest.approx(line["estimate"]["value"] / line["standard"]["estimate"]["value"], rel=1e-12)
    # Two loads each of 2 % as stated: the relative error of the quotient is 2 % by hand.
    assert ratio.relative_standard_error == pytest.approx(0.02, rel=1e-6)
    # Both rest on one stated repeatability of 24 degrees of freedom, which is known no better for being used twice.
    assert ratio.degrees_of_freedom == 24
    assert found.ratios["viscosity-100"].verdict == "equivalent"
    assert found.curve.loads == (2, 2)
    assert "loads scatter by 2.00% as stated" in found.curve.method
    assert found.why.sentence in str(found)
    assert found.left_out == {}
    assert {row.role for row in result_rows(document)} == {"batch", "standard", "check oil"}


def test_the_record_alone_gives_the_same(check, document):
    again = compare_with_standard(json.loads(check.record.to_json()))
    assert str(again) == str(compare_with_standard(document))


def test_bounds_decide_what_is_equivalent(check):
    assert compare_with_standard(check, bounds={"viscosity-100": 0.01}).ratios["viscosity-100"].verdict == "not shown"
    assert compare_with_standard(check, bounds=0.5).ratios["loop-area"].verdict == "equivalent"


def test_the_largest_scatter_that_is_stated_of_a_level_counts(document):
    (line,) = (line for line in document["requirements"] if line["id"] == "stress-1")
    line["stated_uncertainty"]["load"]["relative"] = 0.03
    assert "loads scatter by 3.00% as stated" in compare_with_standard(document).curve.method


def test_another_session_is_no_session(document):
    for run in document["runs"]:
        if run["role"] == "reference":
            run["metadata"] = {"Measured": "2026-09-17T09:30:00+00:00"}
    with pytest.raises(ComparisonError, match=r"hours apart, more than 24: not one session; measure the standard again$"):
        compare_with_standard(document)
    assert "not one session" in page(document)


def test_a_time_that_is_not_known_is_not_guessed(document):
    document["runs"][0]["metadata"] = {}
    with pytest.raises(ComparisonError, match=r"^an export does not say when it was measured"):
        compare_with_standard(document)


def test_a_standard_that_is_not_fit_for_use_is_not_compared_with(document):
    document["findings"].append({"severity": "invalid", "source": "standard_steady1.txt, step 3", "reason": "the sample was lost"})
    with pytest.raises(ComparisonError, match=r"^the standard's standard_steady1.txt is not fit for use: the sample was lost$"):
        compare_with_standard(document)


def test_a_temperature_that_is_not_known_is_not_guessed(document):
    for line in document["requirements"]:
        for held in filter(None, (line["estimate"], (line["standard"] or {}).get("estimate"))):
            held["conditions"].pop("set_temperature", None)
    found = compare_with_standard(document)
    assert found.why is None
    assert found.left_out["why"].startswith("the set temperature is not known")
    assert found.curve is not None


def test_what_is_not_comparable_is_left_out_with_its_reason(document):
    lines = {line["id"]: line for line in document["requirements"]}
    lines["loop-area"]["standard"] = None
    lines["yield-stress"]["standard"]["estimate"] = None
    lines["stress-1"]["estimate"]["determined"], lines["stress-1"]["estimate"]["reason"] = False, "too far"
    found = compare_with_standard(document)
    assert found.left_out["loop-area"] == "not measured on the standard"
    assert found.left_out["yield-stress"] == "the standard's loads give no number"
    assert found.left_out["stress-1"].startswith("stress_at_rate is not determined (too far)")
    assert "viscosity-100" in found.ratios


def test_page_and_terminal_show_it(folder, check, capsys):
    shown = page(check.record.document)
    assert "Against the retained standard" in shown
    assert "Batch over standard" in shown
    assert "Why it differs" in shown
    assert main(["check", str(folder), "--spec", str(SAMPLES / "specification.toml")]) == 0
    printed = capsys.readouterr().out
    assert "Against the retained standard" in printed
    assert "equivalent" in printed


def test_a_level_that_was_put_in_is_the_rise_of_the_ratio(document):
    before = compare_with_standard(document).curve.log_ratio
    for run in document["runs"]:
        for step in run["steps"] if run["role"] == "batch" else ():
            step["columns"]["shear_stress"] = [None if one is None else 1.2 * one for one in step["columns"].get("shear_stress", [])]
    assert compare_with_standard(document).curve.log_ratio - before == pytest.approx(math.log(1.2), rel=1e-9)
