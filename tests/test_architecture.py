"""The floors of the house, read from the imports of every module: what may rest on what, and where heavy libraries come in."""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

import rheokit
from rheokit.base import errors

ROOT = Path(rheokit.__file__).parent

FLOORS = {
    "base": 0,
    "geometry": 1, "law.py": 1,
    "reading": 2, "models": 2, "virtual": 2, "statistics": 2,
    "fitting": 3,
    "thixotropy": 4, "yielding": 4, "temperature": 4, "screening": 4,
    "refill": 5,
    "characteristics": 6,
    "release": 7,
    "register": 8, "comparison": 8,
    "reports": 9,
    "cli_compare.py": 10,
    "cli.py": 10, "cli_pen.py": 10, "cli_fit.py": 10, "cli_instrument.py": 10, "cli_register.py": 10, "cli_trend.py": 10,
    "__main__.py": 10, "__init__.py": 10,
}  # fmt: skip

HEAVY = ("lmfit", "matplotlib", "pandas", "scipy")

# (library, module or folder): why there. A folder stands for exactly one module in it. Nowhere else, and never at module level.
HEAVY_PLACES = {
    ("pandas", "rheokit.base.show"): "every DataFrame that a user is given",
    ("pandas", "rheokit.reading"): "the even lines of long exports",
    ("matplotlib", "rheokit.base.show"): "new axes, where the caller gives none",
    ("lmfit", "rheokit.fitting.custom"): "a user's own ties and expressions",
    ("scipy.optimize", "rheokit.fitting.solvers"): "laws that the engine's own descent does not settle",
    ("scipy.special", "rheokit.statistics"): "quantiles and probabilities",
    ("scipy.stats", "rheokit.refill"): "the evenly spread sequence through ranges of dimensions",
    ("scipy.integrate", "rheokit.virtual"): "the virtual rheometer's own ODE",
}


@dataclass(frozen=True)
class Import:
    """One import of one module: the dotted name it brings in, and whether it runs when the module is loaded."""

    target: str
    line: int
    at_load: bool
    typing_only: bool


# --- reading the imports ---------------------------------------------------------------------------------------------------------


def read_sources(root: Path) -> dict[str, str]:
    """Return module name to source; a package bears the name of its folder with `.__init__` behind it."""
    return {".".join(("rheokit", *path.relative_to(root).with_suffix("").parts)): path.read_text("utf-8") for path in root.rglob("*.py")}


def _walk(node: ast.AST, at_load: bool = True, typing_only: bool = False) -> Iterator[tuple[ast.AST, bool, bool]]:
    for child in ast.iter_child_nodes(node):
        yield child, at_load, typing_only
        inside = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test) and "not" not in ast.unparse(child.test):
            for part in child.body:
                yield part, at_load, True
                yield from _walk(part, at_load, True)
            for part in child.orelse:
                yield part, at_load, typing_only
                yield from _walk(part, at_load, typing_only)
        else:
            yield from _walk(child, at_load and not inside, typing_only)


def imports_of(name: str, sources: Mapping[str, str]) -> list[Import]:
    """Return every import of a module, also in functions, under TYPE_CHECKING and by a literal `import_module`."""
    found = []
    for node, at_load, typing_only in _walk(ast.parse(sources[name])):
        targets: list[str] = []
        if isinstance(node, ast.Import):
            targets = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            parts = name.split(".")[: -node.level] if node.level else []
            base = ".".join([*parts, *([node.module] if node.module else [])])
            # `from package import module` rests on the module, `from module import name` on the module named first.
            inner = [f"{base}.{alias.name}" for alias in node.names]
            targets = [one if _module(one, sources) or _is_outer_package(base) else base for one in inner]
        elif isinstance(node, ast.Call) and ast.unparse(node.func).split(".")[-1] in {"import_module", "__import__"}:
            literal = node.args and isinstance(node.args[0], ast.Constant)
            targets = [str(node.args[0].value)] if literal else ["a name computed at run time"]
        found += [Import(target, getattr(node, "lineno", 0), at_load, typing_only) for target in targets]
    return found


def _is_outer_package(name: str) -> bool:
    return name in HEAVY  # `from scipy import stats` brings in scipy.stats


