"""Words for trouble of the service itself: a title, what it is, why it is believed, and what to do."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sentinel.core.kinds import Trouble

TITLES: Mapping[Trouble, str] = {
    Trouble.DROP_FOLDER_MISSING: "drop folder missing",
    Trouble.STORE_REFUSES: "the store takes no records",
    Trouble.SETTINGS_REFUSED: "changed settings refused",
    Trouble.RECIPIENT_DEAD: "a recipient is out of reach",
    Trouble.CLOCK_JUMPED: "the clock jumped",
}

WHAT: Mapping[Trouble, str] = {
    Trouble.DROP_FOLDER_MISSING: "The drop folder {about} cannot be listed.",
    Trouble.STORE_REFUSES: "The store does not take what is to be recorded: {detail}.",
    Trouble.SETTINGS_REFUSED: "A changed settings file was refused, and the last good one stays in force: {detail}",
    Trouble.RECIPIENT_DEAD: "{about} has taken nothing since {detail}, though it was tried.",
    Trouble.CLOCK_JUMPED: "The time of day jumped by {detail} against the time that passed.",
}

WHY: Mapping[Trouble, str] = {
    Trouble.DROP_FOLDER_MISSING: "It is looked for at every scan. A network share may be away for a moment.",
    Trouble.RECIPIENT_DEAD: "It was tried several times; its address, its password or the network may be wrong.",
    Trouble.CLOCK_JUMPED: "Somebody set the clock, or the machine slept.",
}

STEPS: Mapping[Trouble, tuple[str, ...]] = {
    Trouble.DROP_FOLDER_MISSING: (
        "See whether the share is mounted and the service may read it.",
        "What lies there is taken once the folder is back; nothing need be dropped again.",
    ),
    Trouble.STORE_REFUSES: (
        "Make room on its disk, or mend its permissions.",
        "Files stay in the drop folder until then; nothing is lost.",
    ),
    Trouble.SETTINGS_REFUSED: ("Run `sentinel config check`, mend what it names, and save the file again.",),
    Trouble.RECIPIENT_DEAD: (
        "Run `sentinel notify test` for this recipient.",
        "`sentinel notify list` shows what waits for it; it is tried again by itself.",
    ),
    Trouble.CLOCK_JUMPED: (
        "See whether the machine slept, and whether a time server sets its clock.",
        "Look at the times of the checks of that hour.",
    ),
}


def trouble_facts(trouble: Trouble, about: str = "", detail: str = "") -> dict[str, Any]:
    """The facts of a notice of trouble. `about` is what is in trouble, `detail` what is known of it."""
    return {
        "trouble": trouble.value,
        "about": about,
        "title": f"{TITLES[trouble]}: {about}" if about else TITLES[trouble],
        "what": WHAT[trouble].format(about=about, detail=detail),
        "why": WHY.get(trouble, ""),
        "steps": list(STEPS[trouble]),
    }
