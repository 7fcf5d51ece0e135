"""Cases and the outbox, the notices of them.

One case at most is open for a subject and kind. Notices are posted, taken in turn, gathered into one, sent or given up.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import groupby
from typing import Any

from sentinel.adapters.store.connection import ReadRecords, WriteRecords
from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind, Severity
from sentinel.core.cases.lifecycle import CaseTransition, OpenCase, Silence, after
from sentinel.core.cases.records import (
    REMOVED,
    CaseRecord,
    Notice,
    NoticeRecord,
    Posting,
    Queued,
    Silencing,
    Undelivered,
    UrlLosses,
    Waiting,
)


class ReadCases(ReadRecords):
    """Cases of one site."""

    def listed(self, since: datetime | None = None) -> list[CaseRecord]:
        """Open cases, and with `since` those closed from then on, in the order in which they were opened."""
        return [_record(row) for row in self._rows.rows("cases", since=since)]

    def open(self) -> dict[str, dict[CaseKind, OpenCase]]:
        """Every open case by subject and kind, of kinds that this program knows."""
        found: dict[str, dict[CaseKind, OpenCase]] = {}
        for record in self.listed():
            if record.kind.known:
                found.setdefault(record.subject, {})[record.kind] = record.case
        return found

    def known(self, subject: str, kind: CaseKind) -> bool:
        """Whether there is, or ever was, such a case."""
        return self._rows.first("cases_known", subject=subject, kind=kind.value) is not None


class WriteCases(ReadCases, WriteRecords):
    """The same, moved from step to step."""

    def apply(
        self, subject: str, opened: OpenCase | None, step: CaseTransition, at: datetime, number: int | None = None
    ) -> int:
        """Carries out one step of a concern and returns its seq; `number` is that of its case, None where it begins
        one."""
        left = after(opened, step, at)
        kept: dict[str, Any] = {
            "cause_seq": left.cause,
            "times": left.count,
            "severity": left.severity.value,
            "told_at": left.told_at,
            "reminded": left.reminded,
            "escalated": left.escalated,
            "gone_since": left.gone_since,
            "closed_at": at if step.step is CaseStep.CLOSED else None,
        }
        if opened is None:
            seq = self._records.add("concern", subject=subject, kind=step.kind.value, opened_at=at, case_seq=0, **kept)
            self._records.change("concern", seq, case_seq=seq if number is None else number)
            return seq
        self._records.change("concern", opened.seq, **kept)
        return opened.seq

    def silence(self, number: int, said: Silencing) -> None:
        """Keeps the case of this number silent, in place of what was said of it before."""
        self._records.add(
            "case_silence",
            case_seq=number,
            acknowledged=said.acknowledged,
            by=said.by,
            note=said.note,
            severity=said.severity.value,
            at=said.at,
            until=said.until,
        )


def _record(row: Any) -> CaseRecord:
    said = None
    if row.silence_until is not None:
        said = Silencing(
            acknowledged=row.silence_acknowledged,
            by=row.silence_by,
            note=row.silence_note,
            severity=Severity.kept(row.silence_severity),
            at=row.silence_at,
            until=row.silence_until,
        )
    return CaseRecord(row.subject, CaseKind.kept(row.kind), _open(row, said), row.closed_at, said)


def _open(row: Any, said: Silencing | None) -> OpenCase:
    return OpenCase(
        seq=row.seq,
        cause=row.cause_seq,
        count=row.times,
        opened_at=row.opened_at,
        told_at=row.told_at or row.opened_at,
        reminded=row.reminded or 0,
        escalated=row.escalated or 0.0,
        severity=Severity.kept(row.severity),
        gone_since=row.gone_since,
        silence=None if said is None else Silence(said.until, said.severity, said.acknowledged, said.at, said.by),
        case=row.case_seq,
    )


# --- the outbox -------------------------------------------------------------------------------------------------------


class ReadOutbox(ReadRecords):
    """Notices of one site."""

    def counts(self) -> dict[str, int]:
        """How many notices wait, were sent, were given up; and of every other status there is."""
        found = {row.status: row.notices for row in self._rows.rows("outbox_counts")}
        return {"waiting": 0, "sent": 0, "given-up": 0, **found}

    def listed(
        self, statuses: Collection[str] = (), recipient: str | None = None, last: int | None = None
    ) -> list[NoticeRecord]:
        """Notices with one of these statuses, or any; of one recipient or all; the newest first, without tries."""
        rows = self._rows.rows("listed_notices", statuses=statuses or None, recipient=recipient, last=last)
        return [_notice_record(row) for row in rows]

    def of_key(self, key: str) -> list[NoticeRecord]:
        """A notice at each of the URLs it is for, with every try."""
        tries = groupby(self._rows.rows("notices_of_key", key=key), lambda row: int(row.seq))
        return [_notice_record(*rows) for _, rows in tries]

    def failing_since(self, since: datetime) -> dict[tuple[str, int], datetime]:
        """By recipient and number of its URL: the first failed try after the last that arrived, from `since` on.

        Where the clock was set back meanwhile it is the earliest.
        """
        failing: dict[tuple[str, int], datetime] = {}
        for row in self._rows.rows("tries_since", since=since):
            place = (row.recipient, row.url_no)
            if row.arrived:
                failing.pop(place, None)
            else:
                failing[place] = min(row.at, failing.get(place, row.at))
        return failing

    def undelivered(self, recipient: str, url_no: int, most: int) -> Undelivered | None:
        """What was given up for a URL that nobody there was told of, with the newest `most`; None for nothing."""
        place: dict[str, Any] = {"recipient": recipient, "url_no": url_no}
        told = [row.key for row in self._rows.rows("reports", **place) if row.status == "sent"]
        since = max((int(key.rpartition("-")[2]) for key in told), default=0)
        rows = self._rows.rows("undelivered", since=since, **place)
        if not rows:
            return None
        newest = self._rows.rows("notices", seqs=[row.seq for row in rows[-most:]])
        times, ended = [row.created_at for row in rows], max(row.ended for row in rows)
        return Undelivered(len(rows), min(times), max(times), ended, [_waiting(row) for row in newest])

    def reports(self, recipient: str, url_no: int) -> list[int]:
        """Notices on their way that tell a URL what was given up for it."""
        rows = self._rows.rows("reports", recipient=recipient, url_no=url_no)
        return [row.seq for row in rows if row.status in ("waiting", "summarised")]

    def late(self, recipient: str, url_no: int, since: datetime, by: timedelta) -> list[timedelta]:
        """By how much each notice came late to a URL since then, after failed tries, where that is more than `by`."""
        return self._late(since, by).get((recipient, url_no), [])

    def _late(self, since: datetime, by: timedelta) -> dict[tuple[str, int], list[timedelta]]:
        found: dict[tuple[str, int], list[timedelta]] = {}
        for row in self._rows.rows("late_arrivals", since=since):
            if (span := row.at - (row.retried_at or row.created_at)) > by:
                found.setdefault((row.recipient, row.url_no), []).append(span)
        return found

    def losses(self, since: datetime, by: timedelta) -> list[UrlLosses]:
        """What was given up for each URL, ever, and what came late to it since then, by more than `by`."""
        late = self._late(since, by)
        given_up = {(row.recipient, row.url_no): row for row in self._rows.rows("given_up_by_url")}
        found = []
        for place in sorted({*late, *given_up}):
            row, spans = given_up.get(place), late.get(place, [])
            known = {} if row is None else {"given_up": row.notices, "first": row.first, "last": row.last}
            found.append(UrlLosses(*place, **known, late=len(spans), latest=max(spans, default=timedelta())))
        return found

    def reached(self, case: int) -> dict[tuple[str, int], str]:
        """To which recipients' URLs a case was told, or is about to be, each with the status of the last notice.

        What was given up or withdrawn has reached nobody.
        """
        return {(row.recipient, row.url_no): row.status for row in self._rows.rows("reached", case=case)}

    def held(self, recipient: str, url_no: int) -> list[Waiting]:
        """What is kept for the daily summary, in the order in which it was posted."""
        return [_waiting(row) for row in self._rows.rows("notices", recipient=recipient, url_no=url_no)]


class WriteOutbox(ReadOutbox, WriteRecords):
    """The same, and notices go in and out. No transaction spans the network."""

    def post(self, postings: Iterable[Posting], at: datetime) -> list[int]:
        """Puts notices into the outbox, to be delivered once this transaction is committed; returns their seqs."""
        return [self._post(posting, at) for posting in postings]

    def _post(self, posting: Posting, at: datetime) -> int:
        notice = posting.notice
        seq = self._records.add(
            "outbox",
            key=notice.key,
            kind=notice.kind.value,
            recipient=notice.recipient,
            url_no=notice.url_no,
            facts=dict(notice.facts),
            created_at=at,
            next_try_at=posting.not_before or at,
            tries=posting.tries,
            status="held" if posting.held else "waiting",
            step=posting.step.value,
            severity=posting.severity.value,
        )
        for case in posting.cases:
            self._records.put("concern_notice", concern_seq=case, outbox_seq=seq)
        return seq

    def withdraw(self, case: int, condition: str, later: datetime | None = None) -> None:
        """What is over before it was told is not told; a notice of another one too that is still open says nothing of
        this `condition` any more.

        With `later` only what waits on purpose: for a page, or for a moment after that.
        """
        for row in self._rows.rows("withdrawable", case=case, later=later):
            self._records.change("outbox", row.seq, status="withdrawn")
        for row in self._rows.rows("waiting_of_case", case=case):
            if (left := _without(row.facts, condition)) is not None:
                self._records.change("outbox", row.seq, facts=left)

    def gather(self, summary: Posting, members: Collection[int], at: datetime) -> None:
        """One notice in place of many; it is these that count as sent once it is.

        One that some of them were in before lets go of the rest.
        """
        former = {row.summary_seq for row in self._rows.rows("members", seqs=members)}
        [seq] = self.post([summary], at)
        for member in members:
            self._records.change("outbox", member, status="summarised", summary_seq=seq)
        for summary_before in former:
            self._records.change("outbox", summary_before, status="withdrawn")
            for left in self._members(summary_before):
                self._records.change("outbox", left, status="waiting", summary_seq=None)

    def next_for(self, recipient: str, now: datetime) -> Waiting | None:
        """The recipient's notice that may be tried now: an urgent one before others, then the oldest."""
        first = self._first_in_turn(recipient, now)
        if first is None:
            return None
        [row] = self._rows.rows("notices", seqs=[first.seq])
        return _waiting(row)

    def next_try_at(self, recipient: str) -> datetime | None:
        """When the recipient's next notice may be tried; None where none waits."""
        first = self._first_in_turn(recipient, None)
        return None if first is None else first.next_try_at

    def backlog(self, recipient: str, apart: int, together: int, now: datetime) -> list[Waiting]:
        """At most `together` notices in their order for one URL, where more than `apart` wait whose time has come.

        Those inside another come out of it, unless that is full. What waits for a quiet hour to end is not among them.
        """
        late = {"recipient": recipient, "together": together, "now": now}
        crowded = self._rows.first("backlog", apart=apart, **late)
        if crowded is None:
            return []
        found = {row.seq: row for row in self._rows.rows("backlog", url_no=crowded.url_no, **late)}
        for seq in list(found):
            if members := self._members(seq):
                del found[seq]
                found |= {row.seq: row for row in self._rows.rows("notices", seqs=members)}
        return [_waiting(found[seq]) for seq in sorted(found)][:together]

    def queued(self, recipient: str) -> list[Queued]:
        """Everything that waits for the recipient, in the order in which it was posted."""
        return [
            Queued(
                seq=row.seq,
                key=row.key,
                kind=NoticeKind.kept(row.kind),
                url_no=row.url_no,
                tries=row.tries,
                severity=_severity(row),
                next_try_at=row.next_try_at,
            )
            for row in self._rows.rows("queued_notices", recipient=recipient)
        ]

    def arrivals(self, recipient: str, url_no: int, kind: NoticeKind, since: datetime) -> list[datetime]:
        """When notices of this kind arrived there, those told in one at one moment."""
        asked = {"recipient": recipient, "url_no": url_no, "kind": kind.value, "since": since}
        return [row.at for row in self._rows.rows("arrivals_of_kind", **asked)]

    def whole(self, seqs: Collection[int]) -> list[Waiting]:
        """These notices in their order, and in place of one that stands for others those inside it."""
        found = {each for seq in seqs for each in self._members(seq) or [seq]}
        return [_waiting(row) for row in self._rows.rows("notices", seqs=found)]

    def put(self, seqs: Iterable[int], until: datetime) -> None:
        """They are not tried before `until`."""
        for seq in seqs:
            self._records.change("outbox", seq, next_try_at=until)

    def sent(self, waiting: Waiting, at: datetime) -> None:
        """Records that it arrived."""
        self._tried(waiting, "sent", at, "accepted")

    def failed(self, waiting: Waiting, at: datetime, answer: str, next_try_at: datetime) -> None:
        """Records a try that failed and when to try again."""
        self._records.change("outbox", waiting.seq, tries=waiting.tries + 1, next_try_at=next_try_at)
        self._records.add("delivery", outbox_seq=waiting.seq, at=at, arrived=False, answer=answer)

    def given_up(self, waiting: Waiting, at: datetime, answer: str) -> None:
        """Records that it is not tried any more."""
        self._tried(waiting, "given-up", at, answer)

    def settle_report(self, seq: int) -> None:
        """A notice of what was given up is not to be told, or not as it is."""
        self._records.change("outbox", seq, status="withdrawn")

    def retry(self, keys: Collection[str] | None, at: datetime) -> list[str]:
        """Notices that were given up, those of these keys or all, wait again; returns their keys."""
        rows = self._rows.rows("given_up", keys=keys)
        again = {"status": "waiting", "next_try_at": at, "retried_at": at, "tries": 0, "summary_seq": None}
        for row in rows:
            self._records.change("outbox", row.seq, **again)
        return list(dict.fromkeys(row.key for row in rows))

    def told_elsewhere(self, case: int, urls: Mapping[tuple[str, int], datetime]) -> None:
        """What waits of this case for these URLs is known there, since it was told past the outbox at those times."""
        for row in self._rows.rows("waiting_of_case", case=case):
            at = urls.get((row.recipient, row.url_no))
            if at is not None:
                self._finish(row.seq, "sent", at, "told without the store", row.key)

    def give_up_for_absent(self, recipients: Collection[str], at: datetime) -> int:
        """Notices for recipients that the settings no longer name are given up; returns how many."""
        absent = self._rows.rows("notices", others=recipients)
        for row in absent:
            self._finish(row.seq, "given-up", at, REMOVED, row.key)
        return len(absent)

    def _tried(self, waiting: Waiting, status: str, at: datetime, answer: str) -> None:
        self._records.change("outbox", waiting.seq, tries=waiting.tries + 1)
        self._finish(waiting.seq, status, at, answer, waiting.notice.key)

    def _finish(self, seq: int, status: str, at: datetime, answer: str, key: str) -> None:
        """A notice, and those inside it, were sent or given up. An end that nobody has heard the beginning of goes."""
        inside = self._members(seq)
        for each, told in [(seq, answer), *((member, f"within {key}") for member in inside)]:
            self._records.change("outbox", each, status=status)
            self._records.add("delivery", outbox_seq=each, at=at, arrived=status == "sent", answer=told)
        if status == "given-up":
            self._drop_ends([seq, *inside])

    def _members(self, seq: int) -> list[int]:
        """The notices inside this one."""
        return [row.seq for row in self._rows.rows("members", within=seq)]

    def _drop_ends(self, seqs: Sequence[int]) -> None:
        for end in self._rows.rows("ends", seqs=seqs):
            begun = self._rows.first(
                "begun", case=end.concern_seq, recipient=end.recipient, url_no=end.url_no, but=end.seq
            )
            if begun is None:
                self._records.change("outbox", end.seq, status="withdrawn")

    def _first_in_turn(self, recipient: str, now: datetime | None) -> Any | None:
        # notice by notice: as one statement SQLite goes through the whole outbox for each
        waiting = self._records.each("waiting_in_order", recipient=recipient, now=now)
        return next((row for row in waiting if self._in_turn(row.seq)), None)

    def _in_turn(self, seq: int) -> bool:
        """Whether no earlier notice of the same case still has to go to the same URL."""
        cases = [row.concern_seq for row in self._rows.rows("cases_of_notice", notice=seq)]
        return self._rows.first("before_in_turn", notice=seq, cases=cases) is None


