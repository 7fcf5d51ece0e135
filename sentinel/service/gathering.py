"""Many notices in one: after an outage, and once a day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from sentinel.core.kinds import NoticeKind, Severity, Step
from sentinel.core.records import Notice, Posting, Waiting

TOGETHER = 100
"""So many notices at most are told in one, so that a mail or a webhook still names each."""

PICTURED = ("trend", "worst")
"""Facts that only a picture is drawn from."""


def gathered(members: Sequence[Waiting], key: str, zone: str, more: Sequence[Mapping[str, Any]] = ()) -> Posting:
    """One notice in place of `members`, all of one recipient's URL; `more` are entries that were no notices.

    Those of the most pressing incident come first, those of one incident in their order.
    """
    first = members[0].notice
    entries = [*map(_entry, _ordered(members)), *more]
    return posting(key, first.recipient, first.url_no, entries, zone, members)


def posting(
    key: str, recipient: str, url_no: int, entries: Iterable[Mapping[str, Any]], zone: str, members: Sequence[Waiting]
) -> Posting:
    """A summary of these entries."""
    severity = max((each.severity for each in members), key=lambda each: each.rank, default=Severity.ROUTINE)
    facts = {"notices": list(entries), "timezone": zone, "severity": severity.value}
    tries = max((each.tries for each in members), default=0)
    return Posting(
        Notice(key, NoticeKind.SUMMARY, recipient, url_no, facts), step=Step.REPEATED, severity=severity, tries=tries
    )


def key_at(what: str, now: datetime, last: int) -> str:
    """The key of a notice that stands for others, the last of which has this number."""
    return f"{what}-{now:%Y%m%dT%H%M%S}-{last}"


def _ordered(members: Sequence[Waiting]) -> list[Waiting]:
    pressing: dict[object, int] = {}
    for each in members:
        pressing[_incident(each)] = max(pressing.get(_incident(each), 0), each.severity.rank)
    return sorted(members, key=lambda each: (-pressing[_incident(each)], each.seq))


def _incident(member: Waiting) -> object:
    return tuple(member.notice.facts.get("incidents", ())) or member.seq


def _entry(member: Waiting) -> dict[str, Any]:
    facts = dict(member.notice.facts)
    if "check" in facts:
        facts["check"] = {name: value for name, value in facts["check"].items() if name not in PICTURED}
    return {"key": member.notice.key, "kind": member.notice.kind.value, "facts": facts}
