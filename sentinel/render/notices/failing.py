"""Notices of checks: failed, to be confirmed, of a wrong stock, warned again, recovered."""

from __future__ import annotations

from sentinel.core.said import Sentence, Text
from sentinel.render.advice import confirming
from sentinel.render.ladder import answered
from sentinel.render.notices import english
from sentinel.render.notices.document import Draft, Part, Section, paragraph, steps
from sentinel.render.notices.doing import what_to_do
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
            paragraph(Part.WHAT, _what_failed(facts, again)),
            paragraph(Part.WHY, _how_sure(facts, again), english.WHY),
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
            paragraph(Part.WHAT, english.PATCH_ORDER.format(place=place(facts))),
            paragraph(Part.WHY, english.MISREAD.format(message=message), english.WHY),
            causes(facts),
            *figures(facts),
            steps(Part.STEPS, english.STEPS_IN_ORDER, english.READ_AGAIN),
            paragraph(Part.STEPS, english.NO_REMEDY),
            *_at_the_printer(facts),
        ],
        True,
    )


WET = "possibly-not-dry"
PRODUCTION = {"confirm": english.UNTIL_CONFIRMED, "alarm": english.HOLD_MATCHING, "urgent": english.HOLD}


def _what_failed(facts: Facts, again: bool) -> Sentence:
    if again:
        return english.FAILED_AGAIN.format(place=place(facts), count=facts["count"])
    return (english.WRONG_STOCK if rival(facts) else english.FAILED_FIRST).format(place=place(facts))


def _how_sure(facts: Facts, again: bool) -> Sentence:
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
            paragraph(Part.WHAT, english.WARNED.format(place=place(facts), count=facts["count"])),
            paragraph(Part.WHY, english.WARNINGS_AGREE, english.WHY),
            *figures(facts),
            steps(Part.STEPS, english.STEPS_IN_ORDER, confirming(facts["drying_hours"])),
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
            paragraph(Part.WHAT, english.RECOVERED.format(place=place(facts), count=facts["count"])),
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
    return paragraph(Part.WHY, english.WAS_WET if wet else "", english.WHY)
