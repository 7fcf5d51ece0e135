"""Recorded history held against edited settings: verdicts, alarms and due dates that differ. Nothing is written."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from sentinel.application.situations import ConditionRecords, Hashes, Versions, reports
from sentinel.application.ways import Called, Calling
from sentinel.core.cases.findings import Urgency, urgency
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.notice_policy import UrgencyRules
from sentinel.core.conditions.checks import DriftReading, PastScore
from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.events import Event
from sentinel.core.conditions.forecasts import ConditionForecast
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.risk import RiskOutlook
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
from sentinel.core.message import day_of
from sentinel.core.policy import ConditionPolicy, HousePolicy
from sentinel.core.scoring.policy import TargetPolicy, TargetSource
from sentinel.core.verdict import Code
from sentinel.ports import ReadSession

AIM = ("table", "m_condition", "backing", "least_share", "required")
TAKING_IN: Mapping[str, Callable[[HousePolicy], object]] = {
    "unknown_m_condition": lambda house: house.scoring.score_unknown_m,
    "least_share": lambda house: house.scoring.least_share,
    "least_patches": lambda house: house.scoring.least_patches,
    "rival_share": lambda house: house.scoring.rival_share,
    "trust_created_days": lambda house: house.trusted,
}
"""Keys of [measurements] that take effect when a file is taken in."""


class EitherFile:
    """Target hashes; a file that the edited settings do not find is looked for where the running ones have it.

    Edited settings are often tried from a copy in another folder, and relative paths start at the folder of the file.
    """

    def __init__(self, hashes: Hashes, running: HousePolicy) -> None:
        self._hashes = hashes
        self._running = running.targets

    def hash_of(self, name: str, source: TargetSource, versions: Versions) -> str | None:
        """The hash of the target as it is now; None where there is none to be had."""
        found = self._hashes.hash_of(name, source, versions)
        if found is None and name in self._running and source.file is not None:
            return self._hashes.hash_of(name, self._running[name], versions)
        return found


def not_replayed(
    houses: Both[HousePolicy], hashes: Hashes, versions: Versions, followed: datetime | None
) -> Iterator[str]:
    """A sentence for each rule or key that differs, or is on, and is not gone through again. Printers were `followed`
    from then on, or not at all."""
    yield from _rules(houses, followed)
    yield from _keys(houses)
    running, edited = (house.targets for house in houses)
    for name in sorted(running.keys() & edited.keys()):
        both = Both(running[name], edited[name])
        changed = [key for key in AIM if getattr(both.running, key) != getattr(both.edited, key)]
        if len({hashes.hash_of(name, source, versions) for source in both}) > 1:
            changed.insert(0, "file")
        if changed:
            yield f"target {name} has another {', '.join(changed)}: the figures on record stand on the old aim"


def _rules(houses: Both[HousePolicy], followed: datetime | None) -> Iterator[str]:
    rules = [policy.due for house in houses for policy in house.conditions.values()]
    if any(each.target_changed or each.limits_changed for each in rules):
        yield "alarms after a change of target or limits, since what held when is not known; today's due dates count it"
    if any(each.never_run_after for each in rules):
        yield "notices of conditions that an event made never-run, and reminders"
    if any(each.lead is not None or each.drift for each in rules):
        yield "alarms by forecasts and control charts; today's due dates count them"
    if any(each.risk is not None for each in rules):
        before = "" if followed is None else f" before {day_of(followed)}; say --since for more"
        yield f"alarms by risk{before}"


def _keys(houses: Both[HousePolicy]) -> Iterator[str]:
    for key, value in TAKING_IN.items():
        if value(houses.running) != value(houses.edited):
            yield f"[measurements] {key}, which differs: it takes effect when a file is taken in"
    running, edited = ((house.routes, house.catalogue.printers, house.catalogue.substrates) for house in houses)
    if running != edited:
        yield "routes and spellings, which differ: checks stay with the printing condition they were recorded for"


Judged = Sequence[tuple[PastScore, Judgement | None]]
"""A condition's checks; None for one that cannot be judged again, which stays as it was recorded."""


