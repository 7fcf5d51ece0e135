"""`init`: from nothing to the first check that is scored; never over anything that is there."""

from __future__ import annotations

import json
import os
import pty
import subprocess
from pathlib import Path

import pytest

from sentinel.application.beginning import INSTALLED, Wishes, begin, named, settings_text
from sentinel.bootstrap import Composition
from sentinel.core.conditions.name import ConditionName
from sentinel.errors import AdminError
from sentinel.settings.loading import loaded
from tests.support import cgats
from tests.support.command import SENTINEL, Done, sentinel
from tests.support.servers import Webhook, free_port


@pytest.fixture
def config(tmp_path: Path) -> Path:
    return tmp_path / "room" / "sentinel.toml"


@pytest.fixture
def aim(tmp_path: Path) -> Path:
    path = tmp_path / "aim.txt"
    path.write_text(cgats.text())
    return path


def init(config: Path, *words: str | Path) -> Done:
    return sentinel("--config", config, "init", *words)


ONE = ("--site", "Harbour Street", "--timezone", "Europe/Lisbon", "--printer", "North, 44 inch", "--substrate", "Satin")


def test_from_nothing_to_the_first_check(config: Path, aim: Path, webhook: Webhook, tmp_path: Path) -> None:
    urls, sheet = tmp_path / "urls", tmp_path / "sheet.txt"
    urls.write_text(webhook.url() + "\n")
    sheet.write_text(cgats.text(cgats.GOOD))
    done = init(config, *ONE, "--target", aim, "--url-file", urls, "--check", sheet)
    assert (done.code, done.err) == (0, "")
    assert f"made: {config}\n" in done.out
    assert "kept: target house, version 1" in done.out
    assert "colour-lead, URL 1: accepted\n" in done.out
    assert "(north-44-inch/satin): pass\n" in done.out
    assert len(webhook.posts) == 1
    assert (config.parent / "colour-lead.url").stat().st_mode & 0o777 == 0o600
    assert sentinel("--config", config, "config", "check", "--strict").code == 0


def test_what_it_writes_works_as_a_service(config: Path, aim: Path) -> None:
    assert init(config, *ONE, "--target", aim).code == 0
    place = config.parent / "drop" / "north-44-inch" / "satin" / "monday.txt"
    place.write_text(cgats.text(cgats.GOOD))
    assert sentinel("--config", config, "run", "--once").code == 0
    [check] = sentinel("--config", config, "checks", "--json").lines()
    assert (check["condition"], check["verdict"]) == ("north-44-inch/satin", "pass")


def test_people_may_go_on_writing_names_as_they_do(config: Path, aim: Path) -> None:
    assert init(config, *ONE, "--target", aim).code == 0
    assert sentinel("--config", config, "explain", "North, 44 inch/Satin", "--json").json()["condition"] == (
        "north-44-inch/satin"
    )


def test_printers_and_stocks_are_read_off_the_folders_there_are(config: Path, aim: Path, tmp_path: Path) -> None:
    tree = tmp_path / "measured"
    for place in ("North/Satin 240/a.txt", "North/Satin 240/fine/b.txt", "South/Matte/c.txt", "loose.txt"):
        (tree / place).parent.mkdir(parents=True, exist_ok=True)
        (tree / place).write_text(cgats.text(cgats.GOOD))
    (tree / "North" / "Notes").mkdir()
    (tree / "North" / "Notes" / "todo.txt").write_text("no measurement")
    done = init(config, "--from", tree, "--target", aim, "--json")
    assert done.code == 0
    assert done.json()["conditions"] == ["north/satin-240", "north/satin-240/fine", "south/matte"]
    text = config.read_text()
    assert 'label = "Satin 240"' in text
    assert "notes" not in text
    copied = config.parent / "drop" / "North" / "Satin 240" / "a.txt"
    copied.parent.mkdir(parents=True)
    copied.write_text(cgats.text(cgats.GOOD))
    assert sentinel("--config", config, "run", "--once").code == 0
    assert not copied.exists(), "taken, though the folder is spelled otherwise"


def test_nothing_is_written_over(config: Path, aim: Path) -> None:
    assert init(config, *ONE).code == 0
    before = {path: path.read_bytes() for path in config.parent.rglob("*") if path.is_file()}
    done = init(config, *ONE, "--target", aim)
    assert (done.code, done.out) == (2, "")
    assert "expected no settings yet, got a file at" in done.err
    assert {path: path.read_bytes() for path in config.parent.rglob("*") if path.is_file()} == before


def test_urls_that_are_there_are_kept(config: Path, tmp_path: Path) -> None:
    config.parent.mkdir()
    (config.parent / "colour-lead.url").write_text("mine")
    (tmp_path / "urls").write_text("json://127.0.0.1/\n")
    assert init(config, *ONE, "--url-file", tmp_path / "urls").code == 2
    assert (config.parent / "colour-lead.url").read_text() == "mine"
    assert not config.exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--site", "a", "--substrate", "b"), "expected --printer"),
        (("--site", "a", "--printer", "b"), "expected --substrate"),
        (("--printer", "…", "--substrate", "b"), "expected a name with letters or digits"),
        ((*ONE, "--recipient", "lead"), "expected --url-file"),
        ((*ONE, "--target", "none.txt"), "expected a file at none.txt"),
        ((*ONE, "--timezone", "Lisbon"), "site.timezone"),
        (("--from", "."), "expected measurement files as PRINTER/SUBSTRATE/file"),
    ],
)
def test_what_is_missing_or_wrong_is_said(config: Path, words: tuple[str, ...], said: str, tmp_path: Path) -> None:
    done = sentinel("--config", config, "init", *words, cwd=tmp_path)
    assert done.code == 2
    assert said in done.err
    assert not config.exists()


