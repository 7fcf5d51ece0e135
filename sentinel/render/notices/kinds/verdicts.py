"""Notices of checks - failed, to be confirmed, of a wrong stock, warned again, recovered - and what each asks for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.payloads import (
    ArrivalsAgain,
    CheckCase,
    CheckFacts,
    FailedCheckCase,
    TroubleCase,
    VoidedFacts,
)
from sentinel.core.conditions.events import EventKind
from sentinel.core.diagnosis.findings import answered
from sentinel.core.diagnosis.weighing_again import Outcome, outcome
from sentinel.core.message import Message, Text, day_of, joined, msg
from sentinel.render.notices.document import Draft, Section, SectionRole, bullets, paragraph, steps
from sentinel.render.notices.kinds.service import arriving_again, trouble_over
from sentinel.render.notices.writer import (
    GO_ON,
    HOLD,
    MEASURER,
    MISREAD_CODE,
    NOBODY,
    OPERATOR,
    RIVAL_CODES,
    STEPS_IN_ORDER,
    UNTIL_CONFIRMED,
    UNTIL_DECIDED,
    UNTIL_READ_AGAIN,
    WHY,
    Facts,
    NoticeContext,
    NoticeWriter,
    at_the_printer,
    causes,
    figures,
    one_sheet,
    production,
    what_moved,
    who,
    word_on_production,
)
from sentinel.render.remedies import (
    CAUSE_NAMES,
    CONFIRMING,
    FindingFacts,
    RemedyStep,
    confirming,
    forbidding,
    looking,
    mending,
    telling_apart,
    weak_solid,
    worded,
)

FAILED_TITLES = {
    ("confirm", False): msg("Please confirm - check failed: {place}"),
    ("confirm", True): msg("Please confirm - check failed again: {place}"),
    ("alarm", False): msg("Check failed: {place}"),
    ("alarm", True): msg("Check failed again: {place}"),
    ("urgent", False): msg("URGENT - Check failed: {place}"),
    ("urgent", True): msg("URGENT - Check failed again: {place}"),
}
"""By how urgent it is, and whether the check before failed too."""
WRONG_STOCK_TITLE = msg("STOP - wrong stock? {place}")

COLOUR_LEAD = msg("the colour lead, with the operator at {printer}")

MAY_GO_ON = {"confirm": UNTIL_CONFIRMED, "alarm": UNTIL_DECIDED, "urgent": HOLD}

FAILED_FIRST = msg("{place}: a sheet was out of tolerance. Please confirm it before anything is changed.")
FAILED_AGAIN = msg("{place}: the check failed again, {count} checks in a row by now.")
FITS_ANOTHER = msg("{place}: the sheet fits the aim of another stock better. Stop and look at the loaded stock.")

RIVAL = msg("the figures speak for another stock - {message}.")
SEVERAL_AGREE = msg("several readings agree. The same mistake made twice is still possible.")
ONE_READING = msg("one reading of one sheet. The sheet, the reading or the printer may be at fault.")

MAY_BE = msg("What it may be")
DONE = msg("Done")
READ_ALIKE = msg("read again, with the same figures: it was no misreading")
READ_APART = msg("read again, with other figures than before")
SOMEBODY = msg("somebody")
DEEDS: Mapping[str, Message] = {
    EventKind.NOZZLE_CHECK.value: msg("nozzle check on {day} by {by}"),
    EventKind.RECALIBRATION.value: msg("recalibrated on {day} by {by}"),
    EventKind.SERVICE.value: msg("service on {day} by {by}"),
    EventKind.HEADS.value: msg("other heads on {day} by {by}"),
}

AT_THE_MACHINE = (
    msg("Keep the sheets that failed, and tell the colour lead which roll they were printed on."),
    msg("Look which stock is loaded and which is set at the printer."),
    msg("Print a nozzle check, and show it to the colour lead."),
    msg("Change nothing else at the printer before the colour lead has decided."),
)
"""What an operator does of a check that failed again."""

TWO_APART = msg("One of these two, and this tells them apart")
SEVERAL_APART = msg("What tells them apart")

# remedies, and none before the simple causes are excluded
LAST_RESORT = msg(
    "Only when stock, drying, reading and nozzles are all excluded, the colour lead decides whether to recalibrate. "
    "After that a check must pass."
)
MENDING = msg(
    "Only when stock, drying, reading and nozzles are all excluded, the colour lead decides on these, one after "
    "another until a check passes"
)
FORETOLD = msg(
    "Recalibrating is expected to bring a mean of {mean}, a 95th percentile of {p95} and a maximum of {maximum}, in "
    "90 % of cases."
)
BAND = msg("{expected:.2f} ΔE00 ({low:.2f} to {high:.2f} ΔE00)")
WORN = msg("A head counts as worn only after a nozzle check without a gap and a second print that shows the same.")
WEAK_SOLID = msg(
    "A weak solid: a curve put before the printer cannot make it stronger; recalibrating at the printer can, where the "
    "channel has headroom."
)
PAPER = msg(
    "Do not recalibrate for the bare stock: no ink curve moves it. A new lot is to blame only where a second sheet of "
    "it reads alike and another stock reads right."
)
NOT_WHILE = msg("Do not recalibrate and do not replace anything while this is possible: {causes}.")
NOT_BEFORE = msg("Do not recalibrate and do not replace anything before the cause is known.")
CURVES = msg("What recalibrating would bring, and what it would not: sentinel curves {check}")
NO_REMEDY = msg("Do not recalibrate and do not replace anything on this one reading.")


class FailureWriter(NoticeWriter[FailedCheckCase]):
    """A sheet beyond an action limit: `urgency` says whether to confirm it, raise the alarm, or hold production."""

    def write(self, told: FailedCheckCase, context: NoticeContext) -> Draft:
        again, urgency = told.count > 1, told.urgency if told.urgency in MAY_GO_ON else "alarm"
        title = WRONG_STOCK_TITLE if _rival(told.check) else FAILED_TITLES[urgency, again]
        return Draft(
            title.format(place=told.place),
            [
                who((COLOUR_LEAD if again else OPERATOR).format(printer=told.printer)),
                production(word_on_production(told, MAY_GO_ON[urgency])),
                paragraph(SectionRole.WHAT, _what_failed(told, again)),
                _done(told, context),
                paragraph(SectionRole.WHY, _how_sure(told.check, again), WHY),
                what_moved(told.check, context),
                *_reasons(told, context),
                *_what_to_do(told, again, context),
                *at_the_printer(told),
            ],
            urgency == "urgent",
        )


def _reasons(told: CheckCase, context: NoticeContext) -> list[Section[Text]]:
    """Causes and figures; at the machine what it may be, by name, and what was out of tolerance."""
    found = _by_name(told.check) if context.at_the_machine else causes(told, told.check)
    return [found, *figures(told.check, context)]


def _by_name(check: CheckFacts) -> Section[Text]:
    names = dict.fromkeys(each["cause"] for each in answered(check.diagnosis or ()))
    return bullets(SectionRole.WHY, MAY_BE, [CAUSE_NAMES.get(each, each) for each in names])


def _done(told: FailedCheckCase, context: NoticeContext) -> Section[Text]:
    """What was done since the case was opened, in one line, with what the second reading rules out."""
    if told.again is not None:
        read = [told.again.message]
    else:
        read = [READ_ALIKE] if _read_alike(told) else [READ_APART] if told.before and told.before.metrics else []
    return _in_one_line([*read, *_acts(told, context)])


def _acts(told: CheckCase, context: NoticeContext) -> list[Message]:
    """What people told that they did."""
    return [
        DEEDS[act.kind].format(day=day_of(context.local(act.at)), by=act.by or SOMEBODY)
        for act in (told.standing.done if told.standing else ())
        if act.kind in DEEDS
    ]


def _in_one_line(done: list[Message]) -> Section[Text]:
    return paragraph(SectionRole.WHAT, joined("; ", done) if done else "", DONE)


def _read_alike(told: FailedCheckCase) -> bool:
    """By both readings, or by their figures alone where they were not weighed together."""
    if told.again is not None:
        return told.again.outcome == Outcome.ALIKE
    before = told.before.metrics if told.before else None
    return bool(before) and outcome(before or {}, told.check.metrics, within=False) is Outcome.ALIKE


def _rival(check: CheckFacts) -> Message | None:
    """Why the wrong stock is plausible, where it is."""
    return next((reason.message for reason in check.reasons if reason.code in RIVAL_CODES), None)


def _what_failed(told: CheckCase, again: bool) -> Message:
    if again:
        return FAILED_AGAIN.format(place=told.place, count=told.count)
    return (FITS_ANOTHER if _rival(told.check) else FAILED_FIRST).format(place=told.place)


def _how_sure(check: CheckFacts, again: bool) -> Message:
    if message := _rival(check):
        return RIVAL.format(message=message)
    return SEVERAL_AGREE if again else ONE_READING


def _what_to_do(told: FailedCheckCase, again: bool, context: NoticeContext) -> list[Section[Text]]:
    """Steps that look first; what changes anything only after several failures, and with its conditions.

    What was done is not asked again, and of the operator nothing that the colour lead has to decide.
    """
    diagnosis = told.check.diagnosis or ()
    answer = answered(diagnosis)
    if again and context.at_the_machine and not _rival(told.check):
        return [steps(SectionRole.STEPS, STEPS_IN_ORDER, AT_THE_MACHINE)]
    if not again or _rival(told.check):
        rungs, last = set(CONFIRMING), [paragraph(SectionRole.STEPS, NO_REMEDY)]
    elif not answer:
        rungs, last = set(CONFIRMING), [paragraph(SectionRole.STEPS, LAST_RESORT)]
    else:
        remedies = mending(answer, diagnosis, repeated=True)
        rungs, last = looking(answer, remedies), _last(told.check, answer, remedies)
    left = set(rungs) - _ruled_out(told)
    return [
        _apart(answer),
        steps(SectionRole.STEPS, STEPS_IN_ORDER, worded(left, told.drying_hours, told.technology)),
        *last,
    ]


def _ruled_out(told: FailedCheckCase) -> set[RemedyStep]:
    """Steps that were done: a second reading, its figures alike, and what people told."""
    acts = {act.kind for act in (told.standing.done if told.standing else ())}
    read = {RemedyStep.READ, RemedyStep.PRINT} if _read_alike(told) else set()
    if told.again is not None and WET in told.again.excluded:
        read.add(RemedyStep.DRY)
    nozzles = {RemedyStep.NOZZLES, RemedyStep.LIGHT_NOZZLES}
    return read | (nozzles if EventKind.NOZZLE_CHECK.value in acts else set())


def _apart(answer: list[FindingFacts]) -> Section[Text]:
    heading = TWO_APART if len(answer) == 2 else SEVERAL_APART
    return bullets(SectionRole.STEPS, heading, telling_apart(answer))


def _last(check: CheckFacts, answer: list[FindingFacts], remedies: set[RemedyStep]) -> list[Section[Text]]:
    """What may be changed in the end, or why nothing may be."""
    if forbidden := forbidding(answer):
        names = joined("; ", (CAUSE_NAMES.get(cause, cause) for cause in forbidden))
        return [paragraph(SectionRole.STEPS, NOT_WHILE.format(causes=names))]
    if not remedies:
        return [paragraph(SectionRole.STEPS, NOT_BEFORE)]
    return [
        steps(SectionRole.STEPS, MENDING, worded(remedies, None)),
        *(paragraph(SectionRole.STEPS, words) for words in _conditions(answer, remedies)),
        *(_foretold(check, answer) if RemedyStep.RECALIBRATE in remedies else ()),
    ]


def _conditions(answer: list[FindingFacts], remedies: set[RemedyStep]) -> list[Message]:
    weak = any(weak_solid(each) for each in answer)
    paper = any(each["cause"] == "substrate-shade" for each in answer)
    known = ((weak, WEAK_SOLID), (paper, PAPER), (RemedyStep.SERVICE in remedies, WORN))
    return [words for holds, words in known if holds]


def _foretold(check: CheckFacts, answer: list[FindingFacts]) -> list[Section[Text]]:
    """What recalibrating would bring, and where its curves are."""
    found = answer[0]["predicted"].get("recalibrated")
    lines = [FORETOLD.format(**_bands(found))] if found else []
    lines += [CURVES.format(check=check.seq)] if check.seq is not None else []
    return [paragraph(SectionRole.STEPS, line) for line in lines]


def _bands(found: Mapping[str, Any]) -> dict[str, Message]:
    names = {"mean": "de00_mean", "p95": "de00_p95", "maximum": "de00_max"}
    return {
        name: BAND.format(**{bound: found[figure][bound] for bound in ("expected", "low", "high")})
        for name, figure in names.items()
    }


class ConfirmFailure(FailureWriter):
    """The first failure, of which nobody can say yet whether it is one."""

    kind = NoticeKind.CONFIRM_FAILURE
    name = msg("Please confirm - check failed")

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import CHECK, CONDITION

        return {"a first failure": {**CONDITION, "check": CHECK, "count": 1, "urgency": "confirm"}}


class CheckFailed(FailureWriter):
    """A failure that needs no confirming."""

    kind = NoticeKind.CHECK_FAILED
    name = msg("Check failed")

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import BARE, CHECK, CONDITION, READ_TWICE

        again = {**BARE, "check": {**CHECK, "m_condition": None}, "count": 3, "urgency": "alarm"}
        reminder = {**CONDITION, "check": CHECK, "count": 2, "urgency": "alarm", "step": "reminded"}
        twice = {**CONDITION, "check": CHECK, "count": 2, "urgency": "alarm", "again": READ_TWICE}
        return {"a failure again": again, "a sheet read twice": twice, "a reminder": reminder}


class WrongStock(FailureWriter):
    """A sheet that fits the target of another stock better."""

    kind = NoticeKind.WRONG_STOCK
    name = msg("STOP - wrong stock?")

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import CHECK, CONDITION, REASON, RIVAL_REASON

        check = {**CHECK, "reasons": [REASON, RIVAL_REASON]}
        return {"a wrong stock": {**CONDITION, "check": check, "count": 1, "urgency": "urgent"}}


class PatchOrder(NoticeWriter[CheckCase]):
    """A sheet whose patches stand in another order than those of its target: no verdict, and nothing known of it."""

    kind = NoticeKind.PATCH_ORDER
    name = msg("URGENT - read the sheet again")

    TITLE = msg("URGENT - read the sheet again: {place}")
    WHAT = msg("{place}: the patches of this sheet stand in another order than those of its aim. It was not scored.")
    MISREAD = msg("the figures fit another order of the patches far better - {message}.")
    READ_AGAIN = (
        msg("Read the same sheet again from its first row, the right way round, with the white tile read first."),
        msg("Save the new file in the drop folder; it is scored like any other."),
        msg("Where it comes out alike, print the chart again: it may have been another chart."),
    )

    def write(self, told: CheckCase, context: NoticeContext) -> Draft:
        message = next((each.message for each in told.check.reasons if each.code == MISREAD_CODE), "")
        return Draft(
            self.TITLE.format(place=told.place),
            [
                who(MEASURER),
                production(word_on_production(told, UNTIL_READ_AGAIN)),
                paragraph(SectionRole.WHAT, self.WHAT.format(place=told.place)),
                paragraph(SectionRole.WHY, self.MISREAD.format(message=message), WHY),
                *_reasons(told, context),
                steps(SectionRole.STEPS, STEPS_IN_ORDER, self.READ_AGAIN),
                paragraph(SectionRole.STEPS, NO_REMEDY),
                *at_the_printer(told),
            ],
            True,
        )

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import CHECK, CONDITION, ROWS_SHIFTED

        check = {**CHECK, "verdict": "unscored", "reasons": [ROWS_SHIFTED]}
        return {"rows shifted": {**CONDITION, "check": check, "count": 1, "urgency": "urgent"}}


class WarningRepeated(NoticeWriter[CheckCase]):
    """Several warnings in a row: nothing is wrong yet."""

    kind = NoticeKind.WARNING_REPEATED
    name = msg("Warning again")

    TITLE = msg("Warning again: {place}")
    WHAT = msg("{place}: {count} checks in a row were beyond a warning limit, within tolerance.")
    WARNINGS_AGREE = msg("several readings agree, each within tolerance. It may be a drift that has begun.")

    def write(self, told: CheckCase, context: NoticeContext) -> Draft:
        return Draft(
            self.TITLE.format(place=told.place),
            [
                who(COLOUR_LEAD.format(printer=told.printer)),
                production(word_on_production(told)),
                paragraph(SectionRole.WHAT, self.WHAT.format(place=told.place, count=told.count)),
                paragraph(SectionRole.WHY, self.WARNINGS_AGREE, WHY),
                what_moved(told.check, context),
                *figures(told.check, context),
                steps(SectionRole.STEPS, STEPS_IN_ORDER, confirming(told.drying_hours)),
                *at_the_printer(told),
            ],
        )

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import CHECK, CONDITION

        return {"a warning again": {**CONDITION, "check": {**CHECK, "verdict": "warn"}, "count": 3}}


WET = "possibly-not-dry"
NOT_SURE = 0.5
"""Probability that two readings are of one sheet where nobody told."""


class Recovered(NoticeWriter[CheckCase | TroubleCase | ArrivalsAgain]):
    """The end of a failure, of trouble of the sentinel itself, or of silence."""

    kind = NoticeKind.RECOVERED
    name = msg("Over")

    TITLE = msg("Back within tolerance: {place}")
    GO_ON_WITHIN = msg("may go on; the last sheet was within tolerance.")
    WHAT = msg(
        "{place}: after {count} failed check the last sheet was within tolerance.",
        "{place}: after {count} failed checks the last sheet was within tolerance.",
    )
    WAS_WET = msg(
        "the sheet that failed looked as one that had not dried, and this later reading does not: it was most likely "
        "measured too early. Nothing at the printer was at fault, as far as the readings tell."
    )

    def write(self, told: CheckCase | TroubleCase | ArrivalsAgain, context: NoticeContext) -> Draft:
        if isinstance(told, CheckCase):
            return self._passed(told, context)
        return trouble_over(told) if isinstance(told, TroubleCase) else arriving_again()

    VOIDED_TITLE = msg("Check taken back: {place}")
    VOIDED = msg("{place}: the check of {time} was taken back by {by} ({why}). It counts no more.")

    def _taken_back(self, told: CheckCase, voided: VoidedFacts, context: NoticeContext) -> Draft:
        time = context.local(told.check.measured_at)
        what = self.VOIDED.format(place=told.place, time=time, by=voided.by, why=voided.why)
        may = production(word_on_production(told))
        return Draft(self.VOIDED_TITLE.format(place=told.place), [who(NOBODY), may, paragraph(SectionRole.WHAT, what)])

    def _passed(self, told: CheckCase, context: NoticeContext) -> Draft:
        if told.voided is not None:
            return self._taken_back(told, told.voided, context)
        return Draft(
            self.TITLE.format(place=told.place),
            [
                who(NOBODY),
                production(self._word(told)),
                paragraph(SectionRole.WHAT, self.WHAT.format(place=told.place, count=told.count)),
                _in_one_line(_acts(told, context)),
                paragraph(SectionRole.WHY, self._why(told), WHY),
                *figures(told.check, context),
                one_sheet(),
            ],
        )

    def _why(self, told: CheckCase) -> Text:
        """What the first reading had, where the second shows it."""
        if _was_wet(told):
            return self.WAS_WET
        return told.again.message if told.again is not None and told.again.misread else ""

    def _word(self, told: CheckCase) -> Message:
        word = word_on_production(told, self.GO_ON_WITHIN)
        return self.GO_ON_WITHIN if word == GO_ON else word

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import CHECK, CONDITION, ZONE

        return {
            "a recovery": {**CONDITION, "check": {**CHECK, "verdict": "pass", "reasons": []}, "count": 2},
            "trouble that is over": {"trouble": "drop-folder-missing", "about": "/srv/drop", "detail": "", **ZONE},
            "silence that is over": {"arriving": True, **ZONE},
        }


def _was_wet(told: CheckCase) -> bool:
    """Whether the second reading shows that the chart of the first was wet; not where it failed twice, or where people
    did something about it and the sheet may be another: then that may be why."""
    again = told.again
    same = again is not None and again.same_sheet > NOT_SURE
    if told.count > 1 or (told.standing is not None and told.standing.done and not same):
        return False
    if again is not None:
        return again.outcome == Outcome.BACK and again.was_wet
    before = {each["cause"] for each in answered((told.before.diagnosis if told.before else None) or ())}
    now = {each["cause"] for each in answered(told.check.diagnosis or ())}
    return WET in before and WET not in now