class Side:
    """Settings, with the rulings they give kept."""

    def __init__(self, house: HousePolicy) -> None:
        self.house = house
        self._names = {str(name): name for name in house.conditions}
        self._rulings: dict[tuple[str, str], Ruling] = {}

    def has(self, condition: str, target: str | None = None) -> bool:
        """Whether it has the condition, and uses the target there."""
        name = self._names.get(condition)
        return name is not None and (target is None or target in self.house.conditions[name].scoring.own)

    def ruling(self, condition: str, target: str) -> Ruling | None:
        """By what a check against this target would be judged; None where these settings do not say."""
        found = self._target(condition, target)
        if found is None:
            return None
        return self._rulings.setdefault((condition, target), Ruling(found.limits, found.reckoning))

    def _target(self, condition: str, target: str) -> TargetPolicy | None:
        name = self._names.get(condition)
        return None if name is None else self.house.conditions[name].scoring.targets.get(target)

    def past(self, checks: Judged) -> list[PastCheck]:
        """The checks as if these settings had held when they were made."""
        return [self._past(score, judgement) for score, judgement in checks]

    def _past(self, score: PastScore, judgement: Judgement | None) -> PastCheck:
        target = self._target(score.condition, score.target)
        said = judgement or score
        return PastCheck(
            seq=score.seq,
            measured_at=score.measured_at,
            verdict=said.verdict,
            recovered=said.recovered,
            target_hash=score.target_hash,
            limits_mark=target.mark if target else None,
        )

    def alarms(
        self,
        name: ConditionName,
        checks: Judged,
        events: Iterable[Event],
        outlooks: Sequence[RiskOutlook],
        now: datetime,
    ) -> Iterator[ToldAlarm]:
        """The alarms of one condition. What a check would have been scored with then is not known, and not asked."""
        judged = {score.seq: (score, judgement) for score, judgement in checks}
        policy = self.house.conditions[name]
        situation = Situation(
            rules=policy.due,
            checks=self.past(checks),
            events=[event for event in events if event.concerns(name)],
            obstacles=policy.obstacles,
        )
        for alarm in alarms(situation, self.house.recent_checks, now, outlooks):
            yield ToldAlarm(str(name), alarm, self._urgency(alarm, policy.urgency, *judged[alarm.check]))

    def _urgency(
        self, alarm: CheckAlarm, rules: UrgencyRules, score: PastScore, judgement: Judgement | None
    ) -> Urgency | None:
        if alarm.kind is not NoticeKind.CHECK_FAILED:
            return None
        ruling = self.ruling(score.condition, score.target)
        check: Mapping[str, object] = {
            "reasons": [{"code": Code.RIVAL_FITS_BETTER.value}] if score.stock_doubtful else [],
            "metrics": judgement.known if judgement else score.metrics,
            "limits": ruling.limits if ruling else {},
        }
        return urgency(check, alarm.count, rules.confirm_first, rules.gross_factor)


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


def history_of(
    houses: Both[HousePolicy],
    figures: Collection[tuple[str, str]],
    records: ReadSession,
    foretellings: Both[Foretelling],
) -> History:
    """What is on record under the running settings, and what it foretells under each of the two.

    `figures` are every (group, metric) that some limit of either is on.
    """
    events = records.events.holding()
    both = zip(houses, foretellings, strict=True)
    return History(
        scores=records.checks.past_scores(figures),
        events=events,
        standing=records.checks.latest(recent=max(house.recent_checks for house in houses)),
        versions=records.targets.versions,
        foretold=Both(*(foretelling(_readings(house, records), events) for house, foretelling in both)),
    )


def _readings(house: HousePolicy, records: ReadSession) -> Mapping[str, Sequence[DriftReading]]:
    return records.checks.drift_readings([str(name) for name in house.conditions], house.drift.most_readings)


