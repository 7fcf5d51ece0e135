"""Who is told what, and how long the sentinel keeps trying."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from sentinel.core.incidents import NoticeKind
from sentinel.settings.base import FilePath, Part, Positive

_Kind = Annotated[NoticeKind, Field(strict=False)]


class Recipient(Part):
    """Where to tell somebody; the URL, being a secret, is never in this file."""

    url_file: FilePath | None = None
    """A file with one apprise URL a line, readable by the service alone."""
    url_env: Annotated[str, Field(pattern=r"^[A-Za-z_][A-Za-z0-9_]*$")] | None = None
    """An environment variable that holds the URL."""
    url_credential: Annotated[str, Field(pattern=r"^[A-Za-z0-9._-]+$")] | None = None
    """The name of a systemd credential that holds the URL."""
    kinds: Annotated[tuple[_Kind, ...], Field(strict=False)] = tuple(NoticeKind)
    """What this recipient is told; everything where nothing is said."""

    @model_validator(mode="after")
    def _one_place(self) -> Recipient:
        given = [k for k in (self.url_file, self.url_env, self.url_credential) if k is not None]
        if len(given) != 1:
            raise ValueError("expected exactly one of url_file, url_env and url_credential")
        return self


class Notices(Part):
    retry_seconds: Positive = 10.0
    """The wait before the second try; it doubles from try to try."""
    retry_ceiling_seconds: Positive = 900.0
    """The longest wait between two tries."""
    give_up_hours: Annotated[float, Field(gt=0, le=876_000)] = 72.0
    """A notice that could not be delivered for this long is given up, which `status` shows."""
    timeout_seconds: Annotated[float, Field(gt=0, le=60)] = 10.0
    """How long one try may take."""
