"""Whether the store is the one that belongs here: never a new one in the place of one that was lost.

A store has a number (SQLite's `user_version`), and the archive notes which store of which site it belongs to.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from sentinel.adapters.files.archive import write_durably
from sentinel.adapters.store.backups import sites_of
from sentinel.adapters.store.connection import connected, opening
from sentinel.errors import StoreLostError

CURE = "`sentinel store restore` takes a backup; `sentinel store begin` begins without the old records, on purpose"


@dataclass(frozen=True, slots=True)
class Belonging:
    """The place of a store, the archive that belongs to it, and its backups."""

    store: Path
    site: str
    archive: Path
    backups: Path

    def signs(self) -> list[str]:
        """What tells that there is, or was, a store of this site."""
        found = []
        if self._noted() is not None:
            found.append("the archive notes one")
        elif not _notes(self.archive) and _has(self.archive, "[0-9a-f][0-9a-f]/*"):
            found.append("the archive has files")
        if _has(self.backups, f"{self.store.stem}-*Z{self.store.suffix}"):
            found.append("there are backups of one")
        if self.store.with_name(f"{self.store.name}.reserve").exists():
            found.append("its reserve is there")
        return found

    def examine(self, signs: Sequence[str]) -> None:
        """Raises StoreLostError where there is none though there are signs of one, or another one than these tell of.

        Raises StoreError where it cannot be read.
        """
        with opening(self.store):
            sites = sites_of(self.store)
            number = _number(self.store) if sites is not None else 0
        if sites is None:
            if signs:
                raise StoreLostError(f"expected the store at {self.store}, got none, though {', '.join(signs)}: {CURE}")
        elif sites and self.site not in sites:
            raise StoreLostError(
                f"expected records of the site {self.site} in {self.store}, got those of {', '.join(sites)}: "
                f"the name of the site or the path of the store is wrong; {CURE}"
            )
        elif number and self._noted() not in (None, number):
            raise StoreLostError(
                f"expected the store that belongs to the archive {self.archive}, got another at {self.store}: {CURE}"
            )

    def settle(self) -> None:
        """Store and archive know of each other from now on; an archive that cannot be written is told of it later."""
        with opening(self.store), closing(connected(self.store, "rw")) as connection:
            number = int(connection.execute("PRAGMA user_version").fetchone()[0])
            if number == 0:
                number = self._noted() or 1 + secrets.randbelow(2**31 - 2)
                connection.execute(f"PRAGMA user_version = {number}")
        if self._noted() != number:
            with suppress(OSError):
                write_durably(_place(self.archive), json.dumps({**_notes(self.archive), self.site: number}).encode())

    def forget(self) -> None:
        """The archive belongs to no store of this site any more."""
        notes = {site: number for site, number in _notes(self.archive).items() if site != self.site}
        with opening(self.store):
            write_durably(_place(self.archive), json.dumps(notes).encode())

    def _noted(self) -> int | None:
        return _notes(self.archive).get(self.site)


def _place(archive: Path) -> Path:
    return archive / "stores.json"


def _notes(archive: Path) -> dict[str, int]:
    try:
        kept = json.loads(_place(archive).read_bytes())
    except (OSError, ValueError, RecursionError):
        return {}
    if not isinstance(kept, dict):
        return {}
    return {str(site): number for site, number in kept.items() if isinstance(number, int)}


def _number(store: Path) -> int:
    with closing(connected(store, "ro")) as connection:
        return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _has(folder: Path, pattern: str) -> bool:
    try:
        return next(folder.glob(pattern), None) is not None
    except OSError:
        return False
