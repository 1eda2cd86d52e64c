"""Writers of one register killed at random moments: nothing acknowledged is lost, nothing half stands there, nothing stays locked.

`python tests/studies/register_kills.py --kills 200 --seed 1` prints the table.
"""

from __future__ import annotations

import argparse
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from random import Random

from rheokit.register.entry import Entry
from rheokit.register.store import Register
from rheokit.register.verification import verify_register

WRITER = Path(__file__).parents[1] / "register" / "writer.py"
WRITERS = 8


def study(kills: int, seed: int) -> dict[str, int]:
    """Return counts: kills, acknowledged entries, lost ones, troubles of the chain, entries in all, and appends refused afterwards."""
    random = Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "register.sqlite"
        Register(path, create=True)
        logs: list[Path] = []
        running: dict[subprocess.Popen[bytes], Path] = {}

        def start() -> None:
            log = Path(folder) / f"log-{len(logs)}"
            logs.append(log)
            with log.open("wb") as out:
                command = [sys.executable, str(WRITER), str(path), f"W{len(logs)}"]
                environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
                running[subprocess.Popen(command, stdout=out, env=environment)] = log

        for _ in range(WRITERS):
            start()
        _wait_for(path, WRITERS)
        for _ in range(kills):
            time.sleep(random.uniform(0.0, 0.2))
            # One that has begun to append: a kill while it still loads tries nothing.
            victim = random.choice([process for process, log in running.items() if log.stat().st_size] or list(running))
            victim.send_signal(signal.SIGKILL)
            victim.wait()
            del running[victim]
            start()
        for process in list(running):
            process.kill()
            process.wait()
        return {"kills": kills, **_counts(path, logs)}


def _wait_for(path: Path, least: int) -> None:
    for _ in range(600):
        if len(Register(path)) >= least:
            return
        time.sleep(0.05)
    raise TimeoutError("the writers did not begin")


def _counts(path: Path, logs: list[Path]) -> dict[str, int]:
    register = Register(path)
    held = {entry.number: entry for entry in register.entries()}
    acknowledged = lost = 0
    for log in logs:
        for line in log.read_text().splitlines(keepends=True):
            if not line.endswith("\n"):
                continue
            number, batch, hashed = line.split()
            acknowledged += 1
            kept = held.get(int(number))
            lost += kept is None or kept.batch != batch or kept.hash != hashed
    troubles = len(verify_register(path).troubles)
    refused = 0
    start = time.monotonic()
    register.append(Entry(kind="remark", written="2026-11-25T09:00:00Z", batch="", reason="afterwards"))
    refused += time.monotonic() - start > 5.0
    return {"acknowledged": acknowledged, "lost": lost, "troubles": troubles, "entries": len(held), "locked_afterwards": refused}


def main() -> None:
    """Print the table of a run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    for name, count in study(given.kills, given.seed).items():
        sys.stdout.write(f"{name.replace('_', ' ')}: {count}\n")


if __name__ == "__main__":
    main()
