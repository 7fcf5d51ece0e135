"""A sign of life to somebody outside: a URL that is called as long as all is well. The URL is a secret."""

from __future__ import annotations

import http.client
import threading
import urllib.request

import structlog

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
