"""What puts a payload into words: one writer a kind of notice, with the words and the sections that several share."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any, ClassVar, Generic, NamedTuple, TypeVar
from zoneinfo import ZoneInfo

from sentinel.core.cases.kinds import CaseKind, NoticeKind, Severity
from sentinel.core.cases.payloads import CheckFacts, ConditionCase, Payload, ReasonFacts, kept_message
from sentinel.core.cases.standing import Production, Turn
from sentinel.core.diagnosis.findings import answered
from sentinel.core.message import Localizer, Message, Text, joined, msg
from sentinel.core.scoring.names import group_words
from sentinel.core.verdict import Code
from sentinel.render.figures import MAIN_GROUPS
from sentinel.render.notices.document import Draft, NoticeDocument, Section, SectionRole, bullets, paragraph, table
from sentinel.render.plainly import plainly
from sentinel.render.remedies import (
    CAUSE_NAMES,
    ONE_SHEET,
    FindingFacts,
    cautions,
    drying,
    next_step,
    preparing,
)


class ComposedNotice(NamedTuple):
    """The document of a notice; `faults` are what could not be read of it, `plain` where that left a plain letter."""

    document: NoticeDocument
    faults: tuple[str, ...] = ()
    plain: bool = False


@dataclass(frozen=True)
class NoticeContext:
    """For whom it is written: the zone of the site, the reader's language, and what composes a notice told within."""

    zone: ZoneInfo
    localizer: Localizer
    compose: Callable[[Any, Any, Any], ComposedNotice]
    """From kind, facts and key, as they are kept; it never raises."""
    reader: Turn | None = None
    """Who reads it, where it is one role alone: what others have to do is left out, and figures that do not help."""

    @property
    def at_the_machine(self) -> bool:
        """Whether it is read by an operator alone."""
        return self.reader is Turn.OPERATOR

    def local(self, time: datetime) -> datetime:
        """A moment in the zone of the site."""
        return time.astimezone(self.zone)


P = TypeVar("P", bound=Payload)
T = TypeVar("T")
Facts = Mapping[str, Any]


class NoticeWriter(ABC, Generic[P]):
    """The words of one kind of notice, and made-up facts to try them on."""

    kind: ClassVar[NoticeKind]
    name: ClassVar[Message]
    """What happened, in few words, where nothing more can be read."""

    @abstractmethod
    def write(self, told: P, context: NoticeContext) -> Draft:
        """The document of a payload. May raise anything where the payload holds what no program wrote."""

    @abstractmethod
    def samples(self) -> Mapping[str, Facts]:
        """Facts as the service hands them on, by what each is a sample of."""


WHO = msg("Who acts")
PRODUCTION = msg("Production")
WHY = msg("How sure")
REASONS = msg("Why")
STEPS = msg("What to do")
STEPS_IN_ORDER = msg("What to do, in this order")
PREPARATION = msg("For printing the chart")
CAUTIONS = msg("Take care")

OPERATOR = msg("the operator at {printer}")
MEASURER = msg("whoever measured the sheet")
LEAD = msg("the colour lead")
ADMIN = msg("whoever looks after the sentinel")
ANYBODY = msg("whoever each of these concerns")
NOBODY = msg("nobody; this is good news")

HOLD = msg("hold prints on this stock until somebody has looked.")
GO_ON = msg("may go on.")
UNWATCHED = msg("may go on, but nobody watches it until this is mended.")

UNPROVEN = msg("may go on; work that must match is unproven until a check has passed.")
NOT_MATCHING = msg("may go on, but not work that must match.")
UNTIL_CONFIRMED = msg("may go on; hold work that must match until this is confirmed.")
UNTIL_DECIDED = msg("may go on, but hold work that must match until the colour lead has decided.")
UNTIL_READ_AGAIN = msg("hold work that must match until the sheet has been read again: nothing is known of it.")

OF = msg("{what}: {about}")


def alike(told: Iterable[T], named: Callable[[T], Text], line: Callable[[T, Text], Message]) -> Iterator[Message]:
    """A line each, but one for neighbours of which the same is told: `line` of the first, with the names of all."""
    for _, group in groupby(told, lambda each: line(each, "")):
        first, *others = group
        yield line(first, joined(", ", [named(first), *map(named, others)]) if others else named(first))


