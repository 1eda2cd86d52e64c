"""The page on yield values names functions that are there, and the settings that the code uses."""

import re
from importlib import import_module
from pathlib import Path

import rheokit as rk
from rheokit.yielding import YieldMethods
from rheokit.yielding.order import LIKE_REST, LOADS

PAGE = (Path(__file__).parents[2] / "docs" / "yield_methods.md").read_text(encoding="utf-8")
ROWS = {cells[2].strip(): cells for line in PAGE.splitlines() if line.startswith("| ") and "`" in (cells := line.split("|"))[2]}


def constant(module, name):
    return f"{getattr(import_module(f'rheokit.yielding.{module}'), name):g}".replace("-", "\N{MINUS SIGN}")


def test_every_function_is_public():
    names = [name.strip("`") for name in ROWS]
    assert len(names) == 10
    for name in names:
        assert callable(getattr(rk, name))


def test_the_settings_are_those_of_the_code():
    for function, module, names in (
        ("static_yield_stress_peak", "peak", ("REACH",)),
        ("static_yield_stress_tangents", "tangent_lines", ("WINDOW",)),
        ("static_yield_stress_viscosity_maximum", "viscosity_maximum", ("REACH",)),
        ("flow_point", "flow_point", ("REACH",)),
        ("creep_bracket", "creep_bracket", ("STOPS_BELOW", "FLOWS_ABOVE")),
    ):
        for name in names:
            assert constant(module, name) in ROWS[f"`{function}`"][4]
    assert f"(a factor of {LIKE_REST:g})" in PAGE
    assert f"twice {100 * LOADS:g} %" in PAGE


def test_the_example_is_what_the_result_has():
    words = re.findall(r"found\.(\w+)", PAGE)
    assert set(words) == {"plot", "order", "holding", "first_stroke"}
    assert all(word in YieldMethods.__dataclass_fields__ or hasattr(YieldMethods, word) for word in words)
