"""`run --once`: from a dropped file to a delivered notice, through the installed command and real servers."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sentinel.adapters.process import InstanceLock
from tests.support import cgats
from tests.support.command import Done, sentinel
from tests.support.room import Room
from tests.support.servers import MailServer, Webhook

LATELY = datetime.now(UTC) - timedelta(minutes=10)
SATIN = 'label = "Satin 240"\ndrying_hours = 2.0\n'


def told(room: Room, *urls: str) -> None:
    """A room that tells one team."""
    path = room.folder / "team.urls"
    path.write_text("\n".join(urls) + "\n")
    path.chmod(0o600)
    room.configure(
        ("[substrates.satin-240]\n", f"[substrates.satin-240]\n{SATIN}"),
        extra='[recipients.team]\nurl_file = "team.urls"\n[printers.west]\nlabel = "West"\ntechnology = "solvent"\n'
        '[conditions."west/satin-240"]\ntargets = ["house"]\n',
    )


def run_once(room: Room) -> Done:
    return sentinel("--config", room.config, "run", "--once")


def test_a_failing_sheet_is_kept_and_the_team_is_mailed_what_to_do(room: Room, mail: MailServer) -> None:
    told(room, mail.url)
    room.put("west/satin-240/monday.txt", cgats.text(cgats.FAILING), at=LATELY)
    assert run_once(room).code == 0
    [(subject, body)] = mail.mails
    assert subject == "URGENT - Check failed: West / Satin 240"
    assert "mean ΔE00 of all patches: expected at most the action limit 3.00 ΔE00, got 6.58 ΔE00" in body
    assert "1. Look which stock was printed" in body
    assert "no flame or spark" in body
    assert "file monday.txt" in body
    assert room.dropped() == []
    assert len(room.archived()) == 2, "the measurement and the target"
    assert room.statuses() == ["sent"]


def test_a_second_round_tells_nothing_again(room: Room, mail: MailServer) -> None:
    told(room, mail.url)
    room.put("west/satin-240/monday.txt", cgats.text(cgats.FAILING), at=LATELY)
    assert [run_once(room).code, run_once(room).code] == [0, 0]
    assert len(mail.mails) == 1


def test_a_pass_after_a_failure_is_told_as_back_within_limits(room: Room, webhook: Webhook) -> None:
    told(room, webhook.url())
    room.put("north/satin-240/monday.txt", cgats.text(cgats.FAILING), at=LATELY)
    run_once(room)
    room.put("north/satin-240/tuesday.txt", cgats.text(cgats.GOOD), at=LATELY + timedelta(minutes=1))
    run_once(room)
    titles = [post["title"] for post in webhook.posts]
    assert titles == [
        "URGENT - Check failed: north / Satin 240",
        "Back within tolerance: north / Satin 240",
    ]


def test_a_passing_sheet_is_kept_without_a_word(room: Room, webhook: Webhook) -> None:
    told(room, webhook.url())
    room.put("north/satin-240/monday.txt", cgats.text(cgats.GOOD), at=LATELY)
    assert run_once(room).code == 0
    assert webhook.posts == []
    assert [(check.condition, check.verdict.value) for check in room.checks()] == [("north/satin-240", "pass")]


def test_a_file_that_cannot_be_scored_is_put_aside_with_its_reason_and_told(room: Room, webhook: Webhook) -> None:
    told(room, webhook.url())
    room.put("north/vinyl/monday.txt", cgats.text(), at=LATELY)
    assert run_once(room).code == 0
    assert room.dropped() == []
    assert room.put_aside() == ["monday.txt", "monday.txt.reason.txt"]
    assert (room.aside / "monday.txt").read_text() == cgats.text()
    assert "got 'vinyl'" in (room.aside / "monday.txt.reason.txt").read_text()
    [post] = webhook.posts
    assert post["title"] == "File not scored: monday.txt"
    assert "got 'vinyl'" in post["message"]


def test_a_check_that_grew_old_is_told_as_due(room: Room, webhook: Webhook) -> None:
    told(room, webhook.url())
    room.put("north/satin-240/old.txt", cgats.text(), at=LATELY - timedelta(days=10))
    run_once(room)
    assert [post["title"] for post in webhook.posts] == ["Colour check due: north / Satin 240"]


def test_a_notice_that_no_server_took_waits_for_the_next_round(room: Room, webhook: Webhook) -> None:
    told(room, webhook.url())
    webhook.status = 503
    room.put("north/vinyl/monday.txt", cgats.text(), at=LATELY)
    assert run_once(room).code == 0
    assert "notices: 1 waiting, 0 sent" in sentinel("--config", room.config, "status").out


def test_every_file_of_a_backlog_is_taken(room: Room) -> None:
    for number in range(12):
        room.put(f"north/satin-240/{number}.txt", cgats.text(0.1 + number / 100), at=LATELY)
    assert run_once(room).code == 0
    assert room.dropped() == []
    assert len(room.checks()) == 12


def test_a_second_instance_is_refused_with_its_own_exit_code(room: Room) -> None:
    lock = InstanceLock(room.store)
    try:
        done = run_once(room)
    finally:
        lock.release()
    assert done.code == 4
    assert "Traceback" not in done.err
    assert done.err.startswith("sentinel: expected")


def test_a_store_that_cannot_be_opened_has_its_own_exit_code(room: Room) -> None:
    room.store.write_text("not a database, by any means\n" * 50)
    done = run_once(room)
    assert done.code == 5
    assert "Traceback" not in done.err
    assert f"expected a store that can be opened at {room.store}" in done.err


@pytest.mark.parametrize("text", ["[folders]\n", "no toml at all\n"])
def test_settings_of_no_use_stop_it_before_anything_is_touched(room: Room, text: str) -> None:
    room.config.write_text(text)
    dropped: Path = room.put("north/satin-240/monday.txt", cgats.text(), at=LATELY)
    done = run_once(room)
    assert (done.code, dropped.exists(), room.store.exists()) == (2, True, False)
    assert f"{room.config}:" in done.err


def test_a_file_that_is_never_whole_is_named_and_the_round_does_not_call_itself_fine(room: Room) -> None:
    room.configure(("[folders]\n", "[folders]\nquiet_seconds = 0.2\n"))
    room.put("north/satin-240/monday.txt", cgats.text(cgats.GOOD), at=LATELY)
    cut = room.put("north/satin-240/cut.txt", cgats.text(cgats.GOOD)[:-40])
    done = run_once(room)
    assert done.code == 1
    assert done.err.endswith(
        "sentinel: 1 file or folder not taken in. It stays where it is; the next run tries again.\n"
        f"  {cut}: it is not whole yet, or still being written\n"
    )
    assert room.dropped() == ["north/satin-240/cut.txt"]


def test_a_backlog_is_taken_in_whole(room: Room) -> None:
    """Far longer than two quiet periods: what is quiet is taken while there is more of it."""
    room.configure(("[folders]\n", "[folders]\nquiet_seconds = 0.05\n"))
    for number in range(60):
        room.put(
            f"north/satin-240/{number:02}.txt", cgats.text(cgats.GOOD, keywords={"CREATED": f"{number}"}), at=LATELY
        )
    done = run_once(room)
    assert (done.code, room.dropped(), len(room.archived())) == (0, [], 61), "and the target"
    assert "not taken in" not in done.err


def test_a_drop_folder_that_is_not_there_is_told_and_is_no_success(room: Room) -> None:
    room.drop.rmdir()
    done = run_once(room)
    assert done.code == 1, "as `config check`, which calls it an error"
    assert f"  {room.drop}: this folder could not be looked into\n" in done.err
