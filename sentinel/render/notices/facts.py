"""What the facts of a notice say, in sections that several kinds share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from sentinel.core.message import Message, Text
from sentinel.core.scoring.names import group_words
from sentinel.core.verdict import Code
from sentinel.render.figures import MAIN_GROUPS
from sentinel.render.notices import english
from sentinel.render.notices.document import Section, SectionRole, bullets, paragraph, table
from sentinel.render.remedies import ONE_SHEET, Told, answered, cautions, drying, next_step, preparing

Facts = Mapping[str, Any]

LIMIT_CODES = {Code.ACTION_LIMIT.value, Code.WARNING_LIMIT.value}
MISREAD_CODE = Code.PATCH_ORDER.value
RIVAL_CODES = {Code.RIVAL_FITS_BETTER.value, Code.WRONG_SUBSTRATE.value}
SAID_ELSEWHERE = LIMIT_CODES | RIVAL_CODES | {MISREAD_CODE}


def place(facts: Facts) -> str:
    """The printing condition in people's names."""
    mode = f" ({facts['mode']})" if facts.get("mode") else ""
    return f"{facts['printer']} / {facts['substrate']}{mode}"


def local(time: str, zone: str) -> datetime:
    """A moment in the zone of the site."""
    return datetime.fromisoformat(time).astimezone(ZoneInfo(zone))


def because(facts: Facts) -> str:
    """The reasons in one breath."""
    return "; ".join(reason["message"] for reason in facts["reasons"])


def rival(facts: Facts) -> str | None:
    """Why the wrong stock is plausible, where it is."""
    reasons = facts["check"]["reasons"]
    return next((reason["message"] for reason in reasons if reason["code"] in RIVAL_CODES), None)


def answer(facts: Facts) -> list[Told]:
    """What the figures of a notice's check point to, the likeliest first."""
    return answered(facts["check"].get("diagnosis") or ())


def causes(facts: Facts) -> Section[Text]:
    """What the figures say of the cause, with how sure it is, whose hands it is in and what comes next."""
    lines = [_cause(each, facts["drying_hours"]) for each in answer(facts)]
    return bullets(SectionRole.WHY, english.ONE_CAUSE if len(lines) == 1 else english.SOME_CAUSES, lines)


def _cause(found: Told, drying_hours: float | None) -> Message:
    cause = str(found["cause"])
    return (english.CAUSE_OF_INK if found["ink"] else english.CAUSE).format(
        cause=english.CAUSES.get(cause, cause),
        ink=found["ink"] or "",
        sure=min(found["confidence"], 0.99),
        sentence=found["evidence"]["sentence"],
        acts=english.ACTS[found["who_acts"]],
        step=next_step(cause, drying_hours),
    )


def who(text: Text) -> Section[Text]:
    """Who acts."""
    return paragraph(SectionRole.WHO, text, english.WHO)


def production(text: Text) -> Section[Text]:
    """Whether production may go on."""
    return paragraph(SectionRole.PRODUCTION, text, english.PRODUCTION)


def figures(facts: Facts) -> list[Section[Text]]:
    """What was beyond its limit, the main figures, remarks, and when and from what they were read."""
    check, zone = facts["check"], facts["timezone"]
    beyond = [reason["message"] for reason in check["reasons"] if reason["code"] in LIMIT_CODES]
    remarks = [reason["message"] for reason in check["reasons"] if reason["code"] not in SAID_ELSEWHERE]
    measured = english.MEASURED.format(
        time=local(check["measured_at"], zone),
        matched=check["matched"],
        m_condition=check["m_condition"] or english.M_UNKNOWN,
        target=check["target"],
        file=check["file_name"],
    )
    return [
        bullets(SectionRole.WHY, english.BEYOND, beyond),
        table(SectionRole.FIGURES, english.FIGURES, english.COLUMNS, _rows(check["metrics"])),
        bullets(SectionRole.FIGURES, english.REMARKS, remarks),
        paragraph(SectionRole.FIGURES, measured),
    ]


def _rows(metrics: Mapping[str, Mapping[str, float]]) -> Iterable[tuple[Text, ...]]:
    for group in MAIN_GROUPS:
        if group in metrics:
            figures = (metrics[group][name] for name in ("de00_mean", "de00_p95", "de00_max"))
            yield group_words(group), *(english.FIGURE.format(figure=figure) for figure in figures)


def preparation(facts: Facts) -> Section[Text]:
    """What whoever prints the chart must know of the stock, its drying included."""
    return bullets(SectionRole.PREPARATION, english.PREPARATION, [*preparing(facts), drying(facts.get("drying_hours"))])


def care(*technologies: str) -> Section[Text]:
    """What to beware of at printers of these ink technologies."""
    return bullets(SectionRole.CAUTIONS, english.CAUTIONS, cautions(*technologies))


def one_sheet() -> Section[Text]:
    """What a verdict is not."""
    return paragraph(SectionRole.NOTES, ONE_SHEET)
