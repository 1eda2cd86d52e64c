"""How long a cold `rheokit check` takes, in units of importing numpy, pandas and scipy.optimize, interleaved in one run.

python tests/benchmarks/cold_check.py [REPEATS]
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
SAMPLES = TOP / "sample_rheometer_runs"
CHECK = [sys.executable, "-m", "rheokit", "check", str(SAMPLES / "B26-041"), "--spec", str(SAMPLES / "specification.toml")]


def wall_time(command: list[str]) -> float:
    """Return the wall time of one process [s]."""
    begin = time.perf_counter()
    subprocess.run(command, cwd=TOP, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - begin


def main(repeats: int) -> None:
    """Run the commands in turn, once to warm the disk and then `repeats` times, and print medians and ratios."""
    times: dict[str, list[float]] = {"imports": [], "check": [], "check and page": []}
    for turn in range(repeats + 1):
        with tempfile.TemporaryDirectory() as folder:
            commands = {
                "imports": [sys.executable, "-c", "import numpy, pandas, scipy.optimize"],
                "check": CHECK,
                "check and page": [*CHECK, "--output", folder],
            }
            for name, command in commands.items():
                spent = wall_time(command)
                if turn:
                    times[name].append(spent)
    medians = {name: statistics.median(values) for name, values in times.items()}
    for name, values in times.items():
        ratio = medians[name] / medians["imports"]
        low, high = 1e3 * min(values), 1e3 * max(values)
        print(f"{name:15s} median {1e3 * medians[name]:6.0f} ms, {low:.0f} to {high:.0f} ms, ratio {ratio:.2f} (limit 2)")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 7)
