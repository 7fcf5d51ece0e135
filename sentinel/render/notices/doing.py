"""What a notice of a failed check asks for: the rungs of the ladder that fit what its figures point to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sentinel.core.said import Sentence, Text, joined
from sentinel.render.ladder import (
    CONFIRMING,
    Rung,
    Told,
    forbidding,
    looking,
    mending,
    telling_apart,
    worded,
)
from sentinel.render.notices import english
from sentinel.render.notices.document import Part, Section, bullets, paragraph, steps
from sentinel.render.notices.facts import Facts, answer, rival


def what_to_do(facts: Facts, again: bool) -> list[Section[Text]]:
    """Steps that look first; what changes anything only after several failures, and with its conditions."""
    told, drying = answer(facts), facts["drying_hours"]
    if not again or rival(facts):
        rungs, last = set(CONFIRMING), [paragraph(Part.STEPS, english.NO_REMEDY)]
    elif not told:
        rungs, last = set(CONFIRMING), [paragraph(Part.STEPS, english.LAST_RESORT)]
    else:
        remedies = mending(told, facts["check"]["diagnosis"], repeated=True)
        rungs, last = looking(told, remedies), _last(facts, told, remedies)
    return [_apart(told), steps(Part.STEPS, english.STEPS_IN_ORDER, worded(rungs, drying)), *last]


def _apart(told: list[Told]) -> Section[Text]:
    heading = english.TWO_APART if len(told) == 2 else english.SEVERAL_APART
    return bullets(Part.STEPS, heading, telling_apart(told))


def _last(facts: Facts, told: list[Told], remedies: set[Rung]) -> list[Section[Text]]:
    """What may be changed in the end, or why nothing may be."""
    if causes := forbidding(told):
        names = joined("; ", (english.CAUSES.get(cause, cause) for cause in causes))
        return [paragraph(Part.STEPS, english.NOT_WHILE.format(causes=names))]
    if not remedies:
        return [paragraph(Part.STEPS, english.NOT_BEFORE)]
    return [
        steps(Part.STEPS, english.MENDING, worded(remedies, None)),
        *(paragraph(Part.STEPS, words) for words in _conditions(told, remedies)),
        *(_foretold(facts, told) if Rung.RECALIBRATE in remedies else ()),
    ]


def _conditions(told: list[Told], remedies: set[Rung]) -> list[Sentence]:
    weak = any(each["cause"] == "solid-off-aim" and each["sign"] == -1 for each in told)
    paper = any(each["cause"] == "substrate-shade" for each in told)
    said = ((weak, english.WEAK_SOLID), (paper, english.PAPER), (Rung.SERVICE in remedies, english.WORN))
    return [words for holds, words in said if holds]


def _foretold(facts: Facts, told: list[Told]) -> list[Section[Text]]:
    """What recalibrating would bring, and where its curves are."""
    found = told[0]["predicted"].get("recalibrated")
    lines = [english.FORETOLD.format(**_bands(found))] if found else []
    lines += [english.CURVES.format(check=facts["check"]["seq"])] if "seq" in facts["check"] else []
    return [paragraph(Part.STEPS, line) for line in lines]


def _bands(found: Mapping[str, Any]) -> dict[str, Sentence]:
    names = {"mean": "de00_mean", "p95": "de00_p95", "maximum": "de00_max"}
    return {
        name: english.BAND.format(**{bound: found[figure][bound] for bound in ("expected", "low", "high")})
        for name, figure in names.items()
    }
