"""A service that is killed at any moment: every file judged once, every notice delivered at least once."""

from __future__ import annotations

import hashlib
import random
import time

from tests.faults.coroner import Coroner
from tests.support import cgats
from tests.support.process import IN_A_HURRY, URGENT, Running, drop, eventually, running
from tests.support.room import Room, rows
from tests.support.servers import Webhook

FILES_A_ROUND = 3


def test_killed_at_random_moments_it_loses_and_doubles_nothing(room: Room, webhook: Webhook, rounds: int) -> None:
    seed = random.randrange(2**32)
    print(f"seed {seed}")  # noqa: T201 - shown where the test fails
    chance = random.Random(seed)
    room.configure(IN_A_HURRY, extra=URGENT + "".join(map(_stock, range(rounds * FILES_A_ROUND))))
    dropped: dict[str, str] = {}
    places: dict[str, str] = {}
    coroner = Coroner(room)
    for number in range(rounds):
        service = Running(room, webhook.url()).ready()
        for each in range(FILES_A_ROUND):
            scribble = chance.random() < 0.25
            stock = number * FILES_A_ROUND + each
            content = f"scribble {stock} END_DATA" if scribble else cgats.text(cgats.FAILING + stock / 100)
            place = f"north/stock-{stock}/sheet.txt"
            places[place] = hashlib.sha256(content.encode()).hexdigest()
            dropped[places[place]] = "unscored" if scribble else "judged"
            drop(room, place, content)
            time.sleep(chance.uniform(0.0, 0.1))
        time.sleep(chance.uniform(0.0, 0.7))
        service.kill()
        coroner.examine()
    with running(room, webhook.url()):
        eventually("the drop folder is empty", lambda: room.dropped() == [])
        eventually("every notice is sent", lambda: _waiting(room) == 0)
    stopping = "SELECT sha256 FROM unscored_file WHERE reasons LIKE '%service-stopped%'"
    killed_twice = {str(sha256) for (sha256,) in rows(room.store, stopping)}  # at it: cannot be told from what kills
    assert killed_twice <= {places[place] for place in coroner.twice}
    dropped.update(dict.fromkeys(killed_twice, "unscored"))
    judged = sorted(sha256 for sha256, fate in dropped.items() if fate == "judged")
    unscored = sorted(sha256 for sha256, fate in dropped.items() if fate == "unscored")
    assert sorted(check.sha256 for check in room.checks()) == judged
    assert rows(room.store, "SELECT sha256 FROM unscored_file ORDER BY sha256") == [(sha,) for sha in unscored]
    assert len(room.put_aside()) == 2 * len(unscored)
    assert {path.split("/")[1] for path in room.archived()} >= set(dropped)
    notices = [each for each in room.records.outbox.listed() if each.notice.kind.value != "summary"]
    keys = {each.notice.key for each in notices}
    told = [str(post["message"]).splitlines()[-1].split()[-1] for post in webhook.posts]
    assert len(keys) == len(dropped)
    assert {each.notice.key for each in notices if each.notice.kind.value not in PACED} <= set(told)
    assert {each.status for each in notices} <= {"sent", "summarised", "waiting"}
    assert rows(room.store, "PRAGMA integrity_check") == [("ok",)]


def _stock(number: int) -> str:
    """A stock for each file, so that each failure is worth a notice of its own."""
    return f"""
[substrates.stock-{number}]
[conditions."north/stock-{number}"]
targets = ["house"]
"""


PACED = ("file-unscored", "summary")
"""What comes in crowds is gathered for minutes."""


def _waiting(room: Room) -> int:
    return sum(each.status != "sent" for each in room.records.outbox.listed() if each.notice.kind.value not in PACED)
