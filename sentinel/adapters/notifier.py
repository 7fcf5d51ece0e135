"""Sending by apprise. Nothing it or its HTTP library logs gets out, since some of that holds whole URLs."""

from __future__ import annotations

import logging
import re
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import apprise
import structlog
from apprise.attachment.file import AttachFile

from sentinel.adapters.reaching import REMEDIES, Refusal, WhyRefused, asked, refusal
from sentinel.adapters.recipients import Addressee
from sentinel.errors import ANY_FAULT
from sentinel.render.notices import Form, Letter, ServiceLimits, every_sample
from sentinel.render.plots import picture

log = structlog.get_logger()

_drawing = threading.Lock()
"""Pictures are drawn one at a time, whichever recipient's thread wants one."""

KEY_HEADER = "X-Sentinel-Notice"
PICTURE_NAME = "check.png"
TEXT_ALONE = frozenset({"Matrix"})
"""Services that get no picture: where a Matrix URL has an access token, apprise 2.3 says the text under the transaction
of the picture, which the server confirms and drops."""

FORMS = {
    apprise.NotifyFormat.TEXT: Form.TEXT,
    apprise.NotifyFormat.MARKDOWN: Form.MARKDOWN,
    apprise.NotifyFormat.HTML: Form.HTML,
}

_HTTP_CODE = re.compile(r"\berror=([1-5]\d\d)\b")


def _without_secrets(record: logging.LogRecord) -> bool:
    """Leaves of a record of apprise, which may hold whole URLs, the code that an HTTP server answered, or nothing."""
    found = _HTTP_CODE.search(record.getMessage())
    if found is None:
        return False
    record.msg, record.args, record.exc_info, record.stack_info = found[0], (), None, None
    return True


logging.getLogger("apprise").addFilter(_without_secrets)
logging.getLogger("apprise").propagate = False
logging.getLogger("apprise").addHandler(logging.NullHandler())
# what apprise stands on logs paths and tokens at DEBUG and, when it tries again, at WARNING
for _talkative in ("urllib3", "requests", "requests_oauthlib", "oauthlib"):
    logging.getLogger(_talkative).setLevel(logging.CRITICAL + 1)


def make_ready() -> threading.Thread:
    """Draws a picture that nobody gets, beside other work, so that the first notice need not wait half a second."""

    def draw() -> None:
        facts = every_sample()["confirm-failure"]["a first failure"]
        try:
            with _drawing:
                picture(facts)
        except ANY_FAULT as fault:  # a notice goes out without
            log.warning("pictures cannot be drawn", fault=type(fault).__name__)

    thread = threading.Thread(target=draw, name="make-ready", daemon=True)
    thread.start()
    return thread


