"""The demo runs on disk: they are what the generator writes, and each folder is what its README says.

Read here by a few lines of our own; the library's reading code has no part in it.
"""

import csv
import re
import subprocess
import sys
import tomllib
from math import floor, log10, sqrt
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from rheokit.virtual import herschel_bulkley, slate_grey_ink, true_values

SAMPLES = Path(__file__).parents[2] / "sample_rheometer_runs"
REFERENCE = "B26-017"
GOOD = ("B26-041", "B26-042", "B26-044", "B26-048")
FOLDERS = sorted(path.name for path in SAMPLES.glob("B26-*"))
CANDIDATES = sorted(f"recipes/{path.name}" for path in SAMPLES.glob("recipes/candidate-*"))
Table = dict[str, NDArray[np.float64]]


def read_table(path: Path) -> Table:
    lines = path.read_text(encoding="utf-8").splitlines()
    head = next(number for number, line in enumerate(lines) if line.startswith("Step,"))
    names = [name.split(" [")[0] for name in lines[head].split(",")]
    first = head + 2 if lines[head + 1].startswith(",") else head + 1
    rows = [[float(cell) if cell else np.nan for cell in line.split(",")] for line in lines[first:]]
    return dict(zip(names, np.array(rows).T, strict=True))


def preamble(path: Path) -> dict[str, str]:
    rows = list(csv.reader(path.read_text(encoding="utf-8").splitlines()))
    return dict(rows[: rows.index([])]) if [] in rows else {}


def results(folder: str) -> dict[str, dict[str, str]]:
    with (SAMPLES / folder / "results.csv").open(encoding="utf-8", newline="") as file:
        return {row["characteristic"]: row for row in csv.DictReader(file)}


def loop_values(table: Table) -> dict[str, float]:
    rate, stress = table["Shear rate"], table["Shear stress"]
    up, down = table["Step"] == 3, table["Step"] == 5
    under = [float(np.sum(0.5 * (stress[leg][1:] + stress[leg][:-1]) * np.diff(rate[leg]))) for leg in (up, down)]
    return {"viscosity-100": float(stress[down][0] / rate[down][0]), "loop-area": under[0] + under[1]}


def steady_values(table: Table) -> dict[str, float]:
    rate, stress = (table[name][table["Step"] == 3] for name in ("Shear rate", "Shear stress"))
    at = {target: float(stress[np.argmin(np.abs(rate - target))]) for target in (1.0, 10.0, 100.0)}
    return {
        "viscosity-10": at[10.0] / 10.0,
        "stress-1": at[1.0],
        "thinning-10-100": (at[10.0] / 10.0) / (at[100.0] / 100.0),
        "yield-stress": herschel_bulkley(rate, stress)[0],
    }


def values(folder: str) -> dict[str, list[float]]:
    found: dict[str, list[float]] = {}
    for test, evaluate in (("loop", loop_values), ("steady", steady_values)):
        for path in sorted((SAMPLES / folder).glob(f"{test}_load*.csv")):
            for name, value in evaluate(read_table(path)).items():
                found.setdefault(name, []).append(value)
    return found


def requirements() -> dict[str, tuple[float, float, float | None]]:
    document = tomllib.loads((SAMPLES / "specification.toml").read_text(encoding="utf-8"))
    found = {}
    for line in document["requirement"]:
        lower, upper = (float(line[side].split()[0]) for side in ("lower", "upper"))
        found[line["id"]] = (lower, upper, line.get("repeatability", {}).get("relative"))
    return found


def probability(name: str, value: float, loads: int = 2, factor: float = 1.0) -> float:
    """Probability of conformity of a mean of loads, with the repeatability of the specification (24 degrees of freedom)."""
    lower, upper, relative = requirements()[name]
    assert relative is not None
    uncertainty = relative * factor * value / sqrt(loads)
    below, above = ((limit - factor * value) / uncertainty for limit in (lower, upper))
    return float(stats.t.cdf(above, 24) - stats.t.cdf(below, 24))


def reference_ratio(table: Table) -> float:
    ends = [table["Shear stress"][table["Step"] == step][-5:].mean() for step in (1, 6)]
    return float(ends[1] / ends[0])


