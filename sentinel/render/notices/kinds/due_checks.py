"""Notices that ask for checks: due, due soon, never made. Those of one moment come in one notice."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping, Sequence
from typing import ClassVar

from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.payloads import ConditionCase, ConditionCases, PayloadError
from sentinel.core.message import Message, Text, joined, msg
from sentinel.render.notices.document import Draft, Section, SectionRole, bullets, paragraph, steps
from sentinel.render.notices.writer import (
    GO_ON,
    OF,
    OPERATOR,
    PREPARATION,
    PRODUCTION,
    STEPS,
    UNPROVEN,
    Facts,
    NoticeContext,
    NoticeWriter,
    alike,
    because,
    behind,
    care,
    production,
    who,
    word_on_production,
)
from sentinel.render.remedies import checking, drying, preparing

OPERATORS = msg("the operators of these printers")
DUE = msg("{place}: {reasons}.")


class AskingWriter(NoticeWriter[ConditionCases]):
    """Asks for a check of one printing condition, or of several."""

    ONE: ClassVar[Message]
    """The title of one."""
    SEVERAL: ClassVar[Message]
    """That of several."""
    HEADING: ClassVar[Message]
    """What stands above several."""
    PRODUCTION: ClassVar[Message] = GO_ON

    def write(self, told: ConditionCases, context: NoticeContext) -> Draft:
        cases = told.conditions
        technologies = dict.fromkeys(each.technology for each in cases)
        one = len(cases) == 1
        title = (self.ONE if one else self.SEVERAL).format(place=cases[0].place, count=len(cases))
        asked = self._one(cases[0], context) if one else self._several(cases, context)
        acting = OPERATOR.format(printer=cases[0].printer) if one else OPERATORS
        sections = [who(acting), self._production(cases), *asked, behind(cases, context), care(*technologies)]
        return Draft(title, sections)

    def _production(self, cases: Sequence[ConditionCase]) -> Section[Text]:
        """One word where it is the same for all, else that of each."""
        words = [word_on_production(each, self.PRODUCTION) for each in cases]
        if len(set(words)) == 1:
            return production(words[0])
        lines = [OF.format(what=each.place, about=word) for each, word in zip(cases, words, strict=True)]
        return bullets(SectionRole.PRODUCTION, PRODUCTION, lines)

    @abstractmethod
    def line(self, told: ConditionCase, places: Text, context: NoticeContext) -> Message:
        """What is told of a printing condition, and of others of which it holds too: `places` names them."""

    def _one(self, told: ConditionCase, context: NoticeContext) -> list[Section[Text]]:
        return [
            paragraph(SectionRole.WHAT, self.line(told, told.place, context)),
            steps(SectionRole.STEPS, STEPS, checking(told.drying_hours)),
            bullets(SectionRole.PREPARATION, PREPARATION, preparing(told)),
        ]

    def _several(self, cases: Sequence[ConditionCase], context: NoticeContext) -> list[Section[Text]]:
        hours = [each.drying_hours for each in cases]
        shared = hours[0] if len(set(hours)) == 1 else None

        def line(each: ConditionCase, places: Text) -> Message:
            dries = [drying(each.drying_hours)] if shared is None and each.drying_hours is not None else []
            return joined(" ", [self.line(each, places, context), *preparing(each), *dries])

        lines = alike(cases, lambda each: each.place, line)
        return [
            bullets(SectionRole.WHAT, self.HEADING.format(count=len(cases)), lines),
            steps(SectionRole.STEPS, STEPS, checking(shared)),
        ]


class CheckDue(AskingWriter):
    """Checks that turned due."""

    kind = NoticeKind.CHECK_DUE
    name = msg("Colour check due")

    ONE = msg("Colour check due: {place}")
    SEVERAL = msg("{count} colour checks due: {place} and others")
    HEADING = msg("A colour check is due on {count} printing conditions")
    DUE_SINCE = msg("{place}: {reasons}. Last measured {time}.")

    def line(self, told: ConditionCase, places: Text, context: NoticeContext) -> Message:
        if told.check is None:
            return DUE.format(place=places, reasons=because(told.reasons))
        time = context.local(told.check.measured_at)
        return self.DUE_SINCE.format(place=places, reasons=because(told.reasons), time=time)

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import BARE, CHECK, CONDITION, ZONE

        checked = {**CONDITION, "check": CHECK}
        return {
            "one check": {"conditions": [checked], **ZONE},
            "two checks": {"conditions": [checked, BARE], **ZONE},
        }


class DueSoon(AskingWriter):
    """Checks that turn due before long, for whoever plans the day."""

    kind = NoticeKind.DUE_SOON
    name = msg("Colour check due soon")

    ONE = msg("Colour check due soon: {place}")
    SEVERAL = msg("{count} colour checks due soon: {place} and others")
    HEADING = msg("A colour check is due soon on {count} printing conditions")
    SOON = msg("{place}: a colour check is due at {time}.")

    def line(self, told: ConditionCase, places: Text, context: NoticeContext) -> Message:
        if told.due_at is None:
            raise PayloadError(f"{told.condition}: expected 'due_at', got none")
        return self.SOON.format(place=places, time=context.local(told.due_at))

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import CONDITION, ZONE

        return {"one check": {"conditions": [CONDITION], **ZONE}}


class NeverRun(AskingWriter):
    """Printing conditions without any check that counts."""

    kind = NoticeKind.NEVER_RUN
    name = msg("No valid check")

    ONE = msg("No valid check: {place}")
    SEVERAL = msg("{count} × no valid check: {place} and others")
    HEADING = msg("{count} printing conditions have no valid check")
    PRODUCTION = UNPROVEN

    def line(self, told: ConditionCase, places: Text, context: NoticeContext) -> Message:  # noqa: ARG002
        return DUE.format(place=places, reasons=because(told.reasons))

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import BARE, CONDITION, NEVER, ZONE

        one, other = ({**each, "reasons": [NEVER]} for each in (CONDITION, BARE))
        return {
            "one printing condition": {"conditions": [one], **ZONE},
            "two printing conditions": {"conditions": [one, other], **ZONE},
        }
