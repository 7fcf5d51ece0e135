"""A real service while the world around it fails: mail server, drop folder, configuration, signals."""

from __future__ import annotations

import shutil
import signal

import pytest

from tests.faults.progress import failed_tries
from tests.support import cgats
from tests.support.process import IN_A_HURRY, URGENT, drop, eventually, running
from tests.support.room import TOML, Room
from tests.support.servers import MailServer, Webhook, free_port, silent_server

SATIN = "north/satin-240"


def checks(room: Room) -> int:
    return len(room.checks())


def test_a_mail_server_that_was_dead_gets_the_notice_once_it_lives(room: Room) -> None:
    port = free_port()
    url = f"mailto://127.0.0.1:{port}/?from=sentinel@print.example&to=team@print.example&mode=insecure"
    with running(room, url) as service:
        drop(room, f"{SATIN}/sheet.txt", cgats.text(cgats.FAILING))
        eventually("two tries have failed", lambda: failed_tries(room) >= 2)
        server = MailServer(port)
        eventually("the mail is there", lambda: server.mails)
        eventually("it is recorded", lambda: room.statuses() == ["sent"])
        assert service.stop() == 0
        server.stop()
    assert len(server.mails) == 1
    assert server.mails[0][0].startswith("URGENT - Check failed: ")


def test_notices_that_waited_survive_a_restart(room: Room, webhook: Webhook) -> None:
    webhook.status = 503
    with running(room, webhook.url()) as service:
        drop(room, f"{SATIN}/sheet.txt", cgats.text(cgats.FAILING))
        eventually("it was tried", lambda: webhook.posts)
        assert service.stop() == 0
    webhook.posts.clear()
    webhook.status = 200
    with running(room, webhook.url()):
        eventually("it is sent", lambda: room.statuses() == ["sent"])
    assert len(webhook.posts) == 1


@pytest.mark.parametrize("watch", ["events", "polling"])
def test_a_drop_folder_that_is_removed_and_made_again_is_watched_again(
    room: Room, webhook: Webhook, watch: str
) -> None:
    old, new = IN_A_HURRY
    room.configure((old, f'watch = "{watch}"\n{new}'), extra=URGENT)
    with running(room, webhook.url()) as service:
        shutil.rmtree(room.drop)
        eventually("its absence is told", lambda: service.logged("drop folder missing"))
        room.drop.mkdir()
        drop(room, f"{SATIN}/sheet.txt", cgats.text(cgats.GOOD))
        eventually("the file is judged", lambda: checks(room) == 1)
        assert service.stop() == 0


def test_a_drop_folder_that_is_not_there_at_the_start_is_taken_up_when_it_comes(room: Room, webhook: Webhook) -> None:
    room.drop.rmdir()
    with running(room, webhook.url()) as service:
        eventually("its absence is told", lambda: service.logged("drop folder missing"))
        room.drop.mkdir()
        drop(room, f"{SATIN}/sheet.txt", cgats.text(cgats.GOOD))
        eventually("the file is judged", lambda: checks(room) == 1)


BROKEN = {
    "no TOML": "[folders\n",
    "a fault": TOML + "[due]\nmax_age_days = 0\n",
    "a recipient without a URL": TOML + '[recipients.team]\nurl_env = "SENTINEL_TEST_UNSET"\n',
    "another store": TOML.replace('"store.sqlite"', '"other.sqlite"'),
    "nothing": "",
}


def test_whatever_is_wrong_with_a_changed_configuration_the_last_good_one_stays(room: Room, webhook: Webhook) -> None:
    good = room.config.read_text()
    with running(room, webhook.url()) as service:
        for number, text in enumerate(BROKEN.values()):
            room.config.write_text(text)
            service.signal(signal.SIGHUP)
            assert "a changed configuration was refused" in service.hears("READY=1")
            drop(room, f"{SATIN}/{number}.txt", cgats.text(cgats.FAILING + number))
            eventually("people are told under the old settings", lambda: webhook.posts)
            webhook.posts.clear()
        room.config.write_text(good + "# mended\n")
        service.hears("READY=1", without="refused")
        assert service.stop() == 0
    assert service.errors.read_text().count("configuration refused, the last good one stays") >= len(BROKEN)


def test_a_changed_configuration_is_taken_up_without_a_signal(room: Room, webhook: Webhook) -> None:
    with running(room, webhook.url()) as service:
        room.config.write_text(room.config.read_text() + "[substrates.gloss-300]\n")
        service.hears("RELOADING=1")
        service.hears("READY=1", without="refused")


def test_a_signal_loads_what_was_not_scored_again(room: Room, webhook: Webhook) -> None:
    with running(room, webhook.url()) as service:
        drop(room, "north/gloss-300/sheet.txt", cgats.text(cgats.GOOD))
        eventually("it is put aside", lambda: "sheet.txt" in room.put_aside())
        room.configure(
            IN_A_HURRY,
            extra=URGENT + '[substrates.gloss-300]\n[conditions."north/gloss-300"]\ntargets = ["house"]\n',
        )
        service.signal(signal.SIGHUP)
        eventually("it is judged", lambda: checks(room) == 1)
        eventually("it is not put aside any more", lambda: room.put_aside() == [])


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_it_ends_when_asked_with_exit_code_0(room: Room, webhook: Webhook, number: signal.Signals) -> None:
    with running(room, webhook.url()) as service:
        service.signal(number)
        assert service.process.wait(10) == 0
        service.hears("STOPPING=1")


def test_it_ends_when_asked_while_a_server_does_not_answer(room: Room) -> None:
    with silent_server() as port, running(room, f"json://127.0.0.1:{port}/") as service:
        drop(room, f"{SATIN}/sheet.txt", cgats.text(cgats.FAILING))
        eventually("the notice waits", lambda: room.statuses() == ["waiting"])
        service.signal(signal.SIGTERM)
        assert service.process.wait(15) == 0


def test_a_hanging_server_holds_up_neither_files_nor_other_recipients(room: Room, webhook: Webhook) -> None:
    with silent_server() as port:
        team = f"json://127.0.0.1:{port}/"
        urls = room.folder / "second.url"
        urls.write_text(webhook.url())
        urls.chmod(0o600)
        room.configure(IN_A_HURRY, extra=URGENT + '[recipients.second]\nurl_file = "second.url"\n')
        with running(room, team):
            for number, condition in enumerate([SATIN, "north/matte-190", "south/satin-240"]):
                drop(room, f"{condition}/sheet.txt", cgats.text(cgats.FAILING + number))
            eventually("all files are judged", lambda: checks(room) == 3)
            eventually("the other recipient is told", lambda: len(webhook.posts) == 3)


def test_no_secret_is_in_the_log(room: Room, webhook: Webhook) -> None:
    webhook.status = 500
    with running(room, webhook.url("s3cr3t-t0ken")) as service:
        drop(room, f"{SATIN}/sheet.txt", cgats.text(cgats.FAILING))
        eventually("it was tried", lambda: len(webhook.posts) >= 2)
        assert service.stop() == 0
    assert "notice not delivered" in service.errors.read_text()
    assert "s3cr3t-t0ken" not in service.errors.read_text()
    assert b"s3cr3t-t0ken" not in room.store.read_bytes()
