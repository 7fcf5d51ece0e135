"""`sentinel inspect`: what was read of a file, what was assumed, every fault with its place; and the clean file."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from sentinel.core.measurement.cgats import measurements, read
from tests.support.command import sentinel

DATASETS = Path(__file__).parents[1] / "data" / "datasets"
TR006 = DATASETS / "TR006.txt"
ACCOUNTS = ("used", "declared", "not-understood", "not-used")


@pytest.fixture
def spoilt(tmp_path: Path) -> Path:
    """One bad cell in the first table, a second table that is whole."""
    text = (
        "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
        "NUMBER_OF_SETS 2\nBEGIN_DATA\n1 95 0 -2\n2 9x 0 0\nEND_DATA\n"
        "NUMBER_OF_SETS 1\nBEGIN_DATA\n1 50 1 2\nEND_DATA\n"
    )
    path = tmp_path / "spoilt.txt"
    path.write_text(text, encoding="ascii")
    return path


def test_a_published_file_is_shown_with_its_table_and_keywords() -> None:
    done = sentinel("inspect", str(TR006), "--json")
    shown = json.loads(done.out)
    assert done.code == 0
    assert (shown["schema"], shown["readable"], shown["identifier"]) == ("sentinel.inspect/1", True, "CGATS.17")
    [table] = shown["tables"]
    assert (table["rows"], table["inks"], table["keywords"]["ILLUMINANT"]) == (1617, ["C", "M", "Y", "K"], "D50")
    assert {note["code"] for note in shown["assumptions"]} >= {"xyz-scale", "created-not-understood"}


def test_the_text_names_the_m_condition_and_counts_one_table(tmp_path: Path) -> None:
    file = tmp_path / "m1.txt"
    file.write_text(
        'CGATS.17\nMEASUREMENT_SOURCE "D50, M1"\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n'
        "NUMBER_OF_SETS 1\nBEGIN_DATA\n1 95 0 -2\nEND_DATA\n",
        encoding="ascii",
    )
    shown = sentinel("inspect", str(file)).out
    assert "CGATS.17, utf-8, 1 table\n" in shown
    assert "M condition: M1" in shown
    assert "light: D50 (taken, the file does not say), 2 degrees (taken, the file does not say)" in shown


def test_a_fault_is_told_with_line_and_column_and_the_rest_is_shown(spoilt: Path) -> None:
    done = sentinel("inspect", str(spoilt), "--json")
    shown = json.loads(done.out)
    assert done.code == 3
    assert [(fault["code"], fault["line"], fault["column"]) for fault in shown["faults"]] == [("not-a-number", 8, 3)]
    assert [table["rows"] for table in shown["tables"]] == [1]


def test_the_text_points_at_the_cell(spoilt: Path) -> None:
    lines = sentinel("inspect", str(spoilt)).out.splitlines()
    pointed = next(number for number, line in enumerate(lines) if line.strip() == "^")
    assert lines[pointed - 1][lines[pointed].index("^") :].startswith("9x")


def test_what_inspect_reads_on_past_is_unscored_for_check(spoilt: Path) -> None:
    done = sentinel("check", str(spoilt), "--target", str(TR006), "--json")
    assert done.code == 3
    assert [json.loads(line)["verdict"] for line in done.out.splitlines()] == ["unscored"]


def test_the_rewritten_file_reads_back_equal(tmp_path: Path) -> None:
    out = tmp_path / "clean.txt"
    assert sentinel("inspect", str(TR006), "--rewrite", str(out)).code == 0
    [before], [after] = (measurements(read(path.read_bytes())) for path in (TR006, out))
    assert before.lab is not None
    assert after.lab is not None
    assert np.array_equal(before.lab, after.lab)
    assert before.chart.ids == after.chart.ids
    assert before.keywords == after.keywords


def test_nothing_is_rewritten_over_a_file_or_from_a_faulty_one(tmp_path: Path, spoilt: Path) -> None:
    out = tmp_path / "kept.txt"
    out.write_text("kept", encoding="ascii")
    assert sentinel("inspect", str(TR006), "--rewrite", str(out)).code == 2
    assert out.read_text(encoding="ascii") == "kept"
    assert sentinel("inspect", str(spoilt), "--rewrite", str(tmp_path / "new.txt")).code == 3
    assert not (tmp_path / "new.txt").exists()


@pytest.mark.parametrize("name", ["nowhere.txt", "."])
def test_what_is_no_file_is_refused_in_a_sentence(tmp_path: Path, name: str) -> None:
    done = sentinel("inspect", str(tmp_path / name))
    assert done.code == 2
    assert "expected a measurement file" in done.err


def test_every_column_and_header_line_is_accounted_for() -> None:
    [table] = json.loads(sentinel("inspect", str(TR006), "--json").out)["tables"]
    read_as = table["interpretation"]
    columns = {part["name"]: account for account in ACCOUNTS for part in read_as[account] if part["kind"] == "column"}
    assert sorted(columns) == sorted(table["fields"])
    assert columns["XYZ_X"] == "not-used"
    assert (columns["LAB_L"], columns["CMYK_C"]) == ("used", "used")
    headers = {part["name"] for account in ACCOUNTS for part in read_as[account] if part["kind"] == "header"}
    assert headers == set(table["keywords"])
    [illuminant] = [part for part in read_as["used"] if part["name"] == "ILLUMINANT"]
    assert (illuminant["meaning"], illuminant["line"]) == ("illuminant D50", 12)
    assert (read_as["device_scale"], read_as["unclear"]) == ("0 to 100", [])


def test_what_is_not_understood_is_shown_and_leaves_no_verdict(tmp_path: Path) -> None:
    file = tmp_path / "d65.txt"
    file.write_text(TR006.read_text("utf-8").replace('OBSERVER "CIE 2 degree"', 'OBSERVER "4 degree"'), "utf-8")
    shown = sentinel("inspect", str(file)).out
    assert "not understood: line 14: OBSERVER" in shown
    assert "no verdict: expected an observer of 2 or 10 degrees for OBSERVER, got '4 degree' (line 14)" in shown
    done = sentinel("check", str(file), "--target", str(TR006), "--json")
    [line] = [json.loads(each) for each in done.out.splitlines()]
    assert (done.code, line["verdict"]) == (3, "unscored")
    assert [reason["code"] for reason in line["reasons"]] == ["meaning-unclear"]
    assert [each["about"] for each in line["interpretation"]["unclear"]] == ["light"]


def test_the_page_says_what_figures_would_stand_on_and_has_a_place_to_sign() -> None:
    """TR 006 has one paper, four solids, 1588 distinct patches, 29 of them repeated (counted in the file)."""
    shown = sentinel("inspect", str(TR006)).out
    assert "light: D50, 2 degrees" in shown
    assert "device values: 0 to 100" in shown
    assert "patches: 1588, of them read more than once: 29" in shown
    assert "groups: paper 1, solids 4," in shown
    assert "read so, and found right:" in shown.splitlines()[-1]
    [table] = json.loads(sentinel("inspect", str(TR006), "--json").out)["tables"]
    assert (table["contents"]["patches"], table["contents"]["repeated"]) == (1588, 29)
    assert table["contents"]["groups"]["solids"] == 4


def test_where_no_figure_can_stand_the_page_says_so(tmp_path: Path) -> None:
    file = tmp_path / "bare.txt"
    file.write_text(
        "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID NOTE\nEND_DATA_FORMAT\nNUMBER_OF_SETS 1\nBEGIN_DATA\n1 a\nEND_DATA\n",
        encoding="ascii",
    )
    shown = sentinel("inspect", str(file)).out
    assert "patches: 0, of them read more than once: 0" in shown
    assert "groups: none" in shown
