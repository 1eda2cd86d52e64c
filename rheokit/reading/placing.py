"""Learn which test and load an export is, from its preamble or its file name, and say from which."""

from __future__ import annotations

import re
from collections.abc import Mapping

from rheokit.base.errors import UnitError
from rheokit.base.finding import Finding, Severity
from rheokit.base.run import Run, RunPlace
from rheokit.reading.batch_file import TEST_NAME, set_temperature
from rheokit.reading.preamble import entry
from rheokit.reading.words import fold

__all__ = ["place_from_export", "preamble_contradicts"]

_FILE_NAME = re.compile(r"(?P<test>[a-z][a-z0-9_]*?)_load_?(?P<load>[0-9]{1,4})", re.ASCII)
_LOAD = re.compile(r"[0-9]{1,4}", re.ASCII)


def place_from_export(run: Run) -> tuple[RunPlace | None, tuple[Finding, ...]]:
    """Return the place of a run as its preamble or file name tells it, or None, and how it was learnt."""
    named = _FILE_NAME.fullmatch((run.name.rpartition(".")[0] or run.name).lower())
    test, load = _test(run.metadata), _load(run.metadata)
    sources = ["the preamble" if test else "the file name", "the preamble" if load else "the file name"]
    if named is not None:
        test, load = test or named["test"], load or int(named["load"])
    if test is None or not load:
        what = " and ".join(word for word, known in (("test", test), ("load", load)) if not known)
        reason = (
            f"neither the preamble (keys 'Test' and 'Load') nor the file name (such as 'loop_load1.csv') says which {what} this is; "
            "it is left out; list it in batch.toml"
        )
        return None, (Finding(check="not_placed", severity="caution", reason=reason, source=run.name),)
    temperature, findings = _temperature(run)
    learnt = sources[0] if sources[0] == sources[1] else f"test from {sources[0]}, load from {sources[1]}"
    reason = f"test {test}, load {load}: learnt from {learnt}"
    place = RunPlace(test=test, load=load, set_temperature=temperature, learnt_from=learnt)
    return place, (Finding(check="placed", severity="info", reason=reason, source=run.name), *findings)


def _test(metadata: Mapping[str, str]) -> str | None:
    written = entry(metadata, "Test")
    if written is None:
        return None
    word = fold(written).replace(" ", "_")
    return word if TEST_NAME.fullmatch(word) else None


def _load(metadata: Mapping[str, str]) -> int | None:
    written = entry(metadata, "Load")
    return int(written) if written is not None and _LOAD.fullmatch(written) else None


def _temperature(run: Run) -> tuple[float | None, tuple[Finding, ...]]:
    written = entry(run.metadata, "Set temperature")
    if written is None:
        return None, ()
    try:
        return set_temperature(written), ()
    except UnitError as error:
        reason = f"the set temperature in the preamble is not used: {error}"
        return None, (Finding(check="set_temperature", severity="caution", reason=reason, source=run.name),)


def preamble_contradicts(run: Run, place: RunPlace, batch: str | None) -> tuple[Finding, ...]:
    """Say where the preamble of an export names another test, load or batch than the batch file does."""
    test, load, named = _test(run.metadata), _load(run.metadata), entry(run.metadata, "Batch")

    def contradiction(severity: Severity, reason: str) -> Finding:
        return Finding(check="contradiction", severity=severity, reason=reason, source=run.name)

    found = []
    if test is not None and test != place.test:
        found.append(contradiction("caution", f"the preamble says test {test!r}, the batch file {place.test!r}; the batch file counts"))
    if load is not None and load != place.load:
        found.append(contradiction("caution", f"the preamble says load {load}, the batch file {place.load}; the batch file counts"))
    if named is not None and batch is not None and named != batch and place.role == "batch":
        reason = (
            f"the preamble says batch {named!r}, the batch file {batch!r}; find out which, and mend the batch file or take the export away"
        )
        found.append(contradiction("invalid", reason))
    return tuple(found)