def test_a_recipient_that_is_not_reached_does_not_undo_the_rest(config: Path, aim: Path, tmp_path: Path) -> None:
    (tmp_path / "urls").write_text(f"json://127.0.0.1:{free_port()}/\n")
    done = init(config, *ONE, "--target", aim, "--url-file", tmp_path / "urls", "--json")
    assert done.code == 1
    [tried] = done.json()["recipients"]
    assert (tried["accepted"], tried["answer"]) == (False, "JSON: connection refused")
    assert config.exists()


def test_at_a_terminal_it_asks(config: Path, aim: Path) -> None:
    """What is answered with nothing is the default; a URL is not shown."""
    parent, child = pty.openpty()
    process = subprocess.Popen(
        [SENTINEL, "--config", config, "init", "--timezone", "UTC"],
        stdin=child,
        stdout=child,
        stderr=child,
        env={**os.environ, "USER": "lead"},
        start_new_session=True,
        preexec_fn=lambda: os.close(os.open(os.ttyname(0), os.O_RDWR)),  # noqa: PLW1509 - its terminal from now on
    )
    os.close(child)
    answers = ["", "North", "Satin 240", "latex", str(aim), ""]
    said = b""
    for answer in answers:
        while not said.rstrip().endswith(b":"):
            said += os.read(parent, 4096)
        os.write(parent, f"{answer}\n".encode())
        said = b""
        while b"\n" not in said:
            said += os.read(parent, 4096)
        said = said.partition(b"\n")[2]
    code = process.wait(60)
    os.close(parent)
    assert code == 0
    settings = loaded(config, config.read_bytes()).settings
    assert (settings.site.name, list(settings.conditions)) == ("print-room", ["north/satin-240"])
    assert settings.printers["north"].technology == "latex"


def test_an_installed_service_gets_its_own_places(tmp_path: Path) -> None:
    """Its folders are made by the installation, its secrets are credentials; nothing is run as root."""
    config = tmp_path / "etc" / "sentinel.toml"
    wishes = Wishes(
        "hall", "UTC", "uv", [ConditionName("north", "satin")], {}, "house", "ink-space", "colour-lead", INSTALLED
    )
    made = begin(Composition(config).files, config, wishes, "json://127.0.0.1/", b"aim")
    names = ["sentinel.toml", "targets", "credentials", "credentials/colour-lead", "targets/house.txt"]
    assert [path.relative_to(config.parent).as_posix() for path in made] == names
    settings = loaded(config, settings_text(wishes).encode()).settings
    assert str(settings.store.path) == "/var/lib/sentinel/sentinel.db"
    assert settings.recipients["colour-lead"].recipient.url.credential == "recipient_colour-lead"
    assert settings.targets["house"].source.file == config.parent / "targets" / "house.txt"
    with pytest.raises(AdminError, match="nothing was written"):
        begin(Composition(config).files, config, wishes, None)


def test_its_json_is_one_object(config: Path, aim: Path) -> None:
    told = json.loads(init(config, *ONE, "--target", aim, "--json").out)
    assert (told["schema"], told["settings"], told["target"]["version"]) == ("sentinel.init/1", str(config), 1)


def test_what_cannot_be_used_is_refused_before_anything_is_written(config: Path, aim: Path, tmp_path: Path) -> None:
    bad, empty = tmp_path / "bad.url", tmp_path / "empty.url"
    bad.write_text("no url\n")
    empty.write_text("# none\n")
    for words, said in (
        (("--check", tmp_path / "none.txt"), "none.txt"),
        (("--url-file", bad), "URL 1 is not one that can be notified"),
        (("--url-file", empty), "expected one URL a line"),
        (("--printer", "North+44 inch"), "both are north-44-inch"),
    ):
        done = init(config, *ONE, *words)
        assert (done.code, done.out) == (2, "")
        assert said in done.err
        assert not config.parent.exists()
    assert init(config, *ONE, "--target", aim).out.count("as the aim of 1 printing condition\n") == 1


def test_letters_of_other_alphabets_are_spelled_out() -> None:
    assert [named(each).name for each in ("Größe Süd", "Blåbær", "Łódź")] == ["grosse-sud", "blabaer", "lodz"]


def test_two_folders_that_would_be_one_stock_are_refused(config: Path, tmp_path: Path) -> None:
    for stock in ("Satin+240", "satin-240"):
        place = tmp_path / "old" / "north" / stock / "sheet.txt"
        place.parent.mkdir(parents=True)
        place.write_text(cgats.text())
    done = init(config, "--from", tmp_path / "old")
    assert done.code == 2
    assert "both are satin-240" in done.err


def test_folders_that_are_spelled_otherwise_are_one_stock(config: Path, tmp_path: Path) -> None:
    for stock in ("Satin 240", "satin-240"):
        place = tmp_path / "old" / "north" / stock / "sheet.txt"
        place.parent.mkdir(parents=True)
        place.write_text(cgats.text())
    assert init(config, "--from", tmp_path / "old", "--json").json()["conditions"] == ["north/satin-240"]


def test_without_settings_every_command_says_how_to_begin(tmp_path: Path) -> None:
    done = sentinel("--config", tmp_path / "none.toml", "status")
    assert done.code == 2
    assert "`sentinel --config FILE init` writes the first settings" in done.err
