"""The text beside a file that was put aside."""

from __future__ import annotations

from sentinel.core.records import UnscoredFile
from sentinel.render.advice import what_to_do_with_file


def reason_text(record: UnscoredFile) -> str:
    """Why the file was not scored and what to do, for whoever opens the folder."""
    reasons = "\n".join(f"- {reason.message} ({reason.code})" for reason in record.reasons)
    advice = "\n".join(f"- {line}" for line in what_to_do_with_file([reason.code.value for reason in record.reasons]))
    return (
        f"{record.file_name} was not scored.\n"
        f"Arrived: {record.arrived_at:%Y-%m-%d %H:%M} UTC, in folder: {record.folder_clue or '(top)'}\n\n"
        f"Why:\n{reasons}\n\nWhat to do:\n{advice}\n"
    )
