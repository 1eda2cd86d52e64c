"""How fast many curves are fitted, and whether any ends worse than with a library's fit: ratios to peers, interleaved in one run.

python tests/benchmarks/fitting.py [--curves N] [--peers N] [--quality N] [--large N] [--rounds N] [--json FILE] [--page FILE]

Peers get the same points, standard deviations and data-driven start, and the law as a plain function of numpy. They are timed on a few
curves and scaled; the answers of all are compared on more. Processor time of this one process counts, not the clock on the wall.
"""

from __future__ import annotations

import argparse
import json
import resource
import statistics
import subprocess
import sys
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import lmfit
import numpy as np
from scipy.optimize import OptimizeWarning, curve_fit

import rheokit as rk

TOP = Path(__file__).resolve().parents[2]
RATES = np.geomspace(0.01, 1000.0, 30)
NOISE = 0.03
FUNCTIONS = {
    "herschel_bulkley": lambda x, a, k, n: a + k * x**n,
    "cross": lambda x, a, b, t, m: x * (b + (a - b) / (1.0 + (t * x) ** m)),
    "carreau_yasuda": lambda x, a, b, t, c, n: x * (b + (a - b) * (1.0 + (t * x) ** c) ** ((n - 1.0) / c)),
}
# What must be reached: times a loop of bounded lmfit, times a loop of curve_fit, and the share of curves no worse than the best peer.
MUST = {"herschel_bulkley": (600.0, 120.0, 0.9995), "cross": (300.0, 35.0, 0.999), "carreau_yasuda": (150.0, 25.0, 0.999)}
NO_WORSE = 1.0 + 1e-6
PEERS = ("curve_fit, lm", "curve_fit, lm, derivatives", "curve_fit, trf in bounds", "lmfit in bounds")


@dataclass
class Curves:
    """Seeded curves of one law: stresses and standard deviations (N, 30), and a start for each (N, p)."""

    name: str
    stresses: np.ndarray
    deviations: np.ndarray
    law: rk.Law = field(init=False)

    def __post_init__(self) -> None:
        self.law = rk.MODELS[self.name]
        self.lower = np.array([parameter.lower for parameter in self.law.parameters])
        self.upper = np.array([parameter.upper for parameter in self.law.parameters])

    def start(self, index: int) -> np.ndarray:
        """Return the law's own guess, inside the bounds."""
        guess = self.law.guess(RATES, self.stresses[index])
        inside = np.where(np.isfinite(self.upper), self.upper - 1e-9, np.inf)
        return np.clip([guess[name] for name in self.law.names], self.lower + 1e-9, inside)


def draw(name: str, count: int, seed: int, rates: np.ndarray = RATES) -> Curves:
    """Return curves of inks spread over what a plant meets, 3 % noise."""
    generator = np.random.default_rng(seed)
    uniform = generator.uniform
    if name == "herschel_bulkley":
        inks = uniform(5.0, 100.0, count), uniform(2.0, 50.0, count), uniform(0.25, 0.9, count)
    else:
        inks = 10.0 ** uniform(1.0, 3.5, count), 10.0 ** uniform(-2.0, 0.5, count), 10.0 ** uniform(-1.0, 1.5, count)
        inks += (uniform(0.5, 0.95, count),) if name == "cross" else (uniform(0.6, 3.0, count), uniform(0.1, 0.6, count))
    exact = rk.MODELS[name].value(rates, *np.array(inks)[:, :, None])
    return Curves(name, exact * (1.0 + NOISE * generator.standard_normal(exact.shape)), NOISE * exact)


def by_peer(peer: str, curves: Curves, index: int, start: np.ndarray | None = None) -> np.ndarray:
    """Return what a peer finds for one curve; NaN where it gives up."""
    stress, deviation, function = curves.stresses[index], curves.deviations[index], FUNCTIONS[curves.name]
    begin = curves.start(index) if start is None else start
    try:
        if peer == "lmfit in bounds":
            parameters = lmfit.Parameters()
            for name, value, low, high in zip(curves.law.names, begin, curves.lower, curves.upper, strict=True):
                parameters.add(name, value=value, min=low, max=high)
            found = lmfit.minimize(
                lambda p: (stress - function(RATES, *(p[name].value for name in curves.law.names))) / deviation, parameters
            )
            return np.array([found.params[name].value for name in curves.law.names])
        options: dict[str, object] = {}
        if peer == "curve_fit, trf in bounds":
            options["bounds"] = (curves.lower, curves.upper)
        if peer == "curve_fit, lm, derivatives":
            options["jac"] = curves.law.jacobian
        return curve_fit(function, RATES, stress, p0=begin, sigma=deviation, **options)[0]
    except RuntimeError:
        return np.full(begin.size, np.nan)


def spent(work: Callable[[], object]) -> float:
    """Return the processor time that some work takes [s]."""
    begin = time.process_time()
    work()
    return time.process_time() - begin


