"""`sentinel target` on a real store and archive: kept, adopted, listed, shown, retired, and every refusal."""

from __future__ import annotations

import hashlib
import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from sentinel.core.measurement.cgats import measurements, read
from tests.support import cgats
from tests.support.clock import NOON
from tests.support.command import Done, sentinel
from tests.support.room import Room, Staff

SATIN = "north/satin-240"
WITHOUT_FILE = ('file = "targets/house.txt"\n', "")
PAIR = ("--by", "Ana", "--approved-by", "Ben")
SHIFTS = (0.2, 0.4, 0.6)


def run(room: Room, *words: str | Path) -> Done:
    """The command in the room's folder."""
    return sentinel("--config", room.config, *words, cwd=room.folder)


def target(room: Room, *words: str | Path) -> Done:
    return run(room, "target", *words)


def kept(room: Room) -> Room:
    """The room with its target kept by the sentinel instead of named as a file."""
    room.configure(WITHOUT_FILE)
    assert target(room, "add", "house", "targets/house.txt", "--by", "Ana").code == 0
    return room


def checked(room: Room, *texts: str, condition: str = SATIN) -> list[str]:
    """The numbers of the checks that these files bring."""
    before = seqs(room)
    staff = Staff(room)
    for number, text in enumerate(texts):
        staff.take(f"{condition}/{len(before)}-{number}.txt", text, at=NOON + timedelta(minutes=number))
    staff.store.close()
    return [str(seq) for seq in seqs(room) if seq not in before]


def seqs(room: Room) -> list[int]:
    return [check.seq for check in room.checks()]


def misread(shift: float) -> str:
    """The yellow solid read as something much darker."""
    text = cgats.text(shift)
    right = f"A4 0 0 100 0 {89.0 + shift:.3f}"
    assert right in text
    return text.replace(right, "A4 0 0 100 0 80.000")


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Room:
    """A room with three good checks (of M1) and a fourth that failed for one misread patch."""
    return kept(Room(tmp_path_factory.mktemp("target") / "room"))


@pytest.fixture(scope="module")
def numbers(room: Room) -> list[str]:
    return checked(room, *(cgats.text(shift) for shift in SHIFTS), misread(0.3))


def refused(room: Room, *words: str | Path) -> str:
    """What a refused `target add` says; nothing was kept."""
    before = target(room, "list", "--json").out
    done = target(room, "add", *words)
    assert (done.code, done.out) == (2, "")
    assert target(room, "list", "--json").out == before
    return done.err


# --- from a file ----------------------------------------------------------------------------------------------------


def test_a_file_becomes_the_first_version_with_its_hash_and_source(tmp_path: Path) -> None:
    room = Room(tmp_path / "room")
    room.configure(WITHOUT_FILE)
    done = target(room, "add", "house", "targets/house.txt", "--by", "Ana  Lee", "--source", "our press of May")
    assert (done.code, done.err) == (0, "")
    assert "new checks are scored against it" in done.out
    sha256 = hashlib.sha256((room.folder / "targets" / "house.txt").read_bytes()).hexdigest()
    [line] = target(room, "list", "--json").lines()
    assert (line["target"], line["version"], line["sha256"], line["state"]) == ("house", 1, sha256, "in-use")
    assert (line["source"], line["by"], line["approved_by"]) == ("our press of May", "Ana Lee", None)
    assert line["conditions"] == ["north/satin-240", "north/matte-190", "south/satin-240", "south/film-clear"]
    assert any(place.endswith(sha256) for place in room.archived())


def test_without_a_version_the_settings_warn_and_say_what_to_do(tmp_path: Path) -> None:
    room = Room(tmp_path / "room")
    room.configure(WITHOUT_FILE)
    done = run(room, "config", "check", "--strict")
    assert done.code == 2
    assert "warning: targets.house: expected a version of the aim house in use, got none" in done.err
    assert "`sentinel target add` adds one" in done.err
    assert not room.store.exists()
    target(room, "add", "house", "targets/house.txt", "--by", "Ana")
    assert run(room, "config", "check").code == 0


def test_check_scores_against_the_kept_target_and_leaves_no_trace(tmp_path: Path) -> None:
    room = kept(Room(tmp_path / "room"))
    before = room.store.read_bytes(), room.archived()
    (room.folder / "sheet.txt").write_text(cgats.text(cgats.GOOD))
    done = run(room, "check", "sheet.txt", "--condition", SATIN, "--json")
    assert [line["verdict"] for line in done.lines()] == ["pass"]
    assert (room.store.read_bytes(), room.archived()) == before


