"""Several notices in one, and what such a summary is made of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.payloads import Envelope, FileGroup, FilesTogether, SummaryPayload, UndeliveredTogether
from sentinel.core.message import Message, Quantity, Text, UnitOfMeasure, msg
from sentinel.render.notices.document import Draft, Section, SectionRole, bullets, paragraph
from sentinel.render.notices.kinds.drift import DriftConfirmed
from sentinel.render.notices.kinds.due_checks import CheckDue, DueSoon, NeverRun
from sentinel.render.notices.kinds.files import NOT_TOUCHED, EventsRefused, FileUnscored
from sentinel.render.notices.kinds.rules import RulesChanged
from sentinel.render.notices.kinds.service import (
    CertificateExpired,
    NothingArrived,
    ServiceTrouble,
    restored_sections,
)
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
    MEASURER,
    NOBODY,
    OF,
    PRODUCTION,
    STEPS,
    ComposedNotice,
    Facts,
    NoticeContext,
    NoticeWriter,
    answer,
    by_name,
    production,
    who,
)

SINGLE: tuple[type[NoticeWriter[Any]], ...] = (
    ConfirmFailure,
    CheckFailed,
    WrongStock,
    PatchOrder,
    WarningRepeated,
    DriftConfirmed,
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


MOST_NUMBERS = 12
"""So many cases of files that came together are told by their numbers."""

STEPS_WITHIN = 3
"""So many steps of each notice a summary tells."""

MOST_PARTS = 12
"""So many notices, the most pressing, a summary tells in part; the others by name, so that a mail names every one."""


class Summary(NoticeWriter[SummaryPayload]):
    """Many notices that waited, or those of a day: the most pressing first."""

    kind = NoticeKind.SUMMARY
    name = msg("Summary")

    TITLE = msg("{count} notices: {first}")
    TITLE_EMPTY = msg("Summary: nothing to be done")
    SEE_EACH = msg("each part below says whether it may go on; the most pressing come first.")
    WHOLE = msg("Whole, with every step: sentinel notify show {key}")
    EMPTY = msg("Nothing is due, nothing is open, nothing waits.")

    RESTORED = msg("Store restored: {count} notices in one")

    TITLE_LOST = msg("{count} notice was not delivered", "{count} notices were not delivered")
    SEE_OPEN = msg("may go on; see first what is open: of some of it you have not heard.")
    LOST = msg(
        "{count} notice was not delivered, posted between {first} and {last}",
        "{count} notices were not delivered, posted between {first} and {last}",
    )
    SUBJECT = msg("{title} ({key})")
    MORE_LOST = msg("… and {count} other before these", "… and {count} others before these")
    OUT_OF_REACH = msg("This recipient took nothing for so long that they were given up. Some may be over by now.")
    CAME_LATE = msg(
        "{count} notice came after all, up to {span} late.", "{count} notices came after all, up to {span} late."
    )
    SEE_CASES = msg("Look at what is open: `sentinel cases`, `sentinel status`.")
    SEND_AGAIN = msg("Read one whole: `sentinel notify show KEY`. Have all sent again: `sentinel notify retry`.")

    FILES = msg("{count} files not scored")
    EVENTS = msg("{count} files of events not taken")
    CAME_TOGETHER = msg("What they have in common")
    IN_FOLDER = msg(
        "{count} file in folder {folder}: {reason} ({names})", "{count} files in folder {folder}: {reason} ({names})"
    )
    AT_TOP = msg(
        "{count} file at the top of the folder: {reason} ({names})",
        "{count} files at the top of the folder: {reason} ({names})",
    )
    NO_REASON = msg("no reason is on record")
    NAMES_AND_MORE = msg("{names} … and {count} more file", "{names} … and {count} more files")
    OTHERS = msg(
        "… and {count} more file, in another folder or for another reason",
        "… and {count} more files, in other folders or for other reasons",
    )
    WHOLE_LIST = msg(
        "`sentinel notify list` names every one; those put aside lie in the put-aside folder, each with its reason "
        "beside it."
    )
    MEND_CAUSE = msg("Look at one file of each line first: what came together mostly has one cause.")
    EACH_A_CASE = msg(
        "Each file is a case with its number: `sentinel cases` lists them. Whoever sees to them says so: "
        "sentinel ack NUMBER … --by NAME"
    )
    GATHERED = msg("More of the kind is told together too, and more rarely while it goes on.")

    def write(self, told: SummaryPayload, context: NoticeContext) -> Draft:
        if told.files is not None:
            return self._of_files(told.files, told.notices)
        if told.undelivered is not None:
            return self._of_undelivered(told.undelivered, told.notices, context)
        entries = [each if isinstance(each, Mapping) else {} for each in told.notices]
        composed = [context.compose(each.get("kind"), each.get("facts"), each.get("key")) for each in entries]
        faults = tuple(fault for each in composed for fault in each.faults)
        if not composed:
            what = paragraph(SectionRole.WHAT, self.EMPTY)
            return Draft(self.TITLE_EMPTY, [who(NOBODY), production(GO_ON), what], faults=faults)
        held = self._held(composed, context)
        may = production(held[0].lines[0] if held else self.SEE_EACH)
        title, parts = self.TITLE, [*map(self._part, composed[:MOST_PARTS]), by_name(composed[MOST_PARTS:])]
        if told.restored is not None:
            *restored, advice = restored_sections(told.restored)
            title, parts = self.RESTORED, [*restored, *parts, advice]
        first = composed[0].document
        named = title.format(count=len(composed), first=first.title, place=first.place)
        return Draft(named, [who(ANYBODY), may, *parts], bool(held), faults)

    def _part(self, each: ComposedNotice) -> Section[Text]:
        """What a notice within says by itself: what happened, whether production goes on, the first things to do, and
        how to answer."""
        document = each.document
        lines = [
            OF.format(what=PRODUCTION, about=line) if role is SectionRole.PRODUCTION else line
            for role in (SectionRole.WHAT, SectionRole.PRODUCTION, SectionRole.STEPS, SectionRole.ANSWER)
            for section in document.of(role)[:1]
            for line in (section.lines if role is SectionRole.WHAT else section.lines[:STEPS_WITHIN])
        ]
        return bullets(SectionRole.WHAT, document.title, [*lines, self.WHOLE.format(key=document.key)])

    def _of_files(self, files: FilesTogether, entries: Sequence[Any]) -> Draft:
        of_events = files.kind == NoticeKind.EVENTS_REFUSED.value
        title = self.EVENTS if of_events else self.FILES
        lines = [self._line(group) for group in files.groups]
        if left := files.count - sum(group.count for group in files.groups):
            lines.append(self.OTHERS.format(count=left))
        return Draft(
            title.format(count=files.count),
            [
                who(EventsRefused.WHO if of_events else MEASURER),
                production(NOT_TOUCHED),
                bullets(SectionRole.WHAT, self.CAME_TOGETHER, lines),
                bullets(SectionRole.STEPS, STEPS, [self.MEND_CAUSE, self.WHOLE_LIST, self.GATHERED]),
                *([] if of_events else self._answer(_numbers(entries))),
            ],
        )

    def _answer(self, numbers: Sequence[int]) -> list[Section[Text]]:
        if len(numbers) > MOST_NUMBERS:
            return [paragraph(SectionRole.ANSWER, self.EACH_A_CASE)]
        return answer(numbers)

    def _of_undelivered(self, lost: UndeliveredTogether, notices: Sequence[Any], context: NoticeContext) -> Draft:
        entries = [each if isinstance(each, Mapping) else {} for each in notices]
        composed = [context.compose(each.get("kind"), each.get("facts"), each.get("key")) for each in entries]
        lines: list[Text] = [self.SUBJECT.format(title=each.document.title, key=each.document.key) for each in composed]
        if left := lost.count - len(composed):
            lines.append(self.MORE_LOST.format(count=left))
        first, last = context.local(lost.first), context.local(lost.last)
        late = Quantity(round(lost.latest_hours, 1), UnitOfMeasure.HOUR)
        after_all = self.CAME_LATE.format(count=lost.late, span=late) if lost.late else ""
        return Draft(
            self.TITLE_LOST.format(count=lost.count),
            [
                who(ANYBODY),
                production(self.SEE_OPEN),
                bullets(SectionRole.WHAT, self.LOST.format(count=lost.count, first=first, last=last), lines),
                paragraph(SectionRole.WHY, self.OUT_OF_REACH),
                paragraph(SectionRole.WHY, after_all),
                bullets(SectionRole.STEPS, STEPS, [self.SEE_CASES, self.SEND_AGAIN]),
            ],
            faults=tuple(fault for each in composed for fault in each.faults),
        )

    def _line(self, group: FileGroup) -> Message:
        names: Message | str = ", ".join(group.names)
        if left := group.count - len(group.names):
            names = self.NAMES_AND_MORE.format(names=names, count=left)
        reason = group.reason.message if group.reason else self.NO_REASON
        if group.folder is None:
            return self.AT_TOP.format(count=group.count, reason=reason, names=names)
        return self.IN_FOLDER.format(count=group.count, folder=group.folder, reason=reason, names=names)

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
                "key": f"case-{number}-opened",
                "facts": next(iter(each().samples().values())),
            }
            for number, each in enumerate(SINGLE, 1)
        ]
        files = [each for each in told if each["kind"] == NoticeKind.FILE_UNSCORED.value]
        return {
            "a summary": {"notices": told, **ZONE},
            "an empty summary": {"notices": [], **ZONE},
            "what waited when the store was restored": {
                "notices": told[:2],
                "restored": {"trouble": "store-restored", "about": "2026-07-06 03:00 UTC", "detail": "12 files."},
                **ZONE,
            },
            "notices that were not delivered": {
                "notices": told[:3],
                "undelivered": {
                    "count": 12,
                    "first": "2026-07-06T08:30:00+00:00",
                    "last": "2026-07-16T14:05:00+00:00",
                    "late": 2,
                    "latest_hours": 30.5,
                },
                **ZONE,
            },
            "files that came together": {"notices": files, "files": _many_files(NoticeKind.FILE_UNSCORED), **ZONE},
            "files of events that came together": {
                "notices": [],
                "files": _many_files(NoticeKind.EVENTS_REFUSED),
                **ZONE,
            },
        }


def _numbers(entries: Sequence[Any]) -> list[int]:
    """Of the cases that these notices tell of."""
    facts = [each.get("facts") for each in entries if isinstance(each, Mapping)]
    return [number for each in facts if each is not None for number in Envelope.from_json(each).cases or ()]


def _many_files(kind: NoticeKind) -> Facts:
    from sentinel.render.notices.samples import FILE

    reason = FILE["reasons"][0]
    groups = [
        {"folder": "north/satin-240", "reason": reason, "count": 480, "names": ["sheet-1.txt", "sheet-2.txt"]},
        {"folder": None, "reason": None, "count": 1, "names": ["scribble.txt"]},
    ]
    return {"kind": kind.value, "count": 500, "groups": groups}
