"""Fixtures that tests of every room use."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

import pytest
import structlog
from hypothesis import settings

from tests.support.clock import FakeClock
from tests.support.new_stores import made_at_once
from tests.support.remembered import diagnoses_remembered
from tests.support.room import Room, Staff
from tests.support.servers import MailServer, Webhook

# a machine may be busy; the same examples at every run, so that a change is judged by what it changed
settings.register_profile("gate", deadline=None, derandomize=True, database=None)
settings.register_profile("explore", deadline=None, print_blob=True)  # others each time: --hypothesis-profile=explore
settings.load_profile("gate")


@pytest.fixture(autouse=True, scope="session")
def _plain_log() -> None:
    """A traceback in the log as the interpreter writes it: drawn with all its values it can take minutes."""
    drawn = structlog.get_config()["processors"][:-1]
    plain = structlog.dev.ConsoleRenderer(colors=False, exception_formatter=structlog.dev.plain_traceback)
    structlog.configure(processors=[*drawn, plain])


@pytest.fixture(autouse=True)
def _own_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the service keeps of its own stays within a test."""
    monkeypatch.setenv("STATE_DIRECTORY", str(tmp_path / "state"))


@pytest.fixture(autouse=True, scope="session")
def _own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """What is noted elsewhere than in the store stays with the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CACHE_DIRECTORY", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(autouse=True, scope="session")
def _plain_options() -> Iterator[None]:
    """argparse looks on the disk for a catalogue of its own words, for each of them: 7 ms a command."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(argparse, "_", str)
        yield


@pytest.fixture(autouse=True, scope="session")
def _diagnoses() -> Iterator[None]:
    """Worked out once for equal sheets."""
    with diagnoses_remembered():
        yield


@pytest.fixture(autouse=True, scope="session")
def _new_stores() -> Iterator[None]:
    """Without their migrations, but in tests of these."""
    with made_at_once():
        yield


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture
def room(tmp_path: Path) -> Room:
    return Room(tmp_path / "room")


@pytest.fixture
def staff(room: Room) -> Iterator[Staff]:
    workers = Staff(room)
    yield workers
    workers.store.close()


@pytest.fixture
def webhook() -> Iterator[Webhook]:
    """Takes every notice."""
    server = Webhook()
    yield server
    server.stop()


@pytest.fixture
def mail() -> Iterator[MailServer]:
    """Takes every mail."""
    server = MailServer()
    yield server
    server.stop()