IDS_ALONE = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID\nEND_DATA_FORMAT\nBEGIN_DATA\n1\n2\nEND_DATA\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("no chart at all\n", "the aim house cannot be read: expected a CGATS text"),
        (IDS_ALONE, "expected spectral, Lab or XYZ columns in the aim house, got none of them"),
        (None, "expected a target file at aim.txt, got: No such file or directory"),
    ],
    ids=["no CGATS", "no colours", "no file"],
)
def test_a_file_that_cannot_serve_is_refused_with_the_reason(room: Room, text: str | None, said: str) -> None:
    place = room.folder / "aim.txt"
    place.unlink(missing_ok=True)
    if text is not None:
        place.write_text(text)
    assert said in refused(room, "house", "aim.txt", "--by", "Ana")


def test_the_table_that_the_settings_name_must_be_there(tmp_path: Path) -> None:
    room = Room(tmp_path / "room")
    room.configure(('file = "targets/house.txt"', "table = 2"))
    said = refused(room, "house", "targets/house.txt", "--by", "Ana")
    assert "expected 2 measurements or more in the aim house, got 1" in said


def test_the_very_same_content_is_no_new_version(room: Room) -> None:
    assert "which is in use, got the same" in refused(room, "house", "targets/house.txt", "--by", "Ana")


def test_a_name_that_the_settings_do_not_call_for_is_kept_and_told(tmp_path: Path) -> None:
    room = Room(tmp_path / "room")
    told = target(room, "add", "strip", "targets/house.txt", "--by", "Ana").out
    assert "not used yet: the settings have no [targets.strip]" in told
    told = target(room, "add", "house", "targets/house.txt", "--by", "Ana").out
    assert "not used yet: [targets.house] of the settings names a file, which goes before" in told
    assert [line["state"] for line in target(room, "list", "--json").lines()] == ["unused", "unused"]


# --- adopted from checks --------------------------------------------------------------------------------------------


def shown(room: Room, name: str) -> dict[str, Any]:
    return target(room, "show", name, "--json").json()


def test_the_mean_of_checks_is_kept_without_the_misread_patch_and_told_with_its_spread(tmp_path: Path) -> None:
    room = kept(Room(tmp_path / "room"))
    numbers = checked(room, *(cgats.text(shift) for shift in SHIFTS), misread(0.8))
    done = target(room, "add", "house", "--from-check", *numbers, "--even-failed", *PAIR)
    assert (done.code, done.err) == (0, "")
    assert "makes its drift the norm; Ben answers for this one" in done.out
    assert "reference: none was given" in done.out
    assert f"failed checks among them: {numbers[3]}" in done.out
    assert f"outliers rejected: 1: check {numbers[3]} A4" in done.out
    facts = shown(room, "house@2")["facts"]
    assert facts["checks"][0] | {"sha256": "", "verdict": ""} == {
        "check": int(numbers[0]), "sha256": "", "table": 1, "verdict": "",
    }  # fmt: skip
    assert [each["patch"] for each in facts["rejected"]] == ["A4"]
    assert 0 < facts["spread"]["de00_mean"] < facts["spread"]["de00_max"] < 1
    assert target(room, "show", "house", "--out", "aim.txt").code == 0
    [aim] = measurements(read((room.folder / "aim.txt").read_bytes()))
    assert aim.condition.m == "M1"
    assert aim.lab is not None
    for row, patch in enumerate(cgats.PATCHES):
        shifts = SHIFTS if aim.chart.ids[row] == "A4" else (*SHIFTS, 0.8)
        assert aim.lab[row, 0] == pytest.approx(patch.lab[0] + sum(shifts) / len(shifts), abs=1e-9)
    assert aim.keywords["APPROVED_BY"] == "Ben"
    assert facts["checks"][3]["sha256"] in aim.keywords["ADOPTED_FROM"]


def test_past_checks_are_scored_again_with_the_target_they_had(tmp_path: Path) -> None:
    room = kept(Room(tmp_path / "room"))
    numbers = checked(room, *(cgats.text(shift) for shift in SHIFTS))
    before = run(room, "rescore", "--check", numbers[0], "--json").json()
    target(room, "add", "house", "--from-check", *numbers, *PAIR)
    target(room, "retire", "house@1", "--by", "Ben", "--why", "replaced")
    after = run(room, "rescore", "--check", numbers[0], "--json").json()
    assert after == before
    assert (after["identical"], after["worst_difference"]) == (True, 0.0)
    [new] = checked(room, cgats.text(0.41))
    assert [check.target_hash for check in room.checks() if str(check.seq) == new] == [shown(room, "house@2")["sha256"]]


