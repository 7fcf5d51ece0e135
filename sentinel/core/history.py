"""History judged again: recorded figures under the limits of two settings, the alarms of each, and what differs."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Generic, NamedTuple, TypeVar

from sentinel.core.cases.findings import transitions
from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind
from sentinel.core.cases.lifecycle import CaseTransition, OpenCase
from sentinel.core.conditions.checks import PastScore
from sentinel.core.conditions.due import PastCheck, in_utc
from sentinel.core.conditions.events import still_telling
from sentinel.core.conditions.risk import RiskOutlook
from sentinel.core.conditions.state import Situation, StateReport, derive
from sentinel.core.planning.ways import PlaceCosts
from sentinel.core.scoring.judging import is_recovered, judge, known_figures
from sentinel.core.scoring.metrics import Metrics
from sentinel.core.scoring.policy import Limit, Limits, ScoringOptions
from sentinel.core.verdict import Code, Verdict


@dataclass(frozen=True, slots=True)
class CheckAlarm:
    """What people are told of a condition. `check` is the number of the check behind it, the last one where it is due.

    `count` is how many times in a row, `codes` are the reasons of the state at that moment.
    """

    kind: NoticeKind
    at: datetime
    check: int
    count: int
    codes: tuple[Code, ...]


def alarms(
    situation: Situation, recent: int, until: datetime, outlooks: Sequence[RiskOutlook] = ()
) -> Iterator[CheckAlarm]:
    """Every alarm up to `until`, had each check and event been known at its time and the clock never stood still.

    The state is derived at each check, at each moment from which a rule holds, and whenever there was another of the
    `outlooks`, which are in order. `recent` is how many of the last checks the rules look at.
    """
    checks = sorted(situation.checks, key=lambda check: check.order)
    events = sorted(situation.events, key=lambda event: (event.at, event.seq))
    opened: dict[CaseKind, OpenCase] = {}
    places = {check.seq: place for place, check in enumerate(checks)}
    placed = [replace(each, check_seq=places[each.check_seq]) for each in outlooks if each.check_seq in places]
    for window, ends in _windows(checks, recent, until):
        known = replace(situation, checks=window, events=still_telling(events, window[0].measured_at, ends))
        for now, report in _moments(known, window[-1].measured_at, ends, opened, placed):
            for step in transitions(opened, report):
                _apply(opened, step)
                if step.notice is not None and step.cause is not None:
                    codes = tuple(reason.code for reason in report.reasons)
                    yield CheckAlarm(step.notice, now, checks[step.cause].seq, step.count, codes)


def _windows(
    checks: Sequence[PastCheck], recent: int, until: datetime
) -> Iterator[tuple[tuple[PastCheck, ...], datetime]]:
    """For each check: those that tell the state with it, and until when it is the last one.

    Their numbers are their places: a late file has a high number, and is gone through where it was measured.
    """
    placed = [replace(check, seq=place) for place, check in enumerate(checks) if check.measured_at <= until]
    decisive = 0
    for place, check in enumerate(placed):
        decisive = place if check.failed or check.recovered else decisive
        first = max(0, place + 1 - recent)
        before = (placed[decisive],) if decisive < first else ()
        ends = placed[place + 1].measured_at if place + 1 < len(placed) else until
        yield (*before, *placed[first : place + 1]), ends


def _moments(
    known: Situation,
    now: datetime,
    ends: datetime,
    opened: Mapping[CaseKind, OpenCase],
    outlooks: Sequence[RiskOutlook],
) -> Iterator[tuple[datetime, StateReport]]:
    """The state at `now` and at every later moment before `ends` that can bring an alarm; `opened` is looked at live.

    Where a check is due already, only an event that makes never-run and another outlook can still change a context.
    """
    moment: datetime | None = now
    while moment is not None:
        now = moment
        place = bisect_right(outlooks, now, key=_known_at)
        report = derive(replace(known, risk=outlooks[place - 1]) if place else known, now)
        yield now, report
        is_due = CaseKind.CHECK_DUE in opened
        renewing = known.rules.never_run_after
        later = [event.at for event in known.events if event.at > now and (not is_due or event.kind in renewing)]
        later += [] if is_due else [each.since for each in report.ahead]
        later += [outlooks[place].at] if place < len(outlooks) else []
        moment = min((in_utc(each) for each in later if each < ends), default=None)


def _known_at(outlook: RiskOutlook) -> datetime:
    return outlook.at


def _apply(opened: dict[CaseKind, OpenCase], step: CaseTransition) -> None:
    if step.step is CaseStep.CLOSED:
        del opened[step.kind]
    else:
        opened[step.kind] = OpenCase(0, step.cause, step.count)


_Value = TypeVar("_Value")
Figure = tuple[str, str]
"""A group and a metric."""

SEVERITY = (Verdict.PASS, Verdict.WARN, Verdict.FAIL)


class Both(NamedTuple, Generic[_Value]):
    """The same of the running settings and of the edited ones."""

    running: _Value
    edited: _Value


class Ruling(NamedTuple):
    """What a check would be judged by: the limits, and how their figures are made."""

    limits: Limits
    reckoning: ScoringOptions


@dataclass(frozen=True, slots=True)
class Judgement:
    """A verdict on the figures that are known; `unknown` are figures with limits that are not."""

    verdict: Verdict
    recovered: bool
    known: Metrics
    unknown: frozenset[tuple[str, str, Limit]]


@dataclass(frozen=True, slots=True)
class Decider:
    """The figure that decides the severer of two verdicts, and the limits it is held to by each of the settings.

    `level` is `act` or `warn`; a limit is None where there is none.
    """

    group: str
    metric: str
    value: float
    level: str
    limit: Both[float | None]


@dataclass(frozen=True, slots=True)
class JudgedCheck:
    """A check under both settings. `open_figures` have limits that differ, or are known to one side alone."""

    score: PastScore
    judged: Both[Judgement]
    open_figures: frozenset[Figure]
    decider: Decider | None

    @property
    def is_changed(self) -> bool:
        """Whether the two verdicts differ."""
        return self.judged.running.verdict is not self.judged.edited.verdict

    def is_certain(self, side: Judgement) -> bool:
        """Whether no unknown figure could make this side's verdict severer."""
        return (
            side.verdict is Verdict.FAIL
            or not {(group, metric) for group, metric, _ in side.unknown} & self.open_figures
        )


