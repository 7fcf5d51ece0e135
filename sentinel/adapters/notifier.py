"""Sending by apprise. Nothing it logs gets out, since some of that holds whole URLs."""

from __future__ import annotations

import logging
from collections.abc import Sequence

import apprise

from sentinel.adapters.recipients import Addressee

# apprise logs URLs of several services whole, at WARNING and below
logging.getLogger("apprise").disabled = True


class AppriseNotifier:
    """Knows every recipient's URLs and tells none."""

    def __init__(self, addressees: Sequence[Addressee], timeout_seconds: float) -> None:
        self._urls = {addressee.name: tuple(addressee.secret_urls) for addressee in addressees}
        self._timeout = timeout_seconds
        self._asset = apprise.AppriseAsset(
            app_id="Print room sentinel",
            app_desc="Print room sentinel",
            app_url="",
            image_url_mask="",
            image_url_logo="",
            secure_logging=True,
            storage_mode=apprise.PersistentStoreMode.MEMORY,
        )

    def unusable(self) -> list[str]:
        """Every URL that no service understands, told by recipient and line."""
        return [
            f"recipients.{name}: URL {number} is not one that can be notified"
            for name, urls in self._urls.items()
            for number, url in enumerate(urls, 1)
            if self._service(url) is None
        ]

    def send(self, recipient: str, url_no: int, title: str, body: str) -> str | None:
        """Delivers one message; None when the server took it, else why not, without any secret."""
        urls = self._urls.get(recipient, ())
        if url_no >= len(urls):
            return "this recipient no longer has this URL"
        service = self._service(urls[url_no])
        if service is None:
            return "the URL is not one that can be notified"
        result = service.notify(body=body, title=title, body_format=apprise.NotifyFormat.TEXT, timeout=self._timeout)
        return None if result else f"{service[0].service_name}: {result.status.name.lower()}"

    def _service(self, url: str) -> apprise.Apprise | None:
        # a new one each time: an old one would sleep between messages, and keep its connections
        service = apprise.Apprise(asset=self._asset)
        return service if service.add(url) else None
