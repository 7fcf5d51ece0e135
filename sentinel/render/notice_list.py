"""Notices as a table and as JSON: what waits, what arrived, what was given up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo

from tabulate import tabulate

from sentinel.core.records import NoticeRecord

SCHEMA = "sentinel.notice/1"


def notices_table(records: Sequence[NoticeRecord], zone: ZoneInfo) -> str:
    """One line a notice and URL."""
    rows = [
        (
            record.notice.key,
            f"{record.created_at.astimezone(zone):%Y-%m-%d %H:%M}",
            record.notice.kind.value,
            f"{record.notice.recipient}, URL {record.notice.url_no + 1}",
            record.status if record.within is None else f"{record.status}, in {record.within}",
            record.tries,
        )
        for record in records
    ]
    headers = ("notice", "made", "kind", "recipient", "what became of it", "tries")
    return tabulate(rows, headers=headers, tablefmt="simple", disable_numparse=True)


def notice_json(record: NoticeRecord) -> dict[str, Any]:
    """All of it but its facts."""
    return {
        "schema": SCHEMA,
        "key": record.notice.key,
        "kind": record.notice.kind.value,
        "recipient": record.notice.recipient,
        "url": record.notice.url_no + 1,
        "status": record.status,
        "severity": record.severity.value,
        "created_at": record.created_at.isoformat(),
        "next_try_at": record.next_try_at.isoformat() if record.status == "waiting" else None,
        "tries": record.tries,
        "within": record.within,
    }


def whole_json(record: NoticeRecord, title: str, body: str) -> dict[str, Any]:
    """With its facts, its text, and every try."""
    answers = [{"at": at.isoformat(), "arrived": arrived, "answer": answer} for at, arrived, answer in record.answers]
    return {**notice_json(record), "facts": record.notice.facts, "title": title, "body": body, "answers": answers}


def whole_text(record: NoticeRecord, title: str, body: str, zone: ZoneInfo) -> str:
    """What became of it, then its text."""
    head = f"{record.notice.recipient}, URL {record.notice.url_no + 1}: {record.status}"
    tries = [
        f"  {at.astimezone(zone):%Y-%m-%d %H:%M:%S}  {'accepted' if arrived else answer}"
        for at, arrived, answer in record.answers
    ]
    return "\n".join([head, *tries, "", title, "", body])
