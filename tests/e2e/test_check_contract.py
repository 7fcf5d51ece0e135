"""`check --json` as other tools rely on it: keys, types, one line a measurement, exit codes."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.support import cgats
from tests.support.command import Done, sentinel
from tests.unit.core.recalibration.prints import Print, exported, usual

FILES = {
    "aim.txt": cgats.text(),
    "pass.txt": cgats.text(cgats.GOOD),
    "warn.txt": cgats.text(2.9),
    "fail.txt": cgats.text(cgats.FAILING),
    "prose.txt": "Dear team, the chart is fine.\n",
    "two.txt": cgats.file_of(cgats.table(cgats.GOOD), cgats.table(cgats.FAILING)),
}


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with files of every verdict, and no settings anywhere."""
    folder = tmp_path_factory.mktemp("desk")
    for name, text in FILES.items():
        (folder / name).write_text(text)
    return folder


def check(desk: Path, *files: str) -> Done:
    return sentinel("check", "--json", *files, "--target", "aim.txt", cwd=desk)


@pytest.fixture(scope="module")
def all_verdicts(desk: Path) -> Done:
    return check(desk, "pass.txt", "warn.txt", "fail.txt", "prose.txt")


REASON = {"code", "message", "pattern", "several", "values"}
FINDING = "cause ink sign confidence evidence who_acts recalibration_helps predicted"
CAUSES = (
    "wrong-substrate patch-order possibly-not-dry measurement-mode solid-off-aim tone-shift light-ink substrate-shade "
    "measurement-scale another-instrument outlying-patches unexplained"
)


def test_every_line_has_the_keys_of_the_contract(all_verdicts: Done) -> None:
    keys = "schema file sha256 table condition verdict reasons metrics measurement diagnosis answer moved"
    for line in all_verdicts.lines():
        assert set(keys.split()) <= set(line)
        assert line["schema"] == "sentinel.check/1"
        assert {"m_condition", "illuminant", "observer", "patches", "matched"} <= set(line["measurement"])
        assert {"de00_mean", "de00_p95", "de00_max"} <= set(line["metrics"]["all"])
        assert "de00_mean" in line["metrics"]["paper"]
        told = [each["confidence"] for each in line["diagnosis"]]
        assert told == sorted(told, reverse=True)
        assert all(0 < each <= 1 for each in told)
        named = [(each["cause"], each["ink"], each["sign"]) for each in line["diagnosis"]]
        assert [(each["cause"], each["ink"], each["sign"]) for each in line["answer"]] == [
            each for each in named if each in {(one["cause"], one["ink"], one["sign"]) for one in line["answer"]}
        ]
        assert bool(line["answer"]) == bool(named)
        for each in line["diagnosis"]:
            assert set(each) == set(FINDING.split())
            assert each["cause"] in CAUSES.split()


MOVEMENT = "what ink region tone count de00 plus_minus sure direction dl da db sentence"
OF_SOME = "pattern several values first last patches"


def test_every_line_beyond_a_limit_says_what_moved(all_verdicts: Done) -> None:
    for line in all_verdicts.lines():
        beyond = any(reason["code"] in ("warning-limit", "action-limit") for reason in line["reasons"])
        assert beyond is (line["verdict"] in ("warn", "fail"))
        assert bool(line["moved"]) >= beyond
        assert (line["moved"] is None) is (line["measurement"]["matched"] == 0)
        for each in line["moved"] or ():
            assert set(MOVEMENT.split()) <= set(each) <= set(f"{MOVEMENT} {OF_SOME}".split())


def test_finding_that_recalibrating_helps_foretells_what_it_would_bring(desk: Path) -> None:
    gain = np.array([0.12, 0.20, 0.12, 0.12])
    (desk / "scales-aim.txt").write_text(exported(usual(), 1))
    (desk / "scales.txt").write_text(exported(Print(gain, np.ones(4)), 2))
    [line] = sentinel("check", "--json", "scales.txt", "--target", "scales-aim.txt", cwd=desk).lines()
    first = line["diagnosis"][0]
    assert (first["cause"], first["ink"], first["recalibration_helps"]) == ("tone-shift", "M", True)
    foretold = first["predicted"]["recalibrated"]
    assert set(foretold) == {"de00_mean", "de00_p95", "de00_max", "confidence", "remains"}
    for figure in ("de00_mean", "de00_p95", "de00_max"):
        band = foretold[figure]
        assert set(band) == {"expected", "low", "high"}
        assert band["low"] <= band["expected"] <= band["high"] < line["metrics"]["all"][figure]
    assert all(set(part) == {"what", "ink", "de00"} for part in foretold["remains"])


def test_there_is_a_line_a_file_in_the_order_given(all_verdicts: Done) -> None:
    assert [(line["file"], line["verdict"]) for line in all_verdicts.lines()] == [
        ("pass.txt", "pass"),
        ("warn.txt", "warn"),
        ("fail.txt", "fail"),
        ("prose.txt", "unscored"),
    ]


def test_values_have_the_types_of_the_contract(all_verdicts: Done) -> None:
    *judged, prose = all_verdicts.lines()
    for line in judged:
        assert isinstance(line["table"], int)
        assert all(isinstance(value, float) for group in line["metrics"].values() for value in group.values())
        assert line["measurement"] | {"assumptions": []} == {
            "m_condition": "M1",
            "illuminant": None,
            "observer": None,
            "patches": 10,
            "matched": 10,
            "assumptions": [],
            "brightener": None,
            "density_status": None,
            "white": [96.422, 100.0, 82.521],
            "bandpass": None,
            "outside_unit_range": 0,
        }
    assert {value for group in prose["metrics"].values() for value in group.values()} == {None}
    for line in (*judged, prose):
        assert all({"code", "message"} <= set(reason) <= REASON for reason in line["reasons"])
        texts = [reason[key] for reason in line["reasons"] for key in reason if key != "values"]
        assert all(isinstance(text, str) and text for text in texts)
        assert all(("pattern" in reason) == ("values" in reason) for reason in line["reasons"])


