"""Why a server took no notice, told by kind of cause: real servers on loopback that refuse in every way there is."""

from __future__ import annotations

import ssl
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult

from sentinel.adapters.notifier import AppriseNotifier
from sentinel.adapters.reaching import REMEDIES, WhyRefused
from sentinel.adapters.recipients import Addressee
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.message import ENGLISH
from sentinel.render.notices import delivery_test
from tests.support.servers import Webhook, free_port, silent_server

PLANTED = "t0ken-Pa55"
HOST = "127.0.0.1"


class Strict:
    """A mail server that refuses what it is told to refuse, by the code it is told."""

    def __init__(self, **codes: int) -> None:
        self.codes = codes
        self.taken = 0

    async def handle_MAIL(self, _server: Any, _session: Any, envelope: Any, address: str, _options: Any) -> str:  # noqa: N802
        envelope.mail_from = address
        return f"{self.codes['sender']} not you" if "sender" in self.codes else "250 OK"

    async def handle_RCPT(self, _server: Any, _session: Any, envelope: Any, address: str, _options: Any) -> str:  # noqa: N802
        if "recipient" in self.codes:
            return f"{self.codes['recipient']} nobody of this name"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, *_: Any) -> str:  # noqa: N802
        if "message" in self.codes:
            return f"{self.codes['message']} looks odd"
        self.taken += 1
        return "250 OK"


@pytest.fixture
def served() -> Iterator[Any]:
    """Starts mail servers, and stops them in the end."""
    begun: list[Controller] = []

    def start(handler: Strict, **options: Any) -> int:
        port = free_port()
        controller = Controller(handler, hostname=HOST, port=port, **options)
        controller.start()
        begun.append(controller)
        return port

    yield start
    for each in begun:
        each.stop()


@pytest.fixture
def certificate(tmp_path: Path) -> ssl.SSLContext:
    """One that nobody signed."""
    key, made = tmp_path / "key.pem", tmp_path / "made.pem"
    command = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={HOST}"]
    subprocess.run([*command, "-keyout", key, "-out", made], check=True, capture_output=True)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(made, key)
    return context


def answer(url: str) -> str | None:
    sender = AppriseNotifier([Addressee("team", tuple(NoticeKind), (url,))], 2.0)
    found = sender.send("team", 0, delivery_test("hall", ENGLISH))  # type: ignore[arg-type]
    assert found is None or not any(part in found for part in (PLANTED, HOST, "print.example", "lead"))
    return found


def mail(port: int, login: str = "", mode: str = "insecure", host: str = HOST) -> str:
    user = f"lead:{PLANTED}@" if login else ""
    return f"mailto://{user}{host}:{port}/?from=watch@print.example&to=team@print.example&mode={mode}"


def refuses_logins(_server: Any, _session: Any, _envelope: Any, _mechanism: str, _data: Any) -> AuthResult:
    return AuthResult(success=False, handled=False)


@pytest.mark.parametrize(
    ("codes", "told"),
    [
        ({"sender": 553}, "sender's address refused (SMTP 553)"),
        ({"recipient": 550}, "recipient's address refused (SMTP 550)"),
        ({"recipient": 450}, "recipient's address refused (SMTP 450)"),
        ({"message": 554}, "message refused"),
    ],
)
def test_a_mail_server_that_refuses_a_part_of_the_mail(served: Any, codes: dict[str, int], told: str) -> None:
    assert answer(mail(served(Strict(**codes)))) == f"E-Mail: {told}"


def test_a_login_that_is_rejected(served: Any) -> None:
    port = served(Strict(), authenticator=refuses_logins, auth_require_tls=False, auth_required=True)
    assert answer(mail(port, login="lead")) == "E-Mail: login rejected (SMTP 535)"


def test_a_server_that_wants_a_login_and_got_none_refuses_the_sender(served: Any) -> None:
    port = served(Strict(), authenticator=refuses_logins, auth_require_tls=False, auth_required=True)
    assert answer(mail(port)) == "E-Mail: sender's address refused (SMTP 530)"


def test_a_server_without_encryption_where_it_is_wanted(served: Any) -> None:
    port = served(Strict())
    assert answer(mail(port, mode="starttls")) == "E-Mail: no encrypted connection"
    assert answer(mail(port, mode="ssl")) == "E-Mail: no encrypted connection"


def test_a_certificate_that_nobody_trusts(served: Any, certificate: ssl.SSLContext) -> None:
    port = served(Strict(), tls_context=certificate)
    assert answer(mail(port, mode="starttls")) == "E-Mail: the server's certificate is not trusted"


@pytest.mark.parametrize(("scheme", "name"), [("json", "JSON"), ("mailto", "E-Mail")])
def test_a_server_that_is_not_there_is_not_known_or_never_answers(scheme: str, name: str) -> None:
    tail = "?from=watch@print.example&to=team@print.example&mode=insecure"
    assert answer(f"{scheme}://{HOST}:{free_port()}/{tail}") == f"{name}: connection refused"
    assert answer(f"{scheme}://nowhere.invalid:{free_port()}/{tail}") == f"{name}: the server's name is not known here"
    with silent_server() as port:
        assert answer(f"{scheme}://{HOST}:{port}/{tail}") == f"{name}: no answer in time"


@pytest.mark.parametrize(
    ("status", "told"),
    [
        (400, "message refused"),
        (401, "login rejected"),
        (403, "login rejected"),
        (404, "no such place on the server"),
        (413, "message too large"),
        (429, "too many messages"),
        (500, "the server is in trouble"),
        (503, "the server is in trouble"),
    ],
)
def test_a_web_server_that_refuses(status: int, told: str) -> None:
    webhook = Webhook(status)
    try:
        assert answer(webhook.url(PLANTED)) == f"JSON: {told} (HTTP {status})"
        assert len(webhook.bodies) == 1, "it is not sent again to find out"
    finally:
        webhook.stop()


def test_asking_again_sends_nothing(served: Any) -> None:
    refusing, taking = Strict(message=554), Strict()
    answer(mail(served(refusing)))
    assert refusing.taken == 0
    assert answer(mail(served(taking))) is None
    assert taking.taken == 1


def test_every_cause_has_a_remedy() -> None:
    assert REMEDIES.keys() == set(WhyRefused)
