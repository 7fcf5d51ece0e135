"""Every command that tells or changes something does so as JSON too, each object with the name of its shape."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from sentinel.cli.app import TABLE, options_of
from tests.support import cgats
from tests.support.command import Done, Word, sentinel
from tests.support.room import Room
from tests.support.servers import Webhook

LATELY = datetime.now(UTC) - timedelta(minutes=10)
WITHOUT = {"run"}
"""The service's log is JSON wherever nobody looks at it."""


def commands(parser: argparse.ArgumentParser, name: str) -> Iterator[tuple[str, argparse.ArgumentParser]]:
    below = [each for each in parser._actions if isinstance(each, argparse._SubParsersAction)]
    if not below or not below[0].required:
        yield name, parser
    for each in below:
        for word, own in each.choices.items():
            yield from commands(own, f"{name} {word}")


def every_command() -> list[tuple[str, argparse.ArgumentParser]]:
    found = []
    for command in TABLE:
        parser = argparse.ArgumentParser(prog=command.name)
        options_of(command)(parser)
        found += list(commands(parser, command.name))
    return found


def asked(room: Room, webhook: Webhook, *words: Word) -> Done:
    return sentinel("--config", room.config, *words, TEAM_URL=webhook.url())


@pytest.fixture
def busy(room: Room, webhook: Webhook) -> Room:
    """A room in which every command finds something to tell."""
    room.configure(extra='[recipients.team]\nurl_env = "TEAM_URL"\n')
    room.put("north/satin-240/monday.txt", cgats.text(cgats.FAILING), at=LATELY)
    aim = room.folder / "targets" / "house.txt"
    assert asked(room, webhook, "target", "add", "kept", aim, "--by", "the lead").code == 0
    assert asked(room, webhook, "event", "add", "heads", "--printer", "south").code == 0
    assert asked(room, webhook, "run", "--once").code == 0
    return room


def test_every_command_but_the_service_has_it() -> None:
    without = {name for name, parser in every_command() if "--json" not in parser._option_string_actions}
    assert without == WITHOUT


@pytest.mark.parametrize(
    "words",
    [
        "check {aim} --condition north/satin-240",
        "check void {check} --by lead --why misread",
        "inspect {aim}",
        "status",
        "explain north/satin-240",
        "round",
        "checks",
        "compare {aim} {aim}",
        "curves {check}",
        "rescore --check {check}",
        "rejudge --new {config}",
        "target add another {aim} --by lead",
        "target list",
        "target show kept",
        "target retire kept --by lead --why old",
        "event add service --printer north",
        "event list",
        "event undo {event} --by lead --why wrong",
        "cause {check} possibly-not-dry --by lead --seen-by second-instrument",
        "diagnosis record",
        "config check",
        "notify test",
        "notify stopped",
        "notify list",
        "notify show {key}",
        "cases",
        "ack {case} --by lead",
        "snooze {case} --by lead --for 2h",
        "health",
        "store",
        "store verify",
        "store restore --list",
        "store restore",
    ],
)
def test_its_json_names_its_shape(busy: Room, webhook: Webhook, words: str) -> None:
    [check] = asked(busy, webhook, "checks", "--json").lines()
    [event] = asked(busy, webhook, "event", "list", "--json").lines()
    case = asked(busy, webhook, "cases", "--json").lines()[0]
    notice = asked(busy, webhook, "notify", "list", "--json").lines()[0]
    named = {
        "aim": busy.folder / "targets" / "house.txt",
        "config": busy.config,
        "check": check["check"],
        "event": event["event"],
        "case": case["case"],
        "key": notice["key"],
    }
    done = asked(busy, webhook, *(word.format(**named) for word in words.split()), "--json")
    assert done.code in (0, 1, 3), done.err
    try:
        told = [json.loads(done.out)]
    except ValueError:
        told = done.lines()
    name = words.split(maxsplit=1)[0]
    assert told
    assert all(each["schema"].startswith("sentinel.") and each["schema"].endswith("/1") for each in told), name


@pytest.mark.parametrize("words", ["status", "config check", "event list", "target list", "store verify", "health"])
def test_the_settings_may_be_named_before_and_after_the_command(room: Room, words: str) -> None:
    before = sentinel("--config", room.config, *words.split())
    after = sentinel(*words.split(), "--config", room.config)
    assert before.code == after.code
    assert before.err.replace("\n", "") == after.err.replace("\n", "")
    assert f"{room.folder}" in before.out + before.err or before.out == after.out
