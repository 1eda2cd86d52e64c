"""The page on comparing recipes: its examples run in order, and what it says is what the code does."""

import re
from pathlib import Path

import rheokit as rk
from rheokit.comparison.addition import LARGEST_SILICA_STEP
from rheokit.comparison.effect_terms import EFFECT_MODELS
from rheokit.comparison.recipe_effects import BALANCE
from rheokit.comparison.recipe_sheet import CLOSURE, RECIPE_COLUMNS
from rheokit.comparison.rework import CAUTIONS, MOST_CORRECTIONS

TOP = Path(__file__).resolve().parents[2]
PAGE = (TOP / "docs" / "comparing_recipes.md").read_text(encoding="utf-8")


def test_the_examples_run_in_order_and_the_advice_carries_its_cautions(monkeypatch, capsys):
    monkeypatch.chdir(TOP)
    names: dict[str, object] = {}
    for block in re.findall(r"(?ms)^```python\n(.*?)^```", PAGE):
        exec(compile(block, "comparing_recipes.md", "exec"), names)
    assert names["found"].choice.window.feasible == ("candidate-1", "candidate-12")
    out = capsys.readouterr().out
    assert names["advice"].does_it
    assert all(caution in out for caution in CAUTIONS)


def test_every_name_is_public_and_every_setting_that_of_the_code():
    for name in re.findall(r"(?<!\w)rk\.(\w+)", PAGE):
        assert name in rk.__all__
    assert ",".join(RECIPE_COLUMNS) in PAGE
    assert f"within {CLOSURE:g} wt %" in PAGE
    assert f"at most {LARGEST_SILICA_STEP:g} wt %" in PAGE
    assert MOST_CORRECTIONS == 2
    assert "at most two corrections" in PAGE
    assert f"whose role is `{BALANCE}`" in PAGE
    for model in EFFECT_MODELS:
        assert f"`{model}`" in PAGE


def test_the_studies_it_names_are_there():
    for page in re.findall(r"\]\((\w+\.md)\)", PAGE):
        assert (TOP / "docs" / page).is_file()
