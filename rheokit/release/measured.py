"""When the runs of a batch were measured, and how old the batch was then."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from rheokit.base.run import Batch, Run
from rheokit.reading.preamble import entry, moment
from rheokit.release.span import DAY, shown_time

__all__ = ["Age", "age_at_test", "age_on", "judged_runs", "measured_at"]


def judged_runs(batch: Batch) -> list[Run]:
    """Return the runs of the batch itself: those of the retained standard are compared with, never judged."""
    return [run for run in batch.all_runs if run.name not in batch.places or batch.places[run.name].role == "batch"]


def measured_at(run: Run) -> datetime | None:
    """Return when a run was measured, or None when its export does not say so with a time zone."""
    return moment(entry(run.metadata, "Measured") or "")


@dataclass(frozen=True, kw_only=True)
class Age:
    """Time [s] since a batch was made; in whole calendar days where only the day is known."""

    seconds: float
    in_whole_days: bool

    def __str__(self) -> str:
        return shown_time(self.seconds)


def age_on(made: str, when: datetime) -> Age | None:
    """Return how old a batch made on a day, or at a time with its zone, was at a moment; None where `made` is neither."""
    exact = moment(made)
    if exact is not None:
        return Age(seconds=(when - exact).total_seconds(), in_whole_days=False)
    try:
        day = date.fromisoformat(made.strip()[:10])
    except ValueError:
        return None
    return Age(seconds=(when.date() - day).days * DAY, in_whole_days=True)


def age_at_test(batch: Batch) -> tuple[Age, Age] | None:
    """Return the youngest and the oldest age at which the batch was measured, or None where it is not known."""
    ages = sorted(_ages(batch), key=lambda age: age.seconds)
    return (ages[0], ages[-1]) if ages else None


def _ages(batch: Batch) -> Iterable[Age]:
    made = batch.metadata.get("made", "")
    for run in judged_runs(batch):
        when = measured_at(run)
        age = None if when is None else age_on(made, when)
        if age is not None:
            yield age
