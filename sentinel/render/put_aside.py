"""The text beside a file that was put aside, in the language of the house, for whoever opens the folder."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from sentinel.core.conditions.checks import UnscoredFile
from sentinel.core.message import Message, Text, joined, msg, visible
from sentinel.core.verdict import Reason
from sentinel.render.localizer import IN_ENGLISH, CldrLocalizer
from sentinel.render.notices.document import HEADED
from sentinel.render.notices.writer import REASONS, STEPS
from sentinel.render.remedies import what_to_do_with_events, what_to_do_with_file

MOST_FAULTS = 20
"""So many faults of a file are told, and the rest counted."""

NOT_SCORED = msg("{file} was not scored.")
NOT_TAKEN = msg("No event of {file} was taken.")
ARRIVED = msg("Arrived: {time}")
ARRIVED_IN = msg("Arrived: {time}, in folder: {folder}")
TOP = msg("(top)")
MORE = msg("and {count} more fault", "and {count} more faults")


def reason_text(record: UnscoredFile, arrived: datetime, localizer: CldrLocalizer = IN_ENGLISH) -> str:
    """Why the file was not scored and what to do; `arrived` is in the site's zone."""
    head = [
        NOT_SCORED.format(file=record.file_name),
        ARRIVED_IN.format(time=arrived, folder=record.folder_clue or TOP),
    ]
    steps = what_to_do_with_file([reason.code.value for reason in record.reasons])
    return _text(head, [_with_code(reason) for reason in record.reasons], steps, localizer)


def refused_text(file: str, faults: Sequence[Message], arrived: datetime, localizer: CldrLocalizer = IN_ENGLISH) -> str:
    """Why no event of a file was taken and what to do; `arrived` is in the site's zone."""
    more = len(faults) - MOST_FAULTS
    told = [*faults[:MOST_FAULTS], *([MORE.format(count=more)] if more > 0 else [])]
    head = [NOT_TAKEN.format(file=file), ARRIVED.format(time=arrived)]
    return _text(head, told, what_to_do_with_events(), localizer)


def _with_code(reason: Reason) -> Message:
    return joined(" ", [reason.message, f"({reason.code})"])


def _text(head: Iterable[Text], reasons: Iterable[Text], steps: Iterable[Text], localizer: CldrLocalizer) -> str:
    def listed(heading: Message, lines: Iterable[Text]) -> str:
        return "\n".join(
            [localizer.text(HEADED.format(words=heading)), *(f"- {localizer.text(line)}" for line in lines)]
        )

    top = "\n".join(map(localizer.text, head))
    return visible(f"{top}\n\n{listed(REASONS, reasons)}\n\n{listed(STEPS, steps)}\n")
