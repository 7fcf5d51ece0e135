"""Words for trouble of the service itself: a title, what it is, why it is believed, and what to do."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from sentinel.core.cases.kinds import Trouble
from sentinel.core.message import Message, Text, Value, msg

TITLES: Mapping[Trouble, Message] = {
    Trouble.DROP_FOLDER_MISSING: msg("drop folder missing"),
    Trouble.STORE_REFUSES: msg("the store takes no records"),
    Trouble.ARCHIVE_REFUSES: msg("the archive takes no files"),
    Trouble.SETTINGS_REFUSED: msg("changed settings refused"),
    Trouble.RECIPIENT_DEAD: msg("a recipient is out of reach"),
    Trouble.CLOCK_JUMPED: msg("the clock jumped"),
}

OF = msg("{what}: {about}")

WHAT: Mapping[Trouble, Message] = {
    Trouble.DROP_FOLDER_MISSING: msg("The drop folder {about} cannot be listed."),
    Trouble.STORE_REFUSES: msg("The store does not take what is to be recorded: {detail}."),
    Trouble.ARCHIVE_REFUSES: msg("The archive {about} does not take a file that came: {detail}."),
    Trouble.SETTINGS_REFUSED: msg(
        "A changed settings file was refused, and the last good one stays in force: {detail}"
    ),
    Trouble.RECIPIENT_DEAD: msg("{about} has taken nothing since {detail}, though it was tried."),
    Trouble.CLOCK_JUMPED: msg("The time of day jumped by {detail} seconds against the time that passed."),
}

WHY: Mapping[Trouble, Message] = {
    Trouble.DROP_FOLDER_MISSING: msg("It is looked for at every scan. A network share may be away for a moment."),
    Trouble.ARCHIVE_REFUSES: msg(
        "No file is judged before its bytes are in the archive. It is tried again, more rarely each time."
    ),
    Trouble.RECIPIENT_DEAD: msg("It was tried several times; its address, its password or the network may be wrong."),
    Trouble.CLOCK_JUMPED: msg("Somebody set the clock, or the machine slept."),
}

STEPS: Mapping[Trouble, tuple[Message, ...]] = {
    Trouble.DROP_FOLDER_MISSING: (
        msg("See whether the share is mounted and the service may read it."),
        msg("What lies there is taken once the folder is back; nothing need be dropped again."),
    ),
    Trouble.STORE_REFUSES: (
        msg("Make room on its disk, or mend its permissions."),
        msg("Files stay in the drop folder until then; nothing is lost."),
    ),
    Trouble.ARCHIVE_REFUSES: (
        msg("Make room on its disk, or mend its permissions."),
        msg("Files stay in the drop folder until then, and are taken by themselves within a quarter of an hour."),
    ),
    Trouble.SETTINGS_REFUSED: (msg("Run `sentinel config check`, mend what it names, and save the file again."),),
    Trouble.RECIPIENT_DEAD: (
        msg("Run `sentinel notify test` for this recipient."),
        msg("`sentinel notify list` shows what waits for it; it is tried again by itself."),
    ),
    Trouble.CLOCK_JUMPED: (
        msg("See whether the machine slept, and whether a time server sets its clock."),
        msg("Look at the times of the checks of that hour."),
    ),
}


class Words(NamedTuple):
    """`why` is empty where there is nothing to say."""

    title: Message
    what: Message
    why: Text
    steps: tuple[Message, ...]


def words(facts: Mapping[str, Any]) -> Words:
    """What is said of the facts of a trouble: `trouble`, what it is `about`, the `detail` that is known of it."""
    trouble, about = Trouble(facts["trouble"]), facts["about"]
    title = OF.format(what=TITLES[trouble], about=about) if about else TITLES[trouble]
    what = WHAT[trouble].format(about=about, detail=_detail(trouble, facts))
    return Words(title, what, WHY.get(trouble, ""), STEPS[trouble])


def _detail(trouble: Trouble, facts: Mapping[str, Any]) -> Value:
    detail: str = facts["detail"]
    if trouble is Trouble.RECIPIENT_DEAD and detail:
        return datetime.fromisoformat(detail).astimezone(ZoneInfo(facts["timezone"]))
    return detail
