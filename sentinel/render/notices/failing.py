"""Notices of checks - failed, to be confirmed, of a wrong stock, warned again, recovered - and what each asks for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sentinel.core.message import Message, Text, joined
from sentinel.render.notices import english
from sentinel.render.notices.document import Draft, Section, SectionRole, bullets, paragraph, steps
from sentinel.render.notices.facts import (
    MISREAD_CODE,
    Facts,
    answer,
    care,
    causes,
    figures,
    one_sheet,
    place,
    preparation,
    production,
    rival,
    who,
)
from sentinel.render.remedies import (
    CONFIRMING,
    RemedyStep,
    Told,
    answered,
    confirming,
    forbidding,
    looking,
    mending,
    telling_apart,
    worded,
)


def what_to_do(facts: Facts, again: bool) -> list[Section[Text]]:
    """Steps that look first; what changes anything only after several failures, and with its conditions."""
    told, drying = answer(facts), facts["drying_hours"]
    if not again or rival(facts):
        rungs, last = set(CONFIRMING), [paragraph(SectionRole.STEPS, english.NO_REMEDY)]
    elif not told:
        rungs, last = set(CONFIRMING), [paragraph(SectionRole.STEPS, english.LAST_RESORT)]
    else:
        remedies = mending(told, facts["check"]["diagnosis"], repeated=True)
        rungs, last = looking(told, remedies), _last(facts, told, remedies)
    return [_apart(told), steps(SectionRole.STEPS, english.STEPS_IN_ORDER, worded(rungs, drying)), *last]


def _apart(told: list[Told]) -> Section[Text]:
    heading = english.TWO_APART if len(told) == 2 else english.SEVERAL_APART
    return bullets(SectionRole.STEPS, heading, telling_apart(told))


def _last(facts: Facts, told: list[Told], remedies: set[RemedyStep]) -> list[Section[Text]]:
    """What may be changed in the end, or why nothing may be."""
    if causes := forbidding(told):
        names = joined("; ", (english.CAUSES.get(cause, cause) for cause in causes))
        return [paragraph(SectionRole.STEPS, english.NOT_WHILE.format(causes=names))]
    if not remedies:
        return [paragraph(SectionRole.STEPS, english.NOT_BEFORE)]
    return [
        steps(SectionRole.STEPS, english.MENDING, worded(remedies, None)),
        *(paragraph(SectionRole.STEPS, words) for words in _conditions(told, remedies)),
        *(_foretold(facts, told) if RemedyStep.RECALIBRATE in remedies else ()),
    ]


def _conditions(told: list[Told], remedies: set[RemedyStep]) -> list[Message]:
    weak = any(each["cause"] == "solid-off-aim" and each["sign"] == -1 for each in told)
    paper = any(each["cause"] == "substrate-shade" for each in told)
    said = ((weak, english.WEAK_SOLID), (paper, english.PAPER), (RemedyStep.SERVICE in remedies, english.WORN))
    return [words for holds, words in said if holds]


def _foretold(facts: Facts, told: list[Told]) -> list[Section[Text]]:
    """What recalibrating would bring, and where its curves are."""
    found = told[0]["predicted"].get("recalibrated")
    lines = [english.FORETOLD.format(**_bands(found))] if found else []
    lines += [english.CURVES.format(check=facts["check"]["seq"])] if "seq" in facts["check"] else []
    return [paragraph(SectionRole.STEPS, line) for line in lines]


def _bands(found: Mapping[str, Any]) -> dict[str, Message]:
    names = {"mean": "de00_mean", "p95": "de00_p95", "maximum": "de00_max"}
    return {
        name: english.BAND.format(**{bound: found[figure][bound] for bound in ("expected", "low", "high")})
        for name, figure in names.items()
    }


def failed(facts: Facts) -> Draft:
    """A sheet beyond an action limit: `urgency` says whether to confirm it, raise the alarm, or hold production."""
    again, urgency = facts["count"] > 1, facts["urgency"] if facts["urgency"] in PRODUCTION else "alarm"
    name = "wrong-stock" if rival(facts) else f"{urgency}-again" if again else urgency
    title = english.TITLES[name].format(place=place(facts))
    return Draft(
        title,
        [
            who((english.COLOUR_LEAD if again else english.OPERATOR).format(printer=facts["printer"])),
            production(PRODUCTION[urgency]),
            paragraph(SectionRole.WHAT, _what_failed(facts, again)),
            paragraph(SectionRole.WHY, _how_sure(facts, again), english.WHY),
            causes(facts),
            *figures(facts),
            *what_to_do(facts, again),
            *_at_the_printer(facts),
        ],
        urgency == "urgent",
    )


def misread(facts: Facts) -> Draft:
    """A sheet whose patches stand in another order than those of its target: no verdict, and nothing known of it."""
    message = next((each["message"] for each in facts["check"]["reasons"] if each["code"] == MISREAD_CODE), "")
    return Draft(
        english.TITLES["patch-order"].format(place=place(facts)),
        [
            who(english.MEASURER),
            production(english.UNTIL_READ_AGAIN),
            paragraph(SectionRole.WHAT, english.PATCH_ORDER.format(place=place(facts))),
            paragraph(SectionRole.WHY, english.MISREAD.format(message=message), english.WHY),
            causes(facts),
            *figures(facts),
            steps(SectionRole.STEPS, english.STEPS_IN_ORDER, english.READ_AGAIN),
            paragraph(SectionRole.STEPS, english.NO_REMEDY),
            *_at_the_printer(facts),
        ],
        True,
    )


WET = "possibly-not-dry"
PRODUCTION = {"confirm": english.UNTIL_CONFIRMED, "alarm": english.HOLD_MATCHING, "urgent": english.HOLD}


def _what_failed(facts: Facts, again: bool) -> Message:
    if again:
        return english.FAILED_AGAIN.format(place=place(facts), count=facts["count"])
    return (english.WRONG_STOCK if rival(facts) else english.FAILED_FIRST).format(place=place(facts))


def _how_sure(facts: Facts, again: bool) -> Message:
    if message := rival(facts):
        return english.RIVAL.format(message=message)
    return english.SEVERAL_AGREE if again else english.ONE_READING


def warned(facts: Facts) -> Draft:
    """Several warnings in a row: nothing is wrong yet."""
    return Draft(
        english.TITLES["warned"].format(place=place(facts)),
        [
            who(english.COLOUR_LEAD.format(printer=facts["printer"])),
            production(english.GO_ON),
            paragraph(SectionRole.WHAT, english.WARNED.format(place=place(facts), count=facts["count"])),
            paragraph(SectionRole.WHY, english.WARNINGS_AGREE, english.WHY),
            *figures(facts),
            steps(SectionRole.STEPS, english.STEPS_IN_ORDER, confirming(facts["drying_hours"])),
            *_at_the_printer(facts),
        ],
    )


def _at_the_printer(facts: Facts) -> list[Section[Text]]:
    return [preparation(facts), care(facts["technology"]), one_sheet()]


def recovered(facts: Facts) -> Draft:
    """The end of a failure."""
    return Draft(
        english.TITLES["recovered"].format(place=place(facts)),
        [
            who(english.NOBODY),
            production(english.GO_ON_WITHIN),
            paragraph(SectionRole.WHAT, english.RECOVERED.format(place=place(facts), count=facts["count"])),
            _was_wet(facts),
            *figures(facts),
            one_sheet(),
        ],
    )


def _was_wet(facts: Facts) -> Section[Text]:
    """A drier second reading confirms that the chart of the first was wet."""
    before = {each["cause"] for each in answered(facts.get("before", {}).get("diagnosis") or ())}
    now = {each["cause"] for each in answer(facts)}
    wet = WET in before and WET not in now
    return paragraph(SectionRole.WHY, english.WAS_WET if wet else "", english.WHY)
