"""The demo runs on disk: they are what the generator writes, and each folder is what its README says.

The numbers are taken from the generator and the files compared with what it writes; the library's reading code has no part in it.
"""

import csv
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from math import floor, log10, sqrt
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from python_calamine import CalamineWorkbook
from scipy import stats

from rheokit.virtual import herschel_bulkley, slate_grey_ink, true_values

SAMPLES = Path(__file__).parents[2] / "sample_rheometer_runs"
sys.path.insert(0, str(SAMPLES))
import generate  # noqa: E402  the script beside the runs
import scenario  # noqa: E402

REFERENCE = "B26-017"
GOOD = ("B26-041", "B26-042", "B26-044", "B26-048")
FOLDERS = sorted(path.name for path in SAMPLES.glob("B26-*"))
CANDIDATES = sorted(f"recipes/{path.name}" for path in SAMPLES.glob("recipes/candidate-*"))
PLANS = {plan.folder: plan for plan in (*scenario.BATCHES, *scenario.CANDIDATES)}
Table = dict[str, NDArray[np.float64]]


@cache
def numbers(folder: str, test: str, load: int) -> Table:
    """Numbers of an export as printed, in SI."""
    plan = PLANS[folder]
    protocol = next(protocol for protocol, _ in generate.PROTOCOLS if protocol.name == test)
    run = generate.measured(plan, protocol, load)
    digits = generate.shape_of(plan, test, load).digits
    return {
        name: np.array([float(f"{value:.{digits}g}") for value in getattr(run, name).tolist()])
        for name in ("step", "shear_rate", "shear_stress", "viscosity")
    }


def exports(folder: str) -> Iterator[tuple[Path, str, int]]:
    """Each export that is there, with its test and load."""
    for path in sorted((SAMPLES / folder).glob("*_load*")):
        test, load = path.name.split(".")[0].split("_load")
        yield path, test, int(load)


def cells(path: Path, encoding: str) -> list[list[str]]:
    """Text of every cell, line by line, or the words of a text as they stand between blanks, tabs and other signs."""
    if path.suffix in {".xlsx", ".ods"}:
        book = CalamineWorkbook.from_path(str(path))
        return [[str(cell) for cell in row] for name in book.sheet_names for row in book.get_sheet_by_name(name).to_python()]
    return [re.split(r"([;|\t\r ]+)", line) for line in path.read_bytes().decode(encoding).split("\n")]


def encoding_of(name: str) -> str:
    """Return the encoding of a file of the demo runs."""
    folder, _, file = name.rpartition("/")
    if "_load" not in file:
        return "utf-8"
    test, load = file.split(".")[0].split("_load")
    return generate.shape_of(PLANS[folder], test, int(load)).encoding


def results(folder: str) -> dict[str, dict[str, str]]:
    with (SAMPLES / folder / "results.csv").open(encoding="utf-8", newline="") as file:
        return {row["characteristic"]: row for row in csv.DictReader(file)}


def loop_values(table: Table) -> dict[str, float]:
    rate, stress = table["shear_rate"], table["shear_stress"]
    up, down = table["step"] == 3, table["step"] == 5
    under = [float(np.sum(0.5 * (stress[leg][1:] + stress[leg][:-1]) * np.diff(rate[leg]))) for leg in (up, down)]
    return {"viscosity-100": float(stress[down][0] / rate[down][0]), "loop-area": under[0] + under[1]}


def steady_values(table: Table) -> dict[str, float]:
    rate, stress = (table[name][table["step"] == 3] for name in ("shear_rate", "shear_stress"))
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
        for load in [load for _, kind, load in exports(folder) if kind == test]:
            for name, value in evaluate(numbers(folder, test, load)).items():
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
    ends = [table["shear_stress"][table["step"] == step][-5:].mean() for step in (1, 6)]
    return float(ends[1] / ends[0])