def rejudged(
    houses: Both[HousePolicy],
    history: History,
    hashes: Hashes,
    since: datetime | None,
    now: datetime,
    callings: Both[Calling] | None = None,
) -> Rejudged:
    """All that differs; `since` bounds what is told, while the walk begins with the first check on record.

    By the `callings` it is worked out what calling for checks comes to on either side; without them risk calls for
    none, and alarms are those of age.
    """
    sides = Both(*map(Side, houses))
    hashes = EitherFile(hashes, houses.running)
    checks = _judged(sides, history.scores)
    past: Both[Mapping[str, Sequence[PastCheck]]] = Both(
        *({str(name): side.past(each) for name, each in _of(side, sides, checks).items()} for side in sides)
    )
    called = _called(houses, past, callings)
    alarms = Both(
        *(
            _alarms(side, _of(side, sides, checks), history.events, own.outlooks, since, now)
            for side, own in zip(sides, called, strict=True)
        )
    )
    due = _states(houses, past, history, hashes, now)
    standing = _states(houses, Both(history.standing, history.standing), history, hashes, now)
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
        not_replayed=list(not_replayed(houses, hashes, history.versions, callings and callings.running.since)),
        called={
            name: Both(*(each.costs[name] for each in called))
            for name in sorted(called.running.costs.keys() & called.edited.costs.keys())
        },
    )


def _called(
    houses: Both[HousePolicy], past: Both[Mapping[str, Sequence[PastCheck]]], callings: Both[Calling] | None
) -> Both[Called]:
    if callings is None:
        return Both(Called({}, {}), Called({}, {}))
    costed = _otherwise(houses)
    return Both(*(calling.called(checks, costed) for calling, checks in zip(callings, past, strict=True)))


def _otherwise(houses: Both[HousePolicy]) -> set[str]:
    """The printers with a condition that has other rules or limits on the two sides."""
    names = houses.running.conditions.keys() & houses.edited.conditions.keys()
    both = ((name, houses.running.conditions[name], houses.edited.conditions[name]) for name in names)
    return {name.printer for name, running, edited in both if _ruled_by(running) != _ruled_by(edited)}


def _ruled_by(policy: ConditionPolicy) -> tuple[object, ...]:
    return policy.due, [policy.scoring.own_limits(target) for target in policy.scoring.own]


def _tells(at: datetime, since: datetime | None) -> bool:
    return since is None or at >= since


def _judged(sides: _Sides, scores: Sequence[PastScore]) -> _Checks:
    """The checks of every condition that both sides have; None beside one that only one side, or none, can judge."""
    names = sides.running.house.conditions.keys() & sides.edited.house.conditions.keys()
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
    side: Side,
    checks: Mapping[ConditionName, Judged],
    events: Sequence[Event],
    outlooks: Mapping[str, Sequence[RiskOutlook]],
    since: datetime | None,
    now: datetime,
) -> list[ToldAlarm]:
    of_printer = defaultdict(list)
    for event in events:
        of_printer[event.printer].append(event)
    found = (
        side.alarms(name, each, of_printer[name.printer], outlooks.get(str(name), ()), now)
        for name, each in checks.items()
    )
    return [told for each in found for told in each if _tells(told.alarm.at, since)]


def _states(
    houses: Both[HousePolicy],
    past: Both[Mapping[str, Sequence[PastCheck]]],
    history: History,
    hashes: Hashes,
    now: datetime,
) -> dict[str, Both[StateReport]]:
    """Where every condition that both sides have stands today."""
    names = sorted(houses.running.conditions.keys() & houses.edited.conditions.keys(), key=str)
    running, edited = (
        reports(
            [house.conditions[name] for name in names],
            ConditionRecords(checks, history.events, history.versions, foretold),
            hashes,
            now,
        )
        for house, checks, foretold in zip(houses, past, history.foretold, strict=True)
    )
    return {str(name): Both(running[name], edited[name]) for name in names}


def _turns(both: Both[StateReport]) -> bool:
    return both.running.state is State.CURRENT and both.edited.state in (State.DUE, State.NEVER_RUN)


def _measurable(sides: _Sides, checks: _Checks, since: datetime | None) -> Iterator[JudgedCheck]:
    """What was judged under both, of conditions that both can measure."""
    for name, each in checks.items():
        if not any(side.house.conditions[name].obstacles for side in sides):
            yield from (judged for score, judged in each if judged and _tells(score.measured_at, since))


def _one_sided(sides: _Sides, scores: Sequence[PastScore]) -> Iterator[OneSided]:
    """Conditions, and targets of conditions, that a side does not have, with how many checks that concerns."""
    counts: Counter[tuple[str, str | None]] = Counter()
    for side in sides:
        for policy in side.house.conditions.values():
            counts.update({(str(policy.name), target): 0 for target in (None, *policy.scoring.own)})
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
