"""Errors say what, where and what would do on one line, and reach another process whole."""

from __future__ import annotations

import pickle
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rheokit.base.errors import (
    ComparisonError,
    DeclarationError,
    FitError,
    MissingFileError,
    OutputError,
    ReadError,
    RheokitError,
    SpecificationError,
    StepError,
    UnitError,
    printable,
)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a\nb\tc", r"a\nb\tc"),
        ("\x1b[31mred", r"\x1b[31mred"),
        ("right\u202eleft", r"right\u202eleft"),
        ("zero\u200bwidth", r"zero\u200bwidth"),
        ("line\u2028two", r"line\u2028two"),
        ("\ud800", r"\ud800"),
        ("γ̇ τ µ ²", "γ̇ τ µ ²"),
        (12, "12"),
    ],
)
def test_what_a_terminal_would_act_on_becomes_visible(text, shown):
    assert printable(text) == shown


def test_long_text_is_cut_with_an_ellipsis():
    assert printable("x" * 200) == "x" * 200
    assert printable("x" * 201) == "x" * 199 + "…"
    assert printable("abcdef", 3) == "ab…"


@given(st.text(max_size=300))
def test_printable_text_holds_no_control_or_format_character(text):
    shown = printable(text)
    assert len(shown) <= 200
    assert not {unicodedata.category(character) for character in shown} & {"Cc", "Cf", "Cs", "Zl", "Zp"}


def test_a_read_error_names_file_place_and_remedy():
    error = ReadError("run_07.csv", "shear rate falls inside an up-ramp", place="line 31", remedy="name the step")
    assert str(error) == "run_07.csv, line 31: shear rate falls inside an up-ramp; name the step"
    assert (error.path, error.place, error.seen, error.remedy) == (
        "run_07.csv",
        "line 31",
        "shear rate falls inside an up-ramp",
        "name the step",
    )
    assert str(ReadError("run.csv", "is empty")) == "run.csv: is empty"


def test_a_missing_file_is_a_file_not_found_with_our_sentence():
    error = MissingFileError("gone.csv", "is not there")
    assert isinstance(error, ReadError)
    assert isinstance(error, FileNotFoundError)
    assert str(error) == "gone.csv: is not there"


def test_a_specification_error_names_key_and_line():
    error = SpecificationError("spec.toml", "lower is above upper", key="requirement.lower", line=12, remedy="swap them")
    assert str(error) == "spec.toml, line 12, requirement.lower: lower is above upper; swap them"
    assert (error.path, error.key, error.line, error.seen, error.remedy) == (
        "spec.toml",
        "requirement.lower",
        12,
        "lower is above upper",
        "swap them",
    )


def test_hostile_parts_are_shown_and_kept():
    error = ReadError("a\nb.csv", "holds \x1b[2J", place="row\u202e", remedy="\x00")
    assert str(error) == r"a\nb.csv, row\u202e: holds \x1b[2J; \x00"
    assert error.path == "a\nb.csv"


@pytest.mark.parametrize(
    "error",
    [
        ReadError("a.csv", "seen", place="line 3", remedy="do"),
        MissingFileError("a.csv", "seen", remedy="do"),
        SpecificationError("a.toml", "seen", key="k", line=3, remedy="do"),
        *(kind("said") for kind in (UnitError, StepError, FitError, DeclarationError, ComparisonError, OutputError, RheokitError)),
    ],
    ids=lambda error: type(error).__name__,
)
def test_an_error_comes_back_whole_from_another_process(error):
    back = pickle.loads(pickle.dumps(error))
    assert type(back) is type(error)
    assert (str(back), vars(back)) == (str(error), vars(error))


@pytest.mark.parametrize(
    ("kind", "built_in"),
    [(UnitError, ValueError), (StepError, LookupError), (FitError, ValueError), (DeclarationError, TypeError), (OutputError, OSError)],
)
def test_an_error_is_caught_as_the_built_in_it_refines(kind, built_in):
    with pytest.raises(built_in, match=r"^said$"):
        raise kind("said")