BEYOND = msg("Out of tolerance")
FIGURES = msg("Figures")
REMARKS = msg("To be noted")
COLUMNS = ("", msg("mean"), msg("95th percentile"), msg("maximum"))
FIGURE = msg("{figure:.2f} ΔE00")
MEASURED = msg("Measured {time}, {matched} patches, {m_condition}, aim {target}, file {file}.")
M_UNKNOWN = msg("M condition unknown")

WHAT_MOVED = msg("What moved")
ONE_CAUSE = msg("What the figures point to")
SOME_CAUSES = msg("What the figures point to: one of these, or several")
CAUSE = msg("{cause}, {sure:.0%} sure: {sentence}. {acts} Next: {step}")
CAUSE_OF_INK = msg("{cause} ({ink}), {sure:.0%} sure: {sentence}. {acts} Next: {step}")
ACTS = {
    "operator": msg("The operator acts."),
    "colour lead": msg("The colour lead acts."),
    "instrument's keeper": msg("The instrument's keeper acts."),
}

LIMIT_CODES = {Code.ACTION_LIMIT.value, Code.WARNING_LIMIT.value}
MISREAD_CODE = Code.PATCH_ORDER.value
RIVAL_CODES = {Code.RIVAL_FITS_BETTER.value, Code.WRONG_SUBSTRATE.value}
TOLD_ELSEWHERE = LIMIT_CODES | RIVAL_CODES | {MISREAD_CODE}


def because(reasons: Iterable[ReasonFacts]) -> Message:
    """The reasons in one breath, without statistics: those are `behind` them."""
    return joined("; ", (plainly(reason.message) for reason in reasons))


BEHIND = msg("Behind it")


def behind(cases: Sequence[ConditionCase], context: NoticeContext) -> Section[Text]:
    """The statistics behind the reasons: one line a printing condition, of the first that has any, and for nobody at a
    machine."""
    lines: list[Text] = []
    for told in () if context.at_the_machine else cases:
        found = next((each.message for each in told.reasons if plainly(each.message) != each.message), None)
        if found is not None:
            lines.append(found if len(cases) == 1 else OF.format(what=told.place, about=found))
    if len(lines) == 1:
        return paragraph(SectionRole.FIGURES, lines[0], BEHIND)
    return bullets(SectionRole.FIGURES, BEHIND, lines)


def who(text: Text) -> Section[Text]:
    """Who acts."""
    return paragraph(SectionRole.WHO, text, WHO)


def production(text: Text) -> Section[Text]:
    """Whether production may go on."""
    return paragraph(SectionRole.PRODUCTION, text, PRODUCTION)


ANSWER = msg(
    "This is case {cases}. Whoever sees to it says so: sentinel ack {numbers} --by NAME",
    "These are cases {cases}. Whoever sees to them says so: sentinel ack {numbers} --by NAME",
)


def answer(numbers: Iterable[int]) -> list[Section[Text]]:
    """The numbers of open cases and how to answer; nothing where there are none."""
    each = [str(number) for number in dict.fromkeys(numbers)]
    if not each:
        return []
    words = ANSWER.format(cases=", ".join(each), numbers=" ".join(each), count=len(each))
    return [paragraph(SectionRole.ANSWER, words)]


def word_on_production(told: ConditionCase, otherwise: Message = GO_ON) -> Message:
    """Whether production may go on: the one word that holds for the condition; `otherwise` of a notice kept without."""
    stand = told.standing
    if stand is None:
        return otherwise
    if stand.production == Production.NOT_MATCHING.value:
        return UNTIL.get((stand.leading, stand.severity), UNTIL.get((stand.leading, None), NOT_MATCHING))
    return ON_PRODUCTION.get(stand.production, otherwise)


