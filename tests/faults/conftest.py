"""How long the tests of faults go on, and a room where everything goes fast."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.table import pytest_addoption, pytest_configure
from tests.support.amount import amount
from tests.support.process import IN_A_HURRY, URGENT
from tests.support.room import Room
from tests.support.servers import Webhook

__all__ = ["pytest_addoption", "pytest_configure"]


@pytest.fixture(scope="session")
def rounds() -> int:
    """Rounds of each random test."""
    return amount(2, long=6, by_hand="SENTINEL_FAULT_ROUNDS")


@pytest.fixture
def room(tmp_path: Path) -> Room:
    place = Room(tmp_path / "room")
    place.configure(IN_A_HURRY, extra=URGENT)
    return place


@pytest.fixture
def webhook() -> Iterator[Webhook]:
    server = Webhook()
    yield server
    server.stop()
