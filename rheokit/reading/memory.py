"""How much memory a long export may take: what the system says is free, and what it limits this process to."""

from __future__ import annotations

import os
import sys
from pathlib import Path

__all__ = ["available_memory"]


def available_memory() -> int | None:
    """Return the memory [bytes] that can be taken now without harm to others, or None where the system does not tell."""
    known = [size for size in (_free(), _left_to_group(), _left_to_process()) if size is not None]
    return max(0, min(known)) if known else None


def _free() -> int | None:
    """Return what is free: as the kernel says, else half of what is built in."""
    for line in _lines("/proc/meminfo"):
        if line.startswith("MemAvailable:"):
            return 1024 * int(line.split()[1])
    if "SC_PHYS_PAGES" in getattr(os, "sysconf_names", {}):
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") // 2
    return None


def _left_to_group() -> int | None:
    """Return what a container may still take."""
    most, held = (_lines(f"/sys/fs/cgroup/memory.{what}") for what in ("max", "current"))
    if not most or not held or not most[0].strip().isdecimal():
        return None
    return int(most[0]) - int(held[0])


def _left_to_process() -> int | None:
    """Return what the process may still take by its own limit."""
    if sys.platform == "win32":
        return None
    import resource  # noqa: PLC0415 - not on every system

    most, _ = resource.getrlimit(resource.RLIMIT_AS)
    held = _lines("/proc/self/statm")
    if most == resource.RLIM_INFINITY or not held:
        return None
    return most - int(held[0].split()[0]) * resource.getpagesize()


def _lines(path: str) -> list[str]:
    try:
        return Path(path).read_text(encoding="ascii").splitlines()
    except (OSError, UnicodeDecodeError):
        return []