def _module(name: str, sources: Mapping[str, str]) -> str | None:
    return next((one for one in (name, f"{name}.__init__") if one in sources), None)


def _ours(target: str) -> bool:
    return target.split(".", maxsplit=1)[0] == "rheokit"


def _folder(name: str) -> str:
    """Return the folder under rheokit, or the file when it stands at the top."""
    parts = name.split(".")
    return parts[1] if len(parts) > 2 else f"{parts[1] if len(parts) > 1 else '__init__'}.py"


# --- the rules: each returns sentences, none when it is kept ---------------------------------------------------------------------


def broken_floors(sources: Mapping[str, str]) -> list[str]:
    said = [
        f"{folder} stands on no floor: give it one in FLOORS and say in DEVELOPERS.md what it is for"
        for folder in sorted({_folder(name) for name in sources} - set(FLOORS))
    ]
    for name in sorted(sources):
        here = _folder(name)
        for one in imports_of(name, sources):
            if one.target == "a name computed at run time" and name != "rheokit.__init__":
                said.append(f"{name}, line {one.line}: imports {one.target}; only rheokit/__init__.py may")
            if not _ours(one.target):
                continue
            reached = _module(one.target, sources)
            if reached is None:
                said.append(f"{name}, line {one.line}: imports {one.target}, which is not there")
                continue
            there = _folder(reached)
            if here == there or here not in FLOORS or there not in FLOORS:
                continue
            if "virtual" in (here, there):
                said.append(f"{name}, line {one.line}: imports {one.target}; nothing is shared with the virtual rheometer")
            elif FLOORS[here] < FLOORS[there]:
                said.append(f"{name}, line {one.line}: imports {one.target} from the higher floor {FLOORS[there]}")
            elif FLOORS[here] == FLOORS[there] and FLOORS[here] < 10:
                said.append(f"{name}, line {one.line}: imports {one.target} from another folder on its own floor")
    return said


def cycles(sources: Mapping[str, str]) -> list[str]:
    """Return each circle of imports found by taking away, again and again, the modules that rest on none of those left."""
    left = {
        name: {reached for one in imports_of(name, sources) if _ours(one.target) and (reached := _module(one.target, sources))}
        for name in sources
    }
    while free := [name for name, needs in left.items() if not needs & left.keys()]:
        for name in free:
            del left[name]
    if not left:
        return []
    path = [min(left)]
    while path[-1] not in path[:-1]:
        path.append(min(left[path[-1]] & left.keys()))
    return ["these modules import each other in a circle: " + " -> ".join(path[path.index(path[-1]) :])]


def _heavy(target: str) -> str | None:
    """Return the library, for scipy with its part, when the import is a heavy one."""
    parts = target.split(".")
    if parts[0] not in HEAVY:
        return None
    return ".".join(parts[:2]) if parts[0] == "scipy" else parts[0]


def misplaced_heavy(sources: Mapping[str, str], places: Mapping[tuple[str, str], str]) -> list[str]:
    said = []
    users: dict[tuple[str, str], set[str]] = {}
    for name in sorted(sources):
        for one in imports_of(name, sources):
            library = _heavy(one.target)
            if library is None or one.typing_only:
                continue
            if one.at_load:
                said.append(f"{name}, line {one.line}: imports {library} at module level; import it where it is used")
            place = next((key for key in places if key[0] == library and f"{name}.".startswith(f"{key[1]}.")), None)
            if place is None:
                said.append(f"{name}, line {one.line}: {library} is not imported here; use its place, or list a new one with its reason")
            else:
                users.setdefault(place, set()).add(name)
    for place in places:
        # A folder that is not built yet owes nothing.
        if _folder(f"{place[1]}.any") not in map(_folder, sources):
            continue
        modules = users.get(place, set())
        if len(modules) != 1:
            said.append(f"{place[1]}: {place[0]} is imported by {', '.join(sorted(modules)) or 'no module'}; one module is to do it")
    return said


def too_long(sources: Mapping[str, str], *, lines_of_file: int = 400, lines_of_function: int = 60) -> list[str]:
    said = []
    for name, text in sorted(sources.items()):
        if (lines := len(text.splitlines())) > lines_of_file:
            said.append(f"{name} has {lines} lines, more than {lines_of_file}")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                lines = _lines(node) - (_lines(node.body[0]) if ast.get_docstring(node) is not None else 0)
                if lines > lines_of_function:
                    said.append(f"{name}.{node.name} has {lines} lines without its docstring, more than {lines_of_function}")
    return said


