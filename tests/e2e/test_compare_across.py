"""`sentinel compare --across`: one chart at several places across the web."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.support import cgats
from tests.support.command import Done, sentinel
from tests.support.room import Room
from tests.support.sheets_of_web import file_of, printed

CYAN, MAGENTA = 0, 1
LATELY = datetime.now(UTC) - timedelta(minutes=30)


def across(folder: Path, *texts: str, more: tuple[str, ...] = ("--json",)) -> Done:
    names = [folder / f"place{number}.txt" for number in range(len(texts))]
    for name, text in zip(names, texts, strict=True):
        name.write_text(text, encoding="utf-8")
    return sentinel("compare", "--across", *names, *more)


def sheet(ink: int | None = None, more: float = 0.0, paper: float = 0.0, seed: int = 1, **keywords: str) -> str:
    return file_of(printed(ink=ink, more=more, paper=paper, seed=seed), "4711", keywords)


GRADIENT = [sheet(CYAN, more, seed=seed) for seed, more in enumerate((-0.12, 0.0, 0.12))]


def test_a_gradient_is_told_with_its_ink_its_size_and_how_sure_that_is(tmp_path: Path) -> None:
    done = across(tmp_path, *GRADIENT)
    found = done.json()
    assert done.code == 0
    assert (found["schema"], found["shape"], found["sure"]) == ("sentinel.compare-across/1", "gradient", True)
    assert [each["place"] for each in found["places"]] == ["left", "centre", "right"]
    [solid] = [each for each in found["parts"] if each["what"] == "solid"]
    assert (solid["ink"], solid["shape"], solid["from"], solid["to"]) == ("C", "gradient", 0, 2)
    assert solid["de00"] > solid["plus_minus"] > 0
    assert {each["ink"] for each in found["parts"] if each["what"] == "tones"} == {"C"}
    assert found["who_acts"] == ["operator", "colour lead"]
    assert any("order" in step for step in found["exclude_first"])


def test_the_text_says_it_in_words_with_what_to_exclude_first_and_what_to_beware_of(tmp_path: Path) -> None:
    told = across(tmp_path, *GRADIENT, more=()).out
    assert "A gradient: one way from left to right." in told
    assert "solid C: " in told
    exclude, look, beware = (told.index(words) for words in ("Exclude the simple", "Then look at", "Beware:"))
    assert exclude < look < beware
    assert "Never look into the UV lamps" in told
    assert "No verdict" in told


def test_one_place_apart_is_no_gradient(tmp_path: Path) -> None:
    found = across(tmp_path, *(sheet(MAGENTA, more, seed=seed) for seed, more in enumerate((0.0, 0.0, 0.2)))).json()
    assert (found["shape"], found["place"]) == ("one-apart", 2)
    assert {each["ink"] for each in found["parts"] if each["ink"] in ("C", "M", "Y", "K")} == {"M"}


def test_the_middle_apart_is_no_gradient_whatever_the_ends(tmp_path: Path) -> None:
    found = across(tmp_path, *(sheet(MAGENTA, more, seed=seed) for seed, more in enumerate((0.0, 0.25, 0.02)))).json()
    assert (found["shape"], found["place"]) == ("one-apart", 1)


def test_sheets_that_differ_as_sheets_do_are_said_to(tmp_path: Path) -> None:
    done = across(tmp_path, *(sheet(seed=seed) for seed in range(3)))
    found = done.json()
    assert done.code == 0
    assert (found["differs"], found["shape"], found["exclude_first"], found["who_acts"]) == (False, "alike", [], [])
    assert len(found["parts"]) == 1
    assert found["beyond_ordinary"] is False


def test_two_places_tell_no_gradient_and_five_do(tmp_path: Path) -> None:
    two = across(tmp_path, GRADIENT[0], GRADIENT[2]).json()
    assert two["shape"] == "two-places"
    assert "third sheet" in two["sentence"]
    five = across(tmp_path, *(sheet(CYAN, more, seed=seed) for seed, more in enumerate((-0.1, -0.05, 0, 0.05, 0.1))))
    assert five.json()["shape"] == "gradient"
    assert "from place 1 to place 5" in five.json()["sentence"]


def test_paper_that_differs_points_to_the_stock_first(tmp_path: Path) -> None:
    found = across(tmp_path, *(sheet(paper=paper, seed=seed) for seed, paper in enumerate((0.0, 0.0, -2.5)))).json()
    assert any("another roll or lot" in each["message"] for each in found["doubts"])


def test_several_instruments_and_long_hours_between_are_doubts(tmp_path: Path) -> None:
    texts = [
        file_of(printed(seed=1), "4711", {"CREATED": "2026-03-02T08:00:00+00:00"}),
        file_of(printed(seed=2), "4711", {"CREATED": "2026-03-02T08:10:00+00:00"}),
        file_of(printed(seed=3), "4712", {"CREATED": "2026-03-02T20:00:00+00:00"}),
    ]
    told = [each["message"] for each in across(tmp_path, *texts).json()["doubts"]]
    assert any("several instruments" in each for each in told)
    assert any("12 h apart" in each for each in told)


def other_chart() -> str:
    return cgats.text(patches=[each._replace(device=(1, 2, 3, 4)) for each in cgats.PATCHES[:1]])


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        ([GRADIENT[0], GRADIENT[1], other_chart()], "none has the device values of a patch of"),
        ([GRADIENT[0], GRADIENT[1], GRADIENT[1]], "got the same values for centre and right"),
        ([GRADIENT[0], GRADIENT[1].replace("45/0, M1", "45/0, M2")], "expected measurement condition M1 as for "),
        ([cgats.text(), cgats.text(0.1), cgats.text(0.2, patches=cgats.PATCHES[:4])], "expected 10 patches or more"),
    ],
)
def test_sheets_that_cannot_be_held_side_by_side_are_refused(tmp_path: Path, texts: list[str], said: str) -> None:
    done = across(tmp_path, *texts, more=())
    assert done.code == 3
    assert said in done.out
    assert "the aim" not in done.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--across", "{one}"), "expected 2 to 9 places behind --across, got 1"),
        (("--across", *["{one}"] * 10), "expected 2 to 9 places behind --across, got 10"),
        (("--across", "{one}", "{one}", "{two}"), "expected each reading once, got "),
        (("--across", "{one}", "nowhere.txt"), "expected a measurement file at nowhere.txt"),
        (("{one}", "--across", "{one}", "{two}"), "expected all readings behind --across"),
        (("{one}", "{two}", "--condition", "north/satin-240"), "expected --condition with --across"),
        (("--across", "{one}", "{two}", "--condition", "north/felt"), "expected a printing condition of the settings"),
        (("{one}",), "expected two readings"),
    ],
)
def test_usage_that_cannot_be_meant_is_refused_in_a_sentence(
    room: Room, tmp_path: Path, words: tuple[str, ...], said: str
) -> None:
    for name, text in (("one", GRADIENT[0]), ("two", GRADIENT[1])):
        (tmp_path / f"{name}.txt").write_text(text, encoding="utf-8")
    files = {name: str(tmp_path / f"{name}.txt") for name in ("one", "two")}
    done = sentinel("--config", room.config, "compare", *(word.format(**files) for word in words))
    assert done.code == 2
    assert said in done.err


CONDITION = ("--condition", "north/satin-240")


def test_the_condition_tells_the_ink_and_refuses_a_stock_that_cannot_be_measured(room: Room, tmp_path: Path) -> None:
    names: list[Path] = []
    for number, text in enumerate(GRADIENT):
        names.append(tmp_path / f"{number}.txt")
        names[-1].write_text(text, encoding="utf-8")
    asked: tuple[str | Path, ...] = ("--config", room.config, "compare", "--across", *names, *CONDITION)
    found = sentinel(*asked, "--json").json()
    assert found["technology"] == "aqueous-pigment"
    assert not any("UV" in each for each in found["cautions"])
    settings = room.config.read_text(encoding="utf-8")
    assert "[substrates.satin-240]\n" in settings
    clear = settings.replace("[substrates.satin-240]\n", '[substrates.satin-240]\nopacity = "transparent"\n')
    room.config.write_text(clear, encoding="utf-8")
    refused = sentinel(*asked)
    assert refused.code == 3
    assert "the substrate is transparent" in refused.out


def test_recorded_checks_are_compared_by_their_numbers(room: Room) -> None:
    for minute, shift in enumerate((0.0, 0.3, 0.1)):
        room.put(f"north/satin-240/{minute}.txt", cgats.text(shift), at=LATELY + timedelta(minutes=minute))
        assert sentinel("--config", room.config, "run", "--once").code == 0
    numbers = sorted(str(line["check"]) for line in sentinel("--config", room.config, "checks", "--json").lines())
    found = sentinel("--config", room.config, "compare", "--across", *numbers, "--json").json()
    assert (found["technology"], found["matched"], found["shape"]) == ("aqueous-pigment", 10, "alike")
