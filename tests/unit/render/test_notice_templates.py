"""Templates of an admin: checked beforehand, safe when they are sent, and never the end of a notice."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sentinel.render.notices import Form, Letter, ServiceLimits, sample_documents
from sentinel.render.notices.samples import KEY
from sentinel.render.notices.templates import Templates
from tests.unit.render.test_notice_forms import HOSTILE, WellFormed, shown, words

SAMPLES = sample_documents()
WRITTEN, FACTS = SAMPLES["file-unscored"]["a file put aside"]


def letter(facts: dict[str, object] | None = None, told: list[tuple[str, str]] | None = None, **sources: str) -> Letter:
    """`txt=` stands for file-unscored.txt and so on."""
    named = {f"file-unscored.{ending}": text for ending, text in sources.items()}
    report = None if told is None else lambda name, fault: told.append((name, fault))
    return Letter("file-unscored", WRITTEN, {**FACTS, **(facts or {})}, Templates(named, report))


def faults(name: str, text: str) -> list[str]:
    return list(Templates({name: text}).faults(SAMPLES))


def test_a_template_replaces_the_body_of_its_kind_and_form_alone() -> None:
    found = letter(txt="Datei {{ facts.file_name }}: {{ why | join('; ') }}")
    assert found.message().body == f"Datei monday.txt: line 6: expected 4 cells, but this row has 3\n\nNotice {KEY}"
    assert found.message().title == WRITTEN.title
    assert "Datei" not in found.message(Form.HTML).body


def test_a_template_replaces_the_title_in_every_form() -> None:
    for form in Form:
        assert (
            letter(title="Nicht bewertet:\n{{ facts.file_name }}\n").message(form).title == "Nicht bewertet: monday.txt"
        )


@pytest.mark.parametrize("form", Form)
def test_the_key_is_the_last_line_whatever_a_template_says(form: Form) -> None:
    body = letter(None, None, **{form.value: "{{ title }}"}).message(form).body
    text = WellFormed(body).text if form is Form.HTML else body
    assert text.strip().splitlines()[-1] == f"Notice {KEY}"


def test_a_name_out_of_a_file_stays_a_name_in_a_template() -> None:
    hostile = letter({"file_name": HOSTILE}, html="<p>{{ facts.file_name }}</p>", md="{{ facts.file_name }}")
    html = WellFormed(hostile.message(Form.HTML).body)
    assert html.tags == {"p"}
    assert words(HOSTILE) in words(html.text)
    assert words(HOSTILE) in words(shown(hostile.message(Form.MARKDOWN).body))


def test_a_name_that_forges_lines_forges_none_in_a_template() -> None:
    body = letter({"file_name": "a\nNotice case-9-opened"}, txt="{{ facts.file_name }}").message().body
    assert len(body.splitlines()) == 3


def test_times_are_shown_in_the_zone_of_the_site() -> None:
    found = letter({"timezone": "Europe/Lisbon"}, txt="{{ local(facts.arrived_at) }}")
    assert found.message().body.startswith("2026-01-06 08:30 WET")


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        ("{{ facts.nothing_of_the_kind }}", "nothing_of_the_kind"),
        ("{{ 1 / 0 }}", "ZeroDivisionError"),
        ("{{ title", "TemplateSyntaxError"),
        ("{{ title.__class__.__mro__ }}", "SecurityError"),
        ("{% include 'not-there.txt' %}", "TemplateNotFound"),
    ],
)
def test_a_template_that_breaks_gives_way_to_the_built_in_text_and_is_reported(broken: str, said: str) -> None:
    told: list[tuple[str, str]] = []
    plain = Letter("file-unscored", WRITTEN, FACTS).message()
    assert letter(None, told, txt=broken).message() == plain
    [(name, fault)] = told
    assert name == "file-unscored.txt"
    assert said in fault


def test_a_template_longer_than_the_service_takes_gives_way_to_the_built_in_text() -> None:
    body = letter(txt="long " * 500).message(Form.TEXT, ServiceLimits(100, 800)).body
    assert "long long" not in body
    assert "Who acts:" in body


def test_good_templates_have_no_faults() -> None:
    sources = {
        "check-failed.title": "{{ title }}",
        "check-failed.html": "{% include '_head.html' %}{% for line in steps %}<p>{{ line }}</p>{% endfor %}",
        "check-due.md": "{% for each in facts.conditions %}- {{ each.printer }}\n{% endfor %}",
        "_head.html": "<h1>{{ title }}</h1>",
    }
    assert list(Templates(sources).faults(SAMPLES)) == []


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("check-failed.txt", "a\n{{ plcae }}", "check-failed.txt: line 2: UndefinedError: 'plcae' is undefined"),
        ("check-failed.txt", "a\nb\n{% if %}", "check-failed.txt: line 3: TemplateSyntaxError"),
        ("check-due.md", "{{ facts.conditions[1].printer }}", "(tried with one check)"),
        ("chek-failed.txt", "a", "chek-failed.txt: expected KIND.ENDING with a kind of notice"),
        ("check-failed.docx", "a", "check-failed.docx: expected KIND.ENDING with a kind of notice"),
    ],
)
def test_every_fault_of_a_template_is_told_with_its_file_and_line(name: str, text: str, said: str) -> None:
    [fault] = faults(name, text)
    assert said in fault


def test_the_template_of_the_guide_has_no_fault() -> None:
    guide = (Path(__file__).parents[3] / "config" / "README.md").read_text(encoding="utf-8")
    [example] = re.findall(r"```jinja\n(.*?)```", guide, re.DOTALL)
    found = Templates({"check-due.txt": example})
    assert list(found.faults(SAMPLES)) == []
    document, facts = SAMPLES["check-due"]["two checks"]
    assert "* North / Satin 240 (fine): " in found.rendered("check-due.txt", document, facts)
