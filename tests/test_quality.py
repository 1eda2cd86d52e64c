"""The tools that read the code instead of running it."""

import subprocess
import sys
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[1]


@pytest.mark.parametrize(
    "command",
    [
        ("ruff", "check", "."),
        ("ruff", "format", "--check", "."),
        ("mypy", "--package", "rheokit"),
    ],
    ids=["ruff check", "ruff format", "mypy strict"],
)
def test_the_tree_is_clean(command):
    done = subprocess.run([sys.executable, "-m", *command], cwd=TOP, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_top_level_holds_what_it_should():
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "rheokit", "notebooks", "tests", "sample_rheometer_runs", "docs"}
    listed = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True, check=False)
    # An unpacked archive has no git: look at the folder itself.
    paths = listed.stdout.splitlines() if listed.returncode == 0 else [path.name for path in TOP.iterdir()]
    names = {path.split("/")[0] for path in paths}
    assert {name for name in names if not name.startswith(".")} <= allowed
