"""Pages of what is open about printing conditions: after days off, and where a shift hands over."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, ClassVar

from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.payloads import ConditionCase, DryingChart, OpenWork
from sentinel.core.cases.standing import NextStep, Production, Turn
from sentinel.core.message import Message, Text, joined, msg
from sentinel.render.notices.document import Draft, Section, SectionRole, bullets
from sentinel.render.notices.writer import (
    ANYBODY,
    GO_ON,
    LEAD,
    OF,
    OPERATOR,
    PRODUCTION,
    Facts,
    NoticeContext,
    NoticeWriter,
    alike,
    because,
    by_name,
    production,
    who,
    word_on_production,
)

NEXT_STEPS: Mapping[str, Message] = {
    NextStep.CHECK.value: msg("print a chart and read it"),
    NextStep.CONFIRM.value: msg("print the chart again and read it, to confirm"),
    NextStep.DECIDE.value: msg("decide what is to be done"),
    NextStep.LOOK_AT_STOCK.value: msg("look which stock is loaded"),
    NextStep.READ_AGAIN.value: msg("read the sheet again"),
    NextStep.LOOK_AT_DRIFT.value: msg("look at the drift charts"),
    NextStep.JUDGE_BY_EYE.value: msg("judge by eye"),
}
STEP_OF = msg("Next: {step} - {who}.")
SEEN_BY = msg("{by} sees to it.")
AT_ITS_PRINTER = msg("the operator of the printer")
OF_CASE = msg("{place} (case {case})")
REASONS = msg("Why: {reasons}.")


class PageWriter(NoticeWriter[OpenWork]):
    """What is open, the riskiest first, with where it stands; then what dries, and what else there was."""

    OPEN = msg("{count} printing condition, the riskiest first", "{count} printing conditions, the riskiest first")
    LEFT_OUT = msg("… and {count} more: sentinel status", "… and {count} more: sentinel status")
    SEE_EACH = msg("see each printing condition below.")
    DRYING = msg("Printed and not read yet")
    DRIES = msg("{place}: printed {printed}, dry at {dry}.")
    DRIES_ASSUMED = msg("{place}: printed {printed}, dry at {dry} if the assumed drying time holds.")
    DRY = msg("{place}: printed {printed}, dry since {dry}. It can be read.")

    @abstractmethod
    def title(self, told: OpenWork) -> Message:
        """The title, with the printing condition that comes first."""

    def write(self, told: OpenWork, context: NoticeContext) -> Draft:
        entries = [each if isinstance(each, Mapping) else {} for each in told.notices]
        composed = [context.compose(each.get("kind"), each.get("facts"), each.get("key")) for each in entries]
        words = list(dict.fromkeys(word_on_production(each) for each in told.conditions))
        lines = [*self._lines(told.conditions, len(words) == 1)]
        if told.left_out:
            lines.append(self.LEFT_OUT.format(count=told.left_out))
        holds = any(_holds(each) for each in told.conditions) or any(each.document.urgent for each in composed)
        return Draft(
            self.title(told),
            [
                who(ANYBODY),
                production(words[0] if len(words) == 1 else self.SEE_EACH if words else GO_ON),
                bullets(SectionRole.WHAT, self.OPEN.format(count=len(told.conditions) + told.left_out), lines),
                self._drying(told.drying, context),
                by_name(composed),
            ],
            holds,
            tuple(fault for each in composed for fault in each.faults),
        )

    def _lines(self, cases: Sequence[ConditionCase], one_word: bool) -> Iterable[Message]:
        """Those of which the same is told come together, still the riskiest first."""
        several = len({each.printer for each in cases}) > 1

        def named(told: ConditionCase) -> Text:
            case = told.standing and told.standing.case
            return told.place if case is None else OF_CASE.format(place=told.place, case=str(case))

        def line(told: ConditionCase, places: Text) -> Message:
            return OF.format(what=places, about=joined(" ", self._about(told, one_word, several)))

        return alike(cases, named, line)

    def _about(self, told: ConditionCase, one_word: bool, several: bool) -> Iterator[Text]:
        stand = told.standing
        if not one_word or not (told.reasons or stand is not None):
            yield OF.format(what=PRODUCTION, about=word_on_production(told))
        if stand is not None and stand.next_step in NEXT_STEPS:
            operator = AT_ITS_PRINTER if several else OPERATOR.format(printer=told.printer)
            acts = LEAD if stand.turn == Turn.COLOUR_LEAD.value else operator
            yield STEP_OF.format(step=NEXT_STEPS[stand.next_step], who=acts)
        if stand is not None and stand.seen_by:
            yield SEEN_BY.format(by=stand.seen_by)
        if told.reasons:
            yield REASONS.format(reasons=because(told.reasons))

    def _drying(self, charts: Iterable[DryingChart], context: NoticeContext) -> Section[Text]:
        lines = []
        for each in charts:
            pattern = self.DRY if each.dry else self.DRIES_ASSUMED if each.assumed else self.DRIES
            printed, dry = context.local(each.printed_at), context.local(each.dry_at)
            lines.append(pattern.format(place=each.place, printed=printed, dry=dry))
        return bullets(SectionRole.WHAT, self.DRYING, lines)


def _holds(told: ConditionCase) -> bool:
    return told.standing is not None and told.standing.production == Production.HOLD.value


class OnReturn(PageWriter):
    """Everything that turned due, or is open, when people come back from days off."""

    kind = NoticeKind.ON_RETURN
    name = msg("After days off")

    TITLE: ClassVar[Message] = msg(
        "After days off, {count} condition open: {place}", "After days off, {count} conditions open: {place}"
    )

    def title(self, told: OpenWork) -> Message:
        if not told.conditions:
            return self.name
        return self.TITLE.format(count=len(told.conditions) + told.left_out, place=told.conditions[0].place)

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import FILE, ZONE

        file = {"kind": NoticeKind.FILE_UNSCORED.value, "key": "case-9-opened", "facts": FILE}
        return {"days off": {"conditions": _samples(), "notices": [file], **ZONE}}


class HandOver(PageWriter):
    """What is open, and which charts dry, where a shift ends."""

    kind = NoticeKind.HAND_OVER
    name = msg("Hand-over")

    TITLE: ClassVar[Message] = msg("Hand-over of {count} case: {place}", "Hand-over of {count} cases: {place}")
    NAMED: ClassVar[Message] = msg(
        "Hand-over of {count} case, {shift}: {place}", "Hand-over of {count} cases, {shift}: {place}"
    )
    DRYING_ALONE: ClassVar[Message] = msg(
        "Hand-over, {count} chart to read: {place}", "Hand-over, {count} charts to read: {place}"
    )

    def title(self, told: OpenWork) -> Message:
        if not told.conditions:
            charts = told.drying
            return self.DRYING_ALONE.format(count=len(charts), place=charts[0].place) if charts else self.name
        count, place = len(told.conditions) + told.left_out, told.conditions[0].place
        shift = " → ".join(each for each in (told.ended, told.begun) if each)
        pattern = self.NAMED if shift else self.TITLE
        return pattern.format(count=count, place=place, **({"shift": shift} if shift else {}))

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import ZONE

        chart = {"printer": "South", "substrate": "Matte 190", "printed_at": "2026-07-06T11:00:00+00:00"}
        drying = [
            {**chart, "dry_at": "2026-07-06T13:00:00+00:00"},
            {**chart, "substrate": "Cotton 310", "dry_at": "2026-07-07T11:00:00+00:00", "assumed": True},
            {**chart, "substrate": "Board 300", "dry_at": "2026-07-06T12:00:00+00:00", "dry": True},
        ]
        return {
            "a shift that hands over": {
                "conditions": _samples(), "drying": drying, "notices": [], "ended": "day", "begun": "night", **ZONE
            },
            "the first shift of a week": {"conditions": _samples(), "begun": "day", **ZONE},
            "charts alone": {"conditions": [], "drying": drying, "ended": "day", **ZONE},
            "cases without shifts": {"conditions": _samples()[:1], "left_out": 3, **ZONE},
        }  # fmt: skip


def _samples() -> list[dict[str, Any]]:
    from sentinel.render.notices.samples import BARE, CONDITION, NEVER

    failed = {"case": 7, "since": "2026-07-04T09:00:00+00:00", "production": "hold", "next_step": "decide",
              "turn": "colour-lead", "leading": "check-failed", "severity": "urgent", "seen_by": "Ana"}  # fmt: skip
    due = {"case": 8, "production": "go", "next_step": "check", "turn": "operator", "leading": "check-due"}
    never = {"case": 9, "production": "not-known", "next_step": "check", "turn": "operator", "leading": "never-run"}
    return [
        {**CONDITION, "standing": failed},
        {**BARE, "reasons": [NEVER], "standing": never},
        {**BARE, "substrate": "Cotton 310", "standing": due},
        {**BARE, "substrate": "Board 300"},
    ]
