"""Read a folder: every export of one batch, placed by test and load, and the results typed in beside them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from rheokit.base.errors import MissingFileError, ReadError
from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.base.run import Batch, Run, RunPlace
from rheokit.reading.batch_file import BatchFile, ListedRun, read_batch_file
from rheokit.reading.entered import read_entered
from rheokit.reading.export import read_export
from rheokit.reading.files import PathText
from rheokit.reading.folder import BATCH_FILE, RESULTS_FILE, Folder, scan
from rheokit.reading.placing import place_from_export, preamble_contradicts
from rheokit.reading.preamble import entry
from rheokit.reading.words import fold

__all__ = ["read_batch"]


class _Placed(NamedTuple):
    run: Run
    place: RunPlace


class _Runs(NamedTuple):
    placed: list[_Placed]
    findings: list[Finding]


def read_batch(folder: PathText) -> Batch:
    """Read all that was measured on one batch.

    With a `batch.toml` the exports it lists are read; without one, every export of the folder is, and its test and load are learnt
    from its preamble (`Test`, `Load`) or its file name (`loop_load1.csv`). `results.csv` holds results typed in by hand. What cannot
    be read, is missing or is left out is named in the findings of the batch; nothing in the folder is changed.

    Parameters
    ----------
    folder
        The folder of the batch; subfolders are read only where `batch.toml` names a file in them.

    Returns
    -------
    Batch
        `runs` holds batch and reference loads alike, in the order of their numbers; `places` says which is which.

    Raises
    ------
    ReadError
        When the folder or its `batch.toml` cannot be read, two exports claim one load of one test, or no export is readable.
    """
    seen = scan(folder)
    listed = read_batch_file(seen.path) if seen.has_batch_file else None
    runs = _unlisted(seen) if listed is None else _listed(seen, listed)
    entered, about_entered = _entered(seen)
    tried = listed.runs if listed is not None else seen.exports
    if not runs.placed and (tried or not entered):
        raise _nothing_readable(folder, [finding.reason for finding in runs.findings if finding.severity != "info"], about_entered)
    placed = sorted(runs.placed, key=lambda one: (one.place.role != "batch", one.place.load))
    name, about_name = _name(seen, listed, placed)
    tests = list(dict.fromkeys(one.place.test for one in runs.placed))
    return Batch(
        name=name,
        runs={test: tuple(one.run for one in placed if one.place.test == test) for test in tests},
        metadata=_metadata(listed, placed),
        places={one.run.name: one.place for one in placed},
        entered=entered,
        findings=(*seen.findings, *runs.findings, *_same_bytes(placed), *about_entered, *about_name),
        folder=seen.path,
    )


def _nothing_readable(folder: PathText, reasons: list[str], about_entered: Sequence[Finding]) -> ReadError:
    said = reasons or [finding.reason for finding in about_entered]
    if not said:
        return ReadError(folder, "the folder holds no export", remedy="name the folder that holds the exports of one batch")
    more = f" (and {len(said) - 1} more)" if len(said) > 1 else ""
    return ReadError(folder, f"none of its exports can be read{more}: {said[0]}", remedy="see each with `rheokit inspect`")


def _listed(seen: Folder, listed: BatchFile) -> _Runs:
    runs = _Runs([], [])
    for one in listed.runs:
        if not one.path.exists():
            reason = f"{one.file!r} (load {one.place.load} of {one.place.test}) is listed in {BATCH_FILE} and not in the folder"
            runs.findings.append(Finding(check="missing_run", severity="caution", reason=reason, source=one.file))
            continue
        run = _read(one.path, one.path.relative_to(seen.path).as_posix(), runs.findings, one)
        if run is not None:
            runs.placed.append(_Placed(run, one.place))
            runs.findings.extend(preamble_contradicts(run, one.place, listed.passport.get("id")))
    used = {one.path for one in listed.runs}
    for file in seen.exports:
        if seen.path / file not in used:
            reason = f"{file!r} is not listed in {BATCH_FILE} and was not used"
            runs.findings.append(Finding(check="unlisted_export", severity="caution", reason=reason, source=file))
    return runs


def _unlisted(seen: Folder) -> _Runs:
    runs = _Runs([], [])
    taken: dict[tuple[str, int], str] = {}
    for file in seen.exports:
        run = _read(seen.path / file, file, runs.findings)
        if run is None:
            continue
        place, findings = place_from_export(run)
        runs.findings.extend(findings)
        if place is None:
            continue
        other = taken.setdefault((place.test, place.load), file)
        if other != file:
            seen_twice = f"{other!r} and {file!r} are both load {place.load} of {place.test}"
            raise ReadError(seen.path, seen_twice, remedy=f"list the exports in {BATCH_FILE}, or take one away")
        runs.placed.append(_Placed(run, place))
    return runs


def _read(path: Path, name: str, findings: list[Finding], listed: ListedRun | None = None) -> Run | None:
    """Return one run, or note why it cannot be read."""
    try:
        if listed is None:
            return read_export(path, name=name).run
        return read_export(path, listed.layout, name=name, geometry=listed.geometry).run
    except MissingFileError as error:  # a link that leads nowhere
        findings.append(Finding(check="missing_run", severity="caution", reason=error.named(name), source=name))
    except ReadError as error:
        findings.append(Finding(check="unreadable_export", severity="invalid", reason=error.named(name), source=name))
    return None


def _entered(seen: Folder) -> tuple[tuple[Estimate, ...], tuple[Finding, ...]]:
    if not seen.has_results:
        return (), ()
    try:
        return read_entered(seen.path / RESULTS_FILE), ()
    except ReadError as error:
        reason = f"no result typed in is used: {error.named(RESULTS_FILE)}"
        return (), (Finding(check="unreadable_results", severity="invalid", reason=reason, source=RESULTS_FILE),)


def _same_bytes(placed: Iterable[_Placed]) -> tuple[Finding, ...]:
    """Two loads with the same bytes are one measurement that was copied."""
    first: dict[str, str] = {}
    findings = []
    for run, _ in placed:
        other = first.setdefault(run.source.sha256, run.name)
        if other != run.name:
            reason = (
                f"{run.name!r} and {other!r} are the same file byte for byte: one load counted twice; take one away and measure another"
            )
            findings.append(Finding(check="same_bytes", severity="invalid", reason=reason, source=run.name))
    return tuple(findings)


def _name(seen: Folder, listed: BatchFile | None, placed: Sequence[_Placed]) -> tuple[str, tuple[Finding, ...]]:
    """Return the name of the batch: from the batch file, else the preambles if all that name one agree, else the folder."""
    if listed is not None and "id" in listed.passport:
        return listed.passport["id"], ()
    named = {name for run, place in placed if place.role == "batch" and (name := entry(run.metadata, "Batch"))}
    if len(named) == 1:
        return named.pop(), ()
    folder = seen.path.resolve().name
    why = f"the preambles name {len(named)} batches ({', '.join(map(repr, sorted(named)))})" if named else "no file names the batch"
    reason = f"{why}; it is called after its folder"
    return folder, (Finding(check="batch_name", severity="invalid" if named else "info", reason=reason, source=folder),)


def _metadata(listed: BatchFile | None, placed: Sequence[_Placed]) -> dict[str, str]:
    """Return the passport, and under it what all preambles agree on (keys in small letters with underscores)."""
    preambles = [_folded(run.metadata) for run, place in placed if place.role == "batch"]
    agreed = {} if not preambles else dict(set(preambles[0].items()).intersection(*(set(one.items()) for one in preambles[1:])))
    ordered = {key: value for key, value in (preambles[0] if preambles else {}).items() if key in agreed}
    return {**ordered, **({} if listed is None else listed.passport)}


def _folded(metadata: Mapping[str, str]) -> dict[str, str]:
    folded: dict[str, str] = {}
    for key, value in metadata.items():
        folded.setdefault(fold(key).replace(" ", "_"), value)
    return folded
