"""Notices of files that were not taken: of measurements, of events."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from typing import ClassVar

from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.payloads import RefusedFileCase
from sentinel.core.message import Message, Text, msg
from sentinel.core.verdict import Code
from sentinel.render.notices.document import Draft, SectionRole, bullets, paragraph
from sentinel.render.notices.writer import (
    MEASURER,
    REASONS,
    STEPS,
    Facts,
    NoticeContext,
    NoticeWriter,
    production,
    who,
)
from sentinel.render.remedies import what_to_do_with_events, what_to_do_with_file

NOT_TOUCHED = msg("is not touched by this: no state was changed.")
SET_ASIDE = msg(
    "It goes into the put-aside folder as {name}, with its reason beside it; where that folder does not take it, it "
    "stays where it came, and that is told apart. No state was changed by it."
)
UNREAD = {Code.NOT_A_FILE.value, Code.LINK_NOT_FOLLOWED.value, Code.NO_PERMISSION.value, Code.TOO_LARGE.value}
"""The bytes of such a file were not read, and are not in the archive."""


class RefusalWriter(NoticeWriter[RefusedFileCase]):
    """Says which file it was, why it was not taken, and what to do."""

    TITLE: ClassVar[Message]
    WHO: ClassVar[Message]
    IN_FOLDER: ClassVar[Message]
    AT_TOP: ClassVar[Message]
    STAYED: ClassVar[Text]
    STAYED_UNREAD: ClassVar[Text]

    def write(self, told: RefusedFileCase, context: NoticeContext) -> Draft:
        kept = told.set_aside_as
        return Draft(
            self.TITLE.format(file=told.file_name),
            [
                who(self.WHO),
                production(NOT_TOUCHED),
                paragraph(SectionRole.WHAT, self._came(told, context)),
                bullets(SectionRole.WHY, REASONS, (reason.message for reason in told.reasons)),
                bullets(SectionRole.STEPS, STEPS, self.steps(told)),
                paragraph(SectionRole.STEPS, self._stayed(told) if kept is None else SET_ASIDE.format(name=kept)),
            ],
        )

    def _stayed(self, told: RefusedFileCase) -> Text:
        return self.STAYED_UNREAD if UNREAD & {reason.code for reason in told.reasons} else self.STAYED

    def _came(self, told: RefusedFileCase, context: NoticeContext) -> Message:
        where = {"folder": told.folder} if told.folder else {}
        came = self.IN_FOLDER if told.folder else self.AT_TOP
        return came.format(file=told.file_name, **where, time=context.local(told.arrived_at))

    @abstractmethod
    def steps(self, told: RefusedFileCase) -> list[Message]:
        """What to do with the file."""


class FileUnscored(RefusalWriter):
    """A file that could not be scored."""

    kind = NoticeKind.FILE_UNSCORED
    name = msg("File not scored")

    TITLE = msg("File not scored: {file}")
    WHO = MEASURER
    IN_FOLDER = msg("{file} came in folder {folder} at {time} and was not scored.")
    AT_TOP = msg("{file} came at the top of the drop folder at {time} and was not scored.")
    STAYED = msg("It stays in the drop folder, and a copy is in the archive. No state was changed by it.")
    STAYED_UNREAD = msg("It stays in the drop folder, and was not read. No state was changed by it.")

    def steps(self, told: RefusedFileCase) -> list[Message]:
        return what_to_do_with_file([reason.code for reason in told.reasons])

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import FILE

        return {"a file put aside": FILE, "a file that was left": {**FILE, "folder": "", "set_aside_as": None}}


class EventsRefused(RefusalWriter):
    """A file of events of which none was taken."""

    kind = NoticeKind.EVENTS_REFUSED
    name = msg("Events not taken")

    TITLE = msg("Events not taken: {file}")
    WHO = msg("whoever saved this file of events")
    IN_FOLDER = msg("{file} came in folder {folder} at {time}, and no event of it was taken.")
    AT_TOP = msg("{file} came in the events folder at {time}, and no event of it was taken.")
    STAYED = STAYED_UNREAD = ""

    def steps(self, told: RefusedFileCase) -> list[Message]:  # noqa: ARG002
        return what_to_do_with_events()

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import FILE

        return {"a file of events": {**FILE, "file_name": "events.csv"}}
