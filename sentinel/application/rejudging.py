"""Recorded history held against edited settings: verdicts, alarms and due dates that differ. Nothing is written."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from sentinel.application.situations import ConditionRecords, Hashes, Versions, reports, touches
from sentinel.core.cases.findings import Urgency, urgency
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.conditions.checks import DriftReading, PastScore
from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.events import Event
from sentinel.core.conditions.forecasts import ConditionForecast
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.state import Situation, State, StateReport
from sentinel.core.history import (
    Both,
    CheckAlarm,
    JudgedCheck,
    Judgement,
    OneSided,
    Rejudged,
    Ruling,
    ToldAlarm,
    alarm_changes,
    alarms,
    judged_under_both,
)
from sentinel.core.scoring.policy import mark
from sentinel.core.verdict import Code
from sentinel.ports import ReadSession
from sentinel.settings.limit_sets import limits_for
from sentinel.settings.models import Settings
from sentinel.settings.resolving import Snapshot
from sentinel.settings.targets_and_limits import HOUSE_LIMITS, TargetFile

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


Judged = Sequence[tuple[PastScore, Judgement | None]]
"""A condition's checks; None for one that cannot be judged again, which stays as it was recorded."""


def limited_figures(settings: Settings) -> set[tuple[str, str]]:
    """Every (group, metric) that some limit of these settings is on."""
    named = (each.limits for each in settings.limits.values())
    own = (each.limits for each in settings.conditions.values())
    return {
        (group, metric) for limits in (HOUSE_LIMITS, *named, *own) for group, each in limits.items() for metric in each
    }


class Side:
    """Settings, with the rulings they give kept."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot = snapshot
        self._names = {str(name): name for name in snapshot.conditions}
        self._rulings: dict[tuple[str, str], tuple[Ruling, str] | None] = {}

    def has(self, condition: str, target: str | None = None) -> bool:
        """Whether it has the condition, and uses the target there."""
        name = self._names.get(condition)
        return name is not None and (target is None or target in self.snapshot.conditions[name].targets)

    def ruling(self, condition: str, target: str) -> Ruling | None:
        """By what a check against this target would be judged; None where these settings do not say."""
        found = self._marked(condition, target)
        return None if found is None else found[0]

    def _marked(self, condition: str, target: str) -> tuple[Ruling, str] | None:
        key = condition, target
        if key not in self._rulings:
            self._rulings[key] = self._made(condition, target)
        return self._rulings[key]

    def _made(self, condition: str, target: str) -> tuple[Ruling, str] | None:
        name, settings = self._names.get(condition), self.snapshot.loaded.settings
        if name is None or target not in settings.targets:
            return None
        limits = limits_for(settings, target, condition)
        return Ruling(limits, self.snapshot.reckoning(target, name.printer)), mark(limits)

    def past(self, checks: Judged) -> list[PastCheck]:
        """The checks as if these settings had held when they were made."""
        return [self._past(score, judgement) for score, judgement in checks]

    def _past(self, score: PastScore, judgement: Judgement | None) -> PastCheck:
        marked = self._marked(score.condition, score.target)
        said = judgement or score
        return PastCheck(
            seq=score.seq,
            measured_at=score.measured_at,
            verdict=said.verdict,
            recovered=said.recovered,
            target_hash=score.target_hash,
            limits_mark=marked[1] if marked else None,
        )

    def alarms(
        self, name: ConditionName, checks: Judged, events: Iterable[Event], now: datetime
    ) -> Iterator[ToldAlarm]:
        """The alarms of one condition. What a check would have been scored with then is not known, and not asked."""
        judged = {score.seq: (score, judgement) for score, judgement in checks}
        situation = Situation(
            rules=self.snapshot.rules(name),
            checks=self.past(checks),
            events=[event for event in events if touches(event, name)],
            obstacles=self.snapshot.obstacles(name),
        )
        for alarm in alarms(situation, self.snapshot.recent_checks, now):
            yield ToldAlarm(str(name), alarm, self._urgency(alarm, *judged[alarm.check]))

    def _urgency(self, alarm: CheckAlarm, score: PastScore, judgement: Judgement | None) -> Urgency | None:
        if alarm.kind is not NoticeKind.CHECK_FAILED:
            return None
        ruling, due = self.ruling(score.condition, score.target), self.snapshot.loaded.settings.due
        check: Mapping[str, object] = {
            "reasons": [{"code": Code.RIVAL_FITS_BETTER.value}] if score.stock_doubtful else [],
            "metrics": judgement.known if judgement else score.metrics,
            "limits": ruling.limits if ruling else {},
        }
        return urgency(check, alarm.count, due.confirm_first, due.gross_factor)


_Sides = Both[Side]
_Checks = Mapping[ConditionName, Sequence[tuple[PastScore, JudgedCheck | None]]]


def _nothing() -> Both[Mapping[str, ConditionForecast]]:
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
    foretold: Both[Mapping[str, ConditionForecast]] = field(default_factory=_nothing)


Foretelling = Callable[[Mapping[str, Sequence[DriftReading]], Sequence[Event]], Mapping[str, ConditionForecast]]
"""What readings and events foretell under settings, by condition."""


def history_of(snapshots: Both[Snapshot], records: ReadSession, foretellings: Both[Foretelling]) -> History:
    """What is on record under the running settings, and what it foretells under each of the two."""
    events = [each.event for each in records.events() if each.undoing is None]
    figures = {figure for snapshot in snapshots for figure in limited_figures(snapshot.loaded.settings)}
    both = zip(snapshots, foretellings, strict=True)
    return History(
        scores=records.past_scores(figures),
        events=events,
        standing=records.latest_checks(max(snapshot.recent_checks for snapshot in snapshots)),
        versions=records.target_versions,
        foretold=Both(*(foretelling(_readings(snapshot, records), events) for snapshot, foretelling in both)),
    )


def _readings(snapshot: Snapshot, records: ReadSession) -> Mapping[str, Sequence[DriftReading]]:
    names = [str(name) for name in snapshot.conditions]
    return records.drift_readings(names, snapshot.loaded.settings.drift.most_readings)


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
        reports(snapshot, names, ConditionRecords(checks, history.events, history.versions, foretold), hashes, now)
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
