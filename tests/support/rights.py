"""Work without the rights of the superuser, where the tests have them, and a folder in which it can be done."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

NOBODY = 65534


@contextmanager
def unprivileged() -> Iterator[None]:
    """Without the rights of the superuser.

    Whatever the work imports must be there before: the folder of the program may be closed to all others.
    """
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)


@contextmanager
def open_folder() -> Iterator[Path]:
    """A folder that `unprivileged` can reach; what pytest makes is closed to others."""
    folder = Path(tempfile.mkdtemp(prefix="open-"))
    hand_over(folder)
    try:
        yield folder
    finally:
        shutil.rmtree(folder)


def hand_over(folder: Path) -> None:
    """Gives the folder and all in it to `unprivileged`."""
    if os.geteuid() == 0:
        for path in [folder, *folder.rglob("*")]:
            os.chown(path, NOBODY, NOBODY)