@pytest.fixture(scope="module")
def written_again(tmp_path_factory: pytest.TempPathFactory) -> Path:
    output = tmp_path_factory.mktemp("runs")
    command = [sys.executable, str(SAMPLES / "generate.py"), "--output", str(output)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert len(done.stdout.splitlines()) == len(FOLDERS) + len(CANDIDATES) + 1  # and the batch measured in depth
    return output


def generated_files(root: Path) -> list[str]:
    return sorted(
        path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_file() and path.parent not in {root, root / "__pycache__"}
    )


def same_cell(one: str, other: str, thousands: str, decimal: str) -> bool:
    """Equal text, or numbers that differ by no more than one in the fifth digit: rounding may fall either way on another machine."""
    if one == other:
        return True
    try:
        first, second = (
            float(cell.replace(thousands or "_", "").replace(decimal, ".").replace("\N{MINUS SIGN}", "-")) for cell in (one, other)
        )
    except ValueError:
        return False
    largest = max(abs(first), abs(second))
    return abs(first - second) <= 1.01 * 10.0 ** (floor(log10(largest)) - 4)


def test_the_folders_are_what_the_generator_writes(written_again: Path) -> None:
    assert generated_files(SAMPLES) == generated_files(written_again)
    for name in generated_files(SAMPLES):
        kept, new = (cells(root / name, encoding_of(name)) for root in (SAMPLES, written_again))
        shape = PLANS[folder].shape if (folder := name.rpartition("/")[0]) in PLANS else scenario.shapes.PLAIN
        if shape.delimiter == ",":
            kept, new = ([",".join(row).split(",") for row in rows] for rows in (kept, new))
        assert len(kept) == len(new), name
        for number, (line, again) in enumerate(zip(kept, new, strict=True), start=1):
            assert len(line) == len(again), f"{name}, line {number}"
            for one, other in zip(line, again, strict=True):
                assert same_cell(one, other, shape.thousands, shape.decimal), f"{name}, line {number}: {one} is now {other}"


def test_the_generator_refuses_to_overwrite(written_again: Path) -> None:
    before = {name: (written_again / name).stat().st_mtime_ns for name in generated_files(written_again)}
    command = [sys.executable, str(SAMPLES / "generate.py"), "--output", str(written_again)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert re.search(r"\d+ files are there already.*--replace", done.stderr)
    assert {name: (written_again / name).stat().st_mtime_ns for name in before} == before


def test_every_folder_is_in_the_readme_and_says_it_is_invented() -> None:
    text = (SAMPLES / "README.md").read_text(encoding="utf-8")
    named = re.findall(r"^\| `(B26-\d+|recipes/candidate-\d+)` \|", text, flags=re.MULTILINE)
    assert sorted(named) == sorted([*FOLDERS, *CANDIDATES] * 2)  # once for what it is, once for its shape
    assert "Everything here is invented" in text
    for folder in (*FOLDERS, *CANDIDATES):
        for path, *_ in exports(folder):
            words = "".join("".join(line) for line in cells(path, encoding_of(path.relative_to(SAMPLES).as_posix())))
            assert ("Invented data" in words) != (folder == "recipes/candidate-2")
    for path in SAMPLES.rglob("batch.toml"):
        assert path.read_text(encoding="utf-8").startswith("# Invented data")


def test_the_whole_tree_is_small() -> None:
    assert sum(path.stat().st_size for path in SAMPLES.rglob("*") if path.is_file()) < 1_500_000


@pytest.mark.parametrize("folder", [*FOLDERS, *CANDIDATES])
def test_the_papers_name_the_files_that_are_there(folder: str) -> None:
    plan = PLANS[folder]
    present = {path.name for path, *_ in exports(folder)}
    expected = {f"{test}_load{load}{plan.shape.suffix}" for test in ("loop", "steady", "recovery") for load in (1, 2)}
    assert present == (expected - {"steady_load2.xlsx"} if folder == "B26-050" else expected)
    papers = SAMPLES / folder / "batch.toml"
    if folder == "B26-042":
        assert not papers.exists()
        return
    document = tomllib.loads(papers.read_text(encoding="utf-8"))
    assert {run["file"] for run in document["run"]} == expected
    assert all(run["file"] == f"{run['test']}_load{run['load']}{plan.shape.suffix}" for run in document["run"])
    role = "reference" if folder == REFERENCE else "batch"
    assert {document["batch"]["role"], *(run["role"] for run in document["run"])} == {role}
    assert document["batch"]["id"] == Path(folder).name


def test_every_folder_comes_in_a_shape_of_its_own() -> None:
    plain = {f"recipes/candidate-{number}" for number in range(5, 13)}  # these are about recipes, and come as the first batch does
    shapes = [plan.shape for folder, plan in PLANS.items() if folder not in plain]
    assert {PLANS[folder].shape for folder in plain} == {scenario.shapes.PLAIN}
    assert len({shape.name for shape in shapes}) == len(shapes)
    assert {shape.suffix for shape in shapes} == {".csv", ".txt", ".tsv", ".dat", ".xlsx", ".ods", ""}
    assert {shape.delimiter for shape in shapes} == {",", ";", "\t", "|", " "}
    assert {shape.encoding for shape in shapes} == {"utf-8", "utf-8-sig", "utf-16", "cp1252"}
    assert {shape.steps for shape in shapes} == {"one table", "blocks", "sheets"}


@pytest.mark.parametrize("folder", FOLDERS)
def test_the_reference_point_comes_back_unless_the_edge_broke(folder: str) -> None:
    for load in (1, 2):
        ratio = reference_ratio(numbers(folder, "loop", load))
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
    first_run = generate.stamp(PLANS[folder].measured)
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
    assert list(totals.values()) == pytest.approx([100.0] * 12, abs=1e-9)


def test_the_candidates_follow_the_true_effects_that_the_readme_states() -> None:
    with (SAMPLES / "recipes" / "recipes.csv").open(encoding="utf-8", newline="") as file:
        amounts = {(row["candidate"], row["name"]): row["value"] for row in csv.DictReader(file)}
    for folder in CANDIDATES:
        name = Path(folder).name
        wanted = ("fumed silica", "rosin ester resin", "hydrogenated castor wax")
        silica, resin, wax = (float(amounts[name, component]) for component in wanted)
        law = scenario.ink(
            yielding=(silica / 3.0) ** 4.0 * np.exp(0.116 * (resin - 22.0) + 1.664 * wax),
            viscous=(silica / 3.0) ** 0.8 * np.exp(0.0923 * (resin - 22.0) + 0.365 * wax),
            plateau=np.exp(0.0464 * (resin - 22.0)),
            rebuilding=np.exp(-0.916 * wax),
        )
        made = PLANS[folder].ink
        for parameter in ("broken_yield_stress", "structure_consistency", "infinite_shear_viscosity", "build_up_rate"):
            assert getattr(made, parameter) == pytest.approx(getattr(law, parameter), rel=0.01), (name, parameter)
