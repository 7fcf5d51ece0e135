"""What people are told while the store takes nothing: past it, the same people, once a trouble."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import structlog

from sentinel.core.cases.kinds import CaseKind, NoticeKind, Trouble
from sentinel.core.cases.notice_policy import NoticePolicy, NoticeSubject, subscribers_for
from sentinel.core.cases.payloads import Envelope, TroubleCase
from sentinel.core.cases.records import Notice
from sentinel.ports import Clock, Note, Notifier
from sentinel.render.notices import Letters
from sentinel.service.dispatch import Addressees
from sentinel.service.health import ServiceFault
from sentinel.service.parts import waits_after

log = structlog.get_logger()

GRACE_SECONDS = 30.0
"""The store may refuse for so long, and then tell by itself: a lock that is held, a full disk with its reserve."""

DAY = timedelta(days=1)

Url = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Spoken:
    """A trouble that people were told without the store: at which URLs, and when."""

    fault: ServiceFault
    urls: Mapping[Url, datetime]


class SecondVoice:
    """Whom it told what stands in `note`, which is elsewhere than the store."""

    def __init__(
        self,
        addressees: Addressees,
        notifier: Notifier,
        letters: Callable[[str], Letters],
        note: Note,
        clock: Clock,
    ) -> None:
        self._addressees = addressees
        self._notifier = notifier
        self._letters = letters
        self._note = note
        self._clock = clock
        self._began: tuple[float, datetime] | None = None
        self._tries: dict[Url, tuple[int, float]] = {}
        self._told_by_store: frozenset[str] = frozenset()
        self._thread: threading.Thread | None = None

    @property
    def remembers(self) -> bool:
        """Whether a restart would know whom it told."""
        return self._note.lasting

    def refused(self, fault: ServiceFault, policy: NoticePolicy) -> None:
        """The store took nothing just now. Tells people beside the work, once that has lasted."""
        now = self._clock.elapsed()
        if self._began is None:
            self._began = now, self._clock.now()
        if now - self._began[0] < GRACE_SECONDS or self._is_speaking() or fault.subject in self._told_by_store:
            return
        since = self._began[1]
        if any(True for _ in self._due(fault, policy)):
            self._thread = threading.Thread(
                target=self._speak, args=(fault, since, policy), name="second-voice", daemon=True
            )
            self._thread.start()

    def tell(self, fault: ServiceFault, policy: NoticePolicy) -> None:
        """The store is not even there to be asked. Tells people, and returns when that was tried."""
        if any(True for _ in self._due(fault, policy)):
            self._speak(fault, self._clock.now(), policy)

    def wait(self, seconds: float) -> None:
        """Until what is being told has been, or for so long."""
        if self._thread is not None:
            self._thread.join(seconds)

    def spoken(self) -> list[Spoken]:
        """What it told and the store does not know yet."""
        return [found for kept in self._note.read().values() if (found := _spoken(kept)) is not None]

    def settled(self, in_store: Iterable[str]) -> None:
        """The store takes records again, and knows what was told; `in_store` are the troubles that it tells itself."""
        self._began, self._told_by_store = None, frozenset(in_store)
        self._tries.clear()
        if self._note.read():
            self._note.write({})

    def _is_speaking(self) -> bool:
        return self._thread is not None and self._thread.is_alive()

    def _due(self, fault: ServiceFault, policy: NoticePolicy) -> Iterator[Url]:
        """Whom the rules would tell of it now, unless they were told lately or it is too soon to try them again."""
        now, kind = self._clock.now(), NoticeKind.SERVICE_TROUBLE
        subscribers = [policy.subscriber(each.name, each.kinds) for each in self._addressees]
        found = {
            subscriber.name: daily
            for subscriber, daily in subscribers_for(subscribers, policy.rules, NoticeSubject(kind, kind.severity))
            if subscriber.quiet.until(now) <= now
        }
        told = self._told(fault, now)
        again = policy.reminders(CaseKind.SERVICE_TROUBLE, ()).remind
        for each in self._addressees:
            if each.name not in found or (found[each.name] and not policy.daily_has_come(now)):
                continue
            for url in ((each.name, number) for number in range(each.urls)):
                last, (_, not_before) = told.get(url), self._tries.get(url, (0, 0.0))
                fresh = last is None or (again is not None and now - last >= max(DAY, again))
                if fresh and self._clock.elapsed() >= not_before:
                    yield url

    def _told(self, fault: ServiceFault, now: datetime) -> dict[Url, datetime]:
        """When each was told of it last; never in the future, whatever the clock said then."""
        spoken = (each.urls for each in self.spoken() if each.fault.subject == fault.subject)
        return {url: min(at, now) for urls in spoken for url, at in urls.items()}

    def _speak(self, fault: ServiceFault, since: datetime, policy: NoticePolicy) -> None:
        began = self._note.read().get(fault.subject, {}).get("since")
        since = min(since, datetime.fromisoformat(began)) if began else since
        for name, url_no in list(self._due(fault, policy)):
            try:
                letter = self._letters(name).letter(_notice(fault, since, policy.timezone, name, url_no))
                answer = self._notifier.send(name, url_no, letter)
            except Exception as broke:  # its words, and its chain, may hold the URL
                answer = f"broke with {type(broke).__name__}"
            if answer is None:
                self._tries.pop((name, url_no), None)
                self._remember(fault, since, (name, url_no))
                log.info("told without the store", trouble=fault.trouble.value, recipient=name)
            else:
                times = self._tries.get((name, url_no), (0, 0.0))[0] + 1
                self._tries[name, url_no] = times, self._clock.elapsed() + waits_after(times + 1)
                log.warning("not told without the store", recipient=name, answer=answer)

    def _remember(self, fault: ServiceFault, since: datetime, url: Url) -> None:
        kept = dict(self._note.read())
        before = kept.get(fault.subject, {"told": []})
        told = [each for each in before["told"] if (each[0], each[1]) != url]
        kept[fault.subject] = {
            "trouble": fault.trouble.value,
            "about": fault.about,
            "detail": fault.detail,
            "since": since.isoformat(),
            "told": [*told, [*url, self._clock.now().isoformat()]],
        }
        self._note.write(kept)


def _spoken(kept: Any) -> Spoken | None:
    """What was noted; None where another program noted it."""
    try:
        fault = ServiceFault(Trouble(kept["trouble"]), str(kept["about"]), str(kept["detail"]))
        return Spoken(fault, {(str(n), int(url_no)): datetime.fromisoformat(at) for n, url_no, at in kept["told"]})
    except (LookupError, TypeError, ValueError):
        return None


def _notice(fault: ServiceFault, since: datetime, zone: str, name: str, url_no: int) -> Notice:
    kind = NoticeKind.SERVICE_TROUBLE
    case = TroubleCase(trouble=fault.trouble.value, about=fault.about, detail=fault.detail, unrecorded_since=since)
    facts = {**case.as_json(), **Envelope(timezone=zone, severity=kind.severity.value).as_json()}
    return Notice(f"{fault.trouble.value}-{since:%Y%m%dT%H%M%S}", kind, name, url_no, facts)
