"""Write the demo runs: every folder of the scenario, the same numbers every time.

    python sample_rheometer_runs/generate.py [--output DIR] [--replace]

Everything it writes is invented and measured by the seeded virtual rheometer.
"""

import argparse
import csv
import sys
from collections.abc import Sequence
from datetime import datetime, timedelta
from math import degrees
from pathlib import Path

from depth import FILES, FOLDER, write_depth
from scenario import BATCHES, CANDIDATES, RECIPES, STANDARD, USUAL, Plan

from rheokit.virtual import (
    ConePlate,
    Measurement,
    Protocol,
    Shape,
    loop_protocol,
    measure,
    recovery_protocol,
    steady_protocol,
    write_export,
)

INSTRUMENT = ConePlate()
PROTOCOLS: tuple[tuple[Protocol, timedelta], ...] = (
    (loop_protocol(), timedelta(minutes=25)),
    (steady_protocol(), timedelta(minutes=20)),
    (recovery_protocol(), timedelta(minutes=20)),
)
"""The three tests in the order they are run, and how long a load takes with cleaning."""
LOADS = (1, 2)
INVENTED = "yes: written by the seeded virtual rheometer"


def shape_of(plan: Plan, test: str, load: int) -> Shape:
    """How an export is laid out."""
    return plan.shapes.get((test, load), plan.shape)


def run_file(plan: Plan, test: str, load: int) -> str:
    """Name of an export."""
    return f"{test}_load{load}{shape_of(plan, test, load).suffix}"


def measured(plan: Plan, protocol: Protocol, load: int) -> Measurement:
    """Measure one load of one test of a folder."""
    number = [known.name for known, _ in PROTOCOLS].index(protocol.name) + 1
    faults = plan.faults.get((protocol.name, load), USUAL)
    return measure(plan.ink, protocol, INSTRUMENT, faults, 100 * plan.seed + 10 * number + load)


def stamp(time: datetime) -> str:
    """ISO 8601 in UTC."""
    return time.strftime("%Y-%m-%dT%H:%M:%SZ")


def preamble(plan: Plan, test: str, load: int, start: datetime) -> dict[str, str]:
    """Lines that stand above the table of an export."""
    return {
        "Batch": plan.batch_id,
        "Test": test,
        "Load": str(load),
        "Operator": plan.operator,
        "Measured": stamp(start),
        "Geometry": "cone-plate",
        "Cone radius": f"{INSTRUMENT.radius * 1e3:.1f} mm",
        "Cone angle": f"{degrees(INSTRUMENT.angle):.0f} °",
        "Gap zero": stamp(plan.measured - timedelta(minutes=20)),
        "Set temperature": f"{STANDARD.reference_temperature - 273.15:.1f} °C",
        "Invented data": INVENTED,
    }


def write_runs(plan: Plan, folder: Path) -> None:
    """Measure and export every load of every test of a folder."""
    start = plan.measured
    for protocol, length in PROTOCOLS:
        for load in LOADS:
            if (protocol.name, load) not in plan.omitted:
                path = folder / run_file(plan, protocol.name, load)
                lines = preamble(plan, protocol.name, load, start) if plan.preamble else None
                write_export(path, measured(plan, protocol, load), shape_of(plan, protocol.name, load), lines)
            start += length


def batch_toml(plan: Plan) -> str:
    """Text of batch.toml."""
    short = plan.batch_id.removeprefix("B")
    lines = [
        f"# Invented data: {INVENTED.removeprefix('yes: ')}.",
        "format = 1",
        "",
        "[batch]",
        f'id = "{plan.batch_id}"',
        'product = "slate grey gel paste, 40 series"',
        f'sample = "S{short}-1"',
        f'retained_sample = "R{short}"',
        f"made = {plan.made.date().isoformat()}",
        f'operator = "{plan.operator}"',
        f'role = "{plan.role}"',
    ]
    for protocol, _ in PROTOCOLS:
        for load in LOADS:
            lines += [
                "",
                "[[run]]",
                f'file = "{run_file(plan, protocol.name, load)}"',
                f'test = "{protocol.name}"',
                f"load = {load}",
                f'role = "{plan.role}"',
                'set_temperature = "23.0 °C"',
            ]
    return "\n".join(lines) + "\n"


def write_table(path: Path, header: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Write one comma-separated table."""
    with path.open("x", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def write_results(plan: Plan, folder: Path) -> None:
    """Write the hand-entered results; the check oil is read before the first load, the others on the day the batch is made."""
    rows = []
    for result in plan.results:
        of_oil = result.characteristic == "check_oil_viscosity"
        time = plan.measured - timedelta(minutes=30) if of_oil else plan.made + timedelta(hours=5)
        numbers = (result.value, result.unit, result.standard_uncertainty)
        rows.append((result.characteristic, *numbers, result.method, stamp(time)))
    write_table(folder / "results.csv", ("characteristic", "value", "unit", "standard_uncertainty", "method", "time"), rows)


def write_folder(plan: Plan, output: Path) -> None:
    """Write one folder of the scenario."""
    folder = output / plan.folder
    folder.mkdir(parents=True, exist_ok=True)
    write_runs(plan, folder)
    write_results(plan, folder)
    if plan.batch_file:
        (folder / "batch.toml").write_text(batch_toml(plan), encoding="utf-8", newline="\n")


def write_recipes(output: Path) -> None:
    """Write what the candidates are made of, one line a value."""
    rows = [
        (plan.batch_id, kind, name, role, lots[index], values[index], unit)
        for index, plan in enumerate(CANDIDATES)
        for (kind, name, role, unit), (lots, values) in RECIPES.items()
    ]
    write_table(output / "recipes" / "recipes.csv", ("candidate", "kind", "name", "role", "lot", "value", "unit"), rows)


def written_before(output: Path) -> list[Path]:
    """Files of an earlier run that would be in the way."""
    patterns = [*(f"{protocol.name}_load{load}*" for protocol, _ in PROTOCOLS for load in LOADS), "batch.toml", "results.csv"]
    folders = [output / plan.folder for plan in (*BATCHES, *CANDIDATES)]
    found = [path for folder in folders for pattern in patterns for path in sorted(folder.glob(pattern))]
    others = [output / "recipes" / "recipes.csv", *(output / FOLDER / name for name in FILES)]
    return [*found, *(path for path in others if path.exists())]


def main(arguments: Sequence[str] | None = None) -> int:
    """Write everything; 2 when files are in the way and may not be replaced."""
    parser = argparse.ArgumentParser(description="Write the invented demo runs of the virtual rheometer.")
    parser.add_argument("--output", type=Path, default=Path(__file__).parent, help="folder to write into (default: beside this file)")
    parser.add_argument("--replace", action="store_true", help="replace files written before")
    options = parser.parse_args(arguments)
    in_the_way = written_before(options.output)
    if in_the_way and not options.replace:
        print(f"{len(in_the_way)} files are there already, the first is {in_the_way[0]}; --replace writes them anew", file=sys.stderr)
        return 2
    for path in in_the_way:
        path.unlink()
    plans = (*BATCHES, *CANDIDATES)
    for number, plan in enumerate(plans, start=1):
        print(f"[{number:2d}/{len(plans)}] {plan.folder}", flush=True)
        write_folder(plan, options.output)
    write_recipes(options.output)
    print(FOLDER, flush=True)
    write_depth(options.output, INVENTED)
    return 0


if __name__ == "__main__":
    sys.exit(main())
