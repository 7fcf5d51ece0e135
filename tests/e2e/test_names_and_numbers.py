"""What is misspelt is refused with what was probably meant, never taken for something without records."""

from __future__ import annotations

import csv
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.support import cgats
from tests.support.command import Done, Word, sentinel
from tests.support.room import Room

LATELY = datetime.now(UTC) - timedelta(minutes=10)


def asked(room: Room, *words: Word) -> Done:
    return sentinel("--config", room.config, *words, TEAM_URL="json://127.0.0.1:9/")


@pytest.fixture
def busy(room: Room) -> Room:
    """A room with labels, one check, one event and one recipient."""
    room.configure(
        ("[printers.north]\n", '[printers.north]\nlabel = "North, 44 inch"\n'),
        ("[substrates.satin-240]\n", '[substrates.satin-240]\nlabel = "Satin 240 g/m²"\naliases = ["Velvet"]\n'),
        extra='[recipients.team]\nurl_env = "TEAM_URL"\n',
    )
    room.put("north/satin-240/monday.txt", cgats.text(cgats.GOOD), at=LATELY)
    assert asked(room, "run", "--once").code == 0
    assert asked(room, "event", "add", "heads", "--printer", "north").code == 0
    return room


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        (("checks", "--condition", "north/satin-24"), "north/satin-240"),
        (("explain", "north/sattin-240"), "north/satin-240"),
        (("round", "--printer", "nroth"), "north"),
        (("event", "list", "--printer", "nroth"), "north"),
        (("event", "add", "heads", "--printer", "nroth"), "north"),
        (("event", "list", "--kind", "head"), "heads"),
        (("notify", "list", "--recipient", "taem"), "team"),
        (("notify", "test", "taem"), "team"),
        (("check", "sheet.txt", "--condition", "north/satin-24"), "north/satin-240"),
        (("config", "show", "due.max_age_day"), "due.max_age_days"),
        (("config", "show", "conditions.north/satin-24"), "conditions.north/satin-240"),
    ],
)
def test_a_misspelt_name_is_refused_with_what_was_meant(busy: Room, words: tuple[str, ...], meant: str) -> None:
    done = asked(busy, *words)
    assert (done.code, done.out) == (2, "")
    assert f"; did you mean {meant!r}?" in done.err


@pytest.mark.parametrize(
    "spelling", ["north/satin-240", "NORTH/Satin 240", "North, 44 inch/Velvet", "North, 44 inch/Satin 240 g/m²"]
)
def test_names_aliases_and_labels_are_taken_wherever_a_condition_is_named(busy: Room, spelling: str) -> None:
    assert len(asked(busy, "checks", "--condition", spelling, "--json").lines()) == 1
    assert asked(busy, "explain", spelling, "--json").json()["condition"] == "north/satin-240"


def test_a_label_is_taken_wherever_a_printer_is_named(busy: Room) -> None:
    label = "North, 44 inch"
    [event] = asked(busy, "event", "list", "--printer", label, "--json").lines()
    assert event["printer"] == "north"
    assert asked(busy, "event", "add", "service", "--printer", label).code == 0
    assert asked(busy, "round", "--printer", label).code == 0


def test_a_label_that_two_stocks_share_names_neither(busy: Room) -> None:
    names = ("satin-240", "matte-190")
    busy.configure(*((f"[substrates.{name}]\n", f'[substrates.{name}]\nlabel = "Paper"\n') for name in names))
    done = asked(busy, "explain", "north/paper")
    assert done.code == 2
    assert "expected a printing condition of the settings" in done.err


def test_what_the_settings_no_longer_have_is_found_by_its_records(busy: Room) -> None:
    busy.configure(
        ("[printers.north]\n", ""),
        ('[conditions."north/satin-240"]\ntargets = ["house"]\n', ""),
        ('[conditions."north/matte-190"]\ntargets = ["house"]\n', ""),
    )
    [check] = asked(busy, "checks", "--condition", "north/satin-240", "--json").lines()
    assert (check["condition"], check["standing"]) == ("north/satin-240", None)
    assert len(asked(busy, "event", "list", "--printer", "north", "--json").lines()) == 1
    assert asked(busy, "checks", "--condition", "north/satin-241").code == 2


@pytest.mark.parametrize("number", ["-1", "0", "3.5", "many", "9" * 5000])
@pytest.mark.parametrize("words", [("checks",), ("notify", "list")])
def test_a_count_is_a_whole_number_from_one_on(busy: Room, words: tuple[str, ...], number: str) -> None:
    done = asked(busy, *words, f"--last={number}")
    assert (done.code, done.out) == (2, "")
    assert "expected a whole number from 1 on" in done.err


