"""Spoil good exports and see that none of them is read wrong without a word.

    PYTHONPATH=tests python -m studies.reading_mutations --repeats 10000 --seed 1 --output docs/reading_mutations.md

The oracle
----------
A good file is written by `written_export` from numbers printed with five digits, in each of the forms of `good_files`; then one thing is
spoilt (`mutations`). Two answers can be right. One is the numbers of the good file: the damage did not matter. The other is what the
spoilt text now says: where a line was dropped, no reader can know it was there. `plain_reading` finds that answer; it is told the form in
which the file was written, guesses nothing, and gives none at all where the file no longer keeps to its form in every place. It shares
no code with the reader.

Each reading is one of

* *refused*: an error of ours;
* *finding*: read, and the run or one of its steps carries a caution or an invalid finding; the good file carries none (that is checked);
* *read right*: the numbers and steps are those of the good file; or they are what the text now says, and each row is a row of the good
  file (lines or columns went or came twice, for all to see). A column that is gone is right only if all others are;
* *could not be revealed*: the numbers are what the text now says, they are not the true ones, and no law ties them to other columns that
  would show it (`oracle.contradictions`): viscosity times rate is stress; torque goes with stress, speed with rate; time does not run
  back; the two clocks go together; nothing is colder than absolute zero. A law counts as broken from 3 %: real instruments average each
  column by itself, so that no reader may call less a contradiction;
* *wrong in silence*: anything else: numbers that neither file says, or a contradiction between columns that was not said;
* *crashed*: any other exception, a dead process, more than 600 MB; *slow*: more than one second of processor time.

An outlier is no contradiction here: one temperature of 83 °C among many of 23 °C is odd, and only a person can tell. Files that would
fill memory (`bombs`) are read in a process of their own whose memory is bounded.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from rheokit.base.errors import RheokitError
from rheokit.reading.export import read_run
from studies.bombs import BOMBS, BoundedReader
from studies.good_files import GOOD
from studies.mutations import MUTATIONS, Good, Random, Spoilt, good_file
from studies.oracle import has_finding, same, verdict

CLASSES = ("read right", "finding", "refused", "could not be revealed", "wrong in silence", "crashed", "slow")
LIMIT = 1.0
"""[s] of processor time for one file."""


@dataclass(frozen=True, kw_only=True)
class Case:
    """One spoilt file that came out badly: what was done to which form, the number of its draw, and the outcome."""

    mutation: str
    form: str
    draw: int
    outcome: str


@dataclass(frozen=True, kw_only=True)
class Outcomes:
    """Counts by mutation and class, the slowest reading [s] of each mutation, and the cases that came out badly."""

    repeats: int
    seed: int
    counts: dict[str, Counter[str]]
    slowest: dict[str, float]
    bad: list[Case] = field(default_factory=list)

    def total(self, outcome: str) -> int:
        """Return how many files came out so."""
        return sum(count[outcome] for count in self.counts.values())

    def markdown(self) -> str:
        """Return the table."""
        head = ("what was spoilt", "files", *CLASSES, "slowest [ms]")
        lines = ["| " + " | ".join(head) + " |", "|---|" + "--:|" * (len(head) - 1)]
        for name, count in self.counts.items():
            cells = (name, count.total(), *(count[one] for one in CLASSES), f"{1e3 * self.slowest[name]:.0f}")
            lines.append("| " + " | ".join(map(str, cells)) + " |")
        sums = [sum(count.total() for count in self.counts.values()), *map(self.total, CLASSES)]
        lines.append(f"| **all** | {' | '.join(f'**{number}**' for number in sums)} | **{1e3 * max(self.slowest.values()):.0f}** |")
        return "\n".join(lines)


def good_files(folder: Path) -> list[Good]:
    """Return the good files, each read to its own numbers without a caution; anything else would make the study worthless."""
    found = []
    for form, points in GOOD:
        good = good_file(form, points)
        run = read_run(_write(folder, good.data, form.suffix))
        if has_finding(run) or not same(run, good.said):
            raise AssertionError(f"{form.name}: the good file itself is not read right")
        found.append(good)
    return found


def study(repeats: int, seed: int, files: Sequence[Good] | None = None) -> Outcomes:
    """Spoil `repeats` files, each kind of damage as often as every other, and count what becomes of them."""
    names = (*MUTATIONS, *BOMBS)
    result = Outcomes(repeats=repeats, seed=seed, counts={name: Counter() for name in names}, slowest=dict.fromkeys(names, 0.0))
    with tempfile.TemporaryDirectory() as temporary, BoundedReader() as bounded:
        folder = Path(temporary)
        goods = good_files(folder) if files is None else list(files)
        for draw in range(repeats):
            name = names[draw % len(names)]
            random = np.random.default_rng((seed, draw))
            form, outcome, seconds = _bomb(name, random, folder, bounded) if name in BOMBS else _spoilt(name, random, folder, goods)
            if seconds > LIMIT and outcome != "crashed":
                outcome = "slow"
            result.counts[name][outcome] += 1
            result.slowest[name] = max(result.slowest[name], seconds)
            if outcome in {"wrong in silence", "crashed", "slow"}:
                result.bad.append(Case(mutation=name, form=form, draw=draw, outcome=outcome))
    return result


def draw_again(case: Case, seed: int, goods: Sequence[Good]) -> tuple[Good, Spoilt]:
    """Return the file of a case once more."""
    return _drawn(case.mutation, np.random.default_rng((seed, case.draw)), goods)


def _drawn(name: str, random: Random, goods: Sequence[Good]) -> tuple[Good, Spoilt]:
    while True:
        good = goods[int(random.integers(len(goods)))]
        spoilt = MUTATIONS[name](good, random)
        if spoilt is not None and spoilt.data != good.data:
            return good, spoilt


def _spoilt(name: str, random: Random, folder: Path, goods: Sequence[Good]) -> tuple[str, str, float]:
    good, spoilt = _drawn(name, random, goods)
    path = _write(folder, spoilt.data, good.form.suffix)
    start = time.process_time()
    try:
        run = read_run(path)
    except RheokitError:
        return good.form.name, "refused", time.process_time() - start
    except Exception:
        return good.form.name, "crashed", time.process_time() - start
    seconds = time.process_time() - start
    return good.form.name, verdict(run, good.said, spoilt.said), seconds


def _bomb(name: str, random: Random, folder: Path, bounded: BoundedReader) -> tuple[str, str, float]:
    suffix, variants, written = BOMBS[name]
    variant = str(random.choice(variants))
    outcome, seconds = bounded.outcome(_write(folder, written(variant), ".ods" if variant.startswith("ods") else suffix))
    return variant, {"read": "wrong in silence"}.get(outcome, outcome.split(" ")[0]), seconds


def _write(folder: Path, data: bytes, suffix: str) -> Path:
    path = folder / f"spoilt{suffix}"
    path.write_bytes(data)
    return path


PAGE = """# What becomes of spoilt exports

