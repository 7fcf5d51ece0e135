"""Notices of instruments and of the sentinel itself: certificates, silence, trouble and its end."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import NamedTuple

from sentinel.core.cases.kinds import NoticeKind, Part, Trouble
from sentinel.core.cases.payloads import ArrivalsCase, CertificateCase, TroubleCase
from sentinel.core.message import Message, Quantity, Text, UnitOfMeasure, Value, msg
from sentinel.render.notices.document import Draft, Section, SectionRole, bullets, paragraph, steps
from sentinel.render.notices.writer import (
    ADMIN,
    GO_ON,
    LEAD,
    NOBODY,
    OF,
    STEPS,
    STEPS_IN_ORDER,
    UNWATCHED,
    Facts,
    NoticeContext,
    NoticeWriter,
    production,
    who,
)
from sentinel.render.remedies import certifying, looking_for_files


class CertificateExpired(NoticeWriter[CertificateCase]):
    """An instrument past its certificate."""

    kind = NoticeKind.CERTIFICATE_EXPIRED
    name = msg("Certificate has expired")

    TITLE = msg("Instrument {instrument}: certificate has expired")
    READINGS_DOUBTFUL = msg("may go on; checks by this instrument carry a remark until it is certified again.")
    WHAT = msg("The certificate of instrument {instrument} was valid until {day}.")

    def write(self, told: CertificateCase, context: NoticeContext) -> Draft:  # noqa: ARG002
        return Draft(
            self.TITLE.format(instrument=told.instrument),
            [
                who(LEAD),
                production(self.READINGS_DOUBTFUL),
                paragraph(SectionRole.WHAT, self.WHAT.format(instrument=told.instrument, day=told.day)),
                bullets(SectionRole.STEPS, STEPS, certifying()),
            ],
        )

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import ZONE

        return {"an instrument": {"instrument": "4711", "day": "2026-06-30", **ZONE}}


class TroubleWords(NamedTuple):
    """What one trouble is called, what it is, why it is believed, and what to do; `why` may be empty."""

    title: Message
    what: Message
    why: Text
    steps: tuple[Message, ...]


TROUBLES: Mapping[Trouble, TroubleWords] = {
    Trouble.DROP_FOLDER_MISSING: TroubleWords(
        msg("drop folder missing"),
        msg("The drop folder {about} cannot be listed."),
        msg("It is looked for at every scan. A network share may be away for a moment."),
        (
            msg("See whether the share is mounted and the service may read it."),
            msg("What lies there is taken once the folder is back; nothing need be dropped again."),
        ),
    ),
    Trouble.STORE_REFUSES: TroubleWords(
        msg("the store takes no records"),
        msg("The store does not take what is to be recorded: {detail}."),
        "",
        (
            msg("Make room on its disk, or mend its permissions."),
            msg("Files stay in the drop folder until then; nothing is lost."),
            msg("Where it is said to be malformed, or no database: stop the service and run `sentinel store restore`."),
        ),
    ),
    Trouble.STORE_UNOPENED: TroubleWords(
        msg("the store cannot be opened"),
        msg("The service could not begin its work: {detail}."),
        msg("It is tried again every few seconds, and told again once a day at most."),
        (
            msg("See whether its disk is mounted, has room, and may be written by the service."),
            msg("Files stay in the drop folder until then; nothing is lost."),
        ),
    ),
    Trouble.STORE_DAMAGED: TroubleWords(
        msg("the store is damaged"),
        msg("The store was found to be damaged: {detail}."),
        msg("Disks and cables fail, and a copy of the file taken while the service runs may be torn."),
        (
            msg("Look at the disk first: it may damage the restored store as well."),
            msg("Stop the service, run `sentinel store restore`, and start it again."),
            msg("It takes the newest good backup, reads again what came since, and keeps the damaged file."),
        ),
    ),
    Trouble.STORE_LOST: TroubleWords(
        msg("the store is missing"),
        msg("There is no store where the settings look for it, though there was one: {detail}."),
        msg("An empty one in its place would forget every check, so the service waits instead."),
        (
            msg("See whether its disk is mounted, and whether `path` of `[store]` in the settings is right."),
            msg(
                "Where it is gone: `sentinel store restore` takes the newest good backup, reads again what came since."
            ),
            msg("To begin without the old records on purpose: `sentinel store begin`."),
        ),
    ),
    Trouble.STORE_RESTORED: TroubleWords(
        msg("the store was restored"),
        msg("The store was restored from its backup of {about}. {detail}"),
        msg("Whatever waited, or came up while it was read again, is told in one notice; some of it may be known."),
        (
            msg("See `sentinel cases` for what is open, and close what is settled."),
            msg("Tell again what people told by commands since the backup: events, aims, acknowledgements."),
        ),
    ),
    Trouble.BACKUP_FAILS: TroubleWords(
        msg("the store is not backed up"),
        msg("No good backup of the store could be made in {about}: {detail}."),
        msg("The backups made before are kept. It is tried again every hour."),
        (
            msg("Make room on its disk, or mend its permissions; `[store]` `backups` names another folder."),
            msg("Where the store itself is said to be damaged: stop the service and run `sentinel store restore`."),
        ),
    ),
    Trouble.ARCHIVE_DAMAGED: TroubleWords(
        msg("files of the archive are damaged or missing"),
        msg("Files in the archive {about} are no longer what was kept, or are gone: {detail}."),
        msg("Records and verdicts stand; what these files hold cannot be scored again."),
        (
            msg("Look at the disk of the archive."),
            msg("`sentinel store verify` names each file with the checks it concerns."),
            msg("Drop the same file again, or put it back from a copy: it is taken for what it was by its content."),
        ),
    ),
    Trouble.ARCHIVE_REFUSES: TroubleWords(
        msg("the archive takes no files"),
        msg("The archive {about} does not take a file that came: {detail}."),
        msg("No file is judged before its bytes are in the archive. It is tried again a few times a minute."),
        (
            msg("Make room on its disk, or mend its permissions."),
            msg("Files stay in the drop folder until then, and are taken by themselves within a minute."),
        ),
    ),
    Trouble.ARCHIVE_REPLACED: TroubleWords(
        msg("the archive was damaged"),
        msg("The archive {about} held files that were no longer what they had been: {detail}."),
        msg("Their bytes came again, or lay in a second place. Nothing is lost; the damaged ones lie in `damaged`."),
        (
            msg("Look at the disk of the archive, and at its backups: other files may be damaged, too."),
            msg("Take the damaged files away when you have looked at them; this is over then."),
        ),
    ),
    Trouble.PUT_ASIDE_REFUSES: TroubleWords(
        msg("the put-aside folder takes no files"),
        msg("The put-aside folder {about} does not take a file that could not be scored: {detail}."),
        msg("Such files stay in the drop folder meanwhile; good ones are taken as always."),
        (
            msg("Make room on its disk, or mend its permissions."),
            msg("Files are put aside by themselves within a quarter of an hour after that; nothing need be done."),
        ),
    ),
    Trouble.FILE_STAYS: TroubleWords(
        msg("a file cannot be taken away"),
        msg("All that came of a file in the drop folder {about} is on record, but it cannot be taken away: {detail}."),
        msg("It is not taken again. That is tried again by itself, more rarely each time."),
        (
            msg("See whether the service may remove files there, and whether the share is writable."),
            msg("Take the file away by hand where it is too large or no file at all."),
        ),
    ),
    Trouble.FILE_NOT_READ: TroubleWords(
        msg("a file is not readable"),
        msg("A file in the drop folder {about} is not readable: {detail}."),
        msg("It stays where it is. Others are taken as always."),
        (
            msg("Let the service read it, where the rights forbid that, or look at the disk of the folder."),
            msg("It is taken by itself once it can be read; nothing need be dropped again."),
        ),
    ),
    Trouble.TARGET_NOT_READ: TroubleWords(
        msg("an aim is not readable"),
        msg("Files wait because the aim {about} is not readable: {detail}."),
        msg("The aim's file is there, but the disk or its rights do not let it be read."),
        (
            msg("Let the service read the aim's file, or look at the disk it lies on."),
            msg("The files are scored by themselves once it can be read; nothing need be dropped again."),
        ),
    ),
    Trouble.FOLDER_NOT_LISTED: TroubleWords(
        msg("a drop folder is not looked through"),
        msg("Not everything in the drop folder {about} is looked at: {detail}."),
        msg("The rest of it is looked at as always."),
        (msg("Let the service list that folder, or take away what does not belong there."),),
    ),
    Trouble.NOT_WATCHED: TroubleWords(
        msg("the folders are not watched"),
        msg("The system does not tell the sentinel of new files: {detail}."),
        msg("The folders are listed every second instead, which takes more of the machine. No file is missed by it."),
        (
            msg("Raise the system's limit of watches (fs.inotify.max_user_watches), or remove folders nobody needs."),
            msg('Or set `watch = "polling"` in `[folders]`.'),
        ),
    ),
    Trouble.SETTINGS_REFUSED: TroubleWords(
        msg("changed settings refused"),
        msg("A changed settings file was refused, and the last good one stays in force: {detail}"),
        "",
        (msg("Run `sentinel config check`, mend what it names, and save the file again."),),
    ),
    Trouble.STARTED_ON_KEPT: TroubleWords(
        msg("settings refused at the start"),
        msg("The settings file was refused when the sentinel started: {detail}"),
        msg("It works by the settings last in force, those of {about}, and takes new ones once they are whole."),
        (
            msg("Run `sentinel config check`, mend what it names, and save the file again."),
            msg("Nothing need be started again."),
        ),
    ),
    Trouble.RECIPIENT_WITHOUT_URL: TroubleWords(
        msg("a recipient has no URL"),
        msg("{about} is told nothing, as its URL cannot be had or used: {detail}"),
        msg("The sentinel works on without it. What it is to be told waits."),
        (
            msg("Put its URL where the settings say, then see what `sentinel config check` finds."),
            msg(
                "A credential of the service manager is read when the service starts; anything else is seen by itself."
            ),
        ),
    ),
    Trouble.RECIPIENT_DEAD: TroubleWords(
        msg("a recipient is out of reach"),
        msg("{about} has taken nothing since {detail}, though it was tried."),
        msg("It was tried several times; its address, its password or the network may be wrong."),
        (
            msg("Run `sentinel notify test` for this recipient."),
            msg("`sentinel notify list` shows what waits for it; it is tried again by itself."),
        ),
    ),
    Trouble.CLOCK_JUMPED: TroubleWords(
        msg("the clock jumped"),
        msg("The time of day jumped by {detail} seconds against the time that passed."),
        msg("Somebody set the clock, or the machine slept."),
        (
            msg("See whether the machine slept, and whether a time server sets its clock."),
            msg("Look at the times of the checks of that hour."),
        ),
    ),
    Trouble.PART_FAILING: TroubleWords(
        msg("part failing"),
        msg("{about}: this part of the sentinel broke with a fault that nobody foresaw ({detail}). The others go on."),
        msg("It is tried again by itself, more rarely each time; it is over once it works again."),
        (
            msg("See the log of the service: it has the fault in full."),
            msg("Restart the service where it does not mend itself, and report the fault with that log."),
        ),
    ),
    Trouble.SERVICE_STOPPED: TroubleWords(
        msg("the watch has stopped"),
        msg("The sentinel has stopped and does not start again by itself for now ({detail})."),
        msg("Nobody is told of anything else until it runs. Files wait in the drop folder, notices in the store."),
        (
            msg("See why: `systemctl status sentinel`, and its log, `journalctl -u sentinel -e`."),
            msg(
                "Mend what it names, then `systemctl start sentinel`; it is also tried again every quarter of an hour."
            ),
        ),
    ),
}
if missing := set(Trouble) - TROUBLES.keys():
    raise TypeError(f"expected words for every trouble, got none for {', '.join(sorted(missing))}")


PARTS: Mapping[Part, Message] = {
    Part.INTAKE: msg("taking files in"),
    Part.EVENTS: msg("taking files of events in"),
    Part.WATCHING: msg("watching the folders"),
    Part.STATES: msg("deriving the states of printing conditions"),
    Part.DAILY: msg("the daily summary"),
    Part.HEALTH: msg("looking after itself"),
    Part.AGAIN: msg("scoring refused files again"),
    Part.RULES: msg("bringing records up to the rules"),
    Part.FORECASTS: msg("forecasting"),
    Part.SETTINGS: msg("loading the settings"),
    Part.DELIVERY: msg("delivering notices"),
    Part.PICTURES: msg("drawing pictures"),
    Part.HEARTBEAT: msg("giving a sign of life"),
    Part.STOREKEEPING: msg("looking after store and archive"),
    Part.LOOP: msg("going round"),
}
if unnamed := set(Part) - PARTS.keys():
    raise TypeError(f"expected words for every part, got none for {', '.join(sorted(unnamed))}")


def _called(told: TroubleCase) -> Message:
    title = TROUBLES[Trouble(told.trouble)].title
    if told.trouble == Trouble.STARTED_ON_KEPT.value or not told.about:
        return title
    return OF.format(what=title, about=_about(told))


def _about(told: TroubleCase) -> Text:
    """A part in plain words, and behind them the piece of it that it is about."""
    name, _, piece = told.about.partition(" ")
    part = next((part for part in Part if part.value == name), None)
    if told.trouble != Trouble.PART_FAILING.value or part is None:
        return told.about
    return OF.format(what=PARTS[part], about=piece) if piece else PARTS[part]


def restored_sections(told: TroubleCase) -> list[Section[Text]]:
    """That the store was restored, what that means for a notice, and what to do."""
    words = TROUBLES[Trouble.STORE_RESTORED]
    return [
        paragraph(SectionRole.WHAT, words.what.format(about=told.about, detail=told.detail)),
        paragraph(SectionRole.WHAT, words.why),
        steps(SectionRole.STEPS, STEPS, words.steps),
    ]


class ServiceTrouble(NoticeWriter[TroubleCase]):
    """Trouble of the sentinel itself."""

    kind = NoticeKind.SERVICE_TROUBLE
    name = msg("Sentinel in trouble")

    TITLE = msg("Sentinel in trouble: {what}")
    BACKGROUND = msg("Background")
    UNRECORDED = msg(
        "Since {time} no check, no event and no state has been recorded, and no other notice goes out. This one comes "
        "without the store, to the same people, and again once a day at most while it lasts; its end is told, too."
    )

    def write(self, told: TroubleCase, context: NoticeContext) -> Draft:
        words = TROUBLES[Trouble(told.trouble)]
        return Draft(
            self.TITLE.format(what=_called(told)),
            [
                who(ADMIN),
                production(UNWATCHED),
                paragraph(SectionRole.WHAT, words.what.format(about=_about(told), detail=_detail(told, context))),
                *self._unrecorded(told, context),
                paragraph(SectionRole.WHY, _why(words, told, context), self.BACKGROUND),
                steps(SectionRole.STEPS, STEPS, words.steps),
            ],
        )

    def _unrecorded(self, told: TroubleCase, context: NoticeContext) -> list[Section[Text]]:
        if told.unrecorded_since is None:
            return []
        since = context.local(told.unrecorded_since)
        return [paragraph(SectionRole.WHAT, self.UNRECORDED.format(time=since))]

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import ZONE

        known = (
            (Trouble.DROP_FOLDER_MISSING, "/srv/drop", ""),
            (Trouble.STORE_REFUSES, "", "database or disk is full"),
            (
                Trouble.STORE_UNOPENED,
                "",
                "expected a store that can be opened at /srv/store.sqlite, got: disk I/O error",
            ),
            (Trouble.STORE_DAMAGED, "", "row 17 missing from index check_by_rules"),
            (Trouble.STORE_LOST, "", "the archive has files, the store does not exist"),
            (
                Trouble.STORE_RESTORED,
                "2026-07-06 03:00 UTC",
                "12 files that came since were read again, 0 of them could not be.",
            ),
            (Trouble.BACKUP_FAILS, "/srv/backups", "No space left on device"),
            (Trouble.ARCHIVE_DAMAGED, "/srv/archive", "2 files, of checks 12, 15"),
            (Trouble.ARCHIVE_REFUSES, "/srv/archive", "No space left on device"),
            (Trouble.ARCHIVE_REPLACED, "/srv/archive", "3fa9c1.7be0"),
            (Trouble.PUT_ASIDE_REFUSES, "/srv/aside", "Read-only file system"),
            (Trouble.FILE_STAYS, "/srv/drop", "north/satin-240/sheet.txt: Permission denied"),
            (Trouble.FILE_NOT_READ, "/srv/drop", "north/satin-240/sheet.txt: Permission denied; and 2 more"),
            (
                Trouble.TARGET_NOT_READ,
                "house",
                "expected the aim house at /srv/targets/house.txt, got: Input/output error",
            ),
            (Trouble.FOLDER_NOT_LISTED, "/srv/drop", "north/old: Permission denied"),
            (Trouble.NOT_WATCHED, "", "inotify watch limit reached"),
            (Trouble.SETTINGS_REFUSED, "", "sentinel.toml:7:1: due.max_age_days: expected a number"),
            (Trouble.STARTED_ON_KEPT, "2026-07-06T08:30:00+00:00", "sentinel.toml:1:6: Expected ']'"),
            (Trouble.RECIPIENT_WITHOUT_URL, "colour-team", "recipients.colour-team: expected a readable file"),
            (Trouble.RECIPIENT_DEAD, "colour-team, URL 1", "2026-07-06T08:30:00+00:00"),
            (Trouble.CLOCK_JUMPED, "", "+3600"),
            (Trouble.SERVICE_STOPPED, "", "exit-code, exited 2"),
            (Trouble.PART_FAILING, "intake", "RecursionError: maximum recursion depth exceeded"),
        )
        facts: dict[str, Facts] = {
            trouble.value: {"trouble": trouble.value, "about": about, "detail": detail, **ZONE}
            for trouble, about, detail in known
        }
        told = {**facts[Trouble.STORE_REFUSES.value], "unrecorded_since": "2026-07-06T08:30:00+00:00"}
        return {**facts, "told without the store": told}


def _why(words: TroubleWords, told: TroubleCase, context: NoticeContext) -> Text:
    if told.trouble == Trouble.STARTED_ON_KEPT.value and isinstance(words.why, Message):
        return words.why.format(about=context.local(datetime.fromisoformat(told.about)))
    return words.why


def _detail(told: TroubleCase, context: NoticeContext) -> Value:
    if told.trouble == Trouble.RECIPIENT_DEAD.value and told.detail:
        return context.local(datetime.fromisoformat(told.detail))
    return told.detail


class NothingArrived(NoticeWriter[ArrivalsCase]):
    """No file came for so long that somebody should look."""

    kind = NoticeKind.NOTHING_ARRIVED
    name = msg("No measurement has arrived")

    TITLE = msg("No measurement for {span}")
    SINCE = msg("Nothing has arrived in the drop folders for {span} of working time; the last file came {time}.")
    EVER = msg("Nothing has arrived in the drop folders for {span} of working time.")

    def write(self, told: ArrivalsCase, context: NoticeContext) -> Draft:
        span = Quantity(told.hours, UnitOfMeasure.HOUR)
        times = {"time": context.local(told.last_at)} if told.last_at else {}
        return Draft(
            self.TITLE.format(span=span),
            [
                who(ADMIN),
                production(UNWATCHED),
                paragraph(SectionRole.WHAT, (self.SINCE if told.last_at else self.EVER).format(span=span, **times)),
                steps(SectionRole.STEPS, STEPS_IN_ORDER, looking_for_files()),
            ],
        )

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import ZONE

        return {
            "silence": {"hours": 9.0, "last_at": "2026-07-06T08:30:00+00:00", **ZONE},
            "silence from the start": {"hours": 9.0, "last_at": None, **ZONE},
        }


OVER_TITLE = msg("Over: {what}")
OVER = msg("This is over: {what}.")
SILENT = msg("no measurement files came")
ARRIVING = msg("Measurement files arrive again.")


def trouble_over(told: TroubleCase) -> Draft:
    """The end of trouble."""
    return _over(_called(told), OVER.format(what=_called(told)))


def arriving_again() -> Draft:
    """The end of silence."""
    return _over(SILENT, ARRIVING)


def _over(title: Message, what: Message) -> Draft:
    return Draft(OVER_TITLE.format(what=title), [who(NOBODY), production(GO_ON), paragraph(SectionRole.WHAT, what)])
