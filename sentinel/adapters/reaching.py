"""Why a server took no notice: it is asked once more by the standard library, and the kind of cause told.

What the notifying library says of it holds names and URLs or nothing at all, so none of that is passed on; nor is what
the server says. Nothing here names a host, a person or a secret.
"""

from __future__ import annotations

import errno
import smtplib
import socket
import ssl
from enum import StrEnum
from typing import Any, NamedTuple
from urllib.parse import urlsplit


class WhyRefused(StrEnum):
    """The kinds of causes, in the words in which they are told."""

    UNKNOWN_HOST = "the server's name is not known here"
    REFUSED = "connection refused"
    UNREACHABLE = "the network does not reach the server"
    SILENT = "no answer in time"
    UNTRUSTED = "the server's certificate is not trusted"
    NOT_ENCRYPTED = "no encrypted connection"
    LOGIN = "login rejected"
    SENDER = "sender's address refused"
    RECIPIENT = "recipient's address refused"
    MESSAGE = "message refused"
    NO_SUCH_PLACE = "no such place on the server"
    TOO_LARGE = "message too large"
    TOO_MANY = "too many messages"
    TROUBLE = "the server is in trouble"
    UNKNOWN = "not taken"


REMEDIES = {
    WhyRefused.UNKNOWN_HOST: "look at the server's name in the URL, and whether this machine can look names up",
    WhyRefused.REFUSED: "look at server and port in the URL, and whether the server runs and lets this machine in",
    WhyRefused.UNREACHABLE: "look at this machine's network",
    WhyRefused.SILENT: "look at the port in the URL, and whether a firewall stands between",
    WhyRefused.UNTRUSTED: (
        "let the server have a certificate that this machine trusts, or this machine trust its issuer"
    ),
    WhyRefused.NOT_ENCRYPTED: "look at port and mode in the URL: starttls is usual on 587, ssl on 465, insecure on 25",
    WhyRefused.LOGIN: "look at user and password, or token, in the URL; special letters are written as %XX there",
    WhyRefused.SENDER: "look at `from` in the URL: the server sends for known senders alone",
    WhyRefused.RECIPIENT: "look at `to` in the URL",
    WhyRefused.MESSAGE: "ask whoever runs the server why it refused the message",
    WhyRefused.NO_SUCH_PLACE: "look at the path in the URL: the channel, or its webhook, may have been removed",
    WhyRefused.TOO_LARGE: "let the server take larger messages",
    WhyRefused.TOO_MANY: "nothing: it is tried again later",
    WhyRefused.TROUBLE: "nothing: it is tried again later; else ask whoever runs the server",
    WhyRefused.UNKNOWN: "see that the URL is whole",
}
"""What to do about each; common practice, no published source."""


class Refusal(NamedTuple):
    """Why it was not taken, and the number that the server gave, of SMTP (RFC 5321) or of HTTP (RFC 9110)."""

    cause: WhyRefused
    code: str = ""

    def __str__(self) -> str:
        return f"{self.cause.value} ({self.code})" if self.code else self.cause.value


BY_HTTP_CODE = {
    "401": WhyRefused.LOGIN,
    "403": WhyRefused.LOGIN,
    "407": WhyRefused.LOGIN,
    "404": WhyRefused.NO_SUCH_PLACE,
    "410": WhyRefused.NO_SUCH_PLACE,
    "413": WhyRefused.TOO_LARGE,
    "429": WhyRefused.TOO_MANY,
}


def refusal(service: Any, http_code: str | None, seconds: float) -> Refusal:
    """Why a service of the notifying library did not take what was sent; `http_code` is what its server answered.

    Takes `seconds` at most for each step of asking again.
    """
    if http_code is not None:
        other = WhyRefused.TROUBLE if http_code.startswith("5") else WhyRefused.MESSAGE
        return Refusal(BY_HTTP_CODE.get(http_code, other), f"HTTP {http_code}")
    found = asked(service, seconds)
    return found or Refusal(WhyRefused.MESSAGE if hasattr(service, "smtp_host") else WhyRefused.UNKNOWN)


