"""Checks of earlier rules scored again beside their verdicts: nothing steps, nobody is alarmed, one notice is told."""

from __future__ import annotations

import errno
import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from typing import Any

import pytest

from sentinel.adapters.files.archive import Archive
from sentinel.adapters.store.case_records import WriteOutbox
from sentinel.adapters.store.check_records import WriteChecks
from sentinel.core.scoring.score import RULES_VERSION
from sentinel.core.verdict import Code, Verdict
from sentinel.errors import PassingError
from sentinel.render.notices.letter import rendered_notice
from sentinel.service import catching_up
from sentinel.service.supervisor import ONCE_STEPS
from tests.support import cgats
from tests.support.command import sentinel
from tests.support.room import Room, Staff

SATIN, MATTE = "north/satin-240", "north/matte-190"
SCATTER = (0.05, -0.08, 0.02, 0.09, -0.04, -0.07, 0.06, 0.01, -0.05, 0.08, -0.02, 0.03)
"""Invented, of ΔL*."""

Metrics = dict[str, dict[str, float]]


@pytest.fixture
def staff(room: Room) -> Staff:
    return Staff(room)


def checked(staff: Staff, shift: float, condition: str = SATIN) -> None:
    """A check, two days after the one before."""
    staff.clock.advance(days=2)
    keywords = {"FOR": f"{condition} at {staff.clock.now()}"}
    staff.take(f"{condition}/sheet.txt", cgats.text(shift, keywords=keywords))


def write(staff: Staff, sql: str, *values: object) -> None:
    """As nobody should: past the program."""
    with closing(sqlite3.connect(staff.room.store)) as connection, connection:
        connection.execute(sql, values)


def of_earlier_rules(staff: Staff, change: Callable[[Metrics], object] = lambda _: None) -> None:
    """Makes every check on record one of the rules before, with figures changed as if those had made others."""
    for check in staff.room.checks():
        metrics = json.loads(json.dumps(check.metrics))
        change(metrics)
        sql = 'UPDATE "check" SET rules_version = ?, metrics = ? WHERE seq = ?'
        write(staff, sql, RULES_VERSION - 1, json.dumps(metrics), check.seq)


def without_greys(metrics: Metrics) -> None:
    del metrics["greys"]


def other_greys(metrics: Metrics) -> None:
    """They jump by ten times the scatter where the rules change."""
    metrics["greys"] = {name: value + 0.6 for name, value in metrics["greys"].items()}


def catch_up(staff: Staff) -> None:
    while staff.catching_up.step(staff.house):
        pass


def beside(staff: Staff) -> list[tuple[Any, ...]]:
    """(check, verdict) of what was scored again, in the order of the checks."""
    return staff.rows("SELECT check_seq, verdict FROM check_rescored ORDER BY check_seq, seq")


def numbers(staff: Staff) -> list[int]:
    return [check.seq for check in staff.room.checks()]


def kept(staff: Staff) -> list[tuple[Any, ...]]:
    """All that decides states, cases and alarms."""
    tables = ('"check"', "concern WHERE kind <> 'rules-changed'", "state_edge", "outlook")
    return [row for table in tables for row in staff.rows(f"SELECT * FROM {table}")]  # noqa: S608


def test_what_was_scored_again_stands_beside_what_is_on_record(staff: Staff) -> None:
    checked(staff, cgats.FAILING)
    checked(staff, cgats.GOOD)
    figures = [check.metrics for check in staff.room.checks()]
    of_earlier_rules(staff, other_greys)
    before = kept(staff)
    catch_up(staff)
    assert kept(staff) == before
    again = [staff.room.records.checks.rescored(seq) for seq in numbers(staff)]
    assert [[each.metrics for each in found] for found in again] == [[each] for each in figures]
    assert [(found[0].verdict, found[0].recovered) for found in again] == [(Verdict.FAIL, False), (Verdict.PASS, True)]
    assert {each.rules_version for found in again for each in found} == {RULES_VERSION}


