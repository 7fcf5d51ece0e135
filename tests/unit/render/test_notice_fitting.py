"""A text that a service would cut is cut by us: the key stays, and nobody is sent to a printer unwarned."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.adapters.catalogues import localizer
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.records import Notice
from sentinel.core.message import Language
from sentinel.render.notices import Form, Letter, Letters, ServiceLimits, every_sample, sample_documents
from sentinel.render.notices.document import fitted
from sentinel.render.notices.samples import KEY
from tests.unit.render.test_notice_forms import WellFormed

WRITTEN, FACTS = sample_documents()["wrong-stock"]["a wrong stock"]
LETTER = Letter("wrong-stock", WRITTEN, FACTS)
REST = f"Shortened. The rest: sentinel notify show {KEY}"


def text_of(body: str, form: Form) -> str:
    return WellFormed(body).text if form is Form.HTML else body


@given(st.integers(80, 5000), st.integers(0, 200), st.sampled_from(Form))
def test_no_limit_is_ever_passed_and_markup_stays_whole(body: int, title: int, form: Form) -> None:
    found = LETTER.message(form, ServiceLimits(title, body))
    assert len(found.body) <= body
    assert len(found.title) <= title
    if form is Form.HTML and body > 1000:
        WellFormed(found.body)


@pytest.mark.parametrize("form", Form)
@pytest.mark.parametrize("length", [700, 1000, 1500])
def test_what_is_cut_points_to_the_rest_and_ends_with_the_key(form: Form, length: int) -> None:
    found = LETTER.message(form, ServiceLimits(100, length))
    lines = text_of(found.body, form).strip().splitlines()
    assert lines[-1] == f"Notice {KEY}"
    assert REST in lines
    assert "hold prints on this stock" in text_of(found.body, form)


def test_what_is_whole_points_nowhere() -> None:
    assert "Shortened" not in LETTER.message(Form.TEXT).body


def test_remarks_go_first_and_steps_go_before_the_cautions_that_belong_to_them() -> None:
    """Common practice, no published source: a short text never sends anybody to a printer without its cautions."""
    seen_without = False
    for length in range(2200, 200, -20):
        body = LETTER.message(Form.TEXT, ServiceLimits(100, length)).body
        if "1. Look which stock" in body:
            assert "Take care:" in body
        seen_without = seen_without or "1. Look" not in body
        if "Figures:" in body:
            assert "How sure:" in body
    assert seen_without


def test_a_message_of_160_characters_says_what_happened_and_the_key() -> None:
    body = LETTER.message(Form.TEXT, ServiceLimits(0, 160)).body
    assert body.startswith("STOP - wrong stock? North / Satin 240 (fine)\n")
    assert body.endswith(f"Notice {KEY}")
    assert len(body) <= 160


def test_a_service_without_titles_gets_it_as_the_first_line() -> None:
    for form, first in (
        (Form.TEXT, "STOP - wrong stock? North / Satin 240 (fine)"),
        (Form.MARKDOWN, "**STOP - wrong stock? North / Satin 240 (fine)**"),
        (Form.HTML, "<b>STOP - wrong stock? North / Satin 240 (fine)</b><br>"),
    ):
        found = LETTER.message(form, ServiceLimits(title=0))
        assert found.title == ""
        assert found.body.splitlines()[0] == first


NAMES = {
    "printer": "Large format printer of the second hall",
    "substrate": "Satin photo stock 240 g of the new mill",
    "mode": "fine, unidirectional, slow",
}
LONG = f"{NAMES['printer']} / {NAMES['substrate']} ({NAMES['mode']})"
"""A printing condition whose name alone is longer than what a locked phone shows."""


def renamed(facts: Any) -> Any:
    """The same facts with long names of printing conditions."""
    if isinstance(facts, dict):
        known = {name: renamed(value) for name, value in facts.items()}
        return {**known, **NAMES} if "substrate" in facts else known
    return [renamed(each) for each in facts] if isinstance(facts, list) else facts


OF_CONDITIONS = [
    (kind, what, facts)
    for kind, samples in every_sample().items()
    for what, facts in samples.items()
    if kind != "rules-changed" and ("substrate" in facts or facts.get("conditions") or facts.get("drying"))
]


@cache
def of_conditions(language: Language, step: str) -> list[tuple[str, str, Letter]]:
    letters = Letters(localizer=localizer(language, "metric"))
    return [
        (kind, what, letters.letter(Notice(KEY, NoticeKind(kind), "", 0, renamed({**facts, "step": step}))))
        for kind, what, facts in OF_CONDITIONS
    ]


@pytest.mark.parametrize(("title", "body"), [(250, 32_768), (120, 1000), (60, 4000), (0, 4000), (0, 320)])
@pytest.mark.parametrize("step", ["opened", "reminded", "escalated"])
@pytest.mark.parametrize("language", ["en", "de", "fr"])
def test_no_title_loses_its_printing_condition(language: Language, step: str, title: int, body: int) -> None:
    """Mail subjects, titles of chats, and short texts that have none: the words give way first."""
    for kind, what, letter in of_conditions(language, step):
        found = letter.message(Form.TEXT, ServiceLimits(title, body))
        assert LONG in (found.title if title >= len(LONG) else f"{found.title}\n{found.body}"), f"{kind}: {what}"
        assert len(found.title) <= title


def test_a_letter_that_cannot_be_read_keeps_it_too() -> None:
    facts = renamed({"printer": "North", "substrate": "Satin 240", "mode": "fine", "conditions": 5})
    found = Letters().letter(Notice(KEY, NoticeKind.CHECK_DUE, "", 0, facts)).message(limits=ServiceLimits(150, 2000))
    assert LONG in found.title


@given(st.text(min_size=1, max_size=80), st.text(min_size=1, max_size=80), st.integers(1, 200))
def test_a_fitted_title_is_never_longer_than_it_may_be(words: str, place: str, length: int) -> None:
    found = fitted(f"{words}: {place}", place, length)
    assert len(found) <= length
    if length >= len(place):
        assert place in found or place in words