@pytest.fixture(scope="module")
def written_again(tmp_path_factory: pytest.TempPathFactory) -> Path:
    output = tmp_path_factory.mktemp("runs")
    command = [sys.executable, str(SAMPLES / "generate.py"), "--output", str(output)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert len(done.stdout.splitlines()) == len(FOLDERS) + len(CANDIDATES)
    return output


def generated_files(root: Path) -> list[str]:
    return sorted(path.relative_to(root).as_posix() for path in root.rglob("*") if path.parent != root and path.suffix in {".csv", ".toml"})


def same_cell(one: str, other: str) -> bool:
    """Equal text, or numbers that differ by no more than one in the fifth digit: rounding may fall either way on another machine."""
    if one == other:
        return True
    try:
        first, second = float(one), float(other)
    except ValueError:
        return False
    largest = max(abs(first), abs(second))
    return abs(first - second) <= 1.01 * 10.0 ** (floor(log10(largest)) - 4)


def test_the_folders_are_what_the_generator_writes(written_again: Path) -> None:
    assert generated_files(SAMPLES) == generated_files(written_again)
    for name in generated_files(SAMPLES):
        kept, new = ((root / name).read_text(encoding="utf-8").splitlines() for root in (SAMPLES, written_again))
        assert len(kept) == len(new), name
        for number, (one, other) in enumerate(zip(kept, new, strict=True), start=1):
            cells, again = one.split(","), other.split(",")
            assert len(cells) == len(again), f"{name}, line {number}"
            assert all(map(same_cell, cells, again)), f"{name}, line {number}: {one} is now {other}"


def test_the_generator_refuses_to_overwrite(written_again: Path) -> None:
    before = {name: (written_again / name).stat().st_mtime_ns for name in generated_files(written_again)}
    command = [sys.executable, str(SAMPLES / "generate.py"), "--output", str(written_again)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert re.search(r"\d+ files are there already.*--replace", done.stderr)
    assert {name: (written_again / name).stat().st_mtime_ns for name in before} == before


def test_every_folder_is_in_the_readme_and_says_it_is_invented() -> None:
    text = (SAMPLES / "README.md").read_text(encoding="utf-8")
    named = re.findall(r"^\| `(B26-\d+|recipes/candidate-\d)` \|", text, flags=re.MULTILINE)
    assert sorted(named) == sorted([*FOLDERS, *CANDIDATES])
    assert "Everything here is invented" in text
    for path in SAMPLES.rglob("*_load*.csv"):
        has_preamble = preamble(path)
        assert has_preamble.get("Invented data", "").startswith("yes") or path.parent.name == "candidate-2"
    for path in SAMPLES.rglob("batch.toml"):
        assert path.read_text(encoding="utf-8").startswith("# Invented data")


def test_the_whole_tree_is_small() -> None:
    assert sum(path.stat().st_size for path in SAMPLES.rglob("*") if path.is_file()) < 1_500_000


@pytest.mark.parametrize("folder", [*FOLDERS, *CANDIDATES])
def test_the_papers_name_the_files_that_are_there(folder: str) -> None:
    present = {path.name for path in (SAMPLES / folder).glob("*_load*.csv")}
    expected = {f"{test}_load{load}.csv" for test in ("loop", "steady", "recovery") for load in (1, 2)}
    assert present == (expected - {"steady_load2.csv"} if folder == "B26-050" else expected)
    papers = SAMPLES / folder / "batch.toml"
    if folder == "B26-042":
        assert not papers.exists()
    else:
        document = tomllib.loads(papers.read_text(encoding="utf-8"))
        assert {run["file"] for run in document["run"]} == expected
        assert all(run["file"] == f"{run['test']}_load{run['load']}.csv" for run in document["run"])
        role = "reference" if folder == REFERENCE else "batch"
        assert {document["batch"]["role"], *(run["role"] for run in document["run"])} == {role}
        assert document["batch"]["id"] == Path(folder).name
    for name in present:
        lines = preamble(SAMPLES / folder / name)
        if folder != "recipes/candidate-2":
            assert (lines["Batch"], f"{lines['Test']}_load{lines['Load']}.csv") == (Path(folder).name, name)


@pytest.mark.parametrize("folder", [*FOLDERS, *CANDIDATES])
def test_columns_agree_except_where_the_units_are_mixed_up(folder: str) -> None:
    for path in sorted((SAMPLES / folder).glob("*_load*.csv")):
        table = read_table(path)
        sheared = table["Shear rate"] > 0.0
        claimed = 1e-3 if "mPa·s" in path.read_text(encoding="utf-8") else 1.0
        ratio = claimed * (table["Viscosity"] * table["Shear rate"] / table["Shear stress"])[sheared]
        mixed_up = (folder, path.name) == ("B26-049", "loop_load2.csv")
        # Three numbers of five digits: each is off by 5e-5 of itself at most.
        assert ratio == pytest.approx(1000.0 if mixed_up else 1.0, rel=1.6e-4)


@pytest.mark.parametrize("folder", FOLDERS)
def test_the_reference_point_comes_back_unless_the_edge_broke(folder: str) -> None:
    for load in (1, 2):
        ratio = reference_ratio(read_table(SAMPLES / folder / f"loop_load{load}.csv"))
        if folder == "B26-045":
            assert 0.70 < ratio < 0.80
        else:
            # Means of five points with 0.6 % white and 0.4 % correlated noise: 0.43 % each, 0.6 % the ratio; 3 % is five of them.
            assert ratio == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize("folder", [*GOOD, REFERENCE])
def test_a_good_batch_conforms_on_every_line(folder: str) -> None:
    found = values(folder)
    assert set(found) == {name for name, line in requirements().items() if line[2] is not None}
    for name, loads in found.items():
        assert probability(name, float(np.mean(loads))) > 0.97, name
    for name in ("density", "laydown"):
        lower, upper, _ = requirements()[name]
        value, uncertainty = (float(results(folder)[name][column]) for column in ("value", "standard_uncertainty"))
        assert stats.norm.cdf((upper - value) / uncertainty) - stats.norm.cdf((lower - value) / uncertainty) > 0.97, name


def test_the_true_standard_conforms_and_a_third_more_stress_does_not() -> None:
    true = true_values(slate_grey_ink())
    for name, value in (
        ("viscosity-100", true.loop_viscosity_at_100),
        ("viscosity-10", true.steady_viscosity_at_10),
        ("stress-1", true.steady_stress_at_1),
        ("thinning-10-100", true.shear_thinning_index),
        ("yield-stress", true.herschel_bulkley_yield_stress),
        ("loop-area", true.loop_area),
    ):
        assert probability(name, value) > 0.97, name
    for folder in GOOD:
        assert probability("viscosity-100", float(np.mean(values(folder)["viscosity-100"])), factor=1.3) < 0.001


def test_the_thick_batch_is_out_and_the_close_one_undecided() -> None:
    thick = float(np.mean(values("B26-043")["viscosity-100"]))
    assert thick / requirements()["viscosity-100"][1] == pytest.approx(1.15, abs=0.03)
    assert probability("viscosity-100", thick) < 0.001
    close = {name: probability(name, float(np.mean(loads))) for name, loads in values("B26-046").items()}
    assert 0.6 < close.pop("viscosity-100") < 0.8
    assert min(close.values()) > 0.97


@pytest.mark.parametrize("folder", FOLDERS)
def test_loads_agree_within_the_critical_range_unless_they_are_meant_not_to(folder: str) -> None:
    apart = {
        name: abs(loads[0] - loads[1]) / (float(np.mean(loads)) * (requirements()[name][2] or 0.0))
        for name, loads in values(folder).items()
        if len(loads) == 2
    }
    if folder == "B26-051":
        assert apart["viscosity-100"] > 2.0 * 2.8
        assert probability("viscosity-100", float(np.mean(values(folder)["viscosity-100"]))) > 0.97
    elif folder != "B26-045":  # its two edges broke by different amounts
        assert max(apart.values()) < 2.8


@pytest.mark.parametrize("folder", FOLDERS)
def test_hand_entered_results_are_as_the_readme_says(folder: str) -> None:
    entered = results(folder)
    oil = float(entered["check_oil_viscosity"]["value"])
    assert (abs(oil / 1.020 - 1.0) > 0.02) == (folder == "B26-047")
    assert (float(entered["density"]["value"]) > 1.20) == (folder == "B26-052")
    first_run = min(preamble(path)["Measured"] for path in (SAMPLES / folder).glob("*_load*.csv"))
    # ISO 8601 times in UTC sort as text.
    assert entered["density"]["time"] < entered["check_oil_viscosity"]["time"] < first_run
    assert first_run[:10] == entered["check_oil_viscosity"]["time"][:10]


def test_recipes_close_to_a_hundred() -> None:
    totals: dict[str, float] = {}
    with (SAMPLES / "recipes" / "recipes.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if row["kind"] == "component":
                assert row["unit"] == "wt %"
                totals[row["candidate"]] = totals.get(row["candidate"], 0.0) + float(row["value"])
    assert sorted(f"recipes/{name}" for name in totals) == CANDIDATES
    assert list(totals.values()) == pytest.approx([100.0] * 4, abs=1e-9)