def test_the_distance_from_a_reference_is_told_and_the_reference_kept(room: Room, numbers: list[str]) -> None:
    done = target(room, "add", "away", "--from-check", numbers[0], *PAIR, "--reference", "targets/house.txt")
    assert done.code == 0
    assert "spread: not known from one check" in done.out
    assert "reference: ΔE00 from house.txt: mean 0.1" in done.out
    reference = shown(room, "away")["facts"]["reference"]
    figures = {
        check["check"]: check["metrics"]["all"] for check in run(room, "checks", "--json", "--last", "99").lines()
    }[int(numbers[0])]
    for name in ("de00_mean", "de00_p95", "de00_max"):
        assert reference[name] == pytest.approx(figures[name], abs=1e-12)
    assert any(place.endswith(reference["sha256"]) for place in room.archived())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--by", "Ana"], "expected a second person after --approved-by for a target adopted from checks, got none"),
        (["--by", "Ana", "--approved-by", " ANA "], "expected a second person after --approved-by, got 'Ana' twice"),
        ([*PAIR, "--source", "here"], "expected --source with a FILE alone"),
        ([*PAIR, "--reference", "gone.txt"], "expected a target file at gone.txt, got: No such file"),
    ],
    ids=["nobody", "the same person", "a source", "no reference"],
)
def test_an_adoption_that_is_not_complete_is_refused(
    room: Room, numbers: list[str], words: list[str], said: str
) -> None:
    assert said in refused(room, "house", "--from-check", numbers[0], *words)


def test_a_reference_of_another_m_condition_is_refused(room: Room, numbers: list[str]) -> None:
    (room.folder / "m2.txt").write_text(cgats.text(m="M2"))
    said = refused(room, "house", "--from-check", numbers[0], *PAIR, "--reference", "m2.txt")
    assert "cannot be held against the reference m2.txt: expected measurement condition M2" in said


def test_a_failed_check_is_adopted_only_when_that_is_asked_for(room: Room, numbers: list[str]) -> None:
    said = refused(room, "house", "--from-check", *numbers, *PAIR)
    assert f"expected checks that did not fail, got {numbers[3]}, which did" in said


@pytest.mark.parametrize(("number", "said"), [("9999", "expected the number of a recorded check, got 9999")])
def test_a_check_that_does_not_exist_is_refused(room: Room, number: str, said: str) -> None:
    assert said in refused(room, "house", "--from-check", number, *PAIR)


def test_a_check_counts_once(room: Room, numbers: list[str]) -> None:
    assert "expected each check once" in refused(room, "house", "--from-check", numbers[0], numbers[0], *PAIR)


def test_a_check_that_was_superseded_is_refused(tmp_path: Path) -> None:
    room = kept(Room(tmp_path / "room"))
    [first] = checked(room, cgats.text(0.2))
    checked(room, cgats.text(0.2), condition="south/satin-240")
    said = refused(room, "house", "--from-check", first, *PAIR)
    assert f"expected checks that count, got {first}, which was voided or superseded" in said


def test_checks_of_another_condition_chart_m_condition_or_backing_are_refused(tmp_path: Path) -> None:
    room = kept(Room(tmp_path / "room"))
    [first] = checked(room, cgats.text(0.2))
    others = {
        "printing condition": checked(room, cgats.text(0.3), condition="south/satin-240"),
        "measurement condition": checked(room, cgats.text(0.4, m=None)),
        "backing": checked(room, cgats.text(0.5, keywords={"SAMPLE_BACKING": "black"})),
        "chart": checked(room, cgats.text(0.6, patches=cgats.PATCHES[:-1])),
    }
    for what, [number] in others.items():
        said = refused(room, "house", "--from-check", first, number, *PAIR)
        assert f"expected checks of one {what}, got " in said


