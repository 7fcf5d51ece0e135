"""Whoever stands at a machine reads no statistics; whoever leads colour reads one line of them."""

from __future__ import annotations

import re
from functools import cache
from string import Formatter
from typing import get_args

import pytest

from sentinel.adapters.catalogues import localizer
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.records import Notice
from sentinel.core.cases.standing import Turn
from sentinel.core.message import Language, Message
from sentinel.core.verdict import Code, Reason
from sentinel.languages.gathering import patterns
from sentinel.render.notices import Letters, every_sample
from sentinel.render.notices.samples import CHECK, CONDITION, KEY, TONE, ZONE
from sentinel.render.plainly import PLAINLY, plainly

LANGUAGES: tuple[Language, ...] = get_args(Language)

STATISTICS = re.compile(
    r"sigma|σ|ewma|cusum|percentil|perzentil|centile|median|médian|probabilit|wahrscheinlichkeit|control limit"
    r"|kontrollgrenze|confidence|confiance|sicherheit nicht vor|standard deviation|variance|autocorrel|baseline"
    r"|grundlinie|ligne de base|western electric|sure trend|sicherer trend|tendance sûre|significan|signifikan"
    r"|\d ?%[^%]{0,3} (?:sure|sicher|sûr)",
    re.IGNORECASE,
)
"""Words and figures of statistics, in every language there is."""

NOT_OF_REASONS = ("sentinel/render/notices/kinds/verdicts.py", "sentinel/render/notices/writer.py")
"""Where words stand that are for the colour lead alone, and are left out at the machine."""


def letter(kind: str, facts: object, language: Language = "en", reader: Turn | None = None) -> str:
    letters = Letters(localizer=localizer(language, "metric"), reader=reader)
    found = letters.letter(Notice(KEY, NoticeKind(kind), "", 0, facts)).message()  # type: ignore[arg-type]
    return f"{found.title}\n{found.body}"


@cache
def statistical() -> list[str]:
    """Every pattern of a reason, or of a part of one, that has statistics in it."""
    found = [text for each in patterns() for text in (each.one, each.several)
             if text and each.place not in NOT_OF_REASONS and each.place != "sentinel/render/plainly.py"]  # fmt: skip
    return sorted({text for text in found if STATISTICS.search(text)})


def test_every_reason_with_statistics_is_said_plainly_too() -> None:
    assert len(statistical()) > 10
    assert set(statistical()) <= set(PLAINLY)


def fields(pattern: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(pattern) if name is not None}


@pytest.mark.parametrize("pattern", PLAINLY)
def test_what_is_said_plainly_needs_no_other_values_and_has_no_statistics_in_any_language(pattern: str) -> None:
    plain = PLAINLY[pattern]
    assert fields(plain.pattern) <= fields(pattern)
    for language in LANGUAGES:
        told = localizer(language, "metric").catalogue.gettext(plain.pattern)
        assert not STATISTICS.search(told), told


@cache
def everything() -> Message:
    """One sentence of every pattern with statistics, filled with made-up values."""
    from sentinel.core.message import joined

    filled = [Message(text, None, tuple((name, _value(text, name)) for name in sorted(fields(text))))
              for text in statistical()]  # fmt: skip
    return joined("; ", filled)


def _value(pattern: str, name: str) -> float | str:
    return 7.5 if re.search(rf"\{{{name}:", pattern) or name == "readings" else "something"


@pytest.mark.parametrize("code", Code)
def test_no_reason_of_any_code_shows_an_operator_statistics(code: Code) -> None:
    reason = Reason(code, everything()).as_json()
    due = {"conditions": [{**CONDITION, "reasons": [reason]}], **ZONE}
    failed = {**CONDITION, "check": {**CHECK, "reasons": [reason]}, "count": 1, "urgency": "confirm"}
    for kind, facts in (("check-due", due), ("confirm-failure", failed)):
        told = letter(kind, facts, reader=Turn.OPERATOR)
        assert not STATISTICS.search(told), told


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("kind", NoticeKind)
def test_no_notice_of_any_kind_shows_an_operator_statistics(kind: NoticeKind, language: Language) -> None:
    for what, facts in every_sample()[kind.value].items():
        told = letter(kind.value, facts, language, Turn.OPERATOR)
        assert not STATISTICS.search(told), f"{what}: {STATISTICS.findall(told)}"


@pytest.mark.parametrize("reader", [Turn.COLOUR_LEAD, None])
def test_the_lead_has_one_line_of_statistics_however_many_reasons_have_some(reader: Turn | None) -> None:
    reasons = [Reason(code, everything()).as_json() for code in (Code.FORECAST, Code.DRIFT_SUSPECTED, Code.TOO_OLD)]
    told = letter("check-due", {"conditions": [{**CONDITION, "reasons": reasons}], **ZONE}, reader=reader)
    lines = [line for line in told.splitlines() if STATISTICS.search(line)]
    assert len(lines) == 1
    assert lines[0].startswith("Behind it: ")


def test_of_several_conditions_each_has_its_own_line() -> None:
    told = [{**CONDITION, "reasons": [Reason(Code.FORECAST, everything()).as_json()] * 2}] * 2
    lines = letter("check-due", {"conditions": told, **ZONE}).splitlines()
    assert len([line for line in lines if STATISTICS.search(line)]) == 2


def test_what_is_plain_already_stays_as_it_is() -> None:
    plain = Message("the last check is of {day}", None, (("day", "Monday"),))
    assert plainly(plain) == plain
    assert plainly("a name, 95th percentile") == "a name, 95th percentile"


@pytest.mark.parametrize("kind", ["confirm-failure", "patch-order"])
def test_an_operator_reads_by_name_what_it_may_be(kind: str) -> None:
    """What tells two causes apart stands behind their names."""
    both = [{**TONE, "cause": cause, "confidence": 0.48} for cause in ("possibly-not-dry", "solid-off-aim")]
    facts = {**CONDITION, "check": {**CHECK, "diagnosis": both}, "count": 1, "urgency": "confirm"}
    told = letter(kind, facts, reader=Turn.OPERATOR)
    assert "What it may be:\n- a chart that was not dry\n- a solid off its aim\n" in told
    assert "48" not in told
    if kind == "confirm-failure":
        assert told.index("What it may be:") < told.index("One of these two, and this tells them apart:")
