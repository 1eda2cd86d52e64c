"""One writer of the register, for tests that kill it: appends for ever and prints the number of every entry it was told is safe."""

from __future__ import annotations

import itertools
import sys

from rheokit.register.entry import Entry
from rheokit.register.store import Register


def main(path: str, name: str) -> None:
    register = Register(path)
    for count in itertools.count(1):
        kept = register.append(
            Entry(
                kind="check", written="2026-11-25T08:00:00Z", batch=f"{name}-{count}", disposition="hold", record=f"{name} {count}".encode()
            )
        )
        sys.stdout.write(f"{kept.number} {name}-{count} {kept.hash}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(*sys.argv[1:])
