"""Whether the TOML changed since it was last looked at."""

from __future__ import annotations

from pathlib import Path

import pytest

from sentinel.adapters.files.stamps import SettingsOnDisk
from sentinel.settings.loading import Loaded, SettingsError, load
from tests.support.toml import LEAST, written


def on_disk_at(path: Path) -> SettingsOnDisk[Loaded]:
    return SettingsOnDisk(path, load)


def test_a_file_that_was_never_loaded_counts_as_changed(tmp_path: Path) -> None:
    assert on_disk_at(written(tmp_path, LEAST)).changed()


def test_a_loaded_file_has_not_changed(tmp_path: Path) -> None:
    on_disk = on_disk_at(written(tmp_path, LEAST))
    assert on_disk.load().settings.site.name == "print-room"
    assert not on_disk.changed()


def test_a_rewritten_file_has_changed_until_it_is_loaded(tmp_path: Path) -> None:
    on_disk = on_disk_at(written(tmp_path, LEAST))
    on_disk.load()
    written(tmp_path, LEAST + '[site]\nname = "hall"\n')
    assert on_disk.changed()
    assert on_disk.load().settings.site.name == "hall"
    assert not on_disk.changed()


def test_a_replaced_file_has_changed(tmp_path: Path) -> None:
    path = written(tmp_path, LEAST)
    on_disk = on_disk_at(path)
    on_disk.load()
    other = tmp_path / "new"
    other.write_text(LEAST)
    other.replace(path)
    assert on_disk.changed()


def test_a_refused_file_is_not_looked_at_again_until_it_changes(tmp_path: Path) -> None:
    on_disk = on_disk_at(written(tmp_path, "[folders"))
    with pytest.raises(SettingsError):
        on_disk.load()
    assert not on_disk.changed()
    written(tmp_path, LEAST)
    assert on_disk.changed()


def test_a_file_that_goes_has_changed_once_and_again_when_it_is_back(tmp_path: Path) -> None:
    path = written(tmp_path, LEAST)
    on_disk = on_disk_at(path)
    on_disk.load()
    path.unlink()
    assert on_disk.changed()
    with pytest.raises(SettingsError, match="No such file"):
        on_disk.load()
    assert not on_disk.changed()
    written(tmp_path, LEAST)
    assert on_disk.changed()