class AppriseNotifier:
    """Knows every recipient's URLs and tells none."""

    def __init__(self, addressees: Sequence[Addressee], timeout_seconds: float) -> None:
        self._urls = {addressee.name: tuple(addressee.secret_urls) for addressee in addressees}
        self._timeout = timeout_seconds
        self._without_picture: set[tuple[str, int, str]] = set()
        self._asset = apprise.AppriseAsset(
            app_id="Print room sentinel",
            app_desc="Print room sentinel",
            app_url="",
            image_url_mask="",
            image_url_logo="",
            secure_logging=True,
            storage_mode=apprise.PersistentStoreMode.MEMORY,
        )

    def unusable(self) -> dict[str, list[str]]:
        """By recipient every URL that no service understands, told by line."""
        found: dict[str, list[str]] = {}
        for name, urls in self._urls.items():
            for number, url in enumerate(urls, 1):
                if self._service(url) is None:
                    found.setdefault(name, []).append(
                        f"recipients.{name}: URL {number} is not one that can be notified"
                    )
        return found

    def send(self, recipient: str, url_no: int, letter: Letter) -> str | None:
        """Delivers a letter in the form and the length that the service takes, with its picture where it takes one.

        Where that fails, and the server did answer, it is sent again without. None when the server took it, else why
        not, without any secret.
        """
        service, unfound = self._found(recipient, url_no)
        if service is None:
            return unfound
        plugin, sent = service[0], (recipient, url_no, letter.key)
        picture = self._picture(plugin, letter) if sent not in self._without_picture else None
        answer, hung = self._sent(service, letter, picture)
        if answer is None or picture is None:
            self._without_picture.discard(sent)
            return answer
        self._without_picture.add(sent)  # a server that hangs is asked again later, and without
        return answer if hung else self.send(recipient, url_no, letter)

    def reach(self, recipient: str, url_no: int) -> tuple[str, str] | None:
        """Why the server behind a URL would take nothing, and what to do about it; None where it seems that it would.

        Nothing is sent to anybody.
        """
        service, unfound = self._found(recipient, url_no)
        if service is None:
            return unfound, ""
        try:
            found = asked(service[0], self._timeout)
        except ANY_FAULT as fault:  # its words, and its chain, may hold the URL
            return f"{service[0].service_name}: broke with {type(fault).__name__}", ""
        return None if found is None else (f"{service[0].service_name}: {found}", REMEDIES[found.cause])

    def _found(self, recipient: str, url_no: int) -> tuple[apprise.Apprise | None, str]:
        urls = self._urls.get(recipient, ())
        if url_no >= len(urls):
            return None, "this recipient no longer has this URL"
        return self._service(urls[url_no]), "the URL is not one that can be notified"

    def _sent(self, service: apprise.Apprise, letter: Letter, picture: bytes | None) -> tuple[str | None, bool]:
        """Why it failed, if it did, and whether the server hung."""
        plugin = service[0]
        takes = form_of(plugin)
        message = letter.message(FORMS[takes], limits_of(plugin))
        if isinstance(headers := getattr(plugin, "headers", None), dict):
            headers[KEY_HEADER] = letter.key
        try:
            with (
                _on_disk(picture) as attach,
                service.notify(
                    body=message.body, title=message.title, body_format=takes, attach=attach, timeout=self._timeout
                ) as result,
            ):
                if result:
                    return None, False
                codes = [code for entry in result.logs() for code in _HTTP_CODE.findall(entry.message)]
                hung = result.status is apprise.AppriseResultStatus.TIMEOUT
            why = Refusal(WhyRefused.SILENT) if hung else refusal(plugin, codes[-1] if codes else None, self._timeout)
        except ANY_FAULT as fault:  # its words, and its chain, may hold the URL
            return f"{plugin.service_name}: broke with {type(fault).__name__}", False
        return f"{plugin.service_name}: {why}", hung

    def _picture(self, plugin: apprise.NotifyBase, letter: Letter) -> bytes | None:
        if not plugin.attachment_support or plugin.service_name in TEXT_ALONE:
            return None
        try:
            with _drawing:
                return letter.picture()
        except ANY_FAULT as fault:  # the text must go out whatever becomes of the picture
            log.warning("picture not drawn", key=letter.key, fault=type(fault).__name__)
            return None

    def _service(self, url: str) -> apprise.Apprise | None:
        # a new one each time: an old one would sleep between messages, and keep its connections
        service = apprise.Apprise(asset=self._asset)
        try:
            return service if service.add(url) else None
        except ANY_FAULT:  # its words may hold the URL
            return None


@contextmanager
def _on_disk(picture: bytes | None) -> Iterator[AttachFile | None]:
    """A picture as a file: several services open it by its path, and would find another one of its name in the working
    folder if it were in memory."""
    if picture is None:
        yield None
        return
    with TemporaryDirectory(prefix="sentinel-", ignore_cleanup_errors=True) as folder:
        path = Path(folder) / PICTURE_NAME
        path.write_bytes(picture)
        yield AttachFile(str(path), name=PICTURE_NAME, mimetype="image/png")  # type: ignore[no-untyped-call]


def form_of(plugin: apprise.NotifyBase) -> apprise.NotifyFormat:
    """What to send: what the URL asks for, else Markdown to services that have it, but plain text to webhooks.

    Webhooks take every form alike, for programs that mostly expect none.
    """
    takes = [each for each in FORMS if plugin.resolve_format(each) is each]
    markdown = apprise.NotifyFormat.MARKDOWN
    return markdown if markdown in takes and len(takes) < len(FORMS) else plugin.resolve_format(None)


def limits_of(plugin: apprise.NotifyBase) -> ServiceLimits:
    """What the service takes at most."""
    body = plugin.body_maxlen
    if plugin.overflow_amalgamate_title:  # the title counts as part of the body
        body -= min(plugin.title_maxlen, TITLE_SHARE)
    return ServiceLimits(plugin.title_maxlen, body)


TITLE_SHARE = 100
"""Characters of a body kept free for a title that counts as part of it, which is shorter."""
