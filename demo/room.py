"""The room on disk: settings, targets, drop folders and the recipients' URLs, in a folder of its own."""

from __future__ import annotations

import shutil
from pathlib import Path

from demo.instrument import Reading, exported
from demo.receivers import Receivers

SETTINGS = Path(__file__).with_name("sentinel.toml")
HOURS_OF_A_YEAR = 24.0 * 365.0

AIMS = (
    Reading("north", "satin-240", HOURS_OF_A_YEAR, seed=101),
    Reading("north", "cotton-310", HOURS_OF_A_YEAR, seed=102),
    Reading("harbour", "banner-440", HOURS_OF_A_YEAR, seed=103),
    Reading("quarry", "banner-440", HOURS_OF_A_YEAR, seed=104),
    Reading("quarry", "board-300", HOURS_OF_A_YEAR, seed=105),
)


class Room:
    """Where everything lies."""

    def __init__(self, folder: Path, receivers: Receivers) -> None:
        self.folder = folder
        self.settings = folder / "sentinel.toml"
        self.drop = folder / "drop"
        self.put_aside = folder / "put-aside"
        self.log = folder / "service.log"
        shutil.copy(SETTINGS, self.settings)
        self.drop.mkdir()
        self._write_targets()
        self._write_urls(receivers)

    def _write_targets(self) -> None:
        targets = self.folder / "targets"
        targets.mkdir()
        for aim in AIMS:
            (targets / f"{aim.printer}-{aim.stock}.txt").write_bytes(exported(aim))

    def _write_urls(self, receivers: Receivers) -> None:
        urls = self.folder / "urls"
        urls.mkdir()
        for name, url in (
            ("colour-lead", receivers.mail_url("colour-lead")),
            ("print-floor", receivers.mail_url("print-floor")),
            ("room-chat", receivers.webhook_url("room-chat")),
        ):
            path = urls / name
            path.touch(mode=0o600)
            path.write_text(f"{url}\n", encoding="utf-8")
