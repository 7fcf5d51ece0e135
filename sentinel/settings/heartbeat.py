"""The sign of life that somebody else watches."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from sentinel.settings.base import FilePath, Part


class Heartbeat(Part):
    """A URL that is called as long as all is well; being a secret, it is never in this file."""

    url_file: FilePath | None = None
    """A file with the URL, readable by the service alone."""
    url_env: Annotated[str, Field(pattern=r"^[A-Za-z_][A-Za-z0-9_]*$")] | None = None
    """An environment variable that holds the URL."""
    url_credential: Annotated[str, Field(pattern=r"^[A-Za-z0-9._-]+$")] | None = None
    """The name of a systemd credential that holds the URL."""
    timeout_seconds: Annotated[float, Field(gt=0, le=60)] = 5.0
    """How long one call may take."""

    @model_validator(mode="after")
    def _one_place(self) -> Heartbeat:
        given = [key for key in ("url_file", "url_env", "url_credential") if getattr(self, key) is not None]
        if len(given) != 1:
            said = " and ".join(given) or "none; without a heartbeat, leave the table out"
            raise ValueError(f"expected exactly one of url_file, url_env and url_credential, got {said}")
        return self
