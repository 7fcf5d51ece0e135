"""Who is told and under which URLs, and a sign of life to somebody outside. The URLs are secrets."""

from __future__ import annotations

import http.client
import stat
import threading
import urllib.request
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import structlog

from sentinel.adapters.files.handles import read_at
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.notice_policy import Recipient, UrlPlace
from sentinel.errors import AdminError

LARGEST_BYTES = 64 * 1024
"""A file with a URL in it is no longer; no pipe and no endless file holds the service."""


class RecipientError(AdminError):
    """A recipient's URL cannot be had."""


@dataclass(frozen=True, slots=True)
class Addressee:
    """One recipient with its URLs; how it prints shows none of them."""

    name: str
    kinds: Sequence[NoticeKind]
    secret_urls: Sequence[str] = field(repr=False)
    fault: str | None = None
    """Why it cannot be reached; what it is to be told waits under its first URL."""

    @property
    def urls(self) -> int:
        """How many URLs it has."""
        return len(self.secret_urls)


def resolve(recipients: Mapping[str, Recipient], environ: Mapping[str, str]) -> list[Addressee]:
    """Every recipient with its URLs. Raises RecipientError naming each whose URL cannot be had, never the URL."""
    found = known(recipients, environ)
    if faults := [each.fault for each in found if each.fault is not None]:
        raise RecipientError("\n".join(faults))
    return found


NO_URL = ("",)


def known(recipients: Mapping[str, Recipient], environ: Mapping[str, str]) -> list[Addressee]:
    """Every recipient, with its URLs or with why they cannot be had."""
    found = []
    for name, recipient in recipients.items():
        try:
            found.append(Addressee(name, recipient.kinds, _urls(recipient.url, environ)))
        except RecipientError as fault:
            found.append(Addressee(name, recipient.kinds, NO_URL, f"recipients.{name}: {fault}"))
    return found


def heartbeat_url(place: UrlPlace | None, environ: Mapping[str, str]) -> str | None:
    """The one URL of the heartbeat, None where none is set. Raises RecipientError where it cannot be had or called."""
    if place is None:
        return None
    try:
        urls = _urls(place, environ)
    except RecipientError as fault:
        raise RecipientError(f"heartbeat: {fault}") from None
    if len(urls) != 1 or not urls[0].startswith(("http://", "https://")):
        raise RecipientError("heartbeat: expected one URL that begins with http:// or https://; it is not shown here")
    return urls[0]


def urls_in(text: str) -> list[str]:
    """One a line; a line that begins with # is a remark."""
    return [line.strip() for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]


def _urls(place: UrlPlace, environ: Mapping[str, str]) -> list[str]:
    if place.variable is not None:
        text = environ.get(place.variable, "")
        where = f"the environment variable {place.variable}"
    else:
        path = _path(place, environ)
        text, where = _read(path), str(path)
    urls = urls_in(text)
    if not urls:
        raise RecipientError(f"expected one URL a line in {where}, got none")
    return urls


def _path(place: UrlPlace, environ: Mapping[str, str]) -> Path:
    if place.file is not None:
        return place.file
    folder = environ.get("CREDENTIALS_DIRECTORY")
    if folder is None:
        raise RecipientError(f"expected the credential {place.credential} from the service manager, got none")
    return Path(folder) / (place.credential or "")


def _read(path: Path) -> str:
    try:
        if path.stat().st_mode & (stat.S_IROTH | stat.S_IWOTH):
            raise RecipientError(f"expected {path} to be closed to others (chmod 600), got a file that anyone may open")
        return read_at(path, LARGEST_BYTES).decode("utf-8")
    except OSError as fault:
        raise RecipientError(f"expected a readable file at {path}, got: {fault.strerror}") from None
    except UnicodeDecodeError:
        raise RecipientError(f"expected UTF-8 text in {path}, got other bytes") from None


log = structlog.get_logger()


class Heartbeat:
    """Calls the URL from a thread of its own, so that a server that hangs holds nothing up."""

    def __init__(self, secret_url: str, timeout_seconds: float) -> None:
        self._url = secret_url
        self._timeout = timeout_seconds
        self._due = threading.Event()
        self._stopping = False
        self._thread = threading.Thread(target=self._run, name="heartbeat", daemon=True)
        self._thread.start()

    def beat(self) -> None:
        """Asks for one call; returns at once. One that is asked for while another is under way follows it."""
        self._due.set()

    def stop(self) -> None:
        """No further call."""
        self._stopping = True
        self._due.set()

    def _run(self) -> None:
        while True:
            self._due.wait()
            self._due.clear()
            if self._stopping:
                return
            self._call()

    def _call(self) -> None:
        try:
            with urllib.request.urlopen(self._url, timeout=self._timeout):  # noqa: S310 - http and https alone, see recipients
                pass
        except (OSError, ValueError, http.client.HTTPException) as fault:
            log.warning("heartbeat not heard", fault=type(fault).__name__)  # its text may hold the URL
