"""How long a cold `rheokit check` takes, in units of importing numpy, pandas and scipy.optimize, interleaved in one run.

    python tests/benchmarks/cold_check.py [REPEATS]
"""

import statistics
import subprocess
import sys
import time
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
SAMPLES = TOP / "sample_rheometer_runs"
COMMANDS = {
    "imports": [sys.executable, "-c", "import numpy, pandas, scipy.optimize"],
    "check": [sys.executable, "-m", "rheokit", "check", str(SAMPLES / "B26-041"), "--spec", str(SAMPLES / "specification.toml")],
}


def wall_time(command: list[str]) -> float:
    """Return the wall time of one process [s]."""
    begin = time.perf_counter()
    subprocess.run(command, cwd=TOP, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - begin


def main(repeats: int) -> None:
    """Run both commands in turn, once to warm the disk and then `repeats` times, and print medians and their ratio."""
    times: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for turn in range(repeats + 1):
        for name, command in COMMANDS.items():
            spent = wall_time(command)
            if turn:
                times[name].append(spent)
    medians = {name: statistics.median(values) for name, values in times.items()}
    for name, values in times.items():
        print(f"{name:8s} median {1e3 * medians[name]:6.0f} ms   from {1e3 * min(values):.0f} to {1e3 * max(values):.0f} ms")
    print(f"ratio check / imports: {medians['check'] / medians['imports']:.2f} (limit 2)")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 7)
