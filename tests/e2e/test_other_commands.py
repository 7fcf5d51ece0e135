"""Version, help, `config check`, `store`, `notify test`."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from sentinel import __version__
from tests.support.command import SENTINEL, Done, sentinel
from tests.support.room import Room
from tests.support.servers import MailServer, Webhook, free_port

COMMANDS = {
    "run": ["--once"],
    "check": ["--target", "--condition", "--json"],
    "status": ["--json"],
    "round": ["--printer", "--json"],
    "config check": [],
    "notify test": ["--json"],
    "store": ["--json"],
}


def test_version_is_that_of_the_package() -> None:
    assert sentinel("--version") == Done(0, f"sentinel {__version__}\n", "")


def test_help_names_every_command() -> None:
    done = sentinel("--help")
    assert done.code == 0
    for command in COMMANDS:
        assert f"    {command.split()[0]} " in done.out
    assert "--config FILE" in done.out


@pytest.mark.parametrize(("command", "options"), COMMANDS.items())
def test_every_command_explains_itself(command: str, options: list[str]) -> None:
    done = sentinel(*command.split(), "--help")
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith(f"usage: sentinel {command} ")
    for option in options:
        assert option in done.out
    if command in ("run", "check", "config check", "notify test"):
        assert "Exit codes:" in " ".join(done.out.split())


@pytest.mark.parametrize("words", [(), ("fly",), ("check",), ("status", "--yaml"), ("config",), ("notify",)])
def test_a_command_that_does_not_exist_is_a_usage_error(words: tuple[str, ...]) -> None:
    done = sentinel(*words)
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("usage: sentinel")


def test_python_m_sentinel_is_the_same_command() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "sentinel", "--version"], check=False, capture_output=True, text=True, timeout=60
    )
    assert (done.returncode, done.stdout) == (0, f"sentinel {__version__}\n")


def test_fine_settings_are_said_to_be_with_what_they_hold(room: Room) -> None:
    room.configure(extra='[recipients.team]\nurl_env = "TEAM_URL"\n')
    done = sentinel("--config", room.config, "config", "check", "--strict", TEAM_URL="json://127.0.0.1/")
    assert (done.code, done.err) == (0, "")
    assert done.out == f"{room.config}: fine - 4 printing conditions, 1 target, 1 recipient\n"


def test_every_fault_is_told_at_once_with_line_column_and_key(room: Room) -> None:
    text = room.config.read_text()
    faulty = text.replace('archive = "archive"', 'archvie = "archive"').replace(
        'opacity = "transparent"', "opacity = 1"
    )
    room.config.write_text(faulty)
    done = sentinel("--config", room.config, "config", "check")
    assert (done.code, done.out) == (2, "")
    line = 1 + faulty.splitlines().index('archvie = "archive"')
    assert f"{room.config}:{line}:1: error: folders.archvie: unknown key; did you mean 'archive'?" in done.err
    assert "folders.archive: this key is required and missing" in done.err
    line = 1 + faulty.splitlines().index("opacity = 1")
    assert f"{room.config}:{line}:1: error: substrates.film-clear.opacity: expected 'opaque'" in done.err


@pytest.mark.parametrize(
    ("table", "key"),
    [
        ("measurements", "trust_created_days"),
        ("due", "max_age_days"),
        ("notices", "give_up_hours"),
    ],
)
def test_a_span_that_no_calendar_holds_is_refused_before_the_service_meets_it(room: Room, table: str, key: str) -> None:
    room.config.write_text(f"{room.config.read_text()}\n[{table}]\n{key} = 100000000.0\n")
    done = sentinel("--config", room.config, "config", "check")
    assert (done.code, done.out) == (2, "")
    assert f"{table}.{key}: expected" in done.err


def test_targets_and_recipients_of_no_use_are_faults_too(room: Room) -> None:
    (room.folder / "targets" / "house.txt").write_text("no chart\n")
    room.configure(extra='[recipients.nobody]\nurl_env = "SENTINEL_TEST_UNSET"\n')
    done = sentinel("--config", room.config, "config", "check")
    assert (done.code, done.out) == (2, "")
    assert "targets.house.file: the aim house cannot be read: expected a CGATS text" in done.err
    assert "recipients.nobody: expected one URL a line in the environment variable SENTINEL_TEST_UNSET" in done.err


def test_store_tells_where_it_is_before_there_is_one(room: Room) -> None:
    shown = sentinel("--config", room.config, "store", "--json").json()
    assert set(shown) == {"schema", "path", "sqlite", "journal_mode", "schema_version", "newest_backup"}
    assert (shown["path"], shown["schema_version"]) == (str(room.store), "none yet")
    assert shown["sqlite"] == sqlite3.sqlite_version
    assert not room.store.exists()


def test_store_tells_the_shape_of_one_that_is_there(room: Room) -> None:
    assert sentinel("--config", room.config, "run", "--once").code == 0
    shown = sentinel("--config", room.config, "store", "--json").json()
    with sqlite3.connect(f"file:{room.store}?mode=ro", uri=True) as connection:
        [[version]] = connection.execute("SELECT version_num FROM alembic_version")
        [[mode]] = connection.execute("PRAGMA journal_mode")
    assert (shown["schema_version"], shown["journal_mode"]) == (version, mode)
    text = sentinel("--config", room.config, "store").out
    assert text.splitlines() == [f"{name}: {value}" for name, value in shown.items() if name != "schema"]


def recipient(room: Room, name: str, *urls: str, mode: int = 0o600) -> str:
    """The settings of a recipient whose URLs lie in a file."""
    path = room.folder / f"{name}.urls"
    path.write_text("\n".join(urls) + "\n")
    path.chmod(mode)
    return f'[recipients.{name}]\nurl_file = "{path.name}"\n'


def notify(room: Room, *words: str) -> Done:
    return sentinel("--config", room.config, "notify", "test", *words)


def test_a_test_message_reaches_every_url(room: Room, webhook: Webhook, mail: MailServer) -> None:
    room.configure(extra=recipient(room, "team", mail.url, webhook.url()))
    done = notify(room)
    assert (done.code, done.out) == (0, "team, URL 1: accepted\nteam, URL 2: accepted\n")
    assert [subject for subject, _ in mail.mails] == ["Test from the sentinel of hall"]
    assert "nothing is to be done" in mail.mails[0][1]
    assert [post["title"] for post in webhook.posts] == ["Test from the sentinel of hall"]


def test_a_message_that_was_not_accepted_is_told_and_fails_the_command(room: Room, webhook: Webhook) -> None:
    webhook.status = 500
    gone = f"json://127.0.0.1:{free_port()}/secret-token"
    room.configure(extra=recipient(room, "team", webhook.url("hidden"), gone) + recipient(room, "lead", gone))
    done = notify(room, "--json")
    assert done.code == 1
    assert [(line["recipient"], line["url"], line["accepted"]) for line in done.lines()] == [
        ("team", 1, False),
        ("team", 2, False),
        ("lead", 1, False),
    ]
    assert all(line["answer"] for line in done.lines())
    for secret in ("secret-token", "hidden"):
        assert secret not in done.out + done.err


def test_one_refusal_among_several_fails_the_command(room: Room, webhook: Webhook) -> None:
    gone = f"json://127.0.0.1:{free_port()}"
    room.configure(extra=recipient(room, "team", webhook.url()) + recipient(room, "lead", gone))
    done = notify(room)
    assert done.code == 1
    assert done.out.startswith("team, URL 1: accepted\nlead, URL 1: ")


def test_only_the_recipients_named_are_told(room: Room, webhook: Webhook) -> None:
    gone = f"json://127.0.0.1:{free_port()}"
    room.configure(extra=recipient(room, "team", webhook.url()) + recipient(room, "lead", gone))
    done = notify(room, "team")
    assert (done.code, done.out) == (0, "team, URL 1: accepted\n")


def test_a_recipient_that_does_not_exist_is_refused_with_those_that_do(room: Room, webhook: Webhook) -> None:
    room.configure(extra=recipient(room, "team", webhook.url()))
    done = notify(room, "team", "boss")
    assert (done.code, done.out, webhook.posts) == (2, "", [])
    assert done.err == "sentinel: expected a recipient of the settings (team), got 'boss'\n"


def test_urls_that_anyone_may_read_are_refused(room: Room, webhook: Webhook) -> None:
    room.configure(extra=recipient(room, "team", webhook.url("hidden"), mode=0o644))
    done = notify(room)
    assert (done.code, webhook.posts) == (2, [])
    assert "team.urls to be closed to others (chmod 600)" in done.err
    assert "hidden" not in done.err


@pytest.mark.parametrize("command", [("notify", "test"), ("config", "check"), ("run", "--once")])
def test_a_url_that_no_service_knows_is_told_by_its_place_alone(room: Room, command: tuple[str, str]) -> None:
    room.configure(extra=recipient(room, "team", "# the team", "nosuch://secret-token"))
    done = sentinel("--config", room.config, *command)
    assert done.code == (1 if command[0] == "notify" else 2)
    assert "secret-token" not in done.out + done.err
    assert "recipients.team: URL 1" in done.err or "team, URL 1: " in done.out


def test_a_url_may_come_from_the_environment(room: Room, webhook: Webhook) -> None:
    room.configure(extra='[recipients.team]\nurl_env = "TEAM_URL"\n')
    done = sentinel("--config", room.config, "notify", "test", TEAM_URL=webhook.url())
    assert (done.code, len(webhook.posts)) == (0, 1)


def test_output_may_be_cut_off_by_its_reader(room: Room) -> None:
    """As `sentinel status | head -0` does."""
    command: list[str | Path] = [SENTINEL, "--config", room.config, "status", "--json"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        err = process.stderr.read()
        assert process.wait(60) == 0
    assert err == b""
