"""Every kind of notice in every form: well-formed, whole, and no name out of a file is ever taken for markup."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from sentinel.core.cases.kinds import NoticeKind
from sentinel.render.notices import Form, Letter, ServiceLimits, sample_documents
from sentinel.render.notices.document import TITLE_LENGTH, Draft, NoticeDocument, SectionRole, document, paragraph, tidy
from sentinel.render.notices.forms import escaped, row_words
from sentinel.render.notices.samples import KEY
from sentinel.render.notices.writer import Facts

SAMPLES = [
    pytest.param(kind, document, facts, id=f"{kind}: {what}")
    for kind, samples in sample_documents().items()
    for what, (document, facts) in samples.items()
]
EVERY = pytest.mark.parametrize(("kind", "written", "facts"), SAMPLES)
HOSTILE = "<img src=x onerror=alert(1)>&\"'*_[x](http://e.example)`~|#"


class WellFormed(HTMLParser):
    """Every tag closed in its turn; keeps the tags and the text."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.text = ""
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        assert {name for name, _ in attrs} <= {"style"}
        if tag != "br":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def words(text: str) -> str:
    return re.sub(r"\s+", "", text)


def shown(markdown: str) -> str:
    """What a reader of CommonMark sees, by a library that passes the tests of its specification."""
    return WellFormed(MarkdownIt("commonmark").render(markdown)).text


def test_every_kind_of_notice_has_a_sample() -> None:
    documents = sample_documents()
    assert set(documents) == {kind.value for kind in NoticeKind}
    assert all(documents.values())


@EVERY
def test_a_notice_says_who_acts_whether_production_may_go_on_and_what_happened(
    kind: str, written: NoticeDocument, facts: Facts
) -> None:
    for part in (SectionRole.WHO, SectionRole.PRODUCTION, SectionRole.WHAT):
        assert written.of(part), part


@EVERY
def test_a_title_fits_a_locked_phone_and_says_what_before_where(
    kind: str, written: NoticeDocument, facts: Facts
) -> None:
    assert 0 < len(written.title) <= TITLE_LENGTH
    assert not written.title.startswith(("North", "South", "Sentinel:", "monday"))


@EVERY
def test_whoever_is_sent_to_a_printer_is_warned(kind: str, written: NoticeDocument, facts: Facts) -> None:
    """Common practice, no published source."""
    sent = any("chart" in line for section in written.of(SectionRole.STEPS) for line in section.lines)
    at_printer = sent and kind not in ("file-unscored", "events-refused")
    assert bool(written.of(SectionRole.CAUTIONS)) == at_printer


@EVERY
def test_the_html_is_well_formed_and_says_the_same_as_the_plain_text(
    kind: str, written: NoticeDocument, facts: Facts
) -> None:
    letter = Letter(kind, written, facts)
    found = WellFormed(letter.message(Form.HTML).body)
    assert found.tags <= {"div", "p", "br", "strong", "ul", "li"}
    for section in written.sections:
        for line in (*section.lines, *row_words(section), section.heading):
            assert words(line) in words(found.text)


@EVERY
def test_the_markdown_says_the_same_as_the_plain_text(kind: str, written: NoticeDocument, facts: Facts) -> None:
    read = words(shown(Letter(kind, written, facts).message(Form.MARKDOWN).body))
    for section in written.sections:
        for line in (*section.lines, section.heading):
            assert words(line) in read


@EVERY
@pytest.mark.parametrize("form", Form)
def test_the_last_words_are_the_key_in_every_form(kind: str, written: NoticeDocument, facts: Facts, form: Form) -> None:
    body = Letter(kind, written, facts).message(form).body
    text = WellFormed(body).text if form is Form.HTML else shown(body) if form is Form.MARKDOWN else body
    assert text.strip().splitlines()[-1] == f"Notice {KEY}"


@given(st.text(max_size=60) | st.just(HOSTILE))
def test_markdown_shows_any_text_as_it_is(text: str) -> None:
    text = tidy(text)
    assert words(shown(escaped(text))) == words(text)


@given(st.text(alphabet="<>&\"'/ \nabscript*_[]()`\\-+#1.)!~|\u202e\x00", max_size=40))
def test_a_name_out_of_a_file_stays_a_name_in_every_form(name: str) -> None:
    letter = Letter("x", document(Draft(name, [paragraph(SectionRole.WHAT, f"{name} came", "File")]), name), {})
    html = WellFormed(letter.message(Form.HTML, ServiceLimits(title=0)).body)
    assert html.tags <= {"div", "p", "strong", "b", "br"}
    assert words(f"{tidy(name)} came") in words(html.text)
    assert words(f"{tidy(name)} came") in words(shown(letter.message(Form.MARKDOWN).body))
    plain = letter.message(Form.TEXT).body
    assert len(plain.splitlines()) == 3, "a name that forges lines"


@pytest.mark.parametrize("name", ["@everyone", "@here now", "@channel", "@ALL"])
def test_a_name_out_of_a_file_does_not_call_a_whole_room(name: str) -> None:
    letter = Letter("x", document(Draft(name, [paragraph(SectionRole.WHAT, name)]), "k"), {})
    for form in Form:
        assert name not in letter.message(form).body + letter.message(form).title


def test_a_mail_address_stays_as_it_is() -> None:
    assert tidy("ana@print.example, a@allround.example") == "ana@print.example, a@allround.example"