def _lines(node: ast.stmt) -> int:
    return (node.end_lineno or node.lineno) - node.lineno + 1


# --- the house keeps them --------------------------------------------------------------------------------------------------------

SOURCES = read_sources(ROOT)


def test_every_module_rests_only_on_lower_floors():
    assert len(SOURCES) > 10, "the modules were not found"
    assert broken_floors(SOURCES) == []


def test_no_module_imports_itself_round_a_circle():
    assert cycles(SOURCES) == []


def test_heavy_libraries_come_in_late_and_through_one_place_each():
    assert misplaced_heavy(SOURCES, HEAVY_PLACES) == []


def test_the_errors_rest_on_nothing_of_ours():
    assert [one for one in imports_of("rheokit.base.errors", SOURCES) if _ours(one.target)] == []


def test_files_and_functions_are_short():
    assert too_long(SOURCES) == []


# --- the rules see red -----------------------------------------------------------------------------------------------------------

GOOD = {
    "rheokit.__init__": "from importlib import import_module\ndef __getattr__(name):\n    return import_module(name)",
    "rheokit.cli": "from rheokit.fitting.engine import fit\nimport rheokit",
    "rheokit.law": "from rheokit.base.errors import E",
    "rheokit.base.__init__": "",
    "rheokit.base.errors": "import math",
    "rheokit.base.show": "from .errors import E\ndef draw():\n    import matplotlib.pyplot as plt",
    "rheokit.fitting.engine": "from typing import TYPE_CHECKING\nfrom rheokit.base import show\nif TYPE_CHECKING:\n    import pandas as pd",
}
GOOD_PLACES = {("matplotlib", "rheokit.base.show"): "axes"}


def test_a_house_in_order_passes_every_rule():
    assert broken_floors(GOOD) + cycles(GOOD) + misplaced_heavy(GOOD, GOOD_PLACES) + too_long(GOOD) == []


@pytest.mark.parametrize(
    ("module", "text", "sentence"),
    [
        (
            "rheokit.base.finding",
            "from rheokit.fitting.engine import fit",
            "line 1: imports rheokit.fitting.engine from the higher floor 3",
        ),
        (
            "rheokit.base.finding",
            "def f():\n    from ..fitting import engine",
            "line 2: imports rheokit.fitting.engine from the higher floor 3",
        ),
        ("rheokit.base.finding", "if TYPE_CHECKING:\n    import rheokit.law", "line 2: imports rheokit.law from the higher floor 1"),
        ("rheokit.base.finding", "import_module('rheokit.law')", "line 1: imports rheokit.law from the higher floor 1"),
        ("rheokit.base.finding", "import rheokit", "line 1: imports rheokit from the higher floor 10"),
        ("rheokit.base.finding", "importlib.import_module(name)", "line 1: imports a name computed at run time; only"),
        ("rheokit.base.finding", "import rheokit.base.absent", "which is not there"),
        ("rheokit.geometry.cone", "from rheokit.law import Law", "from another folder on its own floor"),
        ("rheokit.reports.text", "import rheokit.virtual.ink", "nothing is shared with the virtual rheometer"),
        ("rheokit.virtual.ink", "from ..base.errors import E", "nothing is shared with the virtual rheometer"),
        ("rheokit.attic.old", "", "attic stands on no floor: give it one in FLOORS"),
        ("rheokit.helpers", "", "helpers.py stands on no floor"),
    ],
)
def test_an_import_against_the_floors_is_reported(module, text, sentence):
    sources = {"rheokit.virtual.ink": ""} | GOOD | {module: text}
    said = broken_floors(sources)
    assert len(said) == 1
    assert sentence in said[0]


