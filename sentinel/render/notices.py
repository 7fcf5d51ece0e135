"""Notices as plain text: what happened, how sure that is, what to do next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from sentinel.core.incidents import NoticeKind
from sentinel.core.reasons import Code
from sentinel.core.records import Notice
from sentinel.render.advice import ONE_SHEET, cautions, checking, confirming, what_to_do_with_file
from sentinel.render.figures import figure_lines

Facts = Mapping[str, Any]

LIMIT_CODES = {Code.ACTION_LIMIT.value, Code.WARNING_LIMIT.value}
RIVAL_CODE = Code.RIVAL_FITS_BETTER.value


class Message(NamedTuple):
    """A title that makes sense alone, and a body."""

    title: str
    body: str


def message(notice: Notice) -> Message:
    """The text of a notice; its last line is the key by which a repeat can be told."""
    title, paragraphs = _WRITERS[notice.kind](notice.facts)
    return Message(title, "\n\n".join([*paragraphs, f"Notice {notice.key}"]))


def _failed(facts: Facts) -> tuple[str, list[str]]:
    again, urgency = facts["count"] > 1, facts["urgency"]
    paragraphs = [
        _what_failed(facts, again),
        HOLD if urgency == "urgent" else "",
        _how_sure(facts, again),
        _figures(facts),
        _measured(facts),
        _numbered("What to do, in this order", confirming(facts["drying_hours"])),
        _last_resort(again and not _rival(facts)),
        _listed("Take care", cautions(facts["technology"])),
        ONE_SHEET,
    ]
    before, after = TITLES[urgency]
    title = f"{before}Check failed{' again' if again else ''}: {_place(facts)}{after}"
    return title, [paragraph for paragraph in paragraphs if paragraph]


HOLD = "Urgent: hold prints on this stock until somebody has looked."

TITLES = {"confirm": ("", " - please confirm"), "alarm": ("", ""), "urgent": ("URGENT - ", "")}


def _what_failed(facts: Facts, again: bool) -> str:
    if again:
        return f"{_place(facts)}: the check failed again, {facts['count']} in a row by now."
    return f"{_place(facts)}: a sheet was beyond an action limit. Please confirm it before anything is changed."


def _how_sure(facts: Facts, again: bool) -> str:
    if rival := _rival(facts):
        return f"How sure: the wrong stock is plausible - {rival}."
    if again:
        return "How sure: several readings agree. The same mistake made twice is still possible."
    return "How sure: one reading of one sheet. The sheet, the reading or the printer may be at fault."


def _rival(facts: Facts) -> str | None:
    return next((r["message"] for r in facts["check"]["reasons"] if r["code"] == RIVAL_CODE), None)


def _last_resort(again: bool) -> str:
    if again:
        return (
            "Only when stock, drying, reading and nozzles are all excluded, the colour lead decides whether to "
            "recalibrate. After that a check must pass."
        )
    return "Do not recalibrate and do not replace anything on this one reading."


def _recovered(facts: Facts) -> tuple[str, list[str]]:
    count = facts["count"]
    failures = "1 failed check" if count == 1 else f"{count} failed checks"
    return f"Back within action limits: {_place(facts)}", [
        f"{_place(facts)}: after {failures} the last sheet was within the action limits.",
        _figures(facts),
        _measured(facts),
        ONE_SHEET,
    ]


def _due(facts: Facts) -> tuple[str, list[str]]:
    due = facts["conditions"]
    title = f"Check due: {_place(due[0])}" if len(due) == 1 else f"{len(due)} checks due"
    technologies = dict.fromkeys(each["technology"] for each in due)
    care = cautions(*technologies)
    return title, [
        *(_one_due(each, facts["timezone"]) for each in due),
        _listed("Take care", care),
    ]


def _one_due(facts: Facts, zone: str) -> str:
    reasons = "; ".join(reason["message"] for reason in facts["reasons"])
    since = f"Last measured {_local(facts['check']['measured_at'], zone)}." if "check" in facts else ""
    return _numbered(f"{_place(facts)}: {reasons}. {since}".rstrip(), checking(facts))


def _unscored(facts: Facts) -> tuple[str, list[str]]:
    where = f"in folder {facts['folder']}" if facts["folder"] else "at the top of the drop folder"
    return f"File not scored: {facts['file_name']}", [
        f"{facts['file_name']} came {where} at {_local(facts['arrived_at'], facts['timezone'])} and was not scored.",
        _listed("Why", (reason["message"] for reason in facts["reasons"])),
        _listed("What to do", what_to_do_with_file([reason["code"] for reason in facts["reasons"]])),
        f"{_whereabouts(facts['set_aside_as'])} No state was changed by it.",
    ]


def _whereabouts(set_aside_as: str | None) -> str:
    if set_aside_as is None:
        return "It stays in the drop folder, and a copy is in the archive."
    return f"It is kept in the put-aside folder as {set_aside_as}."


_WRITERS = {
    NoticeKind.CHECK_FAILED: _failed,
    NoticeKind.RECOVERED: _recovered,
    NoticeKind.CHECK_DUE: _due,
    NoticeKind.FILE_UNSCORED: _unscored,
}


def _place(facts: Facts) -> str:
    mode = f" ({facts['mode']})" if facts["mode"] else ""
    return f"{facts['printer']} / {facts['substrate']}{mode}"


def _figures(facts: Facts) -> str:
    check = facts["check"]
    beyond = [reason["message"] for reason in check["reasons"] if reason["code"] in LIMIT_CODES]
    remarks = [reason["message"] for reason in check["reasons"] if reason["code"] not in {*LIMIT_CODES, RIVAL_CODE}]
    lists = {"Beyond its limit": beyond, "Figures": figure_lines(check["metrics"]), "To be noted": remarks}
    return "\n\n".join(_listed(heading, lines) for heading, lines in lists.items() if lines)


def _measured(facts: Facts) -> str:
    check = facts["check"]
    return (
        f"Measured {_local(check['measured_at'], facts['timezone'])}, {check['matched']} patches, "
        f"{check['m_condition'] or 'M condition unknown'}, target {check['target']}, file {check['file_name']}."
    )


def _local(time: str, zone: str) -> str:
    return datetime.fromisoformat(time).astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M %Z")


def _listed(heading: str, lines: Iterable[str]) -> str:
    return "\n".join([f"{heading}:", *(f"- {line}" for line in lines)])


def _numbered(heading: str, lines: Iterable[str]) -> str:
    return "\n".join([f"{heading}:" if not heading.endswith(".") else heading,
                      *(f"{number}. {line}" for number, line in enumerate(lines, 1))])  # fmt: skip


def trial_message(site: str) -> Message:
    """What `notify test` sends."""
    return Message(f"Test from the sentinel of {site}", "This is a test. Nothing is wrong and nothing is to be done.")
