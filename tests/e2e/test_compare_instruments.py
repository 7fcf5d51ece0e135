"""`sentinel compare --instruments`: the same sheets read by two instruments."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.command import Done, sentinel
from tests.support.sheets_of_web import file_of, printed, read_by

Lab = tuple[float, float, float]
SHEETS = [printed(noise=0.05, seed=seed) for seed in range(4)]
FIRST = [file_of(sheet, "4711") for sheet in SHEETS]


def by_second(number: int, serial: str | None = "4712", scale: float = 0.99, shift: float = -0.3) -> str:
    """Another instrument's reading: its own noise, a scale, and a shift of lightness."""
    again = read_by(printed(noise=0.05, seed=number), scale, shift)
    noisy = printed(noise=0.06, seed=900 + number)
    clean = printed(noise=0.0, seed=1)
    moved = [
        each._replace(lab=_noisy(each.lab, other.lab, bare.lab))
        for each, other, bare in zip(again, noisy, clean, strict=True)
    ]
    return file_of(moved, serial)


def _noisy(lab: Lab, noisy: Lab, clean: Lab) -> Lab:
    first, second, third = (a + b - c for a, b, c in zip(lab, noisy, clean, strict=True))
    return first, second, third


def instruments(folder: Path, *texts: str, more: tuple[str, ...] = ("--json",)) -> Done:
    names = [folder / f"reading{number}.txt" for number in range(len(texts))]
    for name, text in zip(names, texts, strict=True):
        name.write_text(text, encoding="utf-8")
    return sentinel("compare", "--instruments", *names, *more)


def test_the_correction_between_two_instruments_is_told_and_applied_nowhere(tmp_path: Path) -> None:
    done = instruments(tmp_path, FIRST[0], by_second(0))
    found = done.json()
    assert done.code == 0
    assert (found["schema"], found["first"], found["second"]) == ("sentinel.compare-instruments/1", "4711", "4712")
    assert (found["applied"], found["known_to_differ"], found["same_sheets"]) == (False, True, True)
    assert {"paper", "solids", "neutrals", "dark", "all"} == set(found["regions"])
    paper = found["regions"]["paper"]
    assert paper["dl"]["mean"] == pytest.approx(0.99 * 95 - 0.3 - 95, abs=0.15)
    assert found["correction"]["form"] != "none"
    assert found["correction"]["left_de00_mean"] < 0.3 < found["regions"]["all"]["de00_mean"]


def test_more_pairs_are_tried_on_whole_sheets(tmp_path: Path) -> None:
    texts = [text for number in range(3) for text in (FIRST[number], by_second(number))]
    found = instruments(tmp_path, *texts).json()
    assert (found["sheets"], found["correction"]["tried_on"]) == (3, "sheets")


def test_the_text_says_what_it_is_good_for(tmp_path: Path) -> None:
    told = instruments(tmp_path, FIRST[0], by_second(0), more=()).out
    assert "applies this correction to no reading, no aim and no verdict" in told
    assert "first: 4711" in told
    assert "\nneutrals" in told


def test_instruments_that_are_not_told_are_remarked(tmp_path: Path) -> None:
    untold = by_second(0, None)
    done = instruments(tmp_path, FIRST[0], untold, more=())
    assert done.code == 0
    assert "not told by the files" in done.out
    assert instruments(tmp_path, FIRST[0], untold).json()["known_to_differ"] is False


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        ([FIRST[0], by_second(0, "4711")], "expected readings by two instruments, got both by 4711"),
        ([FIRST[0], file_of(SHEETS[0], "4712")], "the same values twice"),
        ([FIRST[0], by_second(0), FIRST[1].replace("4711", "4799"), by_second(1)], "every first reading, got 4711 and"),
        ([FIRST[0], by_second(0), FIRST[1], by_second(1, "4799")], "every second reading, got 4712 and 4799"),
        ([FIRST[0], file_of(printed(ink=1, more=0.4, seed=8), "4712")], "expected readings of the same sheets"),
        ([FIRST[0], by_second(0).replace("45/0, M1", "45/0, M0")], "expected measurement condition M1"),
    ],
)
def test_what_is_no_pair_of_readings_is_refused(tmp_path: Path, texts: list[str], said: str) -> None:
    done = instruments(tmp_path, *texts, more=())
    assert done.code == 3
    assert said in done.out


def test_a_reading_without_its_pair_is_refused(tmp_path: Path) -> None:
    done = instruments(tmp_path, FIRST[0], by_second(0), FIRST[1])
    assert done.code == 2
    assert "expected pairs of readings behind --instruments, got 3 readings" in done.err