def test_a_circle_is_reported_with_its_members():
    sources = GOOD | {
        "rheokit.fitting.one": "from .two import f",
        "rheokit.fitting.two": "def f():\n    from rheokit.fitting import three",
        "rheokit.fitting.three": "if TYPE_CHECKING:\n    from rheokit.fitting.one import f",
    }
    (said,) = cycles(sources)
    assert said.endswith("rheokit.fitting.one -> rheokit.fitting.two -> rheokit.fitting.three -> rheokit.fitting.one")


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("import scipy.stats", "imports scipy.stats at module level"),
        ("try:\n    from scipy import stats\nexcept ImportError:\n    pass", "line 2: imports scipy.stats at module level"),
        ("class A:\n    import lmfit", "line 2: imports lmfit at module level"),
        ("if not TYPE_CHECKING:\n    import lmfit", "line 2: imports lmfit at module level"),
        ("def f():\n    import pandas", "line 2: pandas is not imported here; use its place"),
        ("def f():\n    from matplotlib import pyplot", "line 2: matplotlib is not imported here"),
    ],
)
def test_a_heavy_import_out_of_place_is_reported(text, sentence):
    said = misplaced_heavy(GOOD | {"rheokit.fitting.many": text}, GOOD_PLACES)
    assert any(line.startswith("rheokit.fitting.many") and sentence in line for line in said)


def test_a_place_that_is_not_used_or_used_twice_is_reported():
    once = "def f():\n    from scipy import special"
    places = GOOD_PLACES | {("scipy.special", "rheokit.statistics"): "quantiles"}
    assert misplaced_heavy(GOOD, places) == []
    assert misplaced_heavy(GOOD | {"rheokit.statistics.a": once}, places) == []
    (unused,) = misplaced_heavy(GOOD | {"rheokit.statistics.a": ""}, places)
    assert "scipy.special is imported by no module; one module is to do it" in unused
    (twice,) = misplaced_heavy(GOOD | {"rheokit.statistics.a": once, "rheokit.statistics.b": once}, places)
    assert "is imported by rheokit.statistics.a, rheokit.statistics.b; one" in twice


def test_long_files_and_functions_are_reported():
    inside = '    """' + "\n" * 50 + '    """\n' + "    pass\n" * 59
    assert too_long({"rheokit.law": "def f():\n" + inside}) == []
    assert too_long({"rheokit.law": "def f():\n" + inside + "    pass\n"}) == [
        "rheokit.law.f has 61 lines without its docstring, more than 60"
    ]
    assert too_long({"rheokit.law": "\n" * 401}) == ["rheokit.law has 401 lines, more than 400"]


# --- the front door --------------------------------------------------------------------------------------------------------------


def _loaded_after(statement: str) -> set[str]:
    """Return the top names of every module that a fresh interpreter holds after a statement."""
    program = f"import sys, json\n{statement}\nprint(json.dumps(sorted({{name.split('.')[0] for name in sys.modules}})))"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    return set(json.loads(done.stdout))


def test_importing_the_library_loads_next_to_nothing():
    assert _loaded_after("import rheokit") & {*HEAVY, "numpy", "pydantic", "rich", "jinja2"} == set()


def test_importing_every_module_loads_nothing_heavy():
    names = sorted(name.removesuffix(".__init__") for name in SOURCES if not name.endswith("__main__"))
    assert _loaded_after("import " + ", ".join(names)) & set(HEAVY) == set()


def test_every_public_name_resolves_and_is_listed():
    assert dir(rheokit) == sorted(rheokit.__all__)
    assert len(set(rheokit.__all__)) == len(rheokit.__all__)
    for name in rheokit.__all__:
        assert getattr(rheokit, name) is not None
    with pytest.raises(AttributeError, match="module 'rheokit' has no attribute 'absent'"):
        _ = rheokit.absent


def _children(kind: type) -> set[type]:
    return {below for child in kind.__subclasses__() for below in (child, *_children(child))}


def test_every_error_refines_a_built_in_and_stands_in_the_tree():
    drawn = dict(line.strip("│├└─ ").split(")")[0].split(" (") for line in (errors.__doc__ or "").splitlines() if "── " in line)
    children = {child.__name__: child for child in _children(errors.RheokitError) if child.__module__.startswith("rheokit.")}
    assert children.keys() == drawn.keys()
    for name, child in children.items():
        refined = [kind for kind in child.__mro__ if kind.__module__ == "builtins" and kind not in (Exception, BaseException, object)]
        assert drawn[name] in [kind.__name__ for kind in refined]
