"""What a writer of a kind of notice hands on: all of a document but its key."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sentinel.render.notices.document import Section


class Draft(NamedTuple):
    """A title that makes sense alone; sections, of which empty ones are left out; whether somebody must run."""

    title: str
    sections: Sequence[Section | None]
    urgent: bool = False
