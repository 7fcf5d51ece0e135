"""Recorded history held against edited settings: verdicts, alarms and due dates that differ. Nothing is written."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from sentinel.core.case import PastCheck
from sentinel.core.condition import ConditionName
from sentinel.core.events import Event
from sentinel.core.outlook import Outlook
from sentinel.core.past_scores import PastScore
from sentinel.core.rejudging import (
    Both,
    JudgedCheck,
    OneSided,
    Rejudged,
    ToldAlarm,
    alarm_changes,
    judged_under_both,
)
from sentinel.core.state import State, StateReport
from sentinel.service.rejudging_notes import EitherFile, not_replayed
from sentinel.service.rejudging_side import Judged, Side
from sentinel.service.situations import Hashes, Records, Versions, reports
from sentinel.settings.snapshot import Snapshot

_Sides = Both[Side]
_Checks = Mapping[ConditionName, Sequence[tuple[PastScore, JudgedCheck | None]]]


def _nothing() -> Both[Mapping[str, Outlook]]:
    return Both({}, {})


@dataclass(frozen=True, slots=True)
class History:
    """What is on record: checks that count, events that hold, the checks that tell today's states as recorded.

    `foretold` is what they foretell under each of the settings, by condition.
    """

    scores: Sequence[PastScore]
    events: Sequence[Event]
    standing: Mapping[str, Sequence[PastCheck]]
    versions: Versions
    foretold: Both[Mapping[str, Outlook]] = field(default_factory=_nothing)


def rejudged(
    snapshots: Both[Snapshot], history: History, hashes: Hashes, since: datetime | None, now: datetime
) -> Rejudged:
    """All that differs; `since` bounds what is told, while the walk begins with the first check on record."""
    sides = Both(*map(Side, snapshots))
    hashes = EitherFile(hashes, snapshots.running)
    checks = _judged(sides, history.scores)
    alarms = Both(*(_alarms(side, _of(side, sides, checks), history.events, since, now) for side in sides))
    past = ({str(name): side.past(each) for name, each in _of(side, sides, checks).items()} for side in sides)
    due = _states(snapshots, Both(*past), history, hashes, now)
    standing = _states(snapshots, Both(history.standing, history.standing), history, hashes, now)
    return Rejudged(
        since=since,
        conditions={
            str(name): [score.measured_at for score, _ in each if _tells(score.measured_at, since)]
            for name, each in checks.items()
        },
        checks=list(_measurable(sides, checks, since)),
        alarm_counts=Both(*(Counter(told.alarm.kind for told in each) for each in alarms)),
        alarm_changes=alarm_changes(*alarms),
        due=due,
        due_at_once=[name for name, both in standing.items() if _turns(both)],
        one_sided=list(_one_sided(sides, [each for each in history.scores if _tells(each.measured_at, since)])),
        not_replayed=list(not_replayed(snapshots, hashes, history.versions)),
    )


def _tells(at: datetime, since: datetime | None) -> bool:
    return since is None or at >= since


def _judged(sides: _Sides, scores: Sequence[PastScore]) -> _Checks:
    """The checks of every condition that both sides have; None beside one that only one side, or none, can judge."""
    names = sides.running.snapshot.conditions.keys() & sides.edited.snapshot.conditions.keys()
    found: dict[str, list[tuple[PastScore, JudgedCheck | None]]] = {str(name): [] for name in names}
    for score in scores:
        if score.condition in found:
            found[score.condition].append((score, _judged_check(sides, score)))
    return {name: found[str(name)] for name in sorted(names, key=str)}


def _judged_check(sides: _Sides, score: PastScore) -> JudgedCheck | None:
    running, edited = (side.ruling(score.condition, score.target) for side in sides)
    listed = {side.has(score.condition, score.target) for side in sides}
    if running is None or edited is None or len(listed) > 1:
        return None
    return judged_under_both(score, Both(running, edited))


def _of(side: Side, sides: _Sides, checks: _Checks) -> dict[ConditionName, Judged]:
    """The checks as one side judges them."""
    place = sides.index(side)
    return {
        name: [(score, None if judged is None else judged.judged[place]) for score, judged in each]
        for name, each in checks.items()
    }


def _alarms(
    side: Side, checks: Mapping[ConditionName, Judged], events: Sequence[Event], since: datetime | None, now: datetime
) -> list[ToldAlarm]:
    of_printer = defaultdict(list)
    for event in events:
        of_printer[event.printer].append(event)
    found = (side.alarms(name, each, of_printer[name.printer], now) for name, each in checks.items())
    return [told for each in found for told in each if _tells(told.alarm.at, since)]


def _states(
    snapshots: Both[Snapshot],
    past: Both[Mapping[str, Sequence[PastCheck]]],
    history: History,
    hashes: Hashes,
    now: datetime,
) -> dict[str, Both[StateReport]]:
    """Where every condition that both sides have stands today."""
    names = sorted(snapshots.running.conditions.keys() & snapshots.edited.conditions.keys(), key=str)
    running, edited = (
        reports(snapshot, names, Records(checks, history.events, history.versions, foretold), hashes, now)
        for snapshot, checks, foretold in zip(snapshots, past, history.foretold, strict=True)
    )
    return {str(name): Both(running[name], edited[name]) for name in names}


def _turns(both: Both[StateReport]) -> bool:
    return both.running.state is State.CURRENT and both.edited.state in (State.DUE, State.NEVER_RUN)


def _measurable(sides: _Sides, checks: _Checks, since: datetime | None) -> Iterator[JudgedCheck]:
    """What was judged under both, of conditions that both can measure."""
    for name, each in checks.items():
        if not any(side.snapshot.obstacles(name) for side in sides):
            yield from (judged for score, judged in each if judged and _tells(score.measured_at, since))


def _one_sided(sides: _Sides, scores: Sequence[PastScore]) -> Iterator[OneSided]:
    """Conditions, and targets of conditions, that a side does not have, with how many checks that concerns."""
    counts: Counter[tuple[str, str | None]] = Counter()
    for side in sides:
        for name, own in side.snapshot.conditions.items():
            counts.update({(str(name), target): 0 for target in (None, *own.targets)})
    for score in scores:
        both = all(side.has(score.condition) for side in sides)
        if not both or _judged_check(sides, score) is None:
            counts[score.condition, score.target if both else None] += 1
    for (condition, target), checks in sorted(counts.items(), key=str):
        has = [side.has(condition, target) for side in sides]
        common = all(side.has(condition) for side in sides)
        if (checks or has[0] is not has[1]) and (target is None or common):
            yield OneSided(condition, target, _owner(has), checks)


def _owner(has: Sequence[bool]) -> str | None:
    return "running" if has[0] else "edited" if has[1] else None