@dataclass(frozen=True, slots=True)
class ToldAlarm:
    """An alarm of a condition, and how pressing a failure is."""

    condition: str
    alarm: CheckAlarm
    urgency: str | None = None


class AlarmChange(NamedTuple):
    """An alarm that came, would come, or both at different times or of different urgency."""

    running: ToldAlarm | None
    edited: ToldAlarm | None

    @property
    def either(self) -> ToldAlarm:
        """The one there is; the running settings' where there are two."""
        found = self.running or self.edited
        if found is None:
            raise ValueError("expected an alarm on one side at least, got none")
        return found


class OneSided(NamedTuple):
    """A condition, or a target of one, that a side does not have; `has` is the side that does, None for neither."""

    condition: str
    target: str | None
    has: str | None
    checks: int


@dataclass(frozen=True, slots=True)
class Rejudged:
    """All that differs between running and edited settings over the recorded checks from `since` on.

    `checks` holds those that were judged under both; `conditions` maps every condition that both have to the times of
    its checks in order; `due` are the states of today, history judged again by each side; `due_at_once` are conditions
    that are current and leave that state when the edited settings come into force, since recorded verdicts stand.
    `called` is what calling for checks would come to, by printer, where that can differ.
    """

    since: datetime | None
    conditions: Mapping[str, Sequence[datetime]]
    checks: Sequence[JudgedCheck]
    alarm_counts: Both[Counter[NoticeKind]]
    alarm_changes: Sequence[AlarmChange]
    due: Mapping[str, Both[StateReport]]
    due_at_once: Sequence[str]
    one_sided: Sequence[OneSided]
    not_replayed: Sequence[str]
    called: Mapping[str, Both[PlaceCosts]] = field(default_factory=dict)

    @property
    def verdict_changes(self) -> list[JudgedCheck]:
        """Checks whose verdict differs, those measured last first."""
        return sorted((each for each in self.checks if each.is_changed), key=lambda each: each.score.order)[::-1]

    @property
    def verdict_counts(self) -> Both[Counter[Verdict]]:
        """How many checks have which verdict."""
        sides = (Counter(each.judged[side].verdict for each in self.checks) for side in range(2))
        return Both(*sides)

    @property
    def unknown_counts(self) -> Counter[Figure]:
        """In how many checks a figure that matters for the comparison is not known."""
        return Counter(figure for each in self.checks for figure in each.open_figures)

    @property
    def recorded_otherwise(self) -> int:
        """How many verdicts on record are not those of the running settings: other limits held then."""
        return sum(each.score.verdict is not each.judged.running.verdict for each in self.checks)

    @property
    def due_changes(self) -> dict[str, Both[StateReport]]:
        """Conditions whose state or due date of today differs."""
        return {name: both for name, both in self.due.items() if _standing(both.running) != _standing(both.edited)}


