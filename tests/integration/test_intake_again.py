"""Files that are left where they are, and files that are tried again under other settings."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from structlog.testing import capture_logs

from sentinel.adapters.files.archive import Archive
from sentinel.adapters.files.drop_folder import DropFolders
from tests.support import cgats
from tests.support.cgats import FAILING, GOOD
from tests.support.clock import FakeClock
from tests.support.room import Room, Staff

SATIN = "north/satin-240"
GLOSS = '[substrates.gloss-300]\n[conditions."north/gloss-300"]\ntargets = ["house"]\n'
LEAVE = ("[store]", 'taken_files = "leave"\n[store]')


@pytest.fixture
def leaving(room: Room) -> Iterator[Staff]:
    """Workers of a room where taken files stay."""
    room.configure(LEAVE)
    workers = Staff(room)
    yield workers
    workers.store.close()


def test_a_file_that_is_left_is_taken_once(leaving: Staff) -> None:
    assert leaving.take(f"{SATIN}/sheet.txt", cgats.text(FAILING)) == 1
    assert leaving.look() == 0
    assert leaving.room.dropped() == [f"{SATIN}/sheet.txt"]
    assert len(leaving.room.archived()) == 2
    assert leaving.told_kinds() == ["check-failed"]


def test_a_file_that_is_left_is_not_taken_again_after_a_restart(leaving: Staff) -> None:
    leaving.take(f"{SATIN}/sheet.txt", cgats.text(FAILING))
    leaving.take(f"{SATIN}/scribble.txt", "scribble END_DATA")
    leaving.restart()
    assert leaving.look() == 0
    assert leaving.told_kinds() == ["check-failed", "file-unscored"]


def test_a_left_file_that_is_written_anew_is_taken_again(leaving: Staff) -> None:
    leaving.take(f"{SATIN}/sheet.txt", cgats.text(GOOD))
    leaving.clock.advance(60)
    leaving.take(f"{SATIN}/sheet.txt", cgats.text(FAILING))
    assert [verdict for _, verdict in leaving.checks()] == ["pass", "fail"]


def test_an_unscored_file_that_is_left_has_its_reason_in_the_put_aside_folder(leaving: Staff) -> None:
    leaving.take(f"{SATIN}/scribble.txt", "scribble END_DATA")
    assert leaving.room.dropped() == [f"{SATIN}/scribble.txt"]
    assert leaving.room.put_aside() == ["scribble.txt.reason.txt"]
    assert leaving.told_kinds() == ["file-unscored"]


def test_a_link_that_is_left_stays_and_is_told_once(leaving: Staff, tmp_path: Path) -> None:
    link = leaving.room.drop / "sheet.txt"
    link.symlink_to(tmp_path / "anywhere")
    assert leaving.look() == 1
    assert leaving.look() == 0
    assert link.is_symlink()
    assert leaving.told_kinds() == ["file-unscored"]


def retried(staff: Staff, *changes: tuple[str, str], extra: str = "") -> None:
    """As at a reload with other settings."""
    staff.room.configure(*changes, extra=extra)
    staff.restart()
    staff.intake.retry_unscored(staff.house)


def test_a_refused_file_is_scored_when_the_settings_know_its_stock(staff: Staff) -> None:
    staff.take("north/gloss-300/sheet.txt", cgats.text(FAILING))
    staff.outbox()
    retried(staff, extra=GLOSS)
    assert staff.checks() == [("north/gloss-300", "fail")]
    assert staff.told_kinds() == ["check-failed"]
    assert staff.room.put_aside() == staff.room.dropped() == []
    assert staff.rows("SELECT count(*) FROM unscored_file WHERE settled_at IS NULL") == [(0,)]
    assert staff.room.open_cases("file-unscored") == []


def test_a_left_file_that_is_scored_after_all_takes_its_reason_back(leaving: Staff) -> None:
    leaving.take("north/gloss-300/sheet.txt", cgats.text(GOOD))
    assert leaving.room.put_aside() == ["sheet.txt.reason.txt"]
    retried(leaving, LEAVE, extra=GLOSS)
    assert leaving.checks() == [("north/gloss-300", "pass")]
    assert leaving.room.put_aside() == []
    assert leaving.room.dropped() == ["north/gloss-300/sheet.txt"]


def test_a_retried_check_keeps_the_time_and_name_of_its_file(staff: Staff) -> None:
    written = staff.clock.now()
    staff.take("north/gloss-300/sheet.txt", cgats.text(GOOD))
    staff.clock.advance(days=2)
    retried(staff, extra=GLOSS)
    assert [(check.file_name, check.measured_at) for check in staff.room.checks()] == [("sheet.txt", written)]


def test_a_file_that_other_settings_refuse_too_is_neither_told_nor_tried_again(staff: Staff) -> None:
    staff.take(f"{SATIN}/scribble.txt", "scribble END_DATA")
    staff.outbox()
    retried(staff, extra=GLOSS)
    assert staff.told_kinds() == []
    assert staff.room.put_aside() == ["scribble.txt", "scribble.txt.reason.txt"]
    with capture_logs() as logs, pytest.MonkeyPatch.context() as patch:
        patch.setattr(Archive, "fetch", None)
        assert not staff.intake.retry_unscored(staff.house)
    assert logs == []


def test_a_refused_file_whose_bytes_are_gone_does_not_stop_the_next(staff: Staff) -> None:
    staff.take("north/gloss-300/a.txt", cgats.text(GOOD))
    [lost] = [staff.room.archive / path for path in staff.room.archived()]
    staff.clock.advance(60)
    staff.take("north/gloss-300/b.txt", cgats.text(GOOD + 0.1))
    lost.unlink()
    retried(staff, extra=GLOSS)
    assert staff.checks() == [("north/gloss-300", "pass")]


def test_a_refused_file_dropped_again_under_settings_that_know_it_ends_the_refusal(staff: Staff) -> None:
    staff.take("north/gloss-300/sheet.txt", cgats.text(GOOD))
    staff.room.configure(extra=GLOSS)
    staff.restart()
    staff.take("north/gloss-300/sheet.txt", cgats.text(GOOD))
    assert staff.checks() == [("north/gloss-300", "pass")]
    assert staff.room.put_aside() == []


def test_another_file_that_has_taken_the_name_is_not_taken_back(staff: Staff) -> None:
    staff.take("north/gloss-300/sheet.txt", cgats.text(GOOD))
    (staff.room.aside / "sheet.txt").unlink()
    staff.take(f"{SATIN}/sheet.txt", "scribble END_DATA")
    retried(staff, extra=GLOSS)
    assert staff.checks() == [("north/gloss-300", "pass")]
    assert (staff.room.aside / "sheet.txt").read_text() == "scribble END_DATA"


def test_what_was_refused_under_another_clue_keeps_its_own(staff: Staff) -> None:
    """The same bytes in two folders that were both unknown: each goes where its folder says, the later one counts."""
    staff.take("north/gloss-300/sheet.txt", cgats.text(GOOD))
    staff.clock.advance(60)
    staff.take("south/gloss-300/sheet.txt", cgats.text(GOOD))
    retried(staff, extra=GLOSS + '[conditions."south/gloss-300"]\ntargets = ["house"]\n')
    with staff.store.transaction() as session:
        assert list(session.checks.latest(["north/gloss-300", "south/gloss-300"])) == ["south/gloss-300"]
    assert staff.room.put_aside() == []


class DiesBeforeItIsPutAside(DropFolders):
    """What a kill leaves between the record of a refusal and its reason."""

    def explain(self, name: str, reason: str) -> None:
        raise KeyboardInterrupt


def test_a_name_that_another_file_got_meanwhile_leaves_each_with_its_own_reason(room: Room, clock: FakeClock) -> None:
    dying = Staff(room, clock, drop_class=DiesBeforeItIsPutAside)
    first = room.put("north/satin-240/sheet.txt", "scribble one END_DATA", at=clock.now())
    with pytest.raises(KeyboardInterrupt):
        dying.look(first)
    dying.store.close()
    staff = Staff(room, clock)
    staff.look(room.put("north/matte-190/sheet.txt", "scribble two END_DATA", at=clock.now()))
    staff.look(first)
    texts = {path: (room.aside / path).read_text() for path in room.put_aside()}
    assert (texts["sheet.txt"], texts["sheet-2.txt"]) == ("scribble two END_DATA", "scribble one END_DATA")
    assert set(texts) == {"sheet.txt", "sheet.txt.reason.txt", "sheet-2.txt", "sheet-2.txt.reason.txt"}
    kept = {str(name): str(origin) for origin, name in staff.rows("SELECT origin, set_aside_as FROM unscored_file")}
    assert ("matte-190" in kept["sheet.txt"], "satin-240" in kept["sheet-2.txt"]) == (True, True)
    staff.store.close()
