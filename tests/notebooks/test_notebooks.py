"""The notebooks, each run in a fresh kernel; a warning, a word on stderr or an error is a failure."""

import ast
import re
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError

TOP = Path(__file__).resolve().parents[2]
NOTEBOOKS = sorted((TOP / "notebooks").glob("*.ipynb"))
MOST_CELLS = 15
# All but the kernel's own: an error there keeps it from shutting down.
WARNINGS_ARE_ERRORS = "import warnings\nwarnings.simplefilter('error')\nwarnings.filterwarnings('ignore', module='ipykernel')"


def run(notebook, folder):
    """Run a notebook with warnings as errors and return what it wrote to stderr."""
    first = nbformat.v4.new_code_cell(WARNINGS_ARE_ERRORS)
    held = nbformat.v4.new_notebook(cells=[first, *notebook.cells], metadata=notebook.metadata)
    NotebookClient(held, timeout=60, resources={"metadata": {"path": str(folder)}}).execute()
    outputs = (output for cell in held.cells for output in cell.get("outputs", []))
    return "".join(output.text for output in outputs if output.output_type == "stream" and output.name == "stderr")


def read(path):
    return nbformat.read(path, as_version=4)


def code(notebook):
    return [cell.source for cell in notebook.cells if cell.cell_type == "code"]


def ids(path):
    return path.stem


def test_they_are_these():
    names = [
        "check_a_batch_for_release",
        "compare_candidate_recipes",
        "fit_a_new_batch",
        "predict_an_unseen_ramp",
        "release_in_daily_practice",
        "the_ink_inside_the_pen",
    ]
    assert [path.stem for path in NOTEBOOKS] == names


@pytest.mark.parametrize("path", NOTEBOOKS, ids=ids)
def test_it_runs_in_a_fresh_kernel_without_a_warning(path):
    assert run(read(path), path.parent) == ""


def test_one_runs_from_the_top_too():
    assert run(read(NOTEBOOKS[0]), TOP) == ""


@pytest.mark.parametrize("path", NOTEBOOKS, ids=ids)
def test_it_imports_calls_and_shows_and_ends_by_asserting(path):
    notebook = read(path)
    assert len(notebook.cells) <= MOST_CELLS
    assert "invented" in notebook.cells[0].source
    for source in code(notebook):
        for node in ast.walk(ast.parse(source)):
            assert not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef | ast.Lambda), source
    last = ast.parse(notebook.cells[-1].source)
    assert any(isinstance(node, ast.Assert) for node in last.body)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=ids)
def test_what_is_kept_of_its_run_shows_figures_and_nothing_of_the_machine(path):
    notebook = read(path)
    assert notebook.metadata.kernelspec.name == "python3"
    assert all(not cell.metadata for cell in notebook.cells)
    outputs = [output for cell in notebook.cells for output in cell.get("outputs", [])]
    assert [output for output in outputs if output.output_type == "error" or output.get("name") == "stderr"] == []
    assert sum("image/png" in output.get("data", {}) for output in outputs) >= 1
    shown = "".join(str(output.get("text", "")) + output.get("data", {}).get("text/html", "") for output in outputs)
    assert re.search(r"0x[0-9a-f]{6,}|/home/|/tmp/|site-packages|[A-Z]:\\\\", shown) is None
    assert path.stat().st_size < 300_000, "a figure has grown too large for a web page"


@pytest.mark.parametrize(
    ("source", "seen"),
    [("import warnings\nwarnings.warn('thin ice')", "thin ice"), ("assert 1.0 == 2.0", "AssertionError")],
)
def test_a_notebook_with_a_warning_or_a_wrong_number_fails(source, seen, tmp_path):
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(source)])
    with pytest.raises(CellExecutionError, match=seen):
        run(notebook, tmp_path)


def test_a_word_on_stderr_is_seen(tmp_path):
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("import sys\nsys.stderr.write('oh no')")])
    assert "oh no" in run(notebook, tmp_path)
