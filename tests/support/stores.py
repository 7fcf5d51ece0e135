"""Stores of earlier schemas, unpacked into a print room that can be opened, and what is known of each."""

from __future__ import annotations

import io
import json
import lzma
import os
import tarfile
from collections.abc import Mapping
from contextlib import chdir, redirect_stdout
from datetime import datetime
from pathlib import Path
from typing import Any

from sentinel.cli.app import main
from tests.support.frozen import Frozen
from tests.support.room import rows
from tests.support.servers import Webhook

KEPT = Path(__file__).parents[1] / "data" / "stores"
RECIPIENTS = {"colour-team": "COLOUR_TEAM_URL", "night-desk": "NIGHT_DESK_URL", "buyer": "BUYER_URL"}
"""Of every kept room, with where the settings look for their URLs."""


def names() -> list[str]:
    """Of every kept store."""
    return sorted(found.parent.name for found in KEPT.glob("*/expected.json"))


def expected(name: str) -> Any:
    """What plain SQL found in a store when it was built: build.py says what."""
    return json.loads((KEPT / name / "expected.json").read_text())


class EarlierRoom:
    """A print room as its last day left it, with servers that listen for every recipient.

    Everything is done at `moment`, where the clock was frozen: tests/support/frozen.py.
    """

    def __init__(self, name: str, folder: Path) -> None:
        kept = KEPT / name
        self.expected = expected(name)
        self.last = self.moment = datetime.fromisoformat(self.expected["last"])
        self.store, self.config = folder / "store.sqlite", folder / "sentinel.toml"
        (folder / "drop").mkdir(parents=True)
        self.config.write_bytes((kept / "sentinel.toml").read_bytes())
        self.store.write_bytes(lzma.decompress((kept / "store.sqlite.xz").read_bytes()))
        with tarfile.open(kept / "folders.tar.xz") as files:
            files.extractall(folder, filter="data")
        self._servers = {recipient: Webhook() for recipient in RECIPIENTS}

    def close(self) -> None:
        for server in self._servers.values():
            server.stop()

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        return rows(self.store, query)

    def tables(self) -> dict[str, list[str]]:
        """The columns of every table."""
        found = self.rows("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
        return {name: [row[1] for row in self.rows(f'PRAGMA table_info("{name}")')] for (name,) in found}

    def everything(self, tables: Mapping[str, list[str]]) -> dict[str, list[tuple[Any, ...]]]:
        """These columns of every row of these tables."""
        found = {}
        for name, columns in tables.items():
            named = ", ".join(f'"{column}"' for column in columns)
            found[name] = sorted(self.rows(f'SELECT {named} FROM "{name}"'), key=repr)  # noqa: S608
        return found

    def does(self, *words: str, codes: tuple[int, ...] = (0,)) -> str:
        """A command of today that ends with one of these codes; what it printed."""
        Frozen.moment = self.moment
        out = io.StringIO()
        with chdir(self.config.parent), redirect_stdout(out):
            code = main(["--config", str(self.config), *words])
        assert code in codes, (words, code)
        return out.getvalue()

    def shows(self, *words: str) -> list[dict[str, Any]]:
        """The JSON of a command, one object a line."""
        return [json.loads(line) for line in self.does(*words, "--json").splitlines()]

    def shows_whole(self, *words: str) -> dict[str, Any]:
        """The JSON of a command, one object in all."""
        shown: dict[str, Any] = json.loads(self.does(*words, "--json"))
        return shown

    def goes_round(self, moment: datetime) -> list[tuple[str, str]]:
        """The service does everything once; (recipient, key) of what its servers got."""
        self.moment = moment
        os.environ |= {variable: self._servers[recipient].url() for recipient, variable in RECIPIENTS.items()}
        self.does("run", "--once")
        told = []
        for recipient, server in self._servers.items():
            told += [(recipient, _key(post)) for post in server.posts]
            server.posts.clear()
        return told


def _key(post: Mapping[str, Any]) -> str:
    """A notice ends with its key."""
    return str(post["message"]).split()[-1]