{repeats:,} files, each a good export of one of {forms} shapes with one thing spoilt (seed {seed}). *Refused*: an error naming the place.
*Finding*: read, with a caution or worse that the release check prints. *Read right*: the true numbers, or what the text now says where a
line went or came twice. *Could not be revealed*: a number changed and no other column contradicts it by 3 % or more. *Wrong in silence*
is what must not happen; neither may a crash, more than a second, or more than 600 MB.

{table}

What counts as what, and why, stands at the top of `tests/studies/reading_mutations.py`. Made by

```sh
PYTHONPATH=tests python -m studies.reading_mutations --repeats {repeats} --seed {seed} --output docs/reading_mutations.md
```
"""


def main() -> int:
    """Run the study and write its page."""
    parser = argparse.ArgumentParser(description="Spoil good exports and count how they are read.")
    parser.add_argument("--repeats", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--output", type=Path, help="page to write")
    options = parser.parse_args()
    result = study(options.repeats, options.seed)
    print(result.markdown())
    for case in result.bad:
        print(f"{case.outcome}: {case.mutation}, {case.form}, draw {case.draw}")
    if options.output:
        page = PAGE.format(repeats=result.repeats, seed=result.seed, forms=len(GOOD), table=result.markdown())
        options.output.write_text(page, encoding="utf-8", newline="\n")
    return 1 if result.bad else 0


if __name__ == "__main__":
    sys.exit(main())
