"""Which settings the service starts on: those of the file, or those that were in force last."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sentinel.adapters.files.kept_settings import KeptSettings, state_folder
from sentinel.bootstrap import CheckedSettings
from sentinel.errors import AdminError
from tests.support.clock import FakeClock
from tests.support.toml import LEAST, written

SPOILT: dict[str, Callable[[Path], object]] = {
    "cut in the middle": lambda path: path.write_bytes(path.read_bytes()[: path.stat().st_size // 2]),
    "empty": lambda path: path.write_bytes(b""),
    "zeros": lambda path: path.write_bytes(b"\0" * path.stat().st_size),
    "gone": lambda path: path.unlink(),
    "a bad edit": lambda path: path.write_text(path.read_text() + "[due]\nmax_age_days = inf\n"),
    "another store, half written": lambda path: path.write_text('[store]\npath = "other.sqlite"\n[folders'),
}


@pytest.fixture
def config(tmp_path: Path) -> Path:
    return written(tmp_path, LEAST)


def in_force(config: Path, clock: FakeClock) -> CheckedSettings:
    """After a start that went well."""
    settings = CheckedSettings(config, clock)
    settings.keep(settings.start()[0])
    return CheckedSettings(config, clock)


@pytest.mark.parametrize("spoil", SPOILT.values(), ids=SPOILT)
def test_a_broken_file_is_started_past(config: Path, clock: FakeClock, spoil: Callable[[Path], object]) -> None:
    settings, since = in_force(config, clock), clock.now()
    clock.advance(3600.0)
    spoil(config)
    snapshot, kept = settings.start()
    assert kept is not None
    assert kept.since == since
    assert kept.fault.startswith(f"{config}:")
    assert snapshot.loaded.settings.store.path == config.parent / "store.sqlite"
    assert not settings.changed()
    config.write_text(LEAST + "[due]\nmax_age_days = 3.0\n")
    assert settings.changed()
    assert settings.load().loaded.settings.due.max_age_days == 3.0


def test_the_copy_is_for_its_owner_alone_and_holds_the_text_alone(config: Path, clock: FakeClock) -> None:
    in_force(config, clock)
    copy = KeptSettings(state_folder({"STATE_DIRECTORY": str(config.parent / "state")}), config)
    assert copy.path is not None
    assert copy.path.stat().st_mode & 0o777 == 0o600
    assert copy.path.read_bytes().partition(b"\n")[2] == LEAST.encode()
    assert [path.name for path in copy.path.parent.iterdir()] == [copy.path.name]


def test_the_time_is_that_at_which_they_came_into_force(config: Path, clock: FakeClock) -> None:
    first = clock.now()
    in_force(config, clock)
    clock.advance(3600.0)
    settings = in_force(config, clock)
    config.unlink()
    kept = settings.start()[1]
    assert kept is not None
    assert kept.since == first


DAMAGE: dict[str, Callable[[Path], object]] = {
    "gone": lambda path: path.unlink(),
    "cut": lambda path: path.write_bytes(path.read_bytes()[:-5]),
    "another byte": lambda path: path.write_bytes(path.read_bytes().replace(b"aside", b"bside")),
    "no head": lambda path: path.write_bytes(LEAST.encode()),
    "empty": lambda path: path.write_bytes(b""),
    "a list for a head": lambda path: path.write_bytes(b"# sentinel []\n" + LEAST.encode()),
}


@pytest.mark.parametrize("damage", DAMAGE.values(), ids=DAMAGE)
def test_without_a_whole_copy_the_file_is_refused(
    config: Path, clock: FakeClock, damage: Callable[[Path], object]
) -> None:
    settings = in_force(config, clock)
    damage(next((config.parent / "state").iterdir()))
    config.write_text("[folders\n")
    with pytest.raises(AdminError, match=":1:9: "):
        settings.start()


def test_a_copy_that_is_refused_too_is_told_with_the_file(config: Path, clock: FakeClock) -> None:
    KeptSettings(config.parent / "state", config).keep(b"[of_an_older_program]\n", clock.now())
    config.write_text("[folders\n")
    with pytest.raises(AdminError, match=r"(?s):1:9: .*are refused too.*of_an_older_program: unknown key"):
        CheckedSettings(config, clock).start()


def test_a_copy_is_that_of_its_own_file(config: Path, clock: FakeClock, tmp_path: Path) -> None:
    in_force(config, clock)
    with pytest.raises(AdminError):
        CheckedSettings(tmp_path / "other.toml", clock).start()


RECIPIENTS = '[recipients.here]\nurl_file = "here.url"\n[recipients.gone]\nurl_file = "gone.url"\n'


def url(config: Path, name: str) -> None:
    path = config.parent / f"{name}.url"
    path.write_text("json://127.0.0.1:9/")
    path.chmod(0o600)


def test_one_recipient_without_a_url_holds_no_start_up_and_is_seen_once_it_has_one(
    config: Path, clock: FakeClock
) -> None:
    config.write_text(LEAST + RECIPIENTS)
    url(config, "here")
    settings = CheckedSettings(config, clock)
    settings.start()
    assert not settings.changed()
    settings.load()  # what was borne at the start is borne on
    url(config, "gone")
    assert settings.changed()
    settings.load()
    (config.parent / "gone.url").unlink()
    with pytest.raises(AdminError, match=r"recipients\.gone: "):
        settings.load()


def test_where_nobody_can_be_told_only_what_worked_before_starts(config: Path, clock: FakeClock) -> None:
    config.write_text(LEAST + RECIPIENTS)
    with pytest.raises(AdminError, match=r"recipients\.here: "):
        CheckedSettings(config, clock).start()
    url(config, "here")
    url(config, "gone")
    settings = in_force(config, clock)
    for path in config.parent.glob("*.url"):
        path.unlink()
    assert settings.start()[1] is None


def test_another_store_waits_for_a_restart(config: Path, clock: FakeClock) -> None:
    settings = in_force(config, clock)
    config.write_text("")
    settings.start()
    config.write_text(LEAST.replace("store.sqlite", "other.sqlite"))
    with pytest.raises(AdminError, match="restart the service"):
        settings.load()


def test_the_state_folder_is_the_managers_then_the_users() -> None:
    assert state_folder({"STATE_DIRECTORY": "/var/lib/a:/var/lib/b", "HOME": "/h"}) == Path("/var/lib/a")
    assert state_folder({"XDG_STATE_HOME": "/x", "HOME": "/h"}) == Path("/x/sentinel")
    assert state_folder({"HOME": "/h"}) == Path("/h/.local/state/sentinel")
    assert state_folder({}) is None


def test_a_state_folder_that_cannot_be_written_ends_nothing(config: Path, clock: FakeClock) -> None:
    (config.parent / "state").write_text("a file")
    settings = CheckedSettings(config, clock)
    settings.keep(settings.start()[0])


def test_that_the_service_stopped_is_told_once_in_six_hours_a_cause(tmp_path: Path) -> None:
    from sentinel.adapters.files.told import ToldLast
    from sentinel.application.stopped import cause, is_due

    told, now = ToldLast(tmp_path / "state" / "told.json"), datetime(2026, 7, 6, tzinfo=UTC)
    what = cause({"MONITOR_SERVICE_RESULT": "exit-code", "MONITOR_EXIT_CODE": "exited", "MONITOR_EXIT_STATUS": "2"})
    assert what == "exit-code, exited 2"
    assert is_due(told, what, now)
    told.note(what, now)
    assert not is_due(told, what, now + timedelta(hours=5))
    assert is_due(told, "signal, killed 9", now)
    assert is_due(told, what, now + timedelta(hours=6))
    assert is_due(told, what, now - timedelta(days=10))
    (tmp_path / "state" / "told.json").write_text("half")
    assert is_due(told, what, now)
