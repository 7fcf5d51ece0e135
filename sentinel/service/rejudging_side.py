"""One of the two settings that history is judged by: what it says of a check, of its alarms, and of their urgency."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime

from sentinel.core.case import PastCheck
from sentinel.core.condition import ConditionName
from sentinel.core.events import Event
from sentinel.core.incidents import NoticeKind
from sentinel.core.past_scores import PastScore
from sentinel.core.reasons import Code
from sentinel.core.rejudging import Judgement, Ruling, ToldAlarm
from sentinel.core.replaying import Alarm, alarms
from sentinel.core.scoring.limits import mark
from sentinel.core.state import Situation
from sentinel.service.situations import touches
from sentinel.service.urgency import Urgency, urgency
from sentinel.settings.house import HOUSE_LIMITS
from sentinel.settings.limit_sets import limits_for
from sentinel.settings.models import Settings
from sentinel.settings.snapshot import Snapshot

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

    def _urgency(self, alarm: Alarm, score: PastScore, judgement: Judgement | None) -> Urgency | None:
        if alarm.kind is not NoticeKind.CHECK_FAILED:
            return None
        ruling, due = self.ruling(score.condition, score.target), self.snapshot.loaded.settings.due
        check: Mapping[str, object] = {
            "reasons": [{"code": Code.RIVAL_FITS_BETTER.value}] if score.stock_doubtful else [],
            "metrics": judgement.known if judgement else score.metrics,
            "limits": ruling.limits if ruling else {},
        }
        return urgency(check, alarm.count, due.confirm_first, due.gross_factor)
