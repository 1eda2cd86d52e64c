"""How fast many loops are integrated: the one call beside the loops one by one, interleaved in one run.

python tests/benchmarks/loops.py [--loops N] [--alone N] [--rounds N]

Processor time of this one process counts. Ratios alone mean something: on another machine both are faster or slower.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Callable

import numpy as np

import rheokit as rk
from rheokit.thixotropy.many_loops import loop_areas


def draw(count: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return legs of 60 and 57 points at rates of their own, 1 % noise."""
    generator = np.random.default_rng(seed)
    up, down = (np.linspace(1.0, 100.0, size) * (1.0 + 0.002 * generator.random((count, size))) for size in (60, 57))
    legs = []
    for rate, level in ((up, 1.3), (down[:, ::-1], 1.0)):
        legs += [rate, level * (60.0 + 12.0 * rate**0.6) * (1.0 + 0.01 * generator.standard_normal(rate.shape))]
    return legs[0], legs[1], legs[2], legs[3]


def one_by_one(legs: tuple[np.ndarray, ...], count: int) -> np.ndarray:
    """Return the areas of the first loops, each by itself."""
    times = [np.linspace(0.0, 120.0, legs[0].shape[1]), np.linspace(120.0, 240.0, legs[2].shape[1])]
    found = np.empty(count)
    for row in range(count):
        up, down = rk.Leg(times[0], legs[0][row], legs[1][row]), rk.Leg(times[1], legs[2][row], legs[3][row])
        found[row] = rk.hysteresis_loop(up, down).area.value
    return found


def spent(work: Callable[[], object]) -> float:
    """Return the processor time that some work takes [s]."""
    begin = time.process_time()
    work()
    return time.process_time() - begin


def main() -> None:
    """Print how many times as fast the one call is."""
    parser = argparse.ArgumentParser(description="Time the areas of many loops.")
    parser.add_argument("--loops", type=int, default=10_000)
    parser.add_argument("--alone", type=int, default=500)
    parser.add_argument("--rounds", type=int, default=5)
    options = parser.parse_args()
    ratios = []
    for turn in range(options.rounds + 1):
        legs = draw(options.loops, turn)
        together = spent(lambda held=legs: loop_areas(*held)) / options.loops
        alone = spent(lambda held=legs: one_by_one(held, options.alone)) / options.alone
        if turn:  # the first round warms up
            ratios.append(alone / together)
    found = loop_areas(*legs)
    worst = np.max(np.abs(found.area[: options.alone] / one_by_one(legs, options.alone) - 1.0))
    print(f"{options.loops} loops in one call: {statistics.median(ratios):.0f} times as fast as one by one")
    print(f"rounds: {', '.join(f'{ratio:.0f}' for ratio in ratios)}; largest relative difference of an area {worst:.1e}")
    print(f"one call takes {together * 1e6:.0f} µs a loop here, {together * options.loops:.2f} s in all")


if __name__ == "__main__":
    main()
