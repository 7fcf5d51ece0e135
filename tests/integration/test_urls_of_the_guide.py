"""The URLs that the guide shows send: each with its server's name replaced by one on loopback."""

from __future__ import annotations

import re
import ssl
import subprocess
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

from sentinel.adapters.notifier import AppriseNotifier
from sentinel.adapters.recipients import Addressee
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.message import ENGLISH
from sentinel.render.notices import delivery_test
from tests.support.servers import Homeserver, Webhook, free_port

GUIDE = Path(__file__).parents[2] / "config" / "README.md"
MAIL, CHAT, HOOK = re.findall(r"^\w+://\S+$", GUIDE.read_text().partition("Three that work")[2], re.MULTILINE)[:3]


def sent(url: str) -> str | None:
    sender = AppriseNotifier([Addressee("team", tuple(NoticeKind), (url,))], 5.0)
    return sender.send("team", 0, delivery_test("hall", ENGLISH))  # type: ignore[arg-type]


def plain(url: str, port: int) -> str:
    """The URL for a server on loopback that does not encrypt."""
    return re.sub(r"^(\w+)s://((?:\w+@)?)[\w.]+", rf"\1://\g<2>127.0.0.1:{port}", url)


def test_mail_with_a_login_arrives_encrypted(tmp_path: Path) -> None:
    key, made = tmp_path / "key.pem", tmp_path / "made.pem"
    command = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=127.0.0.1"]
    subprocess.run([*command, "-keyout", key, "-out", made], check=True, capture_output=True)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(made, key)
    came: list[tuple[bool, str, list[str]]] = []

    def login(_server: Any, _session: Any, _envelope: Any, _mechanism: str, told: LoginPassword) -> AuthResult:
        return AuthResult(success=(told.login, told.password) == (b"watch@print.example", b"PASSWORD"), handled=False)

    class Handler:
        async def handle_DATA(self, _server: Any, session: Any, envelope: Any) -> str:  # noqa: N802
            came.append((session.ssl is not None, envelope.mail_from, envelope.rcpt_tos))
            return "250 OK"

    port = free_port()
    server = Controller(
        Handler(), hostname="127.0.0.1", port=port, tls_context=context, authenticator=login, auth_required=True
    )
    server.start()
    try:
        url = MAIL.replace("mail.example:587", f"127.0.0.1:{port}").replace("mail.example", "127.0.0.1")
        assert sent(f"{url}&verify=no") is None
        assert sent(f"{url.replace('PASSWORD', 'other')}&verify=no") == "E-Mail: login rejected (SMTP 535)"
        assert sent(url) == "E-Mail: the server's certificate is not trusted"
    finally:
        server.stop()
    assert came == [(True, "watch@print.example", ["colour@print.example"])]


def test_a_chat_gets_it() -> None:
    server = Homeserver()
    try:
        assert sent(plain(CHAT, server.port)) is None
        assert len(server.events) == 1
    finally:
        server.stop()


def test_any_other_program_gets_title_and_text() -> None:
    webhook = Webhook()
    try:
        assert sent(plain(HOOK, webhook.port)) is None
        [post] = webhook.posts
        assert post["title"]
        assert post["message"]
    finally:
        webhook.stop()


@pytest.mark.parametrize("url", [MAIL, CHAT, HOOK])
def test_no_real_server_is_named(url: str) -> None:
    """RFC 2606: `.example` is nobody's."""
    assert all(host.endswith(".example") for host in re.findall(r"[\w-]+\.[a-z]{2,}", url))