ON_PRODUCTION: Mapping[str, Message] = {
    Production.GO.value: GO_ON,
    Production.NOT_KNOWN.value: UNPROVEN,
    Production.HOLD.value: HOLD,
}
UNTIL: Mapping[tuple[str | None, str | None], Message] = {
    (CaseKind.CHECK_FAILED.value, Severity.CONFIRM.value): UNTIL_CONFIRMED,
    (CaseKind.CHECK_FAILED.value, None): UNTIL_DECIDED,
    (CaseKind.PATCH_ORDER.value, None): UNTIL_READ_AGAIN,
}
"""What work that must match waits for, by the concern that speaks for the case, and how pressing that is."""


def what_moved(check: CheckFacts, context: NoticeContext) -> Section[Text]:
    """What moved most on the sheet, a line a thing; at the machine in one line, plainly."""
    lines: list[Text] = [kept_message(each, "sentence") for each in check.moved or ()]
    if context.at_the_machine:
        lines = [plainly(each) for each in lines[:1]]
    return bullets(SectionRole.WHY, WHAT_MOVED, lines)


def causes(told: ConditionCase, check: CheckFacts) -> Section[Text]:
    """What the figures say of the cause, with how sure it is, whose hands it is in and what comes next."""
    lines = [_cause(each, told.drying_hours) for each in answered(check.diagnosis or ())]
    return bullets(SectionRole.WHY, ONE_CAUSE if len(lines) == 1 else SOME_CAUSES, lines)


def _cause(found: FindingFacts, drying_hours: float | None) -> Message:
    cause = str(found["cause"])
    return (CAUSE_OF_INK if found["ink"] else CAUSE).format(
        cause=CAUSE_NAMES.get(cause, cause),
        ink=found["ink"] or "",
        sure=min(found["confidence"], 0.99),
        sentence=kept_message(found["evidence"], "sentence"),
        acts=ACTS[found["who_acts"]],
        step=next_step(cause, drying_hours),
    )


def figures(check: CheckFacts, context: NoticeContext) -> list[Section[Text]]:
    """What was beyond its limit, the main figures, remarks, and when and from what they were read; at the machine
    nothing but the first."""
    beyond = [reason.message for reason in check.reasons if reason.code in LIMIT_CODES]
    remarks = [reason.message for reason in check.reasons if reason.code not in TOLD_ELSEWHERE]
    measured = MEASURED.format(
        time=context.local(check.measured_at),
        matched=check.matched,
        m_condition=check.m_condition or M_UNKNOWN,
        target=check.target,
        file=check.file_name,
    )
    if context.at_the_machine:
        return [bullets(SectionRole.WHY, BEYOND, beyond)]
    return [
        bullets(SectionRole.WHY, BEYOND, beyond),
        table(SectionRole.FIGURES, FIGURES, COLUMNS, _rows(check.metrics)),
        bullets(SectionRole.FIGURES, REMARKS, remarks),
        paragraph(SectionRole.FIGURES, measured),
    ]


def _rows(metrics: Mapping[str, Mapping[str, float]]) -> Iterable[tuple[Text, ...]]:
    for group in MAIN_GROUPS:
        if group in metrics:
            row = (metrics[group][name] for name in ("de00_mean", "de00_p95", "de00_max"))
            yield group_words(group), *(FIGURE.format(figure=figure) for figure in row)


def at_the_printer(told: ConditionCase) -> list[Section[Text]]:
    """What whoever prints a chart must know of the stock, what to beware of there, and what a verdict is not."""
    preparation = [*preparing(told), drying(told.drying_hours)]
    return [bullets(SectionRole.PREPARATION, PREPARATION, preparation), care(told.technology), one_sheet()]


def care(*technologies: str) -> Section[Text]:
    """What to beware of at printers of these ink technologies."""
    return bullets(SectionRole.CAUTIONS, CAUTIONS, cautions(*technologies))


def one_sheet() -> Section[Text]:
    """What a verdict is not."""
    return paragraph(SectionRole.NOTES, ONE_SHEET)


ELSE = msg("What else there was")
NAMED = msg("{title} (sentinel notify show {key})")


def by_name(composed: Iterable[ComposedNotice]) -> Section[Text]:
    """Notices within another one of which it says no more than their names."""
    lines = (NAMED.format(title=each.document.title, key=each.document.key) for each in composed)
    return bullets(SectionRole.WHAT, ELSE, lines)