def test_a_hash_is_that_of_the_bytes(all_verdicts: Done) -> None:
    for line in all_verdicts.lines():
        assert line["sha256"] == hashlib.sha256(FILES[line["file"]].encode()).hexdigest()


def test_with_a_target_there_is_no_condition_and_house_limits_hold(all_verdicts: Done) -> None:
    """House limits: paper warns above 1.5, fails above 3; all patches' mean fails above 3."""
    lines = all_verdicts.lines()
    assert {line["condition"] for line in lines} == {None}
    messages = [reason["message"] for reason in lines[2]["reasons"]]
    assert any(
        message.startswith("mean ΔE00 of all patches: expected at most the action limit 3.00") for message in messages
    )
    assert any(
        "bare stock: expected at most the warning limit 1.50" in reason["message"] for reason in lines[1]["reasons"]
    )


def test_a_file_with_two_tables_has_two_lines(desk: Path) -> None:
    done = check(desk, "two.txt")
    assert [(line["file"], line["table"], line["verdict"]) for line in done.lines()] == [
        ("two.txt", 1, "pass"),
        ("two.txt", 2, "fail"),
    ]
    assert len({line["sha256"] for line in done.lines()}) == 1
    assert done.code == 1


def test_file_is_the_path_as_it_was_given(desk: Path) -> None:
    odd = desk / "gemessen ΔE\u0301 'x'.txt"
    odd.write_text(FILES["pass.txt"])
    given = ["./pass.txt", str(desk / "pass.txt"), f"../{desk.name}/pass.txt", odd.name]
    done = check(desk, *given)
    assert [line["file"] for line in done.lines()] == given
    assert done.code == 0


def test_a_name_that_is_no_text_comes_back_byte_for_byte(desk: Path) -> None:
    name = os.fsencode(desk) + b"/chart\xff\xfe.txt"
    Path(os.fsdecode(name)).write_text(FILES["pass.txt"])
    done = sentinel("check", "--json", name, "--target", "aim.txt", cwd=desk)
    assert (done.code, [os.fsencode(line["file"]) for line in done.lines()]) == (0, [name])
    text = sentinel("check", name, "--target", "aim.txt", cwd=desk)
    assert (text.code, text.err) == (0, "")


@pytest.mark.parametrize(
    ("files", "code"),
    [
        (["pass.txt"], 0),
        (["warn.txt", "pass.txt"], 0),
        (["pass.txt", "fail.txt"], 1),
        (["prose.txt", "pass.txt"], 3),
        (["prose.txt", "fail.txt", "pass.txt"], 1),
        (["pass.txt", "gone.txt"], 2),
        (["gone.txt", "prose.txt", "fail.txt"], 2),
    ],
)
def test_exit_code_is_the_worst_2_then_1_then_3(desk: Path, files: list[str], code: int) -> None:
    done = check(desk, *files)
    assert done.code == code
    assert [line["file"] for line in done.lines()] == [name for name in files if name != "gone.txt"]
    gone = "sentinel: expected a file, there is none at gone.txt\n"
    assert done.err == (gone if "gone.txt" in files else "")


def test_the_text_for_people_has_the_same_verdicts_and_exit_code(desk: Path) -> None:
    done = sentinel("check", "pass.txt", "fail.txt", "prose.txt", "--target", "aim.txt", cwd=desk)
    assert done.code == 1
    for line in ("pass.txt, table 1: pass", "fail.txt, table 1: fail", "prose.txt: unscored"):
        assert line in done.out.splitlines()
    assert done.out.count("It is no certificate of conformity.") == 2


def moved(by: float) -> str:
    """A target of another stock: everything lighter or darker by this."""
    return cgats.text(by)


def of_rivals(desk: Path, *rivals: str) -> dict[str, Any]:
    options = [word for rival in rivals for word in ("--target", rival)]
    done = sentinel("check", "--json", "fail.txt", "--target", "aim.txt", *options, cwd=desk)
    assert done.code in (1, 3)
    [line] = done.lines()
    return line


def test_a_second_target_that_fits_far_better_withholds_the_verdict_and_changes_no_figure(desk: Path) -> None:
    (desk / "gloss.txt").write_text(moved(8.5))
    (desk / "matte.txt").write_text(moved(-4.0))
    alone, with_rivals = of_rivals(desk), of_rivals(desk, "matte.txt", "gloss.txt")
    first, *_, last = with_rivals.pop("reasons")
    assert (first["code"], last["code"]) == ("wrong-substrate", "rival-fits-better")
    assert all("gloss.txt fits better: mean " in reason["message"] for reason in (first, last))
    assert (alone.pop("verdict"), with_rivals.pop("verdict")) == ("fail", "unscored")
    assert alone.pop("reasons")
    assert with_rivals["answer"] == [{"cause": "wrong-substrate", "ink": None, "sign": None}]
    undiagnosed = {"diagnosis": None, "answer": None}
    assert with_rivals | undiagnosed == alone | undiagnosed


def test_a_second_target_that_fits_worse_is_not_named(desk: Path) -> None:
    (desk / "matte.txt").write_text(moved(-4.0))
    assert "rival-fits-better" not in [reason["code"] for reason in of_rivals(desk, "matte.txt")["reasons"]]


def test_check_writes_nothing(desk: Path) -> None:
    before = sorted(path.name for path in desk.iterdir())
    check(desk, "pass.txt", "prose.txt")
    assert sorted(path.name for path in desk.iterdir()) == before
