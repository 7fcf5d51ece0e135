"""`sentinel compare`: two readings against each other, without a verdict."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.support import cgats
from tests.support.command import sentinel
from tests.support.room import Room

LATELY = datetime.now(UTC) - timedelta(minutes=10)
DATASETS = Path(__file__).parents[1] / "data" / "datasets"
FOGRA39L, TR006 = DATASETS / "FOGRA39L.txt", DATASETS / "TR006.txt"


def test_published_data_compared_gives_the_figures_check_gives() -> None:
    compared = sentinel("compare", FOGRA39L, TR006, "--json")
    [checked] = sentinel("check", TR006, "--target", FOGRA39L, "--json").lines()
    assert compared.code == 0
    assert compared.json()["matched"] == 1588
    found = compared.json()["metrics"]
    assert {group: {name: found[group][name] for name in values} for group, values in checked["metrics"].items()} == (
        checked["metrics"]
    )
    beside = {
        name.split("_")[0] for group, values in found.items() for name in values.keys() - checked["metrics"][group]
    }
    assert beside == {"de94", "cmc"}
    assert compared.json()["worst"] == checked["worst"]


def test_the_first_is_the_reference() -> None:
    there, back = (sentinel("compare", *pair, "--json").json() for pair in ((FOGRA39L, TR006), (TR006, FOGRA39L)))
    for component in ("dl_mean", "da_mean", "db_mean"):
        assert there["metrics"]["all"][component] == pytest.approx(-back["metrics"]["all"][component], abs=1e-12)


def test_readings_under_different_m_conditions_are_not_compared(tmp_path: Path) -> None:
    text = cgats.text(cgats.GOOD)
    assert "M1" in text
    first, second = tmp_path / "m1.txt", tmp_path / "m0.txt"
    first.write_text(text, encoding="utf-8")
    second.write_text(text.replace("M1", "M0"), encoding="utf-8")
    done = sentinel("compare", first, second)
    assert done.code == 3
    assert "expected measurement condition M1 as for the first reading, got M0" in done.out


def test_no_word_of_an_aim_falls_between_two_readings(tmp_path: Path) -> None:
    """Neither of them is one: a chart of other patches, other inks, another backing, an M condition not told."""
    text = cgats.text(cgats.GOOD)
    others = {
        "patches": cgats.text(patches=[patch._replace(device=(1, 2, 3, 4)) for patch in cgats.PATCHES[:1]]),
        "inks": text.replace("CMYK_C CMYK_M CMYK_Y CMYK_K", "5CLR_1 5CLR_2 5CLR_3 5CLR_4"),
        "backing": text.replace("45/0, M1", "45/0, M1, white backing"),
        "m": cgats.text(cgats.GOOD, m=None),
    }
    (tmp_path / "first.txt").write_text(text.replace("45/0, M1", "45/0, M1, black backing"), encoding="utf-8")
    for name, other in others.items():
        (tmp_path / f"{name}.txt").write_text(other, encoding="utf-8")
        done = sentinel("compare", tmp_path / "first.txt", tmp_path / f"{name}.txt")
        told = done.out.replace(str(tmp_path), "")
        assert "expected " in told, name
        assert "reading" in told, name
        assert not re.search(r"\b(targets?|aims?)\b", told), name


def test_recorded_checks_are_compared_by_their_numbers(room: Room) -> None:
    for minute, (name, lightness) in enumerate((("one", cgats.GOOD), ("two", cgats.GOOD + 0.5))):
        room.put(f"north/satin-240/{name}.txt", cgats.text(lightness), at=LATELY + timedelta(minutes=minute))
        assert sentinel("--config", room.config, "run", "--once").code == 0
    newest, oldest = (line["check"] for line in sentinel("--config", room.config, "checks", "--json").lines())
    done = sentinel("--config", room.config, "compare", str(oldest), str(newest), "--json")
    assert done.code == 0
    assert done.json()["metrics"]["all"]["dl_mean"] == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize("second", ["nowhere.txt", f"{TR006}#2", "4711"])
def test_what_is_not_there_is_refused_in_a_sentence(room: Room, second: str) -> None:
    done = sentinel("--config", room.config, "compare", str(FOGRA39L), second)
    assert done.code == 2
    assert "expected " in done.err