def speed(name: str, options: argparse.Namespace, seed: int) -> dict[str, float]:
    """Return how many times as long as ours each peer takes per curve: medians over rounds in which all take their turn."""
    times: dict[str, list[float]] = {}
    for turn in range(options.rounds + 1):
        curves = draw(name, options.curves, seed + turn)
        rates = RATES * np.exp(0.05 * np.random.default_rng(seed).standard_normal((options.curves, RATES.size)))
        own = draw(name, options.curves, seed + turn, rates)
        ours = {
            "ours": lambda c=curves: rk.fit_many(RATES, c.stresses, name, weighting=c.deviations),
            "ours, rates of each curve": lambda c=own, r=rates: rk.fit_many(r, c.stresses, name, weighting=c.deviations),
        }
        for label, work in ours.items():
            times.setdefault(label, []).append(spent(work) / options.curves)
        for peer in PEERS:
            count = max(options.peers // (4 if peer == "lmfit in bounds" else 1), 1)
            loop = lambda p=peer, c=curves, n=count: [by_peer(p, c, index) for index in range(n)]  # noqa: E731 - it is timed at once
            times.setdefault(peer, []).append(spent(loop) / count)
    medians = {label: statistics.median(values[1:]) for label, values in times.items()}  # the first round warms up
    return {label: value / medians["ours"] for label, value in medians.items()}


def quality(name: str, count: int, seed: int) -> dict[str, float]:
    """Return the share of curves on which ours is no worse than the better feasible peer, and the largest excess."""
    curves = draw(name, count, seed)
    many = rk.fit_many(RATES, curves.stresses, name, weighting=curves.deviations)
    best = np.full(count, np.inf)
    for index in range(count):
        for peer in PEERS:
            point = by_peer(peer, curves, index)
            if not (np.isfinite(point).all() and (point >= curves.lower).all() and (point <= curves.upper).all()):
                continue
            residual = (curves.stresses[index] - curves.law.value(RATES, *point)) / curves.deviations[index]
            best[index] = min(best[index], float(residual @ residual))
    excess = many.sum_of_squares / best - 1.0
    return {
        "curves": count,
        "no worse": float((many.sum_of_squares <= best * NO_WORSE).mean()),
        "largest excess": float(np.nanmax(excess)),
        "better by 1e-6": float((best > many.sum_of_squares * NO_WORSE).mean()),
        "one by one": float(many.one_by_one.mean()),
        "converged": float(many.converged.mean()),
    }


def resampled(options: argparse.Namespace, seed: int) -> dict[str, float]:
    """Return how many times as long as our bootstrap of 1000 a loop of curve_fit with warm starts takes."""
    curves = draw("herschel_bulkley", 1, seed)
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, curves.stresses[0]), "herschel_bulkley", weighting=curves.deviations[0])
    generator = np.random.default_rng(seed)
    fitted = fit.stress(RATES)
    drawn = fitted + curves.deviations * generator.choice(fit.residuals / curves.deviations[0], (options.peers, RATES.size))
    loop = Curves("herschel_bulkley", drawn, np.tile(curves.deviations, (options.peers, 1)))
    ours, theirs = [], []
    for _ in range(options.rounds + 1):
        ours.append(spent(lambda: fit.bootstrap(1000)))
        theirs.append(spent(lambda: [by_peer("curve_fit, lm", loop, index, fit.values) for index in range(options.peers)]))
    return {"ratio": statistics.median(theirs[1:]) / options.peers * 1000.0 / statistics.median(ours[1:]), "must": 30.0}


def single(options: argparse.Namespace, seed: int) -> dict[str, float]:
    """Return how many times as long as curve_fit, in lm, one whole fit of one Herschel-Bulkley curve takes through the front door."""
    curves = draw("herschel_bulkley", options.peers, seed)
    ours, theirs = [], []
    for _ in range(options.rounds + 1):
        flow = [rk.FlowCurve(RATES, stress) for stress in curves.stresses]
        pairs = list(zip(flow, curves.deviations, strict=True))
        ours.append(spent(lambda p=pairs: [rk.fit_flow_curve(curve, "herschel_bulkley", weighting=given) for curve, given in p]))
        theirs.append(spent(lambda: [by_peer("curve_fit, lm", curves, index) for index in range(options.peers)]))
    return {"times curve_fit": statistics.median(ours[1:]) / statistics.median(theirs[1:])}


