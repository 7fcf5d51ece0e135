"""The sign of life: called while all is well, from a thread that holds nothing up, and without telling its URL."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from structlog.testing import capture_logs

from sentinel.adapters.recipients import Heartbeat, RecipientError, heartbeat_url
from sentinel.core.cases.notice_policy import UrlPlace
from tests.support.process import eventually
from tests.support.servers import Webhook, free_port, silent_server

SECRET = "t0ken-of-the-watcher"  # noqa: S105 - of no server


@pytest.fixture
def watcher() -> Iterator[Webhook]:
    server = Webhook()
    yield server
    server.stop()


def test_each_beat_calls_the_url(watcher: Webhook) -> None:
    heart = Heartbeat(f"http://127.0.0.1:{watcher.port}/{SECRET}", 5.0)
    for calls in ([f"/{SECRET}"], [f"/{SECRET}"] * 2):
        heart.beat()
        eventually("it was called", lambda calls=calls: watcher.calls == calls)  # type: ignore[misc]
    heart.stop()


def test_a_server_that_never_answers_holds_nothing_up() -> None:
    with silent_server() as port, capture_logs() as logs:
        heart = Heartbeat(f"http://127.0.0.1:{port}/", 60.0)
        for _ in range(1000):
            heart.beat()
        assert logs == []  # not even the first call has come to its end
        heart.stop()


def test_a_beat_that_is_not_heard_is_logged_without_the_url() -> None:
    with capture_logs() as logs:
        heart = Heartbeat(f"http://127.0.0.1:{free_port()}/{SECRET}", 5.0)
        heart.beat()
        eventually("it was logged", lambda: logs)
        heart.stop()
    assert logs[0]["event"] == "heartbeat not heard"
    assert SECRET not in str(logs)


def test_a_server_that_refuses_is_logged_without_the_url(watcher: Webhook) -> None:
    watcher.status = 503
    with capture_logs() as logs:
        heart = Heartbeat(f"http://127.0.0.1:{watcher.port}/{SECRET}", 5.0)
        heart.beat()
        eventually("it was logged", lambda: logs)
        heart.stop()
    assert SECRET not in str(logs)


def test_the_url_comes_from_an_environment_variable_a_file_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "heartbeat.url"
    path.write_text(f"https://watch.example/{SECRET}\n")
    path.chmod(0o600)
    environ = {"HEARTBEAT": f"https://watch.example/{SECRET}"}
    assert heartbeat_url(UrlPlace(file=path), {}) == f"https://watch.example/{SECRET}"
    assert heartbeat_url(UrlPlace(variable="HEARTBEAT"), environ) == f"https://watch.example/{SECRET}"
    assert heartbeat_url(None, dict(os.environ)) is None


@pytest.mark.parametrize("url", [f"file:///{SECRET}", f"watch.example/{SECRET}", ""])
def test_a_url_that_cannot_be_called_is_refused_and_not_shown(url: str) -> None:
    with pytest.raises(RecipientError, match="heartbeat: expected one URL") as refusal:
        heartbeat_url(UrlPlace(variable="HEARTBEAT"), {"HEARTBEAT": url})
    assert SECRET not in str(refusal.value)
