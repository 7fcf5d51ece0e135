"""The questions about cases and the outbox: statements.py says how they are asked."""

from __future__ import annotations

from typing import Any

from sqlalchemy import ColumnElement, and_, bindparam, exists, func, or_, select

from sentinel.adapters.store.schema import (
    Given,
    Statement,
    any_of,
    at_most,
    delivery,
    if_given,
    incident,
    incident_notice,
    incident_silence,
    mine,
    outbox,
)
from sentinel.core.cases.kinds import CaseStep

LIVE = ("waiting", "held", "summarised")
"""What may still be delivered: on its way, kept for the daily summary, or inside another notice."""


def cases(given: Given) -> Statement:
    """Open ones, and with `since` those closed from then on, each with what was said of it last."""
    newest = (
        select(incident_silence.c.incident_seq, func.max(incident_silence.c.seq).label("seq"))
        .where(mine(incident_silence))
        .group_by(incident_silence.c.incident_seq)
        .subquery()
    )
    of_silence = ("acknowledged", "by", "note", "until", "at", "severity")
    closed = if_given(given, since=incident.c.closed_at >= bindparam("since"))
    wanted = or_(incident.c.closed_at.is_(None), *closed)
    return (
        select(incident, *(incident_silence.c[name].label(f"silence_{name}") for name in of_silence))
        .outerjoin(newest, newest.c.incident_seq == incident.c.seq)
        .outerjoin(incident_silence, and_(mine(incident_silence), incident_silence.c.seq == newest.c.seq))
        .where(mine(incident), wanted)
        .order_by(incident.c.seq)
    )


def cases_known() -> Statement:
    same = (incident.c.subject == bindparam("subject"), incident.c.kind == bindparam("kind"))
    return select(incident.c.seq).where(mine(incident), *same).limit(1)


# --- the outbox -------------------------------------------------------------------------------------------------------

TOLD = incident_notice.join(
    outbox, (incident_notice.c.site == outbox.c.site) & (incident_notice.c.outbox_seq == outbox.c.seq)
)
"""Notices with the cases they tell of."""


def _of_url() -> tuple[ColumnElement[bool], ...]:
    return outbox.c.recipient == bindparam("recipient"), outbox.c.url_no == bindparam("url_no")


def _waiting() -> tuple[ColumnElement[bool], ...]:
    return mine(outbox), outbox.c.recipient == bindparam("recipient"), outbox.c.status == "waiting"


def reached() -> Statement:
    return (
        select(outbox.c.recipient, outbox.c.url_no, outbox.c.status)
        .select_from(TOLD)
        .where(
            mine(incident_notice),
            incident_notice.c.incident_seq == bindparam("case"),
            outbox.c.status.in_((*LIVE, "sent")),
        )
        .order_by(outbox.c.seq)
    )


def withdrawable() -> Statement:
    """What is about a case, about no other one that is open, and on no way yet."""
    other = incident_notice.alias()
    still_open = exists().where(
        other.c.site == outbox.c.site,
        other.c.outbox_seq == outbox.c.seq,
        incident.c.site == other.c.site,
        incident.c.seq == other.c.incident_seq,
        incident.c.closed_at.is_(None),
    )
    return (
        select(outbox.c.seq)
        .select_from(TOLD)
        .where(
            mine(incident_notice),
            incident_notice.c.incident_seq == bindparam("case"),
            outbox.c.status.in_(("waiting", "held")),
            ~still_open,
        )
    )


def notices(given: Given) -> Statement:
    """These, or the held ones of one URL, or all that wait or are held for others than these recipients."""
    wanted = if_given(
        given,
        seqs=outbox.c.seq.in_(any_of("seqs")),
        url_no=and_(outbox.c.status == "held", *_of_url()),
        others=and_(outbox.c.status.in_(("waiting", "held")), outbox.c.recipient.not_in(any_of("others"))),
    )
    return select(outbox).where(mine(outbox), *wanted).order_by(outbox.c.seq)


def members(given: Given) -> Statement:
    """The notices inside this one; or the summaries that these are inside."""
    wanted = if_given(given, within=outbox.c.summary_seq == bindparam("within"), seqs=outbox.c.seq.in_(any_of("seqs")))
    inside = (mine(outbox), outbox.c.status == "summarised", *wanted)
    return select(outbox.c.seq, outbox.c.summary_seq).where(*inside).order_by(outbox.c.seq)


def ends() -> Statement:
    """Notices that may still be delivered, of the ends of the cases that these tell of."""
    of_these = select(incident_notice.c.incident_seq).where(
        mine(incident_notice), incident_notice.c.outbox_seq.in_(any_of("seqs"))
    )
    return (
        select(outbox.c.seq, outbox.c.recipient, outbox.c.url_no, incident_notice.c.incident_seq)
        .select_from(TOLD)
        .where(
            mine(incident_notice),
            incident_notice.c.incident_seq.in_(of_these),
            outbox.c.step == CaseStep.CLOSED.value,
            outbox.c.status.in_(LIVE),
        )
    )