def large(count: int, name: str = "herschel_bulkley") -> dict[str, float]:
    """Return cost per curve relative to that at 10,000 and the memory above inputs and outputs [MB], measured in this process."""
    curves = draw(name, 10_000, 1)
    repeats = -(-count // 10_000)
    stresses, deviations = np.tile(curves.stresses, (repeats, 1)), np.tile(curves.deviations, (repeats, 1))
    # Ten thousand at a time from all over the arrays, so that neither finds its data in a cache.
    usual = []
    for begin in np.linspace(0, len(stresses) - 10_000, 21).astype(int):
        part = slice(begin, begin + 10_000)
        usual.append(spent(lambda p=part: rk.fit_many(RATES, stresses[p], name, weighting=deviations[p])) / 10_000)
    kept: list[rk.ManyFits] = []
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    many = spent(lambda: kept.append(rk.fit_many(RATES, stresses, name, weighting=deviations)))
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    arrays = ("values", "errors", "determined", "sum_of_squares", "converged", "one_by_one", "used")
    outputs = sum(getattr(kept[0], array).nbytes for array in arrays)
    return {
        "curves": len(stresses),
        "cost": many / len(stresses) / statistics.median(usual[1:]),
        "memory": (after - before) / 1024.0 - outputs / 2**20,
    }


def page(found: dict[str, object], command: str) -> str:
    """Return the page for the docs."""
    lines = [
        "# How fast many curves are fitted",
        "",
        "Written by the benchmark itself; make it anew with",
        "",
        f"    {command}",
        "",
        f"{found['settings']}",
        "",
        "Times of a peer over ours, per curve; medians of rounds in which all take turns. Peers get the same points, standard deviations",
        "and data-driven start, and the law as a plain function. A feasible peer is one whose answer lies within the bounds of the law;",
        "no worse means a sum of squares of at most 1 + 1e-6 times that of the best of them.",
        "",
        "| law | " + " | ".join(PEERS) + " | ours, rates of each curve | no worse | largest excess |",
        "|---" * (len(PEERS) + 4) + "|",
    ]
    for name, (times, best) in found["laws"].items():
        lmfit_must, lm_must, no_worse = MUST[name]
        wanted = {"curve_fit, lm": f" (≥ {lm_must:.0f})", "lmfit in bounds": f" (≥ {lmfit_must:.0f})"}
        cells = [f"{times[peer]:.0f}{wanted.get(peer, '')}" for peer in PEERS]
        cells += [
            f"{times['ours, rates of each curve']:.2f}",
            f"{100 * best['no worse']:.2f} % of {best['curves']} (≥ {100 * no_worse:.2f} %)",
        ]
        cells += [f"{best['largest excess']:.1e}"]
        lines.append(f"| {name.replace('_', ' ')} | " + " | ".join(cells) + " |")
    for name, (_, best) in found["laws"].items():
        lines += [
            "",
            f"{name.replace('_', ' ').capitalize()}: better than every feasible peer by more than 1e-6 on "
            f"{100 * best['better by 1e-6']:.1f} % of curves; {100 * best['one by one']:.2f} % went one by one; "
            f"{100 * best['converged']:.2f} % converged.",
        ]
    boot, one, big = found["bootstrap"], found["single"], found["large"]
    lines += [
        "",
        "Bootstrap of 1000 on one Herschel-Bulkley fit: a loop of curve_fit with warm starts takes "
        f"{boot['ratio']:.0f} times as long (≥ 30).",
        "",
        f"One whole fit of one Herschel-Bulkley curve, with Estimates and findings: {one['times curve_fit']:.1f} times a bare curve_fit.",
        "",
        f"Herschel-Bulkley, {big['curves']:.0f} curves: {big['cost']:.2f} times the cost per curve of 10,000 (≤ 1.2), "
        f"{big['memory']:.0f} MB above inputs and outputs (< 200).",
        "",
    ]
    return "\n".join(lines)


def main(arguments: list[str]) -> None:
    """Measure, print a table, and write JSON and page where asked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    for name, usual in (("curves", 10_000), ("peers", 200), ("quality", 4_000), ("large", 1_000_000), ("rounds", 5), ("seed", 2026)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--page", type=Path)
    parser.add_argument("--only-large", action="store_true", help=argparse.SUPPRESS)
    options = parser.parse_args(arguments)
    warnings.simplefilter("ignore", OptimizeWarning)
    warnings.simplefilter("ignore", RuntimeWarning)  # trial points of peers overflow
    if options.only_large:
        print(json.dumps(large(options.large)))
        return
    # Memory is read as a process's highest, so it gets one of its own.
    alone = [sys.executable, __file__, "--only-large", "--large", str(options.large)]
    laws = {name: (speed(name, options, options.seed), quality(name, options.quality, options.seed + 99)) for name in FUNCTIONS}
    found: dict[str, object] = {
        "settings": f"{options.curves} curves x {RATES.size} points, {100 * NOISE:.0f} % noise, standard deviations given, "
        f"{options.rounds} rounds, peers timed on {options.peers} curves, seed {options.seed}.",
        "laws": laws,
        "bootstrap": resampled(options, options.seed),
        "single": single(options, options.seed),
        "large": json.loads(subprocess.run(alone, capture_output=True, text=True, check=True).stdout),
    }
    text = page(found, "python tests/benchmarks/fitting.py --page docs/fitting_speed.md")
    print(text)
    if options.json is not None:
        options.json.write_text(json.dumps(found, indent=2) + "\n", "utf-8")
    if options.page is not None:
        options.page.write_text(text, "utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
