"""The service has stopped: its recipients are told without it and without its store, from what the manager knows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Protocol

from sentinel.application.notifying import Trial
from sentinel.core.cases.kinds import CaseStep, NoticeKind, Severity, Trouble
from sentinel.core.cases.payloads import Envelope, TroubleCase
from sentinel.core.cases.records import Notice
from sentinel.ports import Addressee, Notifier
from sentinel.render.notices import Letters

if TYPE_CHECKING:
    from sentinel.render.localizer import CldrLocalizer

AGAIN = timedelta(hours=6)
"""The same cause is told again after so long."""


class Told(Protocol):
    """What was told last, kept outside the store."""

    def last(self) -> tuple[str, datetime] | None: ...  # what, and when
    def note(self, what: str, at: datetime) -> None: ...  # it is told now


def cause(environ: Mapping[str, str]) -> str:
    """How the service ended, in the words of its manager (systemd.exec(5), $MONITOR_...)."""
    named = {name: environ.get(f"MONITOR_{name}", "") for name in ("SERVICE_RESULT", "EXIT_CODE", "EXIT_STATUS")}
    result, ended = named["SERVICE_RESULT"], f"{named['EXIT_CODE']} {named['EXIT_STATUS']}".strip()
    return ", ".join(part for part in (result, ended) if part) or "nobody said why"


def is_due(told: Told, what: str, now: datetime) -> bool:
    """Whether that was not told lately; a time to come is of a clock that was wrong."""
    last = told.last()
    return last is None or last[0] != what or not timedelta() <= now - last[1] < AGAIN


def tell_stopped(
    what: str,
    timezone: str,
    addressees: Sequence[Addressee],
    notifier: Notifier,
    localizer_of: Callable[[str], CldrLocalizer],
) -> list[Trial]:
    """Sends it once to each URL of those who are told of trouble of the service."""
    payload = TroubleCase(trouble=Trouble.SERVICE_STOPPED.value, about="", detail=what)
    envelope = Envelope(timezone=timezone, step=CaseStep.OPENED.value, severity=Severity.URGENT.value)
    facts = {**payload.as_json(), **envelope.as_json()}
    answers = []
    for each in addressees:
        for number in range(each.urls if NoticeKind.SERVICE_TROUBLE in each.kinds else 0):
            notice = Notice("service-stopped", NoticeKind.SERVICE_TROUBLE, each.name, number, facts)
            answer = notifier.send(each.name, number, Letters(localizer=localizer_of(each.name)).letter(notice))
            answers.append(Trial(each.name, number + 1, answer))
    return answers
