"""A picture must not cost a chat its text. The real server: `python -m tests.faults.real_chat`."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from sentinel.adapters.notifier import PICTURE_NAME, AppriseNotifier
from sentinel.adapters.recipients import Addressee
from sentinel.core.cases.kinds import NoticeKind
from sentinel.render.notices import Letter, sample_documents
from tests.support.servers import Homeserver


@pytest.fixture
def homeserver() -> Iterator[Homeserver]:
    server = Homeserver()
    yield server
    server.stop()


def test_a_chat_gets_the_text_whatever_lies_in_the_working_folder(
    homeserver: Homeserver, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / PICTURE_NAME).write_bytes(b"no picture of ours")
    monkeypatch.chdir(tmp_path)
    letter = Letter("confirm-failure", *sample_documents()["confirm-failure"]["a first failure"])
    notifier = AppriseNotifier([Addressee("hall", tuple(NoticeKind), (homeserver.url,))], 10.0)
    assert letter.picture() is not None
    assert notifier.send("hall", 0, letter) is None
    [said] = homeserver.events.values()
    assert said["body"].endswith(f"\nNotice {letter.key}")
