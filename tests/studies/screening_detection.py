"""How often each check of a measurement finds its fault, against the size of the fault, and how often it blames a good run.

    PYTHONPATH=tests python -m studies.screening_detection --output docs/screening_detection.md

The faults come from the virtual rheometer, which shares no code with the checks. The limits are those of the checks as they stand.
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from scipy import stats

from rheokit.screening import ALL_CHECKS, LOAD_CHECKS, screen, screen_loads
from studies.screening_faults import INKS, NOISES, PROTOCOLS, SCATTER, Case, cases, good_run

SEED = 1_000_000
"""Of the long run: none of its draws was seen while the checks were made."""
ALLOWED = 0.02
"""Part of the good runs in which a check may find something invalid."""


@dataclass(frozen=True)
class Detected:
    """One check and one size of its fault: how many of how many draws it was found in, and in how many as invalid."""

    check: str
    of: str
    size: float
    found: int
    invalid: int
    repeats: int


@dataclass(frozen=True)
class Blamed:
    """Good runs of one protocol and noise: in how many something invalid, and a caution, was found, and by which checks."""

    protocol: str
    noise: float
    runs: int
    invalid: int
    caution: int
    checks: dict[str, int]


@dataclass(frozen=True)
class Answer:
    """Detection by check and size, and what was found in good runs."""

    detected: tuple[Detected, ...]
    blamed: tuple[Blamed, ...]


def severities(case: Case, size: float, seed: int) -> set[str]:
    """Return the severities at which the check of a case finds something in one draw."""
    loads, known = case.build(size, seed)
    check = next(check for check in ALL_CHECKS if check.name == case.check)
    if check in LOAD_CHECKS:
        return {finding.severity for finding in screen_loads(loads) if finding.check == case.check}
    return {finding.severity for finding in check.findings(loads[0], known)}


def detection(case: Case, repeats: int, seed: int) -> list[Detected]:
    """Return how often a check finds its fault, size by size; each size has draws of its own."""
    rows = []
    for place, size in enumerate(case.sizes):
        found = [severities(case, size, seed + place * repeats + number) for number in range(repeats)]
        invalid = sum("invalid" in one for one in found)
        rows.append(Detected(case.check, case.of, float(size), sum(bool(one) for one in found), invalid, repeats))
    return rows


def blame(runs: int, seed: int) -> list[Blamed]:
    """Return what is found in good runs, by protocol and noise."""
    seen: dict[tuple[str, float], Counter[str]] = {}
    for number in range(runs):
        run, known, protocol, noise = good_run(seed + number)
        findings = [finding for finding in screen(run, known=known) if finding.severity != "info"]
        count = seen.setdefault((protocol, noise), Counter())
        count["runs"] += 1
        for severity in ("invalid", "caution"):
            count[severity] += any(finding.severity == severity for finding in findings)
        count.update({f"check {name}" for name in {finding.check for finding in findings}})
    return [
        Blamed(
            protocol, noise, count["runs"], count["invalid"], count["caution"],
            {name.removeprefix("check "): times for name, times in sorted(count.items()) if name.startswith("check ")},
        )
        for (protocol, noise), count in sorted(seen.items())
    ]  # fmt: skip


def study(repeats: int, seed: int, *, good_runs: int | None = None) -> Answer:
    """Return detection over so many draws of each size, and what is found in good runs, five times as many as draws if not said."""
    detected = [row for case in cases() for row in detection(case, repeats, seed)]
    return Answer(tuple(detected), tuple(blame(5 * repeats if good_runs is None else good_runs, seed)))


def most(count: int, share: float) -> int:
    """Return how many of so many draws may show what has that probability, in all but one study of a thousand."""
    return int(stats.binom.ppf(0.999, count, share))


def upper(found: int, count: int) -> float:
    """Return the upper end of the exact 95 % interval of a probability (Clopper and Pearson)."""
    return 1.0 if found == count else float(stats.beta.ppf(0.975, found + 1, count - found))


def page(answer: Answer) -> str:
    """Return the page of docs."""
    made = "Made by `PYTHONPATH=tests python -m studies.screening_detection --output docs/screening_detection.md`."
    return "\n".join([*_detected(answer.detected), "", *_good_runs(answer.blamed), "", made, ""])


def _detected(detected: tuple[Detected, ...]) -> list[str]:
    repeats = detected[0].repeats
    lines = [
        "# What the checks of a measurement find", "",
        f"Each check against one fault of the virtual rheometer, {repeats} draws a size. A size is in standard deviations of a point",
        f"of the run, {SCATTER:.0%} of its stress, where the column does not say otherwise. The limits were set before. A first trial,",
        "with other seeds, changed what some checks measure (a conditioning that had not levelled off, chance in slopes), no limit.",
        "The first size is the fault switched off. A limit of 5 % is five standard deviations here: below it nothing is to be found.",
        "All inks and runs are invented.", "",
        "| check | size of what | size: found (invalid) | | | | | |", "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]  # fmt: skip
    for check in dict.fromkeys(row.check for row in detected):
        rows = [row for row in detected if row.check == check]
        cells = [f"{row.size:g}: {row.found / row.repeats:.1%} ({row.invalid / row.repeats:.1%})" for row in rows]
        lines.append(f"| {check.replace('_', ' ')} | {rows[0].of} | {' | '.join(cells)} |")
    return lines


def _good_runs(blamed: tuple[Blamed, ...]) -> list[str]:
    runs, invalid = sum(row.runs for row in blamed), sum(row.invalid for row in blamed)
    worst = max(blamed, key=lambda row: row.invalid / row.runs)
    most_of_it = worst.invalid / worst.runs
    noises = ", ".join(f"{noise:.1%}" for noise in NOISES)
    share = f"{invalid / runs:.2%} (at most {upper(invalid, runs):.2%} by the exact 95 % interval; allowed are {ALLOWED:.0%})"
    lines = [
        "## Good runs", "",
        f"{runs} runs of {len(INKS)} inks ({', '.join(INKS)}), {len(PROTOCOLS)} protocols and noises of {noises}, each with noise",
        "that remembers (half as large), a load's scale of 2 %, a torque floor, inertia and a sensor's scatter. `waited` is steady",
        "steps with the course inside each point; `startup` and the up leg of `loop` are of rested gels with an overshoot.", "",
        f"Something invalid was found in {invalid} of {runs} runs, {share}.",
        f"Most of it at {worst.protocol} with a noise of {worst.noise:.1%}: {worst.invalid} of {worst.runs}, {most_of_it:.1%}.", "",
        "| protocol | noise | runs | invalid | caution | runs in which a check spoke |", "| --- | --- | --- | --- | --- | --- |",
    ]  # fmt: skip
    for row in blamed:
        said = ", ".join(f"{name.replace('_', ' ')} {times}" for name, times in row.checks.items())
        lines.append(f"| {row.protocol} | {row.noise:.1%} | {row.runs} | {row.invalid} | {row.caution} | {said} |")
    return lines


def main() -> None:
    """Write the page."""
    parser = argparse.ArgumentParser(description="detection by the checks of a measurement")
    parser.add_argument("--output", type=Path, required=True)
    parser.add_argument("--repeats", type=int, default=2000)
    arguments = parser.parse_args()
    arguments.output.write_text(page(study(arguments.repeats, SEED)), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
