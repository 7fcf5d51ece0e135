"""Whether a folder of the settings can be used as the service uses it."""

from __future__ import annotations

import os
import secrets
import shutil
import stat
from pathlib import Path

from sentinel.core.dropped_file import FolderUse

RIGHTS = {
    FolderUse.TAKEN_FROM: os.R_OK | os.W_OK | os.X_OK,
    FolderUse.LOOKED_AT: os.R_OK | os.X_OK,
    FolderUse.WRITTEN: os.W_OK | os.X_OK,
}


def folder_fault(folder: Path, use: FolderUse) -> str | None:
    """What is wrong with it for whoever asks, seen without writing anything; None where nothing is.

    A folder that is written to is made where it is not there, so then the nearest one above it counts.
    """
    try:
        if not stat.S_ISDIR(folder.stat().st_mode):
            return f"expected a folder at {folder}, got something else"
    except FileNotFoundError:
        if use is FolderUse.WRITTEN and not folder.is_symlink() and folder.parent != folder:
            return folder_fault(folder.parent, use)
        return f"expected a folder at {folder}, got none: make it, or name another"
    except OSError as fault:
        return f"expected a folder at {folder}, got: {fault.strerror}"
    return None if os.access(folder, RIGHTS[use], effective_ids=True) else _closed(folder, use)


def _closed(folder: Path, use: FolderUse) -> str:
    if os.statvfs(folder).f_flag & os.ST_RDONLY:
        return f"expected to write to {folder}, got a file system that is mounted read-only"
    return f"expected {folder} to be open to user {os.geteuid()}, since {use.value}; got one that is closed to it"


def write_fault(folder: Path) -> str | None:
    """What the system says to a file that is written there, lasting, and removed again; None where it takes it.

    A folder that is not there yet is not made: the nearest one above it is tried.
    """
    place = _nearest(folder) / f".{secrets.token_hex(8)}.tmp"
    try:
        try:
            with place.open("xb") as file:
                file.write(bytes(1 << 16))
                file.flush()
                os.fsync(file.fileno())
        finally:
            place.unlink(missing_ok=True)
    except OSError as fault:
        return fault.strerror or str(fault)
    return None


def free_bytes(folder: Path) -> int | None:
    """How many bytes a file there may still take; None where that cannot be told."""
    try:
        return shutil.disk_usage(_nearest(folder)).free
    except OSError:
        return None


def _nearest(folder: Path) -> Path:
    return next((each for each in (folder, *folder.parents) if each.is_dir()), folder)
