"""A day in the invented print room, in the order in which it is shown."""

from __future__ import annotations

from demo import telling
from demo.faults import NotAsExpectedError
from demo.instrument import Reading, exported
from demo.print_model import Drift
from demo.stage import Stage

WEEKS = 24.0 * 7.0

TODAYS_PRINT = Drift(density={"M": 1.02}, gain=0.006)
HEAVY_GAIN = Drift(density={"M": 1.05}, gain=0.055)
WET = Drift(density={"C": 1.12, "M": 1.25, "Y": 1.15, "K": 1.06}, gain=0.04)

ENDS = {
    "north/satin-240": ("current", None),
    "north/cotton-310": ("never-run", "never-run"),
    "north/canvas-gloss": ("not-measurable", "textured-gloss"),
    "harbour/banner-440": ("current", "last-check-warned"),
    "harbour/clear-film": ("not-measurable", "transparent"),
    "quarry/banner-440": ("due", "too-old"),
    "quarry/board-300": ("never-run", "never-run"),
}


def tell(stage: Stage) -> None:
    """Plays the day. Raises NotAsExpectedError at the first thing that does not happen."""
    overnight(stage)
    wet_chart(stage)
    wrong_stock(stage)
    wrong_measurement_condition(stage)
    dry_chart(stage)
    evening(stage)


def overnight(stage: Stage) -> None:
    stage.chapter(
        "Left overnight",
        "Two readings were saved while the service was off. One was made yesterday; the header of the other says that "
        "it was measured three weeks ago, and the room wants a check every seven days.",
    )
    yesterday = exported(Reading("harbour", "banner-440", 15, HEAVY_GAIN, seed=11))
    weeks_old = exported(Reading("quarry", "banner-440", 3 * WEEKS, TODAYS_PRINT, seed=12))
    fresh = stage.drop(yesterday, "harbour/banner-440", "banner-yesterday.txt")
    old = stage.drop(weeks_old, "quarry/banner-440", "banner-weeks-old.txt")
    stage.score(fresh)
    telling.happens("started", "sentinel run")
    stage.service.start()
    stage.taken(fresh, old)
    stage.arrive(2, "Colour check due", paragraphs=1)


def wet_chart(stage: Stage) -> None:
    stage.chapter(
        "Measured too early",
        "The chart of North on satin paper was read straight from the printer, while the ink was still wet. The "
        "sentinel cannot know that; it says what the figures point to, and asks for the reading to be confirmed before "
        "anybody touches the printer.",
    )
    wet = exported(Reading("north", "satin-240", 4, WET, seed=21))
    stage.taken(stage.drop(wet, "north/satin-240", "satin-wet.txt"))
    stage.arrive(2, "Please confirm", paragraphs=None)
    stage.chapter("The same file again", "Somebody saves the very same reading a second time.")
    stage.taken(stage.drop(wet, "north/satin-240", "satin-wet-copy.txt"))
    stage.silence()


def wrong_stock(stage: Stage) -> None:
    stage.chapter(
        "The wrong roll",
        "The chart meant for cotton paper came out on the satin roll that was still loaded. The readings are far from "
        "cotton, but they fit the aim of another stock of the same printer: no verdict stands on them.",
    )
    on_satin = exported(Reading("north", "satin-240", 2, TODAYS_PRINT, seed=31))
    stage.taken(stage.drop(on_satin, "north/cotton-310", "cotton.txt"))
    mail, _ = stage.arrive(2, "STOP - wrong stock?", paragraphs=5)
    if "wrong stock" not in mail.body:
        raise NotAsExpectedError("expected the notice to say that the wrong stock is plausible, it does not")


def wrong_measurement_condition(stage: Stage) -> None:
    stage.chapter(
        "Not comparable",
        "A reading made under M0 comes for an aim that was read under M1. Comparing the two would mean nothing, so "
        "the file is put aside with its reason beside it.",
    )
    under_m0 = exported(Reading("harbour", "banner-440", 1, TODAYS_PRINT, m="M0", seed=41))
    stage.taken(stage.drop(under_m0, "harbour/banner-440", "banner-m0.txt"))
    stage.arrive(2, "File not scored", paragraphs=2)
    reason = stage.room.put_aside / "banner-m0.txt.reason.txt"
    if not reason.exists() or not reason.with_name("banner-m0.txt").exists():
        raise NotAsExpectedError(f"expected banner-m0.txt and its reason in {stage.room.put_aside}")
    telling.happens("found", str(reason.relative_to(stage.room.folder)))
    telling.quoted(reason.read_text(encoding="utf-8"))


def dry_chart(stage: Stage) -> None:
    stage.chapter(
        "Measured dry",
        "The same sheet of satin paper has dried and is read again. Nothing was changed at the printer.",
    )
    dry = exported(Reading("north", "satin-240", 0.1, TODAYS_PRINT, seed=22))
    stage.taken(stage.drop(dry, "north/satin-240", "satin-dry.txt"))
    stage.arrive(2, "Back within tolerance", paragraphs=None)


def evening(stage: Stage) -> None:
    stage.chapter(
        "Who sees to it",
        "Each printing condition that is not in order is one case, with one number, until it is in order again. The "
        "satin paper's was over with the dry reading. Somebody goes to change the roll, and says so: nobody is "
        "reminded of that for a while.",
    )
    [wrong_stock] = [each["case"] for each in stage.service.cases() if each["subject"] == "north/cotton-310"]
    stage.asked(f"ack {wrong_stock} --by Mia")
    stage.chapter("Where everything stands", "As anybody can ask at any time.")
    stage.asked("status")
    stage.chapter("The round", "What is to be printed and measured, in the order that costs least time.")
    stage.asked("round")
    found = {
        name: (each["state"], next((reason["code"] for reason in each["reasons"]), None))
        for name, each in stage.service.states().items()
    }
    for name, wanted in ENDS.items():
        if found.get(name) != wanted:
            raise NotAsExpectedError(f"expected {name} to be {wanted} at the end, it is {found.get(name)}")
