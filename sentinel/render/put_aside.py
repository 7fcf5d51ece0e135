"""The text beside a file that was put aside."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from sentinel.core.records import UnscoredFile
from sentinel.render.advice import what_to_do_with_file


def reason_text(record: UnscoredFile, zone: ZoneInfo) -> str:
    """Why the file was not scored and what to do, for whoever opens the folder."""
    reasons = "\n".join(f"- {reason.message} ({reason.code})" for reason in record.reasons)
    advice = "\n".join(f"- {line}" for line in what_to_do_with_file([reason.code.value for reason in record.reasons]))
    arrived = f"{record.arrived_at.astimezone(zone):%Y-%m-%d %H:%M %Z}"
    return (
        f"{record.file_name} was not scored.\n"
        f"Arrived: {arrived}, in folder: {record.folder_clue or '(top)'}\n\n"
        f"Why:\n{reasons}\n\nWhat to do:\n{advice}\n"
    )
