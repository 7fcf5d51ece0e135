"""A file between being read and being written down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sentinel.core.assessment import Assessment


@dataclass(frozen=True, slots=True)
class Arrival:
    """A file that came and what was made of it.

    `sha256` is None where it could not be read; `origin` is that of core.files.Found; `aside_name` is free in the
    put-aside folder; `left` says that the file stays where it is.
    """

    sha256: str | None
    file_name: str
    folder: str
    file_time: datetime
    origin: str
    aside_name: str
    left: bool
    assessments: Sequence[Assessment]

    @property
    def checks(self) -> list[Assessment]:
        """Those that are kept as checks, with a verdict on the colour or with one withheld."""
        return [assessment for assessment in self.assessments if assessment.recorded]
