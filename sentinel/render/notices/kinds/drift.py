"""The notice that a printing condition drifts: within tolerance yet, and worth a look before it is not."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.payloads import DriftCase, DriftingFigure
from sentinel.core.message import Message, Text, day_of, msg
from sentinel.core.scoring.names import figure_words
from sentinel.render.notices.document import Draft, Section, SectionRole, bullets, paragraph, steps
from sentinel.render.notices.writer import (
    LEAD,
    STEPS_IN_ORDER,
    WHY,
    Facts,
    NoticeContext,
    NoticeWriter,
    at_the_printer,
    behind,
    figures,
    production,
    who,
    word_on_production,
)
from sentinel.render.remedies import COMPARING, confirming

SIDES: Mapping[str, Message] = {
    "above": msg("{figure}: higher than usual since {day}"),
    "below": msg("{figure}: lower than usual since {day}"),
}
SHOWN_FIGURES = 4
"""So many figures are named; of one drift many move together."""


class DriftConfirmed(NoticeWriter[DriftCase]):
    """Figures that more than one check showed away from their usual values: one notice a drift."""

    kind = NoticeKind.DRIFT_CONFIRMED
    name = msg("Drift confirmed")

    TITLE = msg("Drift confirmed: {place}")
    WHAT = msg("{place}: the colour drifts. The last check confirmed what an earlier one had shown.")
    MOVED = msg("What has moved")
    MORE = msg("and {count} more figure", "and {count} more figures")
    SURE = msg(
        "two checks or more agree, so it is no single misreading. An instrument that has begun to read off, or another "
        "lot of the stock, would look the same."
    )
    CHANGED = msg(
        "Ask what changed about {day}: lot of stock or ink, service, room climate, instrument. Enter what nobody has "
        "told yet: sentinel event add"
    )
    SEE = msg("See the drift charts and what they looked at: sentinel explain {condition}")
    NOT_YET = msg(
        "Do not recalibrate and do not replace anything for this: it is no failure, and stock, instrument and a change "
        "that somebody made come first."
    )
    TELL = msg("Tell the colour lead what was changed at this printer about {day}: roll, ink, print settings.")
    LEAVE = msg("Change nothing at the printer for this; the colour lead looks at it.")

    def write(self, told: DriftCase, context: NoticeContext) -> Draft:
        since = day_of(context.local(min(each.since for each in told.drift)))
        return Draft(
            self.TITLE.format(place=told.place),
            [
                who(LEAD),
                production(word_on_production(told)),
                paragraph(SectionRole.WHAT, self.WHAT.format(place=told.place)),
                paragraph(SectionRole.WHY, self.SURE, WHY),
                self._moved(told, context),
                behind([told], context),
                *figures(told.check, context),
                steps(SectionRole.STEPS, STEPS_IN_ORDER, self._steps(told, since, context)),
                None if context.at_the_machine else paragraph(SectionRole.STEPS, self.NOT_YET),
                *([] if context.at_the_machine else at_the_printer(told)),
            ],
        )

    def _moved(self, told: DriftCase, context: NoticeContext) -> Section[Text]:
        lines = [self._figure(each, context) for each in told.drift[:SHOWN_FIGURES]]
        if more := len(told.drift) - len(lines):
            lines.append(self.MORE.format(count=more))
        return bullets(SectionRole.WHY, self.MOVED, lines)

    def _figure(self, drifting: DriftingFigure, context: NoticeContext) -> Message:
        day = day_of(context.local(drifting.since))
        return SIDES[drifting.side].format(figure=figure_words(drifting.group, drifting.metric), day=day)

    def _steps(self, told: DriftCase, since: date, context: NoticeContext) -> list[Message]:
        """Those that look; nothing is asked for that changes anything."""
        if context.at_the_machine:
            return [self.TELL.format(day=since), self.LEAVE]
        look = [self.SEE.format(condition=told.condition)] if told.condition else []
        return [self.CHANGED.format(day=since), *look, *confirming(told.drying_hours), COMPARING]

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import CHECK, CONDITION, DRIFTED

        moved = [
            {"group": "paper", "metric": "db_mean", "side": "above", "since": "2026-06-22T08:30:00+00:00"},
            {"group": "tones_M", "metric": "tv_mean", "side": "below", "since": "2026-06-29T08:30:00+00:00"},
        ]
        told = {**CONDITION, "state": "current", "reasons": [DRIFTED], "count": 1}
        return {"a drift": {**told, "check": {**CHECK, "verdict": "pass", "reasons": []}, "drift": moved}}