def _without(facts: Mapping[str, Any], condition: str) -> dict[str, Any] | None:
    """The facts of a notice of several printing conditions without this one; None where there is nothing to change."""
    told, cases = facts.get("conditions"), facts.get("cases")
    if not isinstance(told, list) or not isinstance(cases, list):
        return None
    here = [number for number, each in enumerate(told) if each.get("condition") == condition]
    if not here or len(told) < 2:
        return None
    gone = {
        (told[number].get("standing") or {}).get("case", cases[number] if len(cases) == len(told) else None)
        for number in here
    }
    return {
        **facts,
        "conditions": [each for number, each in enumerate(told) if number not in here],
        "cases": [each for each in cases if each not in gone],
    }


def _waiting(row: Any) -> Waiting:
    """A notice to be tried; its age counts from when somebody asked to try it again."""
    return Waiting(row.seq, _notice(row), row.retried_at or row.created_at, row.tries, _severity(row))


def _notice_record(row: Any, *more: Any) -> NoticeRecord:
    """Of the rows of one notice, one for each of its tries, where these were asked for."""
    tried = [each for each in (row, *more) if getattr(each, "answer", None) is not None]
    return NoticeRecord(
        seq=row.seq,
        notice=_notice(row),
        status=row.status,
        severity=_severity(row),
        created_at=row.created_at,
        next_try_at=row.next_try_at,
        tries=row.tries,
        within=row.within,
        answers=tuple((each.at, each.arrived, each.answer) for each in tried),
    )


def _notice(row: Any) -> Notice:
    return Notice(row.key, NoticeKind.kept(row.kind), row.recipient, row.url_no, row.facts)


def _severity(row: Any) -> Severity:
    return Severity.kept(row.severity)