def asked(service: Any, seconds: float) -> Refusal | None:
    """Why a service's server would take nothing; None where it seems that it would. Nothing is sent to anybody.

    A mail server is asked up to the text of a mail, any other whether it can be reached.
    """
    try:
        if hasattr(service, "smtp_host"):
            return _ask_mail_server(service, seconds)
        place = _web_place(service)
        if place is not None:
            _connect(*place, seconds)
    except (OSError, smtplib.SMTPException, ValueError) as fault:
        return _of_fault(fault)
    return None


NUMBERED = (
    (smtplib.SMTPAuthenticationError, WhyRefused.LOGIN),
    (smtplib.SMTPSenderRefused, WhyRefused.SENDER),
    (smtplib.SMTPResponseException, WhyRefused.TROUBLE),
)
KINDS: tuple[tuple[type[BaseException], WhyRefused], ...] = (
    (ssl.SSLCertVerificationError, WhyRefused.UNTRUSTED),
    (ssl.SSLError, WhyRefused.NOT_ENCRYPTED),
    (smtplib.SMTPNotSupportedError, WhyRefused.NOT_ENCRYPTED),
    (socket.gaierror, WhyRefused.UNKNOWN_HOST),
    (TimeoutError, WhyRefused.SILENT),
    (ConnectionRefusedError, WhyRefused.REFUSED),
    (ConnectionError, WhyRefused.TROUBLE),
    (smtplib.SMTPServerDisconnected, WhyRefused.TROUBLE),
    (UnicodeError, WhyRefused.UNKNOWN_HOST),
)
"""The first that fits."""
UNREACHABLE = (errno.ENETUNREACH, errno.EHOSTUNREACH, errno.ENETDOWN)


def _of_fault(fault: BaseException) -> Refusal:
    for kind, cause in NUMBERED:
        if isinstance(fault, kind):
            return Refusal(cause, f"SMTP {fault.smtp_code}")
    if isinstance(fault, OSError) and fault.errno in UNREACHABLE:
        return Refusal(WhyRefused.UNREACHABLE)
    return Refusal(next((cause for kind, cause in KINDS if isinstance(fault, kind)), WhyRefused.UNKNOWN))


def _context(service: Any) -> ssl.SSLContext:
    context = ssl.create_default_context()
    if not service.verify_certificate:
        context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    return context


def _ask_mail_server(service: Any, seconds: float) -> Refusal | None:
    """Goes the way of a mail up to its text, which is not sent."""
    if service.secure_mode == "ssl":
        server: smtplib.SMTP = smtplib.SMTP_SSL(
            service.smtp_host, service.port, timeout=seconds, context=_context(service)
        )
    else:
        server = smtplib.SMTP(service.smtp_host, service.port, timeout=seconds)
    with server:
        if service.secure_mode == "starttls":
            server.starttls(context=_context(service))
        if service.user and service.password:
            server.login(service.user, service.password)
        server.ehlo_or_helo_if_needed()
        sender = service.from_addr[1]
        code, _ = server.mail(sender)
        if code >= 400:
            raise smtplib.SMTPSenderRefused(code, b"", sender)
        for _, address in service.targets:
            code, _ = server.rcpt(address)
            if code >= 400:
                return Refusal(WhyRefused.RECIPIENT, f"SMTP {code}")
    return None


def _web_place(service: Any) -> tuple[str, int, ssl.SSLContext | None] | None:
    """Server and port of a service, and how to encrypt, where it tells them in one of the usual ways."""
    fixed = getattr(service, "notify_url", None)
    host = urlsplit(fixed).hostname if isinstance(fixed, str) and "{" not in urlsplit(fixed).netloc else service.host
    if not isinstance(host, str) or not host:
        return None
    secure = bool(service.secure) or (isinstance(fixed, str) and fixed.startswith("https:"))
    port = service.port if isinstance(service.port, int) else (443 if secure else 80)
    return host, port, _context(service) if secure else None


def _connect(host: str, port: int, context: ssl.SSLContext | None, seconds: float) -> None:
    with socket.create_connection((host, port), timeout=seconds) as plain:
        if context is not None:
            context.wrap_socket(plain, server_hostname=host).close()
