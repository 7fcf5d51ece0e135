"""From a notice to what is sent: its title, its body in the form and length a service takes, its picture.

A letter always comes out: facts that another version kept, or that cannot be read, make a plain one.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from sentinel.core.cases.kinds import OVER_AT_ONCE, CaseStep, NoticeKind, Severity
from sentinel.core.cases.payloads import Envelope, PayloadError, kept_message
from sentinel.core.cases.records import Notice
from sentinel.core.cases.standing import Turn
from sentinel.core.message import Localizer, Message, msg
from sentinel.errors import ANY_FAULT
from sentinel.render.localizer import IN_ENGLISH, CldrLocalizer
from sentinel.render.notices.document import (
    Draft,
    NoticeDocument,
    SectionRole,
    bullets,
    cut,
    document,
    document_line,
    fitted,
    paragraph,
    tidy,
)
from sentinel.render.notices.forms import Form, ServiceLimits, fit_to_length, leading
from sentinel.render.notices.kinds import WRITERS
from sentinel.render.notices.samples import KEY
from sentinel.render.notices.templates import NO_OUTPUT, Templates
from sentinel.render.notices.writer import (
    HOLD,
    OF,
    REASONS,
    STEPS,
    ComposedNotice,
    Facts,
    NoticeContext,
    answer,
    production,
)
from sentinel.render.plots import drawable, picture


class RenderedNotice(NamedTuple):
    """A title that makes sense alone, and a body."""

    title: str
    body: str


@dataclass(frozen=True, slots=True)
class Letter:
    """A notice that can be rendered for any service; `fault` is what could not be read of it, for the log."""

    kind: str
    document: NoticeDocument
    facts: Facts
    templates: Templates | None = None
    localizer: CldrLocalizer = IN_ENGLISH
    fault: str | None = None
    drawn: list[str] = field(default_factory=list, compare=False)
    """What came of drawing its picture each time: nothing, or the kind of fault."""

    @property
    def key(self) -> str:
        """Case and step: the same where a letter is sent again."""
        return self.document.key

    def message(self, form: Form = Form.TEXT, limits: ServiceLimits | None = None) -> RenderedNotice:
        """In one form, within the limits of a service.

        A template that breaks, or whose text is too long, gives way to the built-in text.
        """
        limits = limits or ServiceLimits()
        own = (
            self.templates.message(self.kind, self.document, self.facts, form, self.localizer)
            if self.templates
            else NO_OUTPUT
        )
        whole = own.title or self.document.title
        title = fitted(whole, self.document.place, limits.title or limits.body)
        lead = leading(whole if limits.title else title, form)
        lost = self.document.place in whole and self.document.place not in title
        if len(lead) > limits.body or (limits.title and not lost):
            lead = ""
        room = limits.body - len(lead)
        fits = own.body is not None and len(own.body) <= room
        body = own.body if fits and own.body is not None else fit_to_length(self.document, form, room)
        return RenderedNotice(title if limits.title else "", lead + body)

    def picture(self) -> bytes | None:
        """A PNG of the trend and of the worst patches, where the facts hold any. Drawing may fail in any way.

        For one thread at a time; the next recipient of the same facts gets the same picture.
        """
        if not drawable(self.facts):
            return None
        try:
            found = _drawn(json.dumps(self.facts), self.localizer)
        except ANY_FAULT as fault:
            self.drawn.append(type(fault).__name__)
            raise
        self.drawn.append("")
        return found


@lru_cache(maxsize=8)
def _drawn(facts: str, localizer: CldrLocalizer) -> bytes:
    return picture(json.loads(facts), localizer)


class Letters:
    """Writes letters in one language, by the templates of an admin where there are any."""

    def __init__(
        self,
        templates: Templates | None = None,
        localizer: CldrLocalizer = IN_ENGLISH,
        reader: Turn | None = None,
    ) -> None:
        self._templates = templates
        self._localizer = localizer.plainly() if reader is Turn.OPERATOR else localizer
        self._reader = reader

    def letter(self, notice: Notice) -> Letter:
        """The letter of a notice, whatever its facts are."""
        kind, own = notice.kind.value, self._localizer
        found = compose(kind, notice.facts, notice.key, own, self._reader)
        fault = "; ".join(found.faults) or None
        if found.plain:
            return Letter(kind, found.document, {}, localizer=own, fault=fault)
        facts = own.retold(notice.facts) if self._templates else notice.facts
        return Letter(kind, found.document, facts, self._templates, own, fault)


LONGEST_FAULT = 200


def compose(
    kind: Any, facts: Any, key: Any, localizer: Localizer = IN_ENGLISH, reader: Turn | None = None
) -> ComposedNotice:
    """The document of a notice, by no template, from what is kept of it: of any age, and perhaps not whole.

    `facts["step"]` may say that it is `reminded` of or `escalated`. For an operator the localizer is a plain one.
    """
    key = key if isinstance(key, str) else ""
    if (only := _only_one(kind, facts)) is not None:
        found = compose(only.get("kind"), only.get("facts"), only.get("key"), localizer, reader)
        return found._replace(document=replace(found.document, key=tidy(key), last_line=document_line(key, localizer)))
    try:
        envelope, known = Envelope.from_json(facts), NoticeKind(kind)

        def within(kind: Any, facts: Any, key: Any) -> ComposedNotice:
            return compose(kind, facts, key, localizer, reader)

        context = NoticeContext(_zone(envelope.timezone), localizer, within, reader)
        draft = _answerable(known, WRITERS[known].write(known.payload(facts), context), envelope)
        return ComposedNotice(document(_again(draft, envelope.step), key, localizer), draft.faults)
    except Exception as fault:  # people are told of what happened, if in fewer words, rather than not at all
        draft = plain_letter(kind, facts)
        said = cut(tidy(f"{key}: {type(fault).__name__}: {fault}"), LONGEST_FAULT)
        return ComposedNotice(document(draft, key, localizer), (said,), plain=True)


def _only_one(kind: Any, facts: Any) -> Mapping[str, Any] | None:
    """What stands alone in a summary: it is told as what it is."""
    if kind != NoticeKind.SUMMARY.value or not isinstance(facts, Mapping):
        return None
    if any(facts.get(whole) is not None for whole in ("files", "undelivered", "restored")):
        return None
    told = facts.get("notices")
    return told[0] if isinstance(told, list) and len(told) == 1 and isinstance(told[0], Mapping) else None


def _answerable(kind: NoticeKind, draft: Draft, envelope: Envelope) -> Draft:
    """With the numbers of its cases and how to answer, where they stay open."""
    if envelope.step == CaseStep.CLOSED.value or kind.value in OVER_AT_ONCE:
        return draft
    return draft._replace(sections=[*draft.sections, *answer(envelope.cases or ())])


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (OSError, ValueError, KeyError):  # every time names its zone, so that it stays true
        return ZoneInfo("UTC")


AGAIN = {
    CaseStep.REMINDED.value: (
        msg("Still open: {title}"),
        msg("This was told before and is still open."),
    ),
    CaseStep.ESCALATED.value: (
        msg("Nobody has answered: {title}"),
        msg("This was told to others, and nobody has acknowledged it."),
    ),
}
"""Title and sentence of what was told before."""


def _again(draft: Draft, step: str | None) -> Draft:
    if step not in AGAIN:
        return draft
    title, what = AGAIN[step]
    sections = [*draft.sections, paragraph(SectionRole.WHAT, what)]
    return draft._replace(title=title.format(title=draft.title), sections=sections)


UNKNOWN_KIND = msg("Notice of the sentinel")
NOT_READ = msg("What was kept of this notice cannot be read by this version of the sentinel.")
NOT_READ_OF = msg("{about}: what was kept of this notice cannot be read by this version of the sentinel.")
SEE_STATUS = msg("See `sentinel status` and `sentinel cases`: they say what is known now.")


def plain_letter(kind: Any, facts: Any) -> Draft:
    """What can be said of any facts: what happened, to what, and the reasons that can be read. It never raises."""
    name = next((writer.name for known, writer in WRITERS.items() if known == kind), UNKNOWN_KIND)
    about, facts = ", ".join(_subjects(facts)), facts if isinstance(facts, Mapping) else {}
    urgent = Severity.URGENT.value in (facts.get("severity"), facts.get("urgency"))
    what = NOT_READ_OF.format(about=about) if about else NOT_READ
    draft = Draft(
        OF.format(what=name, about=about, place=about) if about else name,
        [
            production(HOLD) if urgent else None,
            paragraph(SectionRole.WHAT, what),
            bullets(SectionRole.WHY, REASONS, dict.fromkeys(_reasons(facts))),
            bullets(SectionRole.STEPS, STEPS, [SEE_STATUS]),
        ],
        urgent,
    )
    step = facts.get("step")
    return _again(draft, step if isinstance(step, str) else None)


SUBJECTS = ("condition", "printer", "substrate", "file_name", "instrument", "trouble", "about")
"""Names under which facts keep what a notice is about."""


def _subjects(facts: Any) -> Iterator[str]:
    """What the facts are about, in people's names."""
    if not isinstance(facts, Mapping):
        return
    named = {name: value for name, value in facts.items() if isinstance(value, str) and value}
    mode = f" ({named['mode']})" if "mode" in named else ""
    if "printer" in named and "substrate" in named:
        yield f"{named['printer']} / {named['substrate']}{mode}"
    else:
        yield from (named[name] for name in SUBJECTS if name in named)
    for each in _listed(facts.get("conditions")):
        yield from _subjects(each)