def _standing(report: StateReport) -> tuple[object, ...]:
    return report.state, report.due_at


def judged_under_both(score: PastScore, rulings: Both[Ruling]) -> JudgedCheck:
    """A recorded check judged again by its figures on record."""
    both = Both(*(judged_again(score, ruling) for ruling in rulings))
    unlike = both.running.unknown ^ both.edited.unknown
    open_figures = frozenset((group, metric) for group, metric, _ in unlike)
    decider = None
    if both.running.verdict is not both.edited.verdict:
        severer = max(both, key=lambda each: SEVERITY.index(each.verdict))
        decider = _decider(severer, Both(*(ruling.limits for ruling in rulings)), severer is both.edited)
    return JudgedCheck(score, both, open_figures, decider)


def judged_again(score: PastScore, ruling: Ruling) -> Judgement:
    """The verdict by the known figures; one that is not on record, or was made in another way, is unknown, never 0."""
    known = known_figures(score.metrics, score.inks, score.reckoning, ruling.reckoning)
    verdict, _ = judge(known, ruling.limits)
    unknown = frozenset(
        (group, metric, limit)
        for group, wanted in ruling.limits.items()
        for metric, limit in wanted.items()
        if metric not in known.get(group, {})
    )
    recovered = verdict is not Verdict.FAIL and is_recovered(known, ruling.limits)
    return Judgement(verdict, recovered, known, unknown)


def _decider(severer: Judgement, limits: Both[Limits], by_edited: bool) -> Decider:
    """The figure farthest beyond its limit, told by their ratio."""
    level = "act" if severer.verdict is Verdict.FAIL else "warn"
    excess = {
        (group, metric): abs(value) / getattr(limit, level)
        for group, wanted in limits[by_edited].items()
        for metric, limit in wanted.items()
        if (value := severer.known.get(group, {}).get(metric)) is not None
    }
    group, metric = max(excess, key=lambda figure: excess[figure])
    held = (each.get(group, {}).get(metric) for each in limits)
    both = Both(*(None if limit is None else float(getattr(limit, level)) for limit in held))
    return Decider(group, metric, severer.known[group][metric], level, both)


def alarm_changes(running: Iterable[ToldAlarm], edited: Iterable[ToldAlarm]) -> list[AlarmChange]:
    """The alarms of one side that the other does not have, or has otherwise; the latest first.

    Two are the same if they are of one kind and stand on the same check.
    """
    ours, theirs = _keyed(running), _keyed(edited)
    changes = [AlarmChange(ours.get(key), theirs.get(key)) for key in ours | theirs]
    unlike = [each for each in changes if _as_told(each.running) != _as_told(each.edited)]
    return sorted(unlike, key=lambda each: (each.either.alarm.at, each.either.condition), reverse=True)


def _as_told(told: ToldAlarm | None) -> tuple[datetime, str | None] | None:
    return None if told is None else (told.alarm.at, told.urgency)


def _keyed(alarms: Iterable[ToldAlarm]) -> dict[tuple[str, NoticeKind, int, int], ToldAlarm]:
    seen: Counter[tuple[str, NoticeKind, int]] = Counter()
    found = {}
    for told in alarms:
        key = (told.condition, told.alarm.kind, told.alarm.check)
        found[(*key, seen[key])] = told
        seen[key] += 1
    return found
