"""The nomenclature page is what the lists say, and the page in docs is that page."""

from __future__ import annotations

import os
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pytest

from rheokit.base.nomenclature import page
from rheokit.base.quantities import QUANTITIES
from rheokit.base.units import OTHER_SPELLINGS, PREFIXES, parse_unit

DOCUMENT = Path(__file__).parents[2] / "docs" / "nomenclature.md"


def _rows(heading: str) -> list[list[str]]:
    """Return the cells of the table under a heading, read from the Markdown."""
    section = page().split(f"## {heading}\n")[1].split("\n## ")[0]
    lines = [line for line in section.splitlines() if line.startswith("| ")][2:]
    return [[cell.replace("\0", "|") for cell in line.replace("\\|", "\0")[2:-2].split(" | ")] for line in lines]


def test_the_page_in_docs_is_up_to_date():
    assert DOCUMENT.read_bytes() == page().encode(), "run: python -m rheokit.base.nomenclature > docs/nomenclature.md"


@pytest.mark.parametrize("encoding", ["utf-8", "ascii", "cp1252"])
def test_the_command_prints_the_page_on_any_console(encoding):
    environment = os.environ | {"PYTHONIOENCODING": encoding}
    done = subprocess.run([sys.executable, "-m", "rheokit.base.nomenclature"], capture_output=True, check=True, env=environment)
    assert done.stdout == page().encode()


def test_every_quantity_has_its_row():
    assert [row[0].strip("`") for row in _rows("Quantities")] == list(QUANTITIES)
    assert ["`temperature`", "T", "K", "°C", "temperature of the sample"] in _rows("Quantities")
    assert next(row for row in _rows("Quantities") if row[0] == "`complex_viscosity`")[1] == "|η*|"
    assert {len(row) for row in _rows("Quantities")} == {5}


def test_every_unit_and_spelling_has_its_place():
    rows = _rows("Units")
    assert [row[0].strip("`") for row in rows] == list(PREFIXES)
    written = "".join(row[3] for row in rows)
    assert sorted(OTHER_SPELLINGS) == sorted(word for word in written.split("`")[1::2] if word in OTHER_SPELLINGS)


@pytest.mark.parametrize(
    ("symbol", "shown"),
    [
        ("P", "0.1 Pa·s"),
        ("dyn", "0.00001 N"),
        ("bar", "100000 Pa"),
        ("in", "0.0254 m"),
        ("gf", "0.00980665 N"),
        ("rpm", "π/30 rad/s"),
        ("rev", "2π rad"),
        ("°C", "(t + 273.15) K"),
        ("°F", "(t + 459.67) × 5/9 K"),
        ("%", "0.01"),
        ("L", "0.001 m³"),
        ("Hz", "1/s"),
    ],
)
def test_a_factor_is_shown_exactly(symbol, shown):
    assert next(row for row in _rows("Units") if row[0] == f"`{symbol}`")[2] == shown


def test_every_plain_factor_shown_is_the_factor_used():
    plain = {row[0].strip("`"): row[2].split(" ")[0] for row in _rows("Units") if row[2][0].isdigit() and "π" not in row[2]}
    del plain["Hz"]  # shown without a factor
    assert len(plain) > 20
    for symbol, shown in plain.items():
        assert Fraction(shown) == parse_unit(symbol).factor
