"""`curves` foretells a recalibration from a recorded check, and writes the curves on request."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from demo.simulator.checks import draw_check
from sentinel.core.measurement.cgats import read
from tests.simulation.diagnosis.worlds import FITTING
from tests.support import cgats
from tests.support.command import sentinel
from tests.support.room import Room
from tests.unit.core.recalibration.prints import INKS, exported, usual

LATELY = datetime.now(UTC) - timedelta(minutes=30)


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Room:
    """A room with a check whose tone scales are off, one through a profile, and one of a chart without tone scales."""
    room = Room(tmp_path_factory.mktemp("curves") / "room")
    (room.folder / "targets" / "scales.txt").write_text(exported(usual(), 1))
    room.configure(
        ('[conditions."north/satin-240"]\ntargets = ["house"]', '[conditions."north/satin-240"]\ntargets = ["scales"]'),
        ('[conditions."north/matte-190"]\ntargets = ["house"]', '[conditions."north/matte-190"]\ntargets = ["image"]'),
        extra="""
[targets.scales]
file = "targets/scales.txt"
colour_path = "ink-space"
[targets.image]
file = "targets/scales.txt"
colour_path = "through-profile"
""",
    )
    for minutes, place, content in (
        (0, "north/satin-240/off.txt", exported(usual(gain=0.2), 2)),
        (1, "north/matte-190/off.txt", exported(usual(gain=0.2), 3)),
        (2, "south/satin-240/few.txt", cgats.text(cgats.GOOD).replace(" 50 0 0 0 ", " 50 1 0 0 ")),
    ):
        room.put(place, content, at=LATELY + timedelta(minutes=minutes))
    assert sentinel("--config", room.config, "run", "--once").code == 0
    return room


def number(room: Room, condition: str) -> str:
    """Of the one check of a condition."""
    [check] = sentinel("--config", room.config, "checks", "--condition", condition, "--json").lines()
    return str(check["check"])


def test_wrong_tone_scales_are_foretold_to_come_back(recorded: Room) -> None:
    check = number(recorded, "north/satin-240")
    found = sentinel("--config", recorded.config, "curves", check, "--json")
    assert found.code == 0
    told = found.json()
    assert told["foretold"] is True
    assert told["now"]["de00_mean"] > 2.0
    assert told["predicted"]["de00_mean"]["high"] < 1.2
    assert [curve["ink"] for curve in told["curves"] if not curve["straight"]] == list(INKS)


def test_text_tells_the_forecast_first_and_the_cautions(recorded: Room) -> None:
    told = sentinel("--config", recorded.config, "curves", number(recorded, "north/satin-240")).out
    order = [
        "mean ΔE00",
        "What remains",
        "send, for",
        "which stock was printed",
        "dry",
        "nozzle check",
        "person has signed",
    ]
    places = [told.index(words) for words in order]
    assert places == sorted(places)


def test_curves_are_written_once_and_nothing_is_overwritten(recorded: Room, tmp_path: Path) -> None:
    check, places = number(recorded, "north/satin-240"), [tmp_path / "curves.csv", tmp_path / "curves.txt"]
    words = ("curves", check, "--csv", places[0], "--cgats", places[1])
    assert sentinel("--config", recorded.config, *words).code == 0
    before = [place.read_bytes() for place in places]
    assert read(before[1]).tables[0].fields == ("ASKED_PERCENT", "SENT_C", "SENT_M", "SENT_Y", "SENT_K")
    again = sentinel("--config", recorded.config, *words)
    assert again.code == 2
    assert "expected a place for a new file" in again.err
    assert [place.read_bytes() for place in places] == before


@pytest.mark.parametrize(
    ("condition", "word"), [("north/matte-190", "through a profile"), ("south/satin-240", "tone scale")]
)
def test_nothing_is_foretold_or_written_where_the_chart_does_not_tell(
    recorded: Room, tmp_path: Path, condition: str, word: str
) -> None:
    out = tmp_path / "curves.csv"
    found = sentinel("--config", recorded.config, "curves", number(recorded, condition), "--csv", out, "--json")
    assert found.code == 3
    assert word in found.json()["message"]
    assert not out.exists()


def misread(text: str) -> str:
    """The same file with every reading moved to the next patch but ten."""
    head, data = text.split("BEGIN_DATA\n")
    rows = [line.split() for line in data.split("END_DATA")[0].splitlines()]
    fields = head.split("BEGIN_DATA_FORMAT\n")[1].splitlines()[0].split()
    own = 1 + max(place for place, field in enumerate(fields) if field.startswith(("CMYK_", "SAMPLE_")))
    moved = [" ".join(row[:own] + rows[place - 10][own:]) for place, row in enumerate(rows)]
    return head + "BEGIN_DATA\n" + "\n".join(moved) + "\nEND_DATA\n"


def test_nothing_is_foretold_from_a_check_without_a_verdict(tmp_path: Path) -> None:
    room = Room(tmp_path / "room")
    (room.folder / "targets" / "scales.txt").write_text(exported(usual(), 1))
    room.configure(
        ('[conditions."north/satin-240"]\ntargets = ["house"]', '[conditions."north/satin-240"]\ntargets = ["scales"]'),
        extra='[targets.scales]\nfile = "targets/scales.txt"\ncolour_path = "ink-space"\n',
    )
    room.put("north/satin-240/misread.txt", misread(exported(usual(), 2)), at=LATELY)
    assert sentinel("--config", room.config, "run", "--once").code == 0
    [check] = sentinel("--config", room.config, "checks", "--json").lines()
    assert check["verdict"] == "unscored"
    out = tmp_path / "curves.csv"
    found = sentinel("--config", room.config, "curves", str(check["check"]), "--csv", out)
    assert found.code == 3
    assert "stock or patch order is in doubt" in found.out
    assert not out.exists()


def test_nothing_is_foretold_while_the_figures_point_to_a_wet_chart(tmp_path: Path) -> None:
    """A sheet of the print simulator; its finding is that of tests/integration/test_withheld_verdicts.py."""
    wet = next(
        check
        for number in range(60)
        if set((check := draw_check(FITTING, number, ("wet",), "short")).inks) == set("CMYK")
    )
    room = Room(tmp_path / "room")
    (room.folder / "targets" / "house.txt").write_text(wet.target)
    room.put("north/satin-240/wet.txt", wet.file, at=LATELY)
    assert sentinel("--config", room.config, "run", "--once").code == 0
    [listed] = sentinel("--config", room.config, "checks", "--json").lines()
    out = tmp_path / "curves.csv"
    found = sentinel("--config", room.config, "curves", str(listed["check"]), "--csv", out)
    assert found.code == 3
    assert "point to a chart that was not dry" in found.out
    assert not out.exists()


def test_other_aim_may_be_named(recorded: Room, tmp_path: Path) -> None:
    aim = tmp_path / "aim.txt"
    aim.write_text(exported(usual(gain=0.2), 5))
    found = sentinel(
        "--config", recorded.config, "curves", number(recorded, "north/satin-240"), "--target", aim, "--json"
    )
    assert found.json()["now"]["de00_mean"] < 1.2
    assert all(curve["straight"] for curve in found.json()["curves"])


def test_number_of_no_check_is_refused(recorded: Room) -> None:
    found = sentinel("--config", recorded.config, "curves", "999999")
    assert found.code == 2
    assert "expected the number of a recorded check, got 999999" in found.err
