"""Notices that ask for checks: due, due soon, never made. Those of one moment come in one notice."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sentinel.core.message import Message, Text, joined
from sentinel.render.notices import english
from sentinel.render.notices.document import Draft, Section, SectionRole, bullets, paragraph, steps
from sentinel.render.notices.facts import Facts, because, care, local, place, production, who
from sentinel.render.remedies import checking, drying, preparing

Telling = Callable[[Facts, str], Message]


def due(facts: Facts) -> Draft:
    """Checks that turned due."""
    return _asking(facts, "due", _due, english.SEVERAL_DUE, english.GO_ON)


def due_soon(facts: Facts) -> Draft:
    """Checks that turn due before long, for whoever plans the day."""
    return _asking(facts, "soon", _soon, english.SEVERAL_SOON, english.GO_ON)


def never_run(facts: Facts) -> Draft:
    """Printing conditions without any check that counts."""
    return _asking(facts, "never-run", _never_run, english.SEVERAL_NEVER_RUN, english.GO_ON_UNPROVEN)


def _asking(facts: Facts, name: str, telling: Telling, several: Message, may: Message) -> Draft:
    asked, zone = of_conditions(facts), facts["timezone"]
    technologies = dict.fromkeys(each["technology"] for each in asked)
    one = len(asked) == 1
    title = english.TITLES[name if one else f"{name}-several"].format(place=place(asked[0]), count=len(asked))
    told = _one(asked[0], telling(asked[0], zone)) if one else _several(asked, zone, telling, several)
    acting = english.OPERATOR.format(printer=asked[0]["printer"]) if one else english.OPERATORS
    return Draft(title, [who(acting), production(may), *told, care(*technologies)])


def of_conditions(facts: Facts) -> Sequence[Facts]:
    """The facts of each printing condition that the notice speaks of."""
    conditions: Sequence[Facts] = facts.get("conditions") or [facts]
    return conditions


def _one(facts: Facts, what: Message) -> list[Section[Text]]:
    return [
        paragraph(SectionRole.WHAT, what),
        steps(SectionRole.STEPS, english.STEPS, checking(facts.get("drying_hours"))),
        bullets(SectionRole.PREPARATION, english.PREPARATION, preparing(facts)),
    ]


def _several(asked: Sequence[Facts], zone: str, telling: Telling, heading: Message) -> list[Section[Text]]:
    hours = [each.get("drying_hours") for each in asked]
    shared = hours[0] if len(set(hours)) == 1 else None
    own = ([drying(each)] if shared is None and each is not None else [] for each in hours)
    told = zip(asked, own, strict=True)
    lines = [joined(" ", [telling(each, zone), *preparing(each), *dries]) for each, dries in told]
    return [
        bullets(SectionRole.WHAT, heading.format(count=len(asked)), lines),
        steps(SectionRole.STEPS, english.STEPS, checking(shared)),
    ]


def _due(facts: Facts, zone: str) -> Message:
    due = english.DUE_SINCE if "check" in facts else english.DUE
    times = {"time": local(facts["check"]["measured_at"], zone)} if "check" in facts else {}
    return due.format(place=place(facts), reasons=because(facts), **times)


def _soon(facts: Facts, zone: str) -> Message:
    return english.SOON.format(place=place(facts), time=local(facts["due_at"], zone))


def _never_run(facts: Facts, _zone: str) -> Message:
    return english.DUE.format(place=place(facts), reasons=because(facts))
