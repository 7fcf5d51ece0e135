"""From a notice to what is sent: its title, its body in the form and length a service takes, its picture."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from sentinel.core.cases.records import Notice
from sentinel.core.message import Localizer, Text
from sentinel.render.localizer import IN_ENGLISH, CldrLocalizer
from sentinel.render.notices import due, english, failing, others
from sentinel.render.notices.document import (
    Draft,
    NoticeDocument,
    Section,
    SectionRole,
    bullets,
    cut,
    document,
    paragraph,
)
from sentinel.render.notices.facts import Facts, production, who
from sentinel.render.notices.forms import Form, ServiceLimits, fitted, leading
from sentinel.render.notices.templates import NOTHING, Templates
from sentinel.render.plots import drawable, picture


class RenderedNotice(NamedTuple):
    """A title that makes sense alone, and a body."""

    title: str
    body: str


@dataclass(frozen=True, slots=True)
class Letter:
    """A notice that can be rendered for any service."""

    kind: str
    document: NoticeDocument
    facts: Facts
    templates: Templates | None = None
    tongue: CldrLocalizer = IN_ENGLISH

    @property
    def key(self) -> str:
        """Case and step: the same where a letter is sent again."""
        return self.document.key

    def message(self, form: Form = Form.TEXT, limits: ServiceLimits | None = None) -> RenderedNotice:
        """In one form, within the limits of a service.

        A template that breaks, or whose text is too long, gives way to the built-in text.
        """
        limits = limits or ServiceLimits()
        made = (
            self.templates.message(self.kind, self.document, self.facts, form, self.tongue)
            if self.templates
            else NOTHING
        )
        title = cut(made.title or self.document.title, limits.title or limits.body)
        lead = "" if limits.title else leading(title, form)
        room = max(0, limits.body - len(lead))
        fits = made.body is not None and len(made.body) <= room
        body = made.body if fits and made.body is not None else fitted(self.document, form, room)
        return RenderedNotice(title if limits.title else "", lead + body)

    def picture(self) -> bytes | None:
        """A PNG of the trend and of the worst patches, where the facts hold any. Drawing may fail in any way.

        For one thread at a time; the next recipient of the same facts gets the same picture.
        """
        return _drawn(json.dumps(self.facts), self.tongue) if drawable(self.facts) else None


@lru_cache(maxsize=8)
def _drawn(facts: str, tongue: CldrLocalizer) -> bytes:
    return picture(json.loads(facts), tongue)


class Letters:
    """Writes letters in one tongue, by the templates of an admin where there are any."""

    def __init__(self, templates: Templates | None = None, tongue: CldrLocalizer = IN_ENGLISH) -> None:
        self._templates = templates
        self._tongue = tongue

    def letter(self, notice: Notice) -> Letter:
        """The letter of a notice."""
        kind, facts = notice.kind.value, self._tongue.retold(notice.facts)
        return Letter(kind, written(kind, facts, notice.key, self._tongue), facts, self._templates, self._tongue)


WRITERS: Mapping[str, Callable[[Facts], Draft]] = {
    "confirm-failure": failing.failed,
    "wrong-stock": failing.failed,
    "patch-order": failing.misread,
    "check-failed": failing.failed,
    "warning-repeated": failing.warned,
    "recovered": lambda facts: failing.recovered(facts) if "check" in facts else others.over(facts),
    "check-due": due.due,
    "due-soon": due.due_soon,
    "never-run": due.never_run,
    "file-unscored": others.unscored,
    "events-refused": others.events_refused,
    "certificate-expired": others.certificate,
    "service-trouble": others.trouble,
    "nothing-arrived": others.silence,
}


def written(kind: str, facts: Facts, key: str, tongue: Localizer = IN_ENGLISH) -> NoticeDocument:
    """The document of a notice, by no template; `facts` are told in this tongue already.

    `facts["step"]` may say that it is `reminded` of or `escalated`.
    """
    if kind == "summary":
        return summary(facts, key, tongue)
    draft, again = WRITERS[kind](facts), AGAIN.get(facts.get("step", ""))
    if again is None:
        return document(draft, key, tongue)
    title = english.TITLES[facts["step"]].format(title=draft.title)
    return document(Draft(title, [*draft.sections, paragraph(SectionRole.WHAT, again)], draft.urgent), key, tongue)


def summary(facts: Facts, key: str, tongue: Localizer) -> NoticeDocument:
    """Several notices in one: `notices`, each with its `kind`, `facts` and `key`, the most pressing first."""
    told = [(written(each["kind"], each["facts"], each["key"], tongue), each["key"]) for each in facts["notices"]]
    lines = [english.SUMMARY_LINE.format(title=each.title, key=number) for each, number in told]
    title = english.TITLES["summary" if told else "summary-empty"].format(count=len(told))
    held = [section for each, _ in told if each.urgent for section in each.of(SectionRole.PRODUCTION)]
    held.sort(key=lambda section: section.lines != (tongue.text(english.HOLD),))
    sections: list[Section[Text]] = [
        who(english.ANYBODY if told else english.NOBODY),
        production(held[0].lines[0]) if held else production(english.SEE_EACH if told else english.GO_ON),
        bullets(SectionRole.WHAT, english.SUMMARY, lines)
        if told
        else paragraph(SectionRole.WHAT, english.SUMMARY_EMPTY),
    ]
    return document(Draft(title, sections, bool(held)), key, tongue)


AGAIN = {"reminded": english.REMINDED, "escalated": english.ESCALATED}


def rendered_notice(notice: Notice) -> RenderedNotice:
    """A notice as plain text, by no template; its last line is the key by which a repeat can be told."""
    return Letters().letter(notice).message()


def trial_letter(site: str, tongue: CldrLocalizer = IN_ENGLISH) -> Letter:
    """What `notify test` sends."""
    draft = Draft(english.TITLES["trial"].format(site=site), [paragraph(SectionRole.WHAT, english.TRIAL)])
    return Letter("trial", document(draft, "trial", tongue), {}, tongue=tongue)