def begun() -> Statement:
    """Whether another notice of a case was or will be sent to a URL."""
    return (
        select(outbox.c.seq)
        .select_from(TOLD)
        .where(
            mine(incident_notice),
            incident_notice.c.incident_seq == bindparam("case"),
            *_of_url(),
            outbox.c.seq != bindparam("but"),
            outbox.c.status.in_((*LIVE, "sent")),
        )
        .limit(1)
    )


def given_up(given: Given) -> Statement:
    wanted = if_given(given, keys=outbox.c.key.in_(any_of("keys")))
    dead = (mine(outbox), outbox.c.status == "given-up", *wanted)
    return select(outbox.c.seq, outbox.c.key).where(*dead).order_by(outbox.c.seq)


def waiting_in_order(given: Given) -> Statement:
    """With `now` what may be tried then, as it was posted; without, all in the order in which it may be tried."""
    if "now" in given:
        ready = outbox.c.next_try_at <= bindparam("now")
        return select(outbox.c.seq, outbox.c.next_try_at).where(*_waiting(), ready).order_by(outbox.c.seq)
    return select(outbox.c.seq, outbox.c.next_try_at).where(*_waiting()).order_by(outbox.c.next_try_at, outbox.c.seq)


def cases_of_notice() -> Statement:
    return select(incident_notice.c.incident_seq).where(
        mine(incident_notice), incident_notice.c.outbox_seq == bindparam("notice")
    )


def before_in_turn() -> Statement:
    """An earlier notice of one of these cases that still has to go to the same URL."""
    other, earlier, own = incident_notice.alias(), outbox.alias(), outbox.alias()
    return (
        select(earlier.c.seq)
        .join(other, and_(earlier.c.site == other.c.site, earlier.c.seq == other.c.outbox_seq))
        .join(own, and_(own.c.recipient == earlier.c.recipient, own.c.url_no == earlier.c.url_no))
        .where(
            mine(own),
            own.c.seq == bindparam("notice"),
            mine(other),
            other.c.incident_seq.in_(any_of("cases")),
            other.c.outbox_seq < bindparam("notice"),
            earlier.c.status.in_(("waiting", "summarised")),
        )
        .limit(1)
    )


def backlog(given: Given) -> Statement:
    """Of one URL where it is told, else a URL for which more than `apart` wait; none inside a summary that is full."""
    member = outbox.alias()
    inside = select(func.count()).where(
        member.c.site == outbox.c.site, member.c.summary_seq == outbox.c.seq, member.c.status == "summarised"
    )
    tried = (outbox.c.next_try_at <= bindparam("now")) | (outbox.c.tries > 0)
    late = (*_waiting(), tried, inside.scalar_subquery() < bindparam("together"))
    if "url_no" in given:
        return select(outbox).where(*late, outbox.c.url_no == bindparam("url_no")).order_by(outbox.c.seq)
    crowd = func.count() > bindparam("apart")
    return select(outbox.c.url_no).where(*late).group_by(outbox.c.url_no).having(crowd).limit(1)


def outbox_counts() -> Statement:
    return select(outbox.c.status, func.count().label("notices")).where(mine(outbox)).group_by(outbox.c.status)


_WITHIN = outbox.alias()


def _with_summary() -> Any:
    return outbox.outerjoin(_WITHIN, and_(_WITHIN.c.site == outbox.c.site, _WITHIN.c.seq == outbox.c.summary_seq))


def listed_notices(given: Given) -> Statement:
    wanted = if_given(
        given,
        statuses=outbox.c.status.in_(any_of("statuses")),
        recipient=outbox.c.recipient == bindparam("recipient"),
    )
    found = select(outbox, _WITHIN.c.key.label("within")).select_from(_with_summary())
    return at_most(found.where(mine(outbox), *wanted).order_by(outbox.c.seq.desc()), given)


def notices_of_key() -> Statement:
    """At each URL, once for every try and once where there was none."""
    tries = (delivery.c.at, delivery.c.arrived, delivery.c.answer)
    joined = _with_summary().outerjoin(
        delivery, and_(delivery.c.site == outbox.c.site, delivery.c.outbox_seq == outbox.c.seq)
    )
    return (
        select(outbox, _WITHIN.c.key.label("within"), *tries)
        .select_from(joined)
        .where(mine(outbox), outbox.c.key == bindparam("key"))
        .order_by(outbox.c.seq, delivery.c.seq)
    )


def tries_since() -> Statement:
    return (
        select(outbox.c.recipient, outbox.c.url_no, delivery.c.arrived, delivery.c.at)
        .join(outbox, (outbox.c.site == delivery.c.site) & (outbox.c.seq == delivery.c.outbox_seq))
        .where(mine(delivery), delivery.c.at >= bindparam("since"))
        .order_by(delivery.c.seq)
    )
