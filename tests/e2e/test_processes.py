"""Every command once as people and cron jobs run it: the installed program, a process of its own.

What the commands do in detail is asked of the same program inside the process of the tests.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from sentinel.cli.app import TABLE, options_of
from tests.support import cgats
from tests.support.command import process, sentinel
from tests.support.room import Room, rows
from tests.support.servers import free_port

SATIN = "north/satin-240"
PATIENT = ("[store]", "scan_seconds = 3600\n[store]")
"""A busy machine may come to `health` long after the room has worked."""
LATELY = datetime.now(UTC) - timedelta(minutes=30)

SMOKE: dict[str, tuple[str, int, str]] = {
    "run": ("run --once", 0, "file taken in"),
    "init": ("init --printer north --substrate satin", 2, "expected no settings yet, got a file at"),
    "import": ("import {room}/drop", 0, "put on record"),
    "check": ("check {room}/good.txt --condition north/satin-240", 0, "good.txt, table 1 (north/satin-240): pass"),
    "inspect": ("inspect {room}/good.txt", 0, "10 rows of 8 fields"),
    "status": ("status", 0, "north/satin-240"),
    "explain": ("explain north/satin-240", 0, "north/satin-240"),
    "round": ("round", 0, "The round: "),
    "plan": ("plan", 0, "too little history"),
    "checks": ("checks", 0, "north/satin-240"),
    "compare": ("compare {room}/good.txt {room}/failing.txt", 0, "ΔE00"),
    "curves": ("curves {check}", 3, "check {check} of north/satin-240: nothing foretold"),
    "rescore": ("rescore --check {check}", 0, "the same to the last bit: yes"),
    "rejudge": ("rejudge --new {room}/sentinel.toml", 0, "This stands on "),
    "target add": ("target add mine {room}/good.txt --by Ana", 0, "mine"),
    "target list": ("target list", 0, "kept"),
    "target show": ("target show kept", 0, "kept"),
    "target retire": ("target retire old --by Ben --why faded", 0, "old version 1 is retired"),
    "event add": ("event add nozzle-check --printer north", 0, "north"),
    "event list": ("event list --all", 0, "north"),
    "event undo": ("event undo {event} --by Ana --why misheard", 0, "{event}"),
    "cause": ("cause {check} tone-shift --by Ana --seen-by recalibration", 0, "it counts in what is expected here"),
    "diagnosis record": ("diagnosis record --json", 0, "sentinel.diagnosis-record/1"),
    "config check": ("config check", 0, "fine - 4 printing conditions"),
    "config show": ("config show due.max_age_days", 0, "due.max_age_days = 7.0   # default"),
    "config schema": ("config schema", 0, "https://json-schema.org/draft/2020-12/schema"),
    "doctor": ("doctor", 1, "team, URL 1: JSON: connection refused"),
    "notify test": ("notify test", 1, "team, URL 1: "),
    "notify stopped": ("notify stopped", 1, "team, URL 1: "),
    "notify list": ("notify list", 0, "team"),
    "notify show": ("notify show {notice}", 0, "URGENT - Check failed"),
    "notify retry": ("notify retry", 2, "expected notices that were given up, got none"),
    "cases": ("cases", 0, "{case}"),
    "ack": ("ack {case} --by Kim", 0, "{case}"),
    "snooze": ("snooze {case} --by Kim --for 2h", 0, "{case}"),
    "pin": ("pin north --every monday --by Ana --why habit", 0, "check-wanted at"),
    "skip": ("skip north --until {tomorrow} --by Ana --why rest", 0, "check-skipped at"),
    "health": ("health", 0, "well"),
    "store verify": ("store verify", 0, "store: sound"),
    "store restore": ("store restore --list", 0, "backups/store-"),
    "store begin": ("store begin", 5, "expected no store that can be used"),
}
"""For each command: what is typed, the exit code, and what the answer holds."""


def commands() -> Iterator[str]:
    """The name of every command there is, and of every one below it."""
    for command in TABLE:
        parser = argparse.ArgumentParser()
        options_of(command)(parser)
        groups = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
        below = [name for group in groups for name in group.choices]
        yield from (f"{command.name} {name}" for name in below) if below else (command.name,)


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Room:
    """A room with a failed check, a notice that nobody took, an event, two kept targets, and a file to come."""
    room = Room(tmp_path_factory.mktemp("worked") / "room")
    urls = room.folder / "team.urls"
    urls.write_text(f"json://127.0.0.1:{free_port()}/\n")
    urls.chmod(0o600)
    room.configure(PATIENT, extra='[recipients.team]\nurl_file = "team.urls"\n')
    (room.folder / "good.txt").write_text(cgats.text(cgats.GOOD))
    (room.folder / "failing.txt").write_text(cgats.text(cgats.FAILING))
    room.put(f"{SATIN}/failing.txt", cgats.text(cgats.FAILING), at=LATELY)
    room.put("north/matte-190/good.txt", cgats.text(cgats.GOOD), at=LATELY)
    for words in (
        "run --once",
        "event add nozzle-check --printer north",
        f"target add kept {room.folder}/good.txt --by Ana",
        f"target add old {room.folder}/failing.txt --by Ana",
    ):
        done = sentinel("--config", room.config, *words.split())
        assert done.code == 0, done.err
    room.put("south/satin-240/late.txt", cgats.text(cgats.GOOD), at=LATELY)
    return room


@pytest.fixture(scope="module")
def numbers(worked: Room) -> dict[str, str]:
    """What stands for the names in braces."""
    queries = {
        "check": "SELECT seq FROM \"check\" WHERE verdict = 'fail'",
        "event": "SELECT min(seq) FROM event",
        "notice": "SELECT min(key) FROM outbox",
        "case": "SELECT min(seq) FROM concern",
    }
    found = {name: str(rows(worked.store, query)[0][0]) for name, query in queries.items()}
    tomorrow = (datetime.now(UTC) + timedelta(days=1)).date().isoformat()
    return {"room": str(worked.folder), "tomorrow": tomorrow, **found}


def test_every_command_is_among_them() -> None:
    assert list(commands()) == list(SMOKE)


@pytest.mark.parametrize("command", SMOKE)
def test_the_installed_command_does_its_work(command: str, worked: Room, numbers: dict[str, str]) -> None:
    words, code, said = SMOKE[command]
    done = process("--config", worked.config, *words.format(**numbers).split())
    assert (done.code, "Traceback" in done.err) == (code, False), done
    assert said.format(**numbers) in done.out + done.err
