"""How fast a loop and a step test are fitted jointly, against general least squares over an adaptive integrator, in one run.

python tests/benchmarks/structure.py [--rounds N] [--page FILE]

Five free parameters (build-up and breakdown, two yield stresses, a consistency), 240 points of a loop and 420 of a step test, standard
deviations given. The peer is `scipy.optimize.least_squares` with scaled parameters and bounds over `solve_ivp`, piece by piece, begun near
the truth, where it is at its best; ours begins from nothing but the points. Both find the same minimum, or the run fails. Processor time
counts.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import least_squares

import rheokit as rk
from rheokit.thixotropy.kinetics.recorded import RecordedLoad

TRUTH = {
    "build_up_rate": 0.025, "breakdown_coefficient": 0.005, "broken_yield_stress": 60.0, "structure_yield_stress": 70.0,
    "broken_consistency": 22.0,
}  # fmt: skip
LAW = rk.StructureLaw(
    name="five_parameters",
    held={
        "breakdown_exponent": 0.5, "flow_index": 0.5, "elastic_strain": 0.0, "structure_consistency": 0.0, "infinite_shear_viscosity": 0.0,
    },
)  # fmt: skip
START = {name: 1.3 * value for name, value in TRUTH.items()}
LEAST_RATIO = 100.0
# The peer's integrator and its stopping rule leave this much, relative, in parameters and sum of squares.
SAME_PARAMETERS, SAME_SUM = 1e-4, 1e-7


def _times(duration: float, count: int) -> tuple[float, ...]:
    return tuple(duration * np.arange(1, count + 1) / count)


def programmes() -> tuple[rk.Programme, rk.Programme]:
    """Return the loop of 240 points and the step test of 420."""
    piece = rk.Piece
    loop = rk.Programme(
        pieces=(
            piece(kind="up", duration=120.0, start=0.0, end=100.0, course="linear", points=_times(120.0, 100)),
            piece(kind="hold", duration=30.0, start=100.0, end=100.0, points=_times(30.0, 40)),
            piece(kind="down", duration=120.0, start=100.0, end=0.0, course="linear", points=(*(1.2 * np.arange(1, 100)), 119.9)),
        )
    )
    return loop, rk.step_test_programme(points=(120, 60, 240))


def measured(seed: int) -> list[RecordedLoad]:
    """Return both loads with 1 % scatter."""
    generator = np.random.default_rng(seed)
    loads = []
    for name, programme in zip(("loop", "step test"), programmes(), strict=True):
        exact = rk.simulate_structure(programme, LAW, TRUTH)
        stress = exact.shear_stress * (1.0 + 0.01 * generator.standard_normal(exact.time.size))
        loads.append(RecordedLoad(name=name, history=programme.history(), stress=stress, kinds=exact.kinds))
    return loads


def ours(loads: list[RecordedLoad], deviations: np.ndarray) -> tuple[np.ndarray, float]:
    """Fit through the front door."""
    fit = rk.fit_structure(loop=loads[0], step_test=loads[1], law=LAW, weighting=deviations, load_deviation=0.0, initial_structure=1.0)
    return np.array([fit.parameters[name].value for name in TRUTH]), fit.sum_of_squares


def integrated(a: float, b: float) -> tuple[np.ndarray, np.ndarray]:
    """Return structure and rate at every point by an adaptive integrator."""
    structures, rates = [], []
    for programme in programmes():
        value = 1.0
        for piece in programme.pieces:
            times = np.unique([*piece.points, piece.duration])

            def change(at: float, y: np.ndarray, piece: rk.Piece = piece) -> np.ndarray:
                rate = piece.start + (piece.end - piece.start) * at / piece.duration
                return a * (1.0 - y) - b * rate**0.5 * y

            answer = solve_ivp(change, (0.0, piece.duration), [value], t_eval=times, rtol=1e-8, atol=1e-10)
            structures.append(answer.y[0][np.isin(times, piece.points)])
            rates.append(piece.at(np.array(piece.points)))
            value = answer.y[0][-1]
    return np.concatenate(structures), np.concatenate(rates)


def peer(loads: list[RecordedLoad], deviations: np.ndarray) -> tuple[np.ndarray, float]:
    """Fit by general least squares over the integrator."""
    stress = np.concatenate([load.stress for load in loads])
    scale = np.array(list(START.values()))

    def residuals(scaled: np.ndarray) -> np.ndarray:
        a, b, broken, built, consistency = scaled * scale
        structure, rate = integrated(a, b)
        return (broken + built * structure + consistency * rate**0.5 - stress) / deviations

    answer = least_squares(residuals, np.ones(5), bounds=(0.0, np.inf), x_scale=1.0)
    return answer.x * scale, 2.0 * float(answer.cost)


def main() -> int:
    """Time both in turns and say whether the promise holds."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--page", type=Path)
    options = parser.parse_args()
    times: dict[str, list[float]] = {"ours": [], "peer": []}
    excess, apart = [], []
    for seed in range(options.rounds):
        loads = measured(seed)
        deviations = np.concatenate([load.stress for load in loads]) * 0.01
        found = {}
        for name, fit, repeats in (("ours", ours, 10), ("peer", peer, 1)):
            begun = time.process_time()
            for _ in range(repeats):
                found[name] = fit(loads, deviations)
            times[name].append((time.process_time() - begun) / repeats)
        apart.append(float(np.abs(found["ours"][0] / found["peer"][0] - 1.0).max()))
        excess.append(found["ours"][1] / found["peer"][1] - 1.0)
    each = {name: statistics.median(values) for name, values in times.items()}
    ratio = statistics.median(peer / ours for peer, ours in zip(times["peer"], times["ours"], strict=True))
    same = max(apart) <= SAME_PARAMETERS and max(map(abs, excess)) <= SAME_SUM
    lines = [
        f"joint fit of five parameters to 240 + 420 points: {1e3 * each['ours']:.1f} ms, peer {1e3 * each['peer']:.0f} ms",
        f"ratio {ratio:.0f} (must be at least {LEAST_RATIO:.0f}), medians of {options.rounds} rounds",
        f"same optimum: parameters within {max(apart):.1e} (at most {SAME_PARAMETERS:.0e}), sums of squares within "
        f"{max(map(abs, excess)):.1e} (at most {SAME_SUM:.0e}): {'yes' if same else 'NO'}",
    ]
    text = "\n".join(lines)
    print(text)
    if options.page:
        command = f"python tests/benchmarks/structure.py --page docs/{options.page.name}"
        said = (__doc__ or "").split("\n\n")[2].strip()
        rows = "\n".join(f"- {line}" for line in lines)
        options.page.write_text(f"# How fast a structure is fitted\n\n{said}\n\nMade by `{command}`.\n\n{rows}\n", "utf-8")
    return 0 if same and ratio >= LEAST_RATIO else 1


if __name__ == "__main__":
    sys.exit(main())
