"""How long reading takes beside pandas told everything, interleaved in one run.

python tests/benchmarks/reading.py [--files 1000] [--rows 1000000] [--repeats 5] [--output docs/reading_speed.md]
"""

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

import rheokit as rk

NAMES = ["step", "time", "shear_rate", "shear_stress", "viscosity", "temperature"]
PREAMBLE = "Batch,B26-041\nTest,loop\nLoad,1\nGeometry,cone-plate\nSet temperature,23.0 °C\n\n"
HEADER = "Step,Time,Shear rate,Shear stress,Viscosity,Temperature\n,s,1/s,Pa,mPa·s,°C\n"
BEFORE = PREAMBLE.count("\n") + HEADER.count("\n")


def write_export(path: Path, rows: int, seed: int) -> None:
    """Write an up-ramp with a preamble, a header and a units row; every cell has five digits or so, as exports have."""
    generator = np.random.default_rng(seed)
    time_, rate = np.linspace(2.0, 2.0 * rows, rows), np.linspace(100.0 / rows, 100.0, rows)
    stress = (130.0 + 12.0 * rate**0.68) * np.exp(0.005 * generator.standard_normal(rows))
    columns = {"time": time_, "rate": rate, "stress": stress, "viscosity": 1e3 * stress / rate, "temperature": np.full(rows, 23.01)}
    table = pd.DataFrame({"step": np.ones(rows, dtype=int), **columns})
    path.write_text(PREAMBLE + HEADER + table.to_csv(index=False, header=False, float_format="%.6g"), encoding="utf-8")


def told(path: Path) -> pd.DataFrame:
    """Read with pandas, which is told where the rows begin, what divides them and what the columns are called."""
    return pd.read_csv(path, skiprows=BEFORE, names=NAMES, header=None, sep=",", encoding="utf-8")


def interleaved(paths: list[Path], repeats: int) -> dict[str, float]:
    """Return the median time [s] of reading all paths, by rheokit and by pandas, in turn."""
    readers: dict[str, Callable[[Path], object]] = {"rheokit": rk.read_run, "pandas": told}
    times: dict[str, list[float]] = {name: [] for name in readers}
    for turn in range(repeats + 1):
        for name, read in readers.items():
            begin = time.perf_counter()
            for path in paths:
                read(path)
            if turn:  # the first turn warms the disk and the imports
                times[name].append(time.perf_counter() - begin)
    return {name: statistics.median(held) for name, held in times.items()}


def workbooks(folder: Path, rows: int, repeats: int) -> dict[str, float]:
    """Return the median time [s] of reading one workbook, by rheokit and by pandas through the same parser."""
    path = folder / "export.xlsx"
    text = folder / "export.csv"
    write_export(text, rows, 3)
    table = [line.split(",") for line in (PREAMBLE + HEADER).splitlines()]
    body = told(text).to_numpy().tolist()
    wide = [row + [""] * (len(NAMES) - len(row)) for row in table]
    pd.DataFrame([*wide, *body]).to_excel(path, index=False, header=False)
    readers: dict[str, Callable[[Path], object]] = {"rheokit": rk.read_run, "pandas": _read_excel}
    times: dict[str, list[float]] = {name: [] for name in readers}
    for turn in range(repeats + 1):
        for name, read in readers.items():
            begin = time.perf_counter()
            read(path)
            if turn:
                times[name].append(time.perf_counter() - begin)
    return {name: statistics.median(held) for name, held in times.items()}


def _read_excel(path: Path) -> pd.DataFrame:
    return pd.read_excel(path, engine="calamine", skiprows=BEFORE, names=NAMES, header=None)


def main() -> None:
    """Run, print the table, and write it where asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=1000)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--output", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        small = [folder / f"small_{index}.csv" for index in range(asked.files)]
        for index, path in enumerate(small):
            write_export(path, 60, index)
        large = folder / "large.csv"
        write_export(large, asked.rows, 1)
        cases = {
            f"{asked.files} exports of 60 rows": (interleaved(small, asked.repeats), "rheokit / pandas at most 2.5"),
            f"one export of {asked.rows:,} rows": (interleaved([large], asked.repeats), "pandas / rheokit at least 0.7"),
            "one workbook of 60 rows": (workbooks(folder, 60, asked.repeats), "none"),
        }
    page = _page(cases, asked.repeats)
    print(page)
    if asked.output:
        asked.output.write_text(page, encoding="utf-8")


def _page(cases: dict[str, tuple[dict[str, float], str]], repeats: int) -> str:
    rows = [
        f"| {what} | {1e3 * held['rheokit']:.1f} | {1e3 * held['pandas']:.1f} | {held['rheokit'] / held['pandas']:.2f} | {limit} |"
        for what, (held, limit) in cases.items()
    ]
    return "\n".join(
        [
            "# Speed of reading",
            "",
            f"Medians of {repeats} turns in one run, the two readers in turn. rheokit sniffs encoding, delimiter, decimal mark, preamble,",
            "header and units, checks the columns against each other and tells the steps; pandas is told everything and returns numbers.",
            "",
            "| what | rheokit [ms] | pandas, told everything [ms] | ratio | limit |",
            "|---|--:|--:|--:|---|",
            *rows,
            "",
            "Made by `python tests/benchmarks/reading.py --output docs/reading_speed.md`.",
            "",
        ]
    )


if __name__ == "__main__":
    main()