@pytest.mark.parametrize("number", ["9" * 12, "9" * 23, "9" * 5000])
@pytest.mark.parametrize(
    "words",
    [
        ("curves", "{}"),
        ("rescore", "--check", "{}"),
        ("compare", "1", "{}"),
        ("compare", "--across", "{}", "1"),
        ("cause", "{}", "wet", "--by", "Ana", "--seen-by", "reading"),
        ("check", "void", "{}", "--by", "Ana", "--why", "wet"),
        ("event", "undo", "{}", "--by", "Ana", "--why", "wrong"),
        ("ack", "{}", "--by", "Ana"),
        ("snooze", "case-{}", "--by", "Ana", "--until", "2030-01-01"),
        ("target", "add", "house", "--from-check", "{}", "--by", "Ana", "--approved-by", "Ben"),
        ("target", "show", "house@{}"),
    ],
)
def test_a_number_that_no_record_has_is_refused(busy: Room, words: tuple[str, ...], number: str) -> None:
    done = asked(busy, *(word.replace("{}", number) for word in words))
    assert (done.code, done.out) == (2, "")
    assert "expected" in done.err
    assert "Traceback" not in done.err


@pytest.mark.parametrize("span", [("--for", "99999d"), ("--for", "93d"), ("--until", "2999-01-01")])
def test_silence_for_longer_than_a_quarter_is_refused(busy: Room, span: tuple[str, str]) -> None:
    busy.put("north/satin-240/tuesday.txt", cgats.text(cgats.FAILING), at=LATELY + timedelta(minutes=1))
    assert asked(busy, "run", "--once").code == 0
    [case] = [each for each in asked(busy, "cases", "--json").lines() if each["subject"] == "north/satin-240"]
    done = asked(busy, "ack", str(case["case"]), "--by", "the lead", *span)
    assert (done.code, done.out) == (2, "")
    assert "expected at most 92 days of silence" in done.err


def test_checks_since_a_date_as_csv(busy: Room) -> None:
    later = cgats.text(cgats.GOOD, keywords={"CREATED": "later"})
    busy.put("north/satin-240/=sum(a1).txt", later, at=LATELY + timedelta(minutes=1))
    assert asked(busy, "run", "--once").code == 0
    out = busy.folder / "checks.csv"
    assert asked(busy, "checks", "--since", "2026-01-01", "--csv", out).code == 0
    rows = list(csv.DictReader(out.open(newline="")))
    shown = asked(busy, "checks", "--json").lines()
    assert [int(row["check"]) for row in rows] == [each["check"] for each in shown]
    assert len(rows) == 2
    for row, each in zip(rows, shown, strict=True):
        assert float(row["all.de00_mean"]) == each["metrics"]["all"]["de00_mean"]
        assert (row["condition"], row["verdict"], row["sha256"]) == (each["condition"], each["verdict"], each["sha256"])
    assert {row["file"] for row in rows} == {"monday.txt", "'=sum(a1).txt"}, "no spreadsheet takes it for a formula"
    again = asked(busy, "checks", "--csv", out)
    assert again.code == 2
    assert "expected a place for a new file" in again.err
    assert asked(busy, "checks", "--since", "2999-01-01", "--json").lines() == []


def test_status_of_one_printer(busy: Room) -> None:
    shown = asked(busy, "status", "--printer", "North, 44 inch", "--json").json()["conditions"]
    assert {each["printer"] for each in shown} == {"north"}
    assert "did you mean 'north'?" in asked(busy, "status", "--printer", "nrth").err


def test_a_date_at_which_a_check_turns_due_has_its_reason(busy: Room) -> None:
    busy.put("south/satin-240/later.txt", cgats.text(cgats.GOOD, keywords={"CREATED": "x"}), at=LATELY)
    assert asked(busy, "run", "--once").code == 0
    [south] = [each for each in asked(busy, "status", "--json").json()["conditions"] if each["last_check"]
               and each["printer"] == "south"]  # fmt: skip
    assert south["state"] == "current"
    assert south["due_because"]["code"] == "too-old"
    told = " ".join(asked(busy, "status", "--printer", "south").out.split())
    assert f"due {south['due_at'][:10]}: " in told


def test_a_key_is_found_as_a_shell_leaves_it(busy: Room) -> None:
    quoted = asked(busy, "config", "show", 'conditions."north/satin-240"')
    assert quoted.out == asked(busy, "config", "show", "conditions.north/satin-240").out != ""


def test_a_misspelt_target_is_refused_with_what_was_meant(busy: Room, tmp_path: Path) -> None:
    aim = tmp_path / "aim.txt"
    aim.write_text(cgats.text())
    assert asked(busy, "target", "add", "canvas", aim, "--by", "Ana").code == 0
    for words in (("show", "canvsa"), ("retire", "canvsa", "--by", "Ana", "--why", "old")):
        done = asked(busy, "target", *words)
        assert (done.code, "did you mean 'canvas'?" in done.err) == (2, True)


def test_a_check_takes_a_label_as_its_condition(busy: Room, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.txt"
    sheet.write_text(cgats.text(cgats.GOOD))
    assert asked(busy, "check", sheet, "--condition", "North, 44 inch/Velvet").code == 0