def test_the_archive_must_still_have_the_file_of_a_check(tmp_path: Path) -> None:
    room = kept(Room(tmp_path / "room"))
    [number] = checked(room, cgats.text(0.2))
    sha256 = hashlib.sha256(cgats.text(0.2).encode()).hexdigest()
    (room.archive / sha256[:2] / sha256).unlink()
    assert f"in the archive as {sha256}, got: No such file" in refused(room, "house", "--from-check", number, *PAIR)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["house", "--by", "Ana"], "expected a FILE or --from-check, one of the two"),
        (["house", "aim.txt", "--by", "Ana", "--from-check", "1"], "expected a FILE or --from-check, one of the two"),
        (["house", "aim.txt", *PAIR], "expected --approved-by, --reference and --even-failed with --from-check alone"),
        (["a/b", "aim.txt", "--by", "Ana"], "argument NAME: expected letters, digits"),
        (["house", "aim.txt", "--by", " "], "argument --by: expected words, got ' '"),
        (["house", "aim.txt", "--by", "Ana\x07"], "argument --by: expected words"),
        (["house", "aim.txt"], "the following arguments are required: --by"),
    ],
)
def test_options_that_do_not_fit_together_are_refused(room: Room, words: list[str], said: str) -> None:
    assert said in refused(room, *words)


# --- list, show, retire ---------------------------------------------------------------------------------------------


def test_before_any_target_the_list_is_empty_and_the_rest_refused(tmp_path: Path) -> None:
    room = Room(tmp_path / "room")
    assert target(room, "list", "--json") == Done(0, "", "")
    for words in (["show", "house"], ["retire", "house", "--by", "Ben", "--why", "gone"]):
        done = target(room, *words)
        assert (done.code, done.out) == (2, "")
        assert "expected a target that was added, got 'house'" in done.err
    assert not room.store.exists()


def test_every_version_is_listed_with_where_it_stands(tmp_path: Path) -> None:
    room = kept(Room(tmp_path / "room"))
    for shift in (1.0, 2.0, 3.0):
        (room.folder / "aim.txt").write_text(cgats.text(shift))
        assert target(room, "add", "house", "aim.txt", "--by", "Ana").code == 0
    told = target(room, "retire", "house", "--by", "Ben", "--why", "read wet").out
    assert told == "house version 4 is retired; past checks keep it. Version 3 is in-use.\n"
    target(room, "retire", "house@1", "--by", "Ben", "--why", "old")
    states = [(line["version"], line["state"]) for line in target(room, "list", "--json").lines()]
    assert states == [(1, "retired"), (2, "replaced"), (3, "in-use"), (4, "retired")]
    table = target(room, "list").out.splitlines()
    assert len(table) == 2 + 4
    assert shown(room, "house")["version"] == 3
    assert shown(room, "house@4")["retired"]["why"] == "read wet"
    assert "retired: " in target(room, "show", "house@4").out


def test_retiring_the_only_version_leaves_its_conditions_without_a_target(tmp_path: Path) -> None:
    room = kept(Room(tmp_path / "room"))
    told = target(room, "retire", "house", "--by", "Ben", "--why", "the stock is gone").out
    assert "No version is left: new checks of north/satin-240, north/matte-190, south/satin-240" in told
    assert checked(room, cgats.text(cgats.GOOD)) == []
    [reason] = room.aside.glob("*.reason.txt")
    assert "expected a version of the aim house in use, got none" in reason.read_text()
    (room.folder / "sheet.txt").write_text(cgats.text(cgats.GOOD))
    [line] = run(room, "check", "sheet.txt", "--condition", SATIN, "--json").lines()
    assert [reason["code"] for reason in line["reasons"]] == ["no-target"]
    assert shown(room, "house")["state"] == "retired"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["retire", "house@9", "--by", "Ben", "--why", "gone"], "expected a version of house from 1 to 1, got 9"),
        (["retire", "house", "--by", "Ben"], "the following arguments are required: --why"),
        (["show", "house@0"], "expected NAME or NAME@VERSION, such as house or house@2, got 'house@0'"),
        (["show", "house@2"], "expected a version of house from 1 to 1, got 2"),
        (["show", "house", "--out", "sentinel.toml"], "expected a place for a new file at sentinel.toml"),
    ],
)
def test_what_cannot_be_shown_or_retired_is_refused(tmp_path: Path, words: list[str], said: str) -> None:
    room = kept(Room(tmp_path / "room"))
    settings = room.config.read_bytes()
    done = target(room, *words)
    assert done.code == 2
    assert said in done.err
    assert room.config.read_bytes() == settings


def test_the_file_of_a_version_is_written_as_it_was_kept(room: Room, tmp_path: Path) -> None:
    assert target(room, "show", "house@1", "--out", tmp_path / "out.txt").code == 0
    assert (tmp_path / "out.txt").read_bytes() == (room.folder / "targets" / "house.txt").read_bytes()


def test_show_and_list_agree(room: Room) -> None:
    [listed] = [line for line in target(room, "list", "--json").lines() if line["target"] == "house"]
    assert json.dumps(shown(room, "house@1")) == json.dumps(listed)
