"""Settings written from a few lines, and the faults they are refused with."""

from __future__ import annotations

from pathlib import Path

from sentinel.core.conditions.name import ConditionName
from sentinel.core.scoring.policy import Limits
from sentinel.settings.loading import Loaded, SettingsError, load
from sentinel.settings.models import Settings
from sentinel.settings.resolving import Snapshot

LEAST = """\
[folders]
drop = ["drop"]
archive = "archive"
put_aside = "aside"
[store]
path = "store.sqlite"
"""
"""The shortest TOML that is taken, six lines long."""


def written(folder: Path, text: str | bytes) -> Path:
    path = folder / "sentinel.toml"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def settings(folder: Path, extra: str = "") -> Settings:
    """The settings of the shortest TOML with `extra` behind it."""
    return load(written(folder, LEAST + extra)).settings


def limits_for(given: Settings, target: str, condition: str) -> Limits:
    """Those that hold for a target on a printing condition."""
    name = ConditionName.parse(condition)
    assert name is not None
    return Snapshot(Loaded(given, Path("sentinel.toml"), "")).conditions[name].scoring.targets[target].limits


def faults(folder: Path, text: str | bytes) -> list[str]:
    """The lines a text is refused with, without the file's path; none where it is taken."""
    path = written(folder, text)
    try:
        load(path)
    except SettingsError as refusal:
        lines = str(refusal).splitlines()
        assert all(line.startswith(f"{path}:") for line in lines), lines
        return [line.removeprefix(str(path)) for line in lines]
    return []
