"""Notices through a mail server that is none of ours: well, greylisting, stopped; the service is killed meanwhile.

python -m tests.faults.real_mail        # as root, with Debian's opensmtpd installed and not running; two minutes

What is counted was read from the maildir that smtpd delivered to. `451` is what a greylisting server or one with a full
queue answers (RFC 5321, 4.2.3).
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path

from tests.faults.progress import answers, done, drop_check, failed_tries
from tests.support.process import IN_A_HURRY, URGENT, eventually, running
from tests.support.room import Room, rows
from tests.support.servers import free_port

PLACES = ("north/satin-240", "north/matte-190", "south/satin-240")
ROUNDS = 5
PATIENCE_SECONDS = 90.0
GREYLISTING = 'filter later phase rcpt-to match !rdns regex {"^never$"} reject "451 4.7.1 try again later"\n'
ASKED = 'result="451 '
CONFIG = """\
{filter}listen on 127.0.0.1 port {port} hostname mail.example {use}
table people {{ "@" = "nobody" }}
action keep mda "/usr/libexec/opensmtpd/mail.maildir {box}" virtual <people>
match from any for any action keep
"""


class MailBox:
    """A maildir, and the real server that fills it."""

    def __init__(self, folder: Path) -> None:
        self.port, self._folder, self._box = free_port(), folder, folder / "box"
        self._box.mkdir()
        shutil.chown(self._box, "nobody")
        folder.chmod(0o711)  # smtpd delivers as nobody

    @contextmanager
    def served(self, later: bool = False) -> Iterator[None]:
        """The server runs; with `later` it asks for every mail to be sent again later."""
        config = self._folder / "smtpd.conf"
        config.write_text(
            CONFIG.format(
                filter=GREYLISTING if later else "", use="filter later" if later else "", port=self.port, box=self._box
            )
        )
        with (self._folder / "smtpd.log").open("ab") as log:
            server = subprocess.Popen([_smtpd(), "-d", "-f", config], stdout=log, stderr=log)
            try:
                yield
            finally:
                server.send_signal(signal.SIGTERM)
                server.wait(20)

    def mails(self) -> list[EmailMessage]:
        """All that was delivered."""
        return [message_from_bytes(path.read_bytes(), policy=policy.default) for path in self._box.glob("new/*")]

    def said(self, words: str) -> int:
        """How often the server's log has these words."""
        return (self._folder / "smtpd.log").read_text(errors="replace").count(words)


def _smtpd() -> str:
    found = shutil.which("smtpd", path=os.environ["PATH"] + ":/usr/sbin")
    if found is None:
        sys.exit("expected the program smtpd, got none: install the package opensmtpd")
    return found


def fail_checks(room: Room, name: str) -> None:
    """A failing file for each place and round, no two alike."""
    for number in range(ROUNDS):
        for place in PLACES:
            drop_check(room, place, f"{name}-{number}")


def through_all(room: Room, box: MailBox) -> None:
    """Well, asked to come later, stopped, and well again, with the service killed while it delivers."""
    url = f"mailto://127.0.0.1:{box.port}/?from=sentinel@print.example&to=team@print.example&mode=insecure"
    with box.served(), running(room, url):
        fail_checks(room, "well")
        eventually("all are there", lambda: len(box.mails()) >= ROUNDS, PATIENCE_SECONDS)
    with running(room, url) as service:
        with box.served(later=True):
            fail_checks(room, "later")
            eventually("it was asked to come later", lambda: box.said(ASKED) > 5, PATIENCE_SECONDS)
        fail_checks(room, "stopped")
        before = failed_tries(room)
        eventually("it is refused", lambda: failed_tries(room) > before + 5, PATIENCE_SECONDS)
        service.kill()
    with box.served():
        for _ in range(6):
            before = len(box.mails())
            with running(room, url) as service:
                eventually("some arrive", lambda before=before: len(box.mails()) > before or done(room))  # type: ignore[misc]
                service.kill()
        with running(room, url):
            eventually("nothing waits", lambda: done(room), PATIENCE_SECONDS)
        eventually("all are delivered", lambda: not lost(room, box), PATIENCE_SECONDS)


def lost(room: Room, box: MailBox) -> set[str]:
    """Keys of notices that never came to the maildir."""
    told = {str(mail["X-Sentinel-Notice"]) for mail in box.mails()}
    return {str(key) for (key,) in rows(room.store, "SELECT key FROM outbox WHERE status != 'withdrawn'")} - told


def report(room: Room, box: MailBox) -> str:
    """The counts, from the maildir."""
    mails = box.mails()
    keys = Counter(str(mail["X-Sentinel-Notice"]) for mail in mails)
    kinds = [Counter(part.get_content_type() for part in mail.walk()) for mail in mails]
    plain = [mail.get_body(("plain",)) for mail in mails]
    ends = [str(each.get_content()).strip().splitlines()[-1] if each else "" for each in plain]
    keyed = sum(end == f"Notice {mail['X-Sentinel-Notice']}" for end, mail in zip(ends, mails, strict=True))
    return (
        f"{len(keys)} notices, lost {len(lost(room, box))}, in {len(mails)} mails, {len(mails) - len(keys)} of them "
        f"repeats with the same key\n"
        f"HTML beside plain text: {sum(kind['text/html'] == kind['text/plain'] == 1 for kind in kinds)}, "
        f"with a picture: {sum(kind['image/png'] == 1 for kind in kinds)}, "
        f"the key in the header and in the last line: {keyed}\n"
        f"the server asked to come later {box.said(ASKED)} times; failed tries as the store tells them: {answers(room)}"
    )


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        room, box = Room(Path(folder) / "room"), MailBox(Path(folder))
        room.configure(IN_A_HURRY, extra=URGENT)
        try:
            through_all(room, box)
        finally:
            print(report(room, box))  # noqa: T201


if __name__ == "__main__":
    main()
