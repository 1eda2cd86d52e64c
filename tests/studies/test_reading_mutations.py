"""A short run of the study, and proof that the study would notice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rheokit.reading import export
from studies import reading_mutations
from studies.good_files import GOOD
from studies.mutations import MUTATIONS, good_file
from studies.oracle import contradictions, only_rows_and_columns_moved
from studies.plain_reading import Said, said_by_sheets, said_by_text

NAMES = [form.name for form, _ in GOOD]


@pytest.mark.parametrize(("form", "points"), GOOD, ids=NAMES)
def test_the_plain_reading_gives_back_what_was_printed(form, points):
    said = good_file(form, points).said
    assert said.lengths == points.lengths
    assert contradictions(said) == []
    factors = {"mPa·s": 1e-3, "µN·m": 1e-6, "1/min": np.pi / 30.0}
    for name, (unit, cells) in points.columns.items():
        printed = np.array(cells, dtype=float)
        wanted = printed + 273.15 if unit == "°C" else printed * factors.get(unit, 1.0)
        np.testing.assert_allclose(said.columns[name], wanted, rtol=1e-14)  # two roundings at most


def test_the_plain_reading_says_nothing_where_the_form_is_broken():
    form, points = GOOD[0]
    good = good_file(form, points)
    text = good.data.decode()
    assert said_by_text(text.replace("5.25", "5,25", 1).encode(), form) is None
    assert said_by_text(text.replace("Pa·s", "Pas·", 1).encode(), form) is not None  # that column alone is gone
    assert "viscosity" in said_by_text(text.replace("Viscosity", "Viskosity", 1).encode(), form).derived  # from stress and rate
    assert said_by_text(text.replace("Time", "T\0me", 1).encode(), form) is None
    assert said_by_sheets([("Data", [])], form) is None


def changed(said: Said, name: str, row: int, factor: float) -> Said:
    values = said.columns[name].copy()
    values[row] *= factor
    return replace(said, columns={**said.columns, name: values})


@pytest.mark.parametrize(
    ("name", "factor", "broken"),
    [
        ("viscosity", 1.1, ["shear_stress against viscosity times rate"]),
        ("viscosity", -1.0, ["shear_stress against viscosity times rate"]),
        ("viscosity", 1.01, []),
        ("torque", 1.1, ["torque against shear_stress"]),
        ("time", 2.0, ["time runs back", "two clocks"]),
        ("step_time", 1.03, ["two clocks"]),
        ("temperature", 1.2, []),
        ("temperature", -1.0, ["below absolute zero"]),
    ],
)
def test_a_contradiction_is_seen_where_columns_hang_together(name, factor, broken):
    said = good_file(*GOOD[0]).said
    assert contradictions(changed(said, name, 16, factor)) == broken
    assert not only_rows_and_columns_moved(changed(said, name, 16, factor), said)


def test_rows_that_go_or_come_twice_are_rows_of_the_good_file():
    said = good_file(*GOOD[0]).said
    rows = [0, 1, 1, 2, 3, 5, *range(6, 30)]
    moved = replace(said, columns={name: values[rows] for name, values in said.columns.items()}, lengths=(6, 12, 12))
    assert only_rows_and_columns_moved(moved, said)
    assert not only_rows_and_columns_moved(replace(moved, lengths=(5, 13, 12)), said)


@pytest.mark.parametrize("name", MUTATIONS)
def test_every_mutation_spoils_something(name):
    goods = [good_file(form, points) for form, points in GOOD]
    random = np.random.default_rng(3)
    spoilt = [one for good in goods for _ in range(3) if (one := MUTATIONS[name](good, random)) is not None]
    assert len(spoilt) >= 12
    assert sum(one.data not in {good.data for good in goods} for one in spoilt) > 0.8 * len(spoilt)


def test_no_spoilt_export_is_read_wrong_in_silence():
    result = reading_mutations.study(600, seed=2)
    assert result.bad == []
    # Each class is met, so that none of them is empty because the oracle cannot give it.
    assert all(result.total(outcome) > 10 for outcome in ("read right", "finding", "refused", "could not be revealed"))


def test_without_the_check_of_units_the_study_sees_silence(monkeypatch):
    monkeypatch.setattr(export, "check_units", lambda *_: ())
    result = reading_mutations.study(600, seed=2)
    assert result.total("wrong in silence") >= 5
