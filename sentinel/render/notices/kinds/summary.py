"""Several notices in one, and what such a summary is made of."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.payloads import SummaryPayload
from sentinel.core.message import msg
from sentinel.render.notices.document import Draft, Section, SectionRole, bullets, paragraph
from sentinel.render.notices.kinds.due_checks import CheckDue, DueSoon, NeverRun
from sentinel.render.notices.kinds.files import EventsRefused, FileUnscored
from sentinel.render.notices.kinds.rules import RulesChanged
from sentinel.render.notices.kinds.service import CertificateExpired, NothingArrived, ServiceTrouble
from sentinel.render.notices.kinds.verdicts import (
    CheckFailed,
    ConfirmFailure,
    PatchOrder,
    Recovered,
    WarningRepeated,
    WrongStock,
)
from sentinel.render.notices.writer import (
    ANYBODY,
    GO_ON,
    HOLD,
    NOBODY,
    ComposedNotice,
    Facts,
    NoticeContext,
    NoticeWriter,
    production,
    who,
)

SINGLE: tuple[type[NoticeWriter[Any]], ...] = (
    ConfirmFailure,
    CheckFailed,
    WrongStock,
    PatchOrder,
    WarningRepeated,
    Recovered,
    CheckDue,
    DueSoon,
    NeverRun,
    FileUnscored,
    EventsRefused,
    CertificateExpired,
    ServiceTrouble,
    NothingArrived,
    RulesChanged,
)
"""Those of every other kind."""


class Summary(NoticeWriter[SummaryPayload]):
    """Many notices that waited, or those of a day: the most pressing first."""

    kind = NoticeKind.SUMMARY
    name = msg("Summary")

    TITLE = msg("Summary: {count} notices")
    TITLE_EMPTY = msg("Summary: nothing to be done")
    SEE_EACH = msg("each notice says whether it may go on; the most pressing come first.")
    HEADING = msg("What this is about")
    LINE = msg("{title} (sentinel notify show {key})")
    EMPTY = msg("Nothing is due, nothing is open, nothing waits.")

    def write(self, told: SummaryPayload, context: NoticeContext) -> Draft:
        entries = [each if isinstance(each, Mapping) else {} for each in told.notices]
        composed = [context.compose(each.get("kind"), each.get("facts"), each.get("key")) for each in entries]
        lines = [self.LINE.format(title=each.document.title, key=each.document.key) for each in composed]
        faults = tuple(fault for each in composed for fault in each.faults)
        if not lines:
            what = paragraph(SectionRole.WHAT, self.EMPTY)
            return Draft(self.TITLE_EMPTY, [who(NOBODY), production(GO_ON), what], faults=faults)
        held = self._held(composed, context)
        may = production(held[0].lines[0] if held else self.SEE_EACH)
        sections = [who(ANYBODY), may, bullets(SectionRole.WHAT, self.HEADING, lines)]
        return Draft(self.TITLE.format(count=len(lines)), sections, bool(held), faults)

    def _held(self, composed: list[ComposedNotice], context: NoticeContext) -> list[Section[str]]:
        """What urgent ones say of production, first what holds prints."""
        urgent = (each.document for each in composed if each.document.urgent)
        held = [section for document in urgent for section in document.of(SectionRole.PRODUCTION)]
        return sorted(held, key=lambda section: section.lines != (context.localizer.text(HOLD),))

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import ZONE

        told = [
            {
                "kind": each.kind.value,
                "key": f"incident-{number}-opened",
                "facts": next(iter(each().samples().values())),
            }
            for number, each in enumerate(SINGLE, 1)
        ]
        return {"a summary": {"notices": told, **ZONE}, "an empty summary": {"notices": [], **ZONE}}
