"""What is in a file, what the reader made of it, and the clean file written anew."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sentinel.application.sources import file_bytes
from sentinel.core.measurement.cgats import Survey, survey, write
from sentinel.errors import AdminError
from sentinel.ports import Files
from sentinel.settings.site import LARGEST_MB


@dataclass(frozen=True, slots=True)
class Inspected:
    """A file's bytes, and what was read of them past every fault."""

    data: bytes
    survey: Survey


def inspect_file(files: Files, path: Path) -> Inspected:
    """Needs no settings. Raises AdminError where the file cannot be had."""
    data = file_bytes(files, path, LARGEST_MB, "a measurement file")
    return Inspected(data, survey(data))


def rewrite_file(files: Files, out: Path, inspected: Inspected) -> None:
    """Writes the clean file of one that has no fault. Raises AdminError where it cannot be written."""
    try:
        files.write_new(out, write(inspected.survey.document))
    except OSError as fault:
        raise AdminError(f"expected a new file to be written at {out}, got: {fault.strerror}") from None
