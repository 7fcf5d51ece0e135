"""Notices through a chat server that is none of ours: well, stopped, refusing, answering 429; the service is killed.

python -m tests.faults.real_chat [VENV]    # some minutes; installs a Matrix homeserver into a place of its own

The homeserver comes from PyPI into VENV, or into a folder that goes with the run. What is counted was read from its
rooms through the client-server API, by an account of its own. One room gets what a URL without a form asks for, the
other `format=markdown`, which the server's rooms show as HTML. Exit code 1 where a notice was lost, changed, cut, made
up, or overtook an earlier one of its case.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from tests.faults.counting import outcome
from tests.faults.progress import answers, done, drop_check, failed_tries
from tests.faults.real_chat_server import ChatRoom, ChatServer
from tests.faults.receivers import KEY, Log
from tests.support import cgats
from tests.support.process import IN_A_HURRY, eventually, running
from tests.support.room import Room, rows

STOCKS, PHASES, KILLS = 8, 5, 6
PATIENCE_SECONDS = 300.0
NOTICES = """
[recipients.colour-team]
url_env = "COLOUR_TEAM_URL"
[recipients.hall]
url_file = "hall.url"
[notices]
retry_seconds = 0.5
retry_ceiling_seconds = 2.0
timeout_seconds = 5.0
summary_above = 1000
calm_minutes = 0
"""
STOCK = """
[substrates.stock-{number}]
[conditions."north/stock-{number}"]
targets = ["house"]
"""
ASKED_LATER = r' 429 "PUT '


def drop_all(room: Room, phase: int) -> None:
    """New stocks fail, those of the phase before fail again, those of the one before that are good."""
    for number in range(STOCKS):
        for since, shift in enumerate((cgats.FAILING, cgats.FAILING, cgats.GOOD)):
            if phase >= since:
                drop_check(room, f"north/stock-{(phase - since) * STOCKS + number}", f"phase-{phase}", shift)


def through_all(room: Room, server: ChatServer, chats: dict[str, ChatRoom], url: str) -> None:
    """Well, stopped, refusing, asking to come later, and well again."""
    with running(room, url):
        with server.served():
            drop_all(room, 0)
            told(room)
        drop_all(room, 1)
        refused(room)
        with server.served():
            told(room)
            for chat in chats.values():
                chat.shut_out()
            drop_all(room, 2)
            refused(room)
            for chat in chats.values():
                chat.take_back()
            told(room)
        with server.served(messages_a_second=0.5):
            drop_all(room, 3)
            eventually("it was asked to come later", lambda: len(server.said(ASKED_LATER)) > 10, PATIENCE_SECONDS)
        with server.served(messages_a_second=2.0):
            told(room)


def killed(room: Room, server: ChatServer, chats: dict[str, ChatRoom], url: str) -> list[int]:
    """The server is well, the service dies while it delivers; how many notices were sent and not noted, each time."""
    with server.served():
        drop_all(room, 4)
        unnoted = [die_before_noting(room, chats, url) for _ in range(KILLS)]
        with running(room, url):
            told(room)
    return unnoted


def told(room: Room) -> None:
    """Waits until every file was taken and no notice waits."""
    eventually("every file is taken", lambda: room.dropped() == [], PATIENCE_SECONDS)
    eventually("nothing waits", lambda: done(room), PATIENCE_SECONDS)


def refused(room: Room) -> None:
    """Waits until tries fail."""
    before = failed_tries(room)
    eventually("tries fail", lambda: failed_tries(room) > before + 5, PATIENCE_SECONDS)


def die_before_noting(room: Room, chats: dict[str, ChatRoom], url: str) -> int:
    """The service is killed when the server has notices that the store has not noted as sent; how many those are."""
    with running(room, url) as service:
        arrive(chats)
        time.sleep(0.3)  # the next ones are on their way
        with held(room.store):
            arrive(chats)
            service.kill()
    told_in = ((name, key) for name, chat in chats.items() for key in keys(chat.messages()))
    return len(set(told_in) - set(rows(room.store, "SELECT recipient, key FROM outbox WHERE status = 'sent'")))


def arrive(chats: dict[str, ChatRoom]) -> None:
    """Waits until the server has taken another message."""
    before = sum(each.arrived() for each in chats.values())
    eventually("another arrives", lambda: sum(each.arrived() for each in chats.values()) > before)


@contextmanager
def held(store: Path) -> Iterator[None]:
    """Nobody else can write to the store."""
    with closing(sqlite3.connect(store, timeout=PATIENCE_SECONDS, isolation_level=None)) as connection:
        connection.execute("BEGIN IMMEDIATE")
        yield
        connection.execute("ROLLBACK")


def keys(messages: list[dict[str, Any]]) -> list[str | None]:
    """The key in the last line of each message; None where it was cut."""
    ends = [KEY.fullmatch(each["body"].strip().splitlines()[-1]) for each in messages]
    return [end[1] if end else None for end in ends]


def report(room: Room, name: str, chat: ChatRoom, formatted: bool) -> bool:
    """Prints the counts of one room; whether all is well."""
    messages = chat.messages()
    whole = [(key, each) for key, each in zip(keys(messages), messages, strict=True) if key]
    # the plain text stands last, since counting reads the key from there
    log = Log([f"{each.get('formatted_body', '')}\n{each['body']}" for _, each in whole], chat.met())
    found = outcome(room.store, name, log)
    strange = {key for key, _ in whole} - {key for (key,) in rows(room.store, "SELECT key FROM outbox")}
    both = sum(str(each.get("formatted_body", "")).strip().endswith(f"<p>Notice {key}</p>") for key, each in whole)
    print(found)  # noqa: T201
    print(  # noqa: T201
        f"  the key in the last line: {len(whole)} of {len(messages)}, in that of the HTML too: {both}; "
        f"keys that no notice has: {len(strange)}; withdrawn before they were told: {found.withdrawn}"
    )
    return found.well() and not strange and len(whole) == len(messages) and both == len(whole) * formatted


def invited(server: ChatServer) -> tuple[dict[str, ChatRoom], list[str]]:
    """A room for each recipient, and its URL."""
    with server.served():
        reader, sender = server.account("reader"), server.account("sentinel")
        chats = {each: ChatRoom(server, reader, "sentinel") for each in ("colour-team", "hall")}
    # the ids of rooms of today have no server in them, and apprise must not add one
    return chats, [f"matrix://{sender}@127.0.0.1:{server.port}/{each.id}?hsreq=no" for each in chats.values()]


def furnished(folder: Path, hall_url: str) -> Room:
    """A print room with both recipients and a stock for each case."""
    room = Room(folder / "room")
    url_file = room.folder / "hall.url"
    url_file.write_text(f"{hall_url}&format=markdown")
    url_file.chmod(0o600)
    room.configure(IN_A_HURRY, extra=NOTICES + "".join(STOCK.format(number=each) for each in range(STOCKS * PHASES)))
    return room


def main() -> int:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        server = ChatServer(folder, Path(sys.argv[1]) if len(sys.argv) > 1 else folder / "venv")
        chats, (url, hall_url) = invited(server)
        room = furnished(folder, hall_url)
        try:
            through_all(room, server, chats, url)
            unnoted = killed(room, server, chats, url)
            print(f"killed {KILLS} times, each time with so many notices sent and not recorded: {unnoted}")  # noqa: T201
        finally:
            print(f"matrix-synapse {server.version()}; failed tries as the store tells them: {answers(room)}")  # noqa: T201
            with server.served():
                well = [report(room, name, chat, name == "hall") for name, chat in chats.items()]
        return 0 if all(well) else 1


if __name__ == "__main__":
    sys.exit(main())