def test_those_measured_last_come_first_some_at_a_time(staff: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(catching_up, "AT_A_TIME", 2)
    for shift in SCATTER[:5]:
        checked(staff, shift)
    of_earlier_rules(staff)
    assert staff.catching_up.step(staff.house)
    assert [seq for seq, _ in beside(staff)] == numbers(staff)[-2:]
    assert [staff.catching_up.step(staff.house) for _ in range(4)] == [True, True, False, False]
    assert [seq for seq, _ in beside(staff)] == numbers(staff)


def test_checks_of_today_s_rules_and_withheld_ones_are_left_alone(staff: Staff) -> None:
    checked(staff, cgats.GOOD)
    assert not staff.catching_up.step(staff.house)
    assert beside(staff) == []
    of_earlier_rules(staff)
    write(staff, "UPDATE \"check\" SET verdict = 'unscored'")
    write(staff, "DELETE FROM moment")
    staff.restart()
    catch_up(staff)
    assert beside(staff) == []
    assert staff.told_kinds() == []


def test_once_caught_up_the_checks_are_looked_at_no_more(staff: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    assert not staff.catching_up.step(staff.house)
    monkeypatch.setattr(WriteChecks, "behind", None)
    assert not staff.catching_up.step(staff.house)
    staff.restart()
    assert not staff.catching_up.step(staff.house)


# --- crashes ----------------------------------------------------------------------------------------------------------


class KilledError(BaseException):
    """The process is gone."""


def killed_at(monkeypatch: pytest.MonkeyPatch, owner: type, name: str, call: int) -> None:
    """Kills at this call of a method, once."""
    whole, calls = getattr(owner, name), 0

    def counted(*arguments: Any) -> Any:
        nonlocal calls
        calls += 1
        if calls == call:
            raise KilledError
        return whole(*arguments)

    monkeypatch.setattr(owner, name, counted)


@pytest.mark.parametrize("call", range(1, 6))
def test_a_kill_at_any_check_loses_none_and_does_none_twice(
    staff: Staff, monkeypatch: pytest.MonkeyPatch, call: int
) -> None:
    monkeypatch.setattr(catching_up, "AT_A_TIME", 2)
    for shift in SCATTER[:5]:
        checked(staff, shift)
    of_earlier_rules(staff, without_greys)
    killed_at(monkeypatch, WriteChecks, "keep_rescored", call)
    with pytest.raises(KilledError):
        catch_up(staff)
    assert len(beside(staff)) == (call - 1) // 2 * 2
    staff.restart()
    catch_up(staff)
    assert [seq for seq, _ in beside(staff)] == numbers(staff)


def test_a_kill_while_the_notice_is_written_tells_it_once(staff: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    bitten(staff)
    killed_at(monkeypatch, WriteOutbox, "post", 1)
    with pytest.raises(KilledError):
        catch_up(staff)
    staff.restart()
    catch_up(staff)
    staff.restart()
    catch_up(staff)
    assert len(staff.room.notices("rules-changed")) == 1


# --- what cannot be scored again --------------------------------------------------------------------------------------


def archived(staff: Staff, number: int) -> Any:
    """The archived file of a check, by its place in the order of checks."""
    path = next(staff.room.archive.rglob(staff.room.checks()[number].sha256))
    path.chmod(0o600)
    return path


def reasons(staff: Staff, number: int) -> list[Code]:
    [found] = staff.room.records.checks.rescored(staff.room.checks()[number].seq)
    assert (found.verdict, found.metrics) == (Verdict.UNSCORED, {})
    return [reason.code for reason in found.reasons]


def test_a_file_that_is_gone_leaves_its_check_unscored_and_stops_nothing(staff: Staff) -> None:
    for shift in SCATTER[:3]:
        checked(staff, shift)
    of_earlier_rules(staff)
    archived(staff, 0).unlink()
    path = archived(staff, 1)
    path.write_bytes(path.read_bytes()[:100])
    catch_up(staff)
    assert (reasons(staff, 0), reasons(staff, 1)) == ([Code.NOT_READABLE], [Code.NOT_READABLE])
    assert [verdict for _, verdict in beside(staff)] == ["unscored", "unscored", "pass"]


def test_a_target_that_is_gone_leaves_its_checks_unscored(staff: Staff) -> None:
    checked(staff, cgats.GOOD)
    of_earlier_rules(staff)
    [target] = {check.target_hash for check in staff.room.checks()}
    path = next(staff.room.archive.rglob(target))
    path.unlink()
    catch_up(staff)
    assert reasons(staff, 0) == [Code.TARGET_NOT_READABLE]


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (cgats.text(cgats.GOOD, keywords={"SAMPLE_BACKING": "black and white"}), Code.MEANING_UNCLEAR),
        (
            cgats.text(cgats.GOOD, m=None, keywords={"MAKER_SETTINGS": "Measurement Condition=M0"}),
            Code.M_CONDITION_MISMATCH,
        ),
        (cgats.text(cgats.GOOD).replace("CMYK_", "RGB_", 1).replace("RGB_C", "CMYK_V"), Code.CHART_MISMATCH),
        ("CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID\n", Code.NOT_READABLE),
    ],
    ids=["unclear", "another M condition", "other inks", "not read"],
)
def test_what_today_s_rules_do_not_take_is_unscored_with_their_reason(staff: Staff, content: str, code: Code) -> None:
    """As if the program of its day had taken it."""
    checked(staff, cgats.GOOD)
    of_earlier_rules(staff)
    sha256 = Archive(staff.room.archive).keep(content.encode())
    write(staff, 'UPDATE "check" SET sha256 = ?, m_condition = NULL', sha256)
    catch_up(staff)
    assert reasons(staff, 0) == [code]
    shown = sentinel("--config", staff.room.config, "rescore", "--check", str(numbers(staff)[0]), "--json")
    if code is not Code.NOT_READABLE:
        assert (shown.code, shown.json()["refusal"]["code"]) == (1, code.value)
        assert [each["verdict"] for each in shown.json()["rescored"]] == ["unscored"]


def test_an_archive_that_is_away_is_waited_for(staff: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    checked(staff, cgats.GOOD)
    of_earlier_rules(staff)

    def away(*_: object) -> bytes:
        raise OSError(errno.ESTALE, "stale file handle")

    with monkeypatch.context() as patched:
        patched.setattr(Archive, "fetch", away)
        with pytest.raises(PassingError, match="stale file handle"):
            staff.catching_up.step(staff.house)
    assert beside(staff) == []
    catch_up(staff)
    assert [verdict for _, verdict in beside(staff)] == ["pass"]


def test_a_check_on_which_the_program_fails_does_not_keep_the_others_waiting(
    staff: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    checked(staff, cgats.GOOD)
    of_earlier_rules(staff)

    def fails(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(catching_up, "under_present_rules", fails)
    catch_up(staff)
    assert reasons(staff, 0) == [Code.NOT_READABLE]


# --- series and forecasts ---------------------------------------------------------------------------------------------


def greys(staff: Staff) -> list[float]:
    """The series of the greys' mean, as control charts get it."""
    found = staff.room.records.checks.drift_readings([SATIN], 60)
    return [each.metrics["greys"]["de00_mean"] for each in found.get(SATIN, ())]


def steady(staff: Staff) -> None:
    """Twelve checks that nothing happened to, each foretold from."""
    for shift in SCATTER:
        checked(staff, shift)
        staff.forecaster.refresh(staff.house)


def test_no_series_steps_and_no_chart_gives_a_signal_where_the_rules_change(staff: Staff) -> None:
    steady(staff)
    plain = greys(staff)
    of_earlier_rules(staff, other_greys)
    assert greys(staff) == pytest.approx([each + 0.6 for each in plain])
    checked(staff, 0.04)
    catch_up(staff)
    staff.forecaster.refresh(staff.house)
    assert greys(staff)[:-1] == plain
    found = staff.room.records.forecasts.latest()[SATIN]
    assert (found.readings, found.shifts, found.leaving) == (len(SCATTER) + 1, (), ())
    assert staff.told_kinds() == []


def test_the_step_would_have_been_seen(staff: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    """The other way round: figures of both rules in one series are what the charts are there for."""
    steady(staff)
    of_earlier_rules(staff, other_greys)
    write(staff, 'UPDATE "check" SET rules_version = ?', RULES_VERSION)
    checked(staff, 0.04)
    staff.forecaster.refresh(staff.house)
    assert staff.room.records.forecasts.latest()[SATIN].shifts


def test_a_condition_is_foretold_once_its_checks_have_caught_up(staff: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(catching_up, "AT_A_TIME", 6)
    steady(staff)
    of_earlier_rules(staff, other_greys)
    checked(staff, 0.04)
    before = staff.rows("SELECT * FROM outlook")
    for _ in range(2):
        assert not staff.forecaster.refresh(staff.house)
        assert staff.rows("SELECT * FROM outlook") == before
        assert staff.catching_up.step(staff.house)
    staff.forecaster.refresh(staff.house)
    assert staff.rows("SELECT * FROM outlook") != before


def test_a_check_that_could_not_be_scored_again_is_left_out_of_the_series(staff: Staff) -> None:
    for shift in SCATTER[:4]:
        checked(staff, shift)
    plain = greys(staff)
    of_earlier_rules(staff, other_greys)
    archived(staff, 1).unlink()
    catch_up(staff)
    checked(staff, SCATTER[4])
    assert greys(staff)[:-1] == [plain[0], *plain[2:]]


def test_the_picture_of_a_notice_has_one_kind_of_figures(staff: Staff) -> None:
    for shift in SCATTER[:3]:
        checked(staff, shift)
    means = [check.metrics["all"]["de00_mean"] for check in staff.room.checks()]
    of_earlier_rules(staff, lambda metrics: metrics["all"].update(de00_mean=7.0))
    checked(staff, SCATTER[3])
    with staff.store.transaction() as session:
        assert len(session.checks.trend(numbers(staff)[-1], 30)) == 1
    catch_up(staff)
    with staff.store.transaction() as session:
        assert [point["mean"] for point in session.checks.trend(numbers(staff)[-1], 30)][:-1] == means
        assert {point["mean"] for point in session.checks.trend(numbers(staff)[-2], 30)} == {7.0}


# --- who is told ------------------------------------------------------------------------------------------------------

BAD_GREYS = tuple(
    patch._replace(lab=(patch.lab[0], patch.lab[1] + 7.0, patch.lab[2])) if 0 < patch.device[1] < patch.device[0] < 60
    else patch
    for patch in cgats.PATCHES
)  # fmt: skip


def bitten(staff: Staff) -> None:
    """Satin passed while its bad greys were not counted; matte has nothing the matter."""
    staff.clock.advance(days=1)
    staff.take(f"{SATIN}/sheet.txt", cgats.text(patches=BAD_GREYS))
    checked(staff, cgats.GOOD, MATTE)
    of_earlier_rules(staff, without_greys)
    write(staff, "UPDATE \"check\" SET verdict = 'pass', recovered = 1")
    staff.schedule.tick(staff.house)
    staff.outbox()


def test_one_notice_lists_the_limits_that_bite_and_nobody_is_alarmed(staff: Staff) -> None:
    bitten(staff)
    before = kept(staff)
    catch_up(staff)
    staff.schedule.tick(staff.house)
    staff.forecaster.refresh(staff.house)
    assert [row for row in kept(staff) if row in before] == before
    [told] = staff.outbox()
    assert (told.notice.kind.value, told.severity.value) == ("rules-changed", "routine")
    [condition] = told.notice.facts["conditions"]
    [limit] = condition["limits"]
    assert (condition["condition"], condition["check"]) == (SATIN, numbers(staff)[0])
    assert (limit["group"], limit["metric"], limit["level"], limit["before"]) == ("greys", "de00_mean", "act", None)
    assert limit["value"] > limit["limit"]
    assert staff.room.open_cases() == []


def test_it_is_told_once_whatever_stops_and_starts(staff: Staff) -> None:
    bitten(staff)
    for _ in range(3):
        staff.restart()
        catch_up(staff)
        staff.schedule.tick(staff.house)
    assert staff.told_kinds() == ["rules-changed"]


def test_where_nothing_bites_nothing_is_said(staff: Staff) -> None:
    checked(staff, cgats.GOOD)
    of_earlier_rules(staff, without_greys)
    catch_up(staff)
    assert staff.told_kinds() == []
    assert staff.rows("SELECT kind FROM concern WHERE kind = 'rules-changed'") == []


def test_what_bit_before_and_what_a_newer_check_was_judged_by_is_no_news(staff: Staff) -> None:
    checked(staff, cgats.FAILING, MATTE)
    staff.take(f"{SATIN}/sheet.txt", cgats.text(patches=BAD_GREYS))
    of_earlier_rules(staff)
    write(staff, "UPDATE \"check\" SET metrics = json_remove(metrics, '$.greys') WHERE condition = ?", SATIN)
    checked(staff, cgats.GOOD, SATIN)
    staff.outbox()
    catch_up(staff)
    assert staff.told_kinds() == []


# --- commands ---------------------------------------------------------------------------------------------------------


def test_a_single_round_catches_up_and_the_command_shows_both(room: Room) -> None:
    staff = Staff(room)
    checked(staff, cgats.GOOD)
    of_earlier_rules(staff, other_greys)
    staff.store.close()
    assert sentinel("--config", room.config, "run", "--once").code == 0
    [(seq, verdict)] = beside(staff)
    assert verdict == "pass"
    done = sentinel("--config", room.config, "rescore", "--check", str(seq))
    assert done.code == 1
    assert f"on record: pass under rules version {RULES_VERSION - 1}" in done.out
    assert f": pass under rules version {RULES_VERSION}" in done.out
    [mean] = {check.metrics["greys"]["de00_mean"] for check in room.checks()}
    assert f"greys: mean {mean:.2f} ΔE00" in done.out
    assert f"greys: mean {mean - 0.6:.2f} ΔE00" in done.out


def test_a_single_round_does_not_keep_notices_waiting_for_a_long_history(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(catching_up, "AT_A_TIME", 1)
    staff = Staff(room)
    for shift in SCATTER:
        checked(staff, shift)
    of_earlier_rules(staff)
    staff.store.close()
    assert sentinel("--config", room.config, "run", "--once").code == 0
    assert len(beside(staff)) == ONCE_STEPS < len(SCATTER)


@pytest.mark.parametrize("cell", ["-4E+18", "201"])
def test_a_check_whose_values_are_refused_by_now_keeps_its_verdict_and_is_named(staff: Staff, cell: str) -> None:
    """As if the program of its day had read what no instrument reads."""
    checked(staff, cgats.GOOD)
    of_earlier_rules(staff)
    [check] = staff.room.checks()
    odd = Archive(staff.room.archive).keep(cgats.text().replace("-49.00", cell).replace(" -49.0", f" {cell}").encode())
    write(staff, 'UPDATE "check" SET sha256 = ?', odd)
    staff.outbox()
    before = sentinel("--config", staff.room.config, "explain", SATIN).out
    catch_up(staff)
    staff.schedule.tick(staff.house)
    assert staff.checks() == [(SATIN, "pass")]
    assert reasons(staff, 0) == [Code.NOT_READABLE]
    assert sentinel("--config", staff.room.config, "explain", SATIN).out == before != ""
    told = [each for each in staff.outbox() if each.notice.kind.value == "rules-changed"]
    [notice] = told
    assert notice.notice.facts["conditions"] == []
    assert [each["check"] for each in notice.notice.facts["refused"]] == [check.seq]
    text = rendered_notice(notice.notice)
    assert "keeps its verdict on record" in text.body
    again = sentinel("--config", staff.room.config, "rescore", "--check", str(check.seq))
    assert "between -200 and 200" in again.out + again.err
