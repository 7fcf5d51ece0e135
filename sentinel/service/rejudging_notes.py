"""What cannot be judged again from the record, wherever the edited settings would have done otherwise."""

from __future__ import annotations

from collections.abc import Iterator

from sentinel.core.rejudging import Both
from sentinel.service.situations import Hashes, Versions
from sentinel.settings.judging import TargetFile
from sentinel.settings.snapshot import Snapshot

AIM = ("table", "m_condition", "backing", "least_share")
TAKING_IN = ("unknown_m_condition", "least_share", "least_patches", "rival_share", "trust_created_days")


class EitherFile:
    """Target hashes; a file that the edited settings do not find is looked for where the running ones have it.

    Edited settings are often tried from a copy in another folder, and relative paths start at the folder of the file.
    """

    def __init__(self, hashes: Hashes, running: Snapshot) -> None:
        self._hashes = hashes
        self._running = running.loaded.settings.targets

    def hash_of(self, name: str, file: TargetFile, versions: Versions) -> str | None:
        """The hash of the target as it is now; None where there is none to be had."""
        found = self._hashes.hash_of(name, file, versions)
        if found is None and name in self._running and file.file is not None:
            return self._hashes.hash_of(name, self._running[name], versions)
        return found


def not_replayed(snapshots: Both[Snapshot], hashes: Hashes, versions: Versions) -> Iterator[str]:
    """A sentence for each rule or key that differs, or is on, and is not gone through again."""
    yield from _rules(snapshots)
    yield from _keys(snapshots)
    running, edited = (snapshot.loaded.settings.targets for snapshot in snapshots)
    for name in sorted(running.keys() & edited.keys()):
        both = Both(running[name], edited[name])
        changed = [key for key in AIM if getattr(both.running, key) != getattr(both.edited, key)]
        if len({hashes.hash_of(name, file, versions) for file in both}) > 1:
            changed.insert(0, "file")
        if changed:
            yield f"target {name} has another {', '.join(changed)}: the figures on record stand on the old aim"


def _rules(snapshots: Both[Snapshot]) -> Iterator[str]:
    rules = [snapshot.rules(name) for snapshot in snapshots for name in snapshot.conditions]
    if any(each.target_changed or each.limits_changed for each in rules):
        yield "alarms after a change of target or limits, since what held when is not known; today's due dates count it"
    if any(each.never_run_after for each in rules):
        yield "notices of conditions that an event made never-run, and reminders"
    if any(each.lead is not None or each.drift for each in rules):
        yield "alarms by forecasts and control charts; today's due dates count them"


def _keys(snapshots: Both[Snapshot]) -> Iterator[str]:
    running, edited = (snapshot.loaded.settings for snapshot in snapshots)
    for key in TAKING_IN:
        if getattr(running.measurements, key) != getattr(edited.measurements, key):
            yield f"[measurements] {key}, which differs: it takes effect when a file is taken in"
    spelled = [(snapshot.catalogue.printers, snapshot.catalogue.substrates) for snapshot in snapshots]
    if running.routes != edited.routes or spelled[0] != spelled[1]:
        yield "routes and spellings, which differ: checks stay with the printing condition they were recorded for"