def _reasons(facts: Mapping[Any, Any]) -> Iterator[Message]:
    check = facts.get("check")
    for holder in (facts, check if isinstance(check, Mapping) else {}, *_listed(facts.get("conditions"))):
        for reason in _listed(holder.get("reasons")):
            try:
                yield kept_message(reason)
            except PayloadError:
                continue


def _listed(value: Any) -> list[Mapping[Any, Any]]:
    """The objects in a list, if it is one."""
    return [each for each in value if isinstance(each, Mapping)] if isinstance(value, list | tuple) else []


def rendered_notice(notice: Notice) -> RenderedNotice:
    """A notice as plain text, by no template; its last line is the key by which a repeat can be told."""
    return Letters().letter(notice).message()


TEST_TITLE = msg("Test from the sentinel of {site}")
TEST = msg("This is a test. Nothing is wrong and nothing is to be done.")


def delivery_test(site: str, localizer: CldrLocalizer = IN_ENGLISH) -> Letter:
    """What `notify test` sends."""
    draft = Draft(TEST_TITLE.format(site=site), [paragraph(SectionRole.WHAT, TEST)])
    return Letter("trial", document(draft, "trial", localizer), {}, localizer=localizer)


def every_sample() -> dict[str, Mapping[str, Facts]]:
    """Facts by kind and by what they are samples of."""
    return {kind.value: writer.samples() for kind, writer in WRITERS.items()}


def sample_documents() -> dict[str, dict[str, tuple[NoticeDocument, Facts]]]:
    """Every sample with its document, as `Templates.faults` takes them."""
    return {
        kind: {what: (compose(kind, facts, KEY).document, facts) for what, facts in samples.items()}
        for kind, samples in every_sample().items()
    }
