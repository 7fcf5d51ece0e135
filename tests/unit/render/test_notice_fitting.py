"""A text that a service would cut is cut by us: the key stays, and nobody is sent to a printer unwarned."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.render.notices import Form, Letter, ServiceLimits, sample_documents
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
