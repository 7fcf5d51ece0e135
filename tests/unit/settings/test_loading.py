"""From the bytes of a file to settings, or to a refusal."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from sentinel.core.cases.kinds import NoticeKind
from sentinel.errors import AdminError
from sentinel.settings.loading import SettingsError, load
from tests.support.toml import LEAST, faults, settings, written


def test_a_missing_file_is_refused_with_its_path(tmp_path: Path) -> None:
    path = tmp_path / "none.toml"
    with pytest.raises(SettingsError) as refusal:
        load(path)
    said = "expected a readable file, got: No such file or directory"
    assert str(refusal.value) == f"{path}: {said}; `sentinel --config FILE init` writes the first settings"


def test_a_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="expected a readable file, got: Is a directory"):
        load(tmp_path)


def test_a_refusal_is_for_the_admin_to_mend() -> None:
    assert issubclass(SettingsError, AdminError)


BROKEN = {
    "not TOML": ("[site\n", ":1:6: Expected ']' at the end of a table declaration"),
    "a value left out": ("[site]\nname =\n", ":2:7: Invalid value"),
    "a key given twice": ('[site]\nname = "a"\nname = "b"\n', ":3:11: Cannot overwrite a value"),
    "a text left open": ('[site]\nname = "hall\n', ":2:13: Illegal character '\\n'"),
    "Latin-1": (b"[site]\n# caf\xe9\n", ":2:6: expected UTF-8, got byte 12 = 0xe9"),
    "UTF-16": (LEAST.encode("utf-16"), ":1:1: expected UTF-8, got byte 0 = 0xff"),
}


@pytest.mark.parametrize(("content", "fault"), BROKEN.values(), ids=BROKEN)
def test_a_broken_text_is_refused_where_it_breaks(tmp_path: Path, content: str | bytes, fault: str) -> None:
    assert faults(tmp_path, content) == [fault]


def test_a_text_nested_beyond_reason_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError):
        load(written(tmp_path, "x = " + "[" * 5000 + "]" * 5000))


def test_relative_paths_are_taken_from_the_folder_of_the_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    own = tmp_path / "etc"
    own.mkdir()
    written(own, LEAST + '[targets.house]\nfile = "t/house.txt"\ncolour_path = "ink-space"\n'
            '[recipients.team]\nurl_file = "team.url"\n'
            '[heartbeat]\nurl_file = "watcher.url"\n')  # fmt: skip
    monkeypatch.chdir(tmp_path)
    found = load(Path("etc/sentinel.toml")).settings
    assert found.folders.drop == (own / "drop",)
    assert found.folders.archive == own / "archive"
    assert found.folders.put_aside == own / "aside"
    assert found.store.path == own / "store.sqlite"
    assert found.targets["house"].file == own / "t" / "house.txt"
    assert found.recipients["team"].url_file == own / "team.url"
    assert found.heartbeat is not None
    assert found.heartbeat.url_file == own / "watcher.url"


def test_absolute_paths_stay(tmp_path: Path) -> None:
    path = written(tmp_path, LEAST.replace('"store.sqlite"', '"/var/lib/sentinel/store.sqlite"'))
    assert load(path).settings.store.path == Path("/var/lib/sentinel/store.sqlite")


def test_the_fingerprint_is_that_of_the_bytes(tmp_path: Path) -> None:
    path = written(tmp_path, LEAST)
    assert load(path).fingerprint == hashlib.sha256(LEAST.encode()).hexdigest()


def test_settings_do_not_change_once_loaded(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="frozen"):
        settings(tmp_path).site.name = "other"  # type: ignore[misc]


def test_whole_numbers_are_taken_where_a_number_belongs(tmp_path: Path) -> None:
    assert settings(tmp_path, "[due]\nmax_age_days = 3\n").due.max_age_days == 3.0


def test_a_recipient_is_told_all_kinds_or_those_it_names(tmp_path: Path) -> None:
    found = settings(
        tmp_path,
        '[recipients.all]\nurl_env = "A"\n[recipients.few]\nurl_env = "B"\nkinds = ["check-failed", "recovered"]\n',
    ).recipients
    assert found["all"].kinds == tuple(NoticeKind)
    assert found["few"].kinds == (NoticeKind.CHECK_FAILED, NoticeKind.RECOVERED)
