"""The steps of the trade, once: cheapest and safest first, and no remedy before the simple causes are excluded."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from enum import IntEnum
from itertools import combinations
from typing import Any

from sentinel.core.cases.payloads import ConditionCase
from sentinel.core.diagnosis.findings import PLAUSIBLE
from sentinel.core.message import Message, Quantity, Text, UnitOfMeasure, msg

FindingFacts = Mapping[str, Any]


class RemedyStep(IntEnum):
    """In the order of the ladder; from `RECALIBRATE` on something is changed."""

    STOCK = 1
    DRY = 2
    MODE = 3
    OWN_INSTRUMENT = 4
    READ = 5
    COMPARE = 6
    LIGHT_NOZZLES = 7
    NOZZLES = 8
    PRINT = 9
    ALIGN = 10
    RUNNING = 11
    RECALIBRATE = 12
    LIMITS = 13
    PROFILE = 14
    SERVICE = 15


WORDS: Mapping[RemedyStep, Message] = {
    RemedyStep.STOCK: msg("Look which stock was printed and which is set at the printer."),
    RemedyStep.DRY: msg("Make sure that the chart was dry when it was read: wet and dry ink differ."),
    RemedyStep.MODE: msg("Read the same sheet in the measurement mode of its aim (M0, M1 or M2)."),
    RemedyStep.OWN_INSTRUMENT: msg(
        "Read the same sheet with the instrument that its aim was read with: what goes away was the instrument."
    ),
    RemedyStep.READ: msg(
        "Read the same sheet again: white tile read, aperture clean, sheet flat and the right way round."
    ),
    RemedyStep.COMPARE: msg(
        "Read a sheet of another stock with the same instrument, or this one with another instrument. Where "
        "it is the instrument that reads off, have it certified."
    ),
    RemedyStep.LIGHT_NOZZLES: msg(
        "Print a nozzle check and look at the light ink first, then at all others. Where lines are missing, clean "
        "normally, as the maker's manual says, and check again: two cleanings at most, then the colour lead decides."
    ),
    RemedyStep.NOZZLES: msg(
        "Print a nozzle check. Where lines are missing, clean normally, as the maker's manual says, and check again: "
        "two cleanings at most, then the colour lead decides."
    ),
    RemedyStep.PRINT: msg(
        "Print the chart again on the same stock, let it dry, measure it, and save the file in the drop folder."
    ),
    RemedyStep.ALIGN: msg(
        "See to head alignment and media feed, as the maker's manual says, and print the chart again."
    ),
    RemedyStep.RUNNING: msg(
        "Look at what the print ran under: number of passes, temperature and humidity of the room."
    ),
    RemedyStep.RECALIBRATE: msg(
        "Recalibrate back to the kept state; profile and aim stay. After that a check must pass."
    ),
    RemedyStep.LIMITS: msg(
        "Redo ink limits and linearisation. That ends the profile and the aim: then a new profile and a new aim, and a "
        "check must pass."
    ),
    RemedyStep.PROFILE: msg("Make a new profile. After that a check must pass."),
    RemedyStep.SERVICE: msg("Call the maker's service."),
}

COMPARING = WORDS[RemedyStep.COMPARE]

RUNNING: Mapping[str, Message] = {
    **dict.fromkeys(
        ("solvent", "latex"),
        msg(
            "Look at what the print ran under: temperature of heater or curing, number of passes, temperature and "
            "humidity of the room."
        ),
    ),
    "uv": msg(
        "Look at what the print ran under: power and hours of the lamps, as the printer shows them, number of passes, "
        "temperature and humidity of the room."
    ),
}
"""The same by ink technology, where that has more to look at."""

CONFIRMING = (RemedyStep.STOCK, RemedyStep.DRY, RemedyStep.READ, RemedyStep.NOZZLES, RemedyStep.PRINT)
"""What tells a real failure from a doubtful reading, and comes before anything is changed."""

_UNKNOWN = (*CONFIRMING, RemedyStep.ALIGN)

LOOKING: Mapping[str, tuple[RemedyStep, ...]] = {
    "wrong-substrate": (RemedyStep.STOCK, RemedyStep.PRINT),
    "patch-order": (RemedyStep.READ,),
    "possibly-not-dry": (RemedyStep.DRY, RemedyStep.READ),
    "measurement-mode": (RemedyStep.MODE,),
    "measurement-scale": (RemedyStep.READ, RemedyStep.COMPARE),
    "another-instrument": (RemedyStep.OWN_INSTRUMENT, RemedyStep.READ, RemedyStep.COMPARE),
    "outlying-patches": (RemedyStep.READ, RemedyStep.NOZZLES, RemedyStep.PRINT, RemedyStep.ALIGN),
    "solid-off-aim": (RemedyStep.READ, RemedyStep.NOZZLES, RemedyStep.PRINT),
    "tone-shift": (RemedyStep.READ, RemedyStep.NOZZLES, RemedyStep.PRINT, RemedyStep.ALIGN),
    "light-ink": (RemedyStep.LIGHT_NOZZLES, RemedyStep.PRINT),
    "print-moved": (RemedyStep.READ, RemedyStep.NOZZLES, RemedyStep.PRINT, RemedyStep.ALIGN),
    "substrate-shade": (RemedyStep.STOCK, RemedyStep.READ, RemedyStep.COMPARE, RemedyStep.PRINT),
    "unexplained": _UNKNOWN,
}
"""By cause; the first is the next step."""

FORBIDDING = frozenset(
    {
        "wrong-substrate",
        "patch-order",
        "possibly-not-dry",
        "light-ink",
        "measurement-mode",
        "measurement-scale",
        "another-instrument",
        "outlying-patches",
    }
)
"""While one of these is plausible, nothing is changed at the printer."""

CAUSE_NAMES: Mapping[str, Message] = {
    "wrong-substrate": msg("the wrong stock"),
    "patch-order": msg("patches in another order: rows shifted, a strip backwards, or the sheet turned"),
    "possibly-not-dry": msg("a chart that was not dry"),
    "measurement-mode": msg("another measurement mode (M0, M1, M2)"),
    "solid-off-aim": msg("a solid off its aim"),
    "tone-shift": msg("a tone scale off its aim"),
    "light-ink": msg("a light ink (light cyan, light magenta, grey) off its aim"),
    "print-moved": msg("the print moved, the bare stock did not"),
    "substrate-shade": msg("another shade of the stock"),
    "measurement-scale": msg("the instrument: all patches read lighter or darker alike"),
    "another-instrument": msg("another instrument than that of the aim"),
    "outlying-patches": msg("odd patches: a scratch, a nozzle line"),
    "unexplained": msg("nothing the sentinel knows"),
}
"""What a cause is called."""


_ALL_REMEDIES = frozenset({RemedyStep.RECALIBRATE, RemedyStep.LIMITS, RemedyStep.PROFILE, RemedyStep.SERVICE})

REMEDIES: Mapping[str, frozenset[RemedyStep]] = {
    "solid-off-aim": _ALL_REMEDIES,
    "tone-shift": _ALL_REMEDIES,
    "print-moved": _ALL_REMEDIES,
    "substrate-shade": frozenset({RemedyStep.PROFILE}),
    "unexplained": frozenset({RemedyStep.SERVICE}),
}

APART: Mapping[frozenset[str], Message] = {
    frozenset(pair): words
    for words, *pairs in (
        (
            msg(
                "Read the white tile, then a sheet of another stock with the same instrument: where that is "
                "off alike, it "
                "is the instrument, else the stock."
            ),
            ("measurement-scale", "substrate-shade"),
        ),
        (
            msg(
                "Read the same sheet again some hours later: ink that was wet has changed by then, stronger "
                "ink has not."
            ),
            ("possibly-not-dry", "solid-off-aim"),
            ("possibly-not-dry", "tone-shift"),
            ("possibly-not-dry", "light-ink"),
            ("possibly-not-dry", "print-moved"),
        ),
        (
            msg("Read the same sheet in the measurement mode of its aim: what goes away was the mode."),
            ("measurement-mode", "substrate-shade"),
            ("measurement-mode", "measurement-scale"),
        ),
        (
            WORDS[RemedyStep.OWN_INSTRUMENT],
            ("another-instrument", "substrate-shade"),
            ("another-instrument", "measurement-scale"),
            ("another-instrument", "measurement-mode"),
            ("another-instrument", "possibly-not-dry"),
            ("another-instrument", "solid-off-aim"),
            ("another-instrument", "tone-shift"),
            ("another-instrument", "light-ink"),
            ("another-instrument", "print-moved"),
            ("another-instrument", "unexplained"),
        ),
        (
            msg(
                "Look at the label of the roll or box: another name is another stock, the same name another "
                "shade of it."
            ),
            ("wrong-substrate", "substrate-shade"),
        ),
        (
            msg(
                "Look at the label of the roll or box: if it is the right stock, read the white tile and the "
                "sheet again."
            ),
            ("wrong-substrate", "measurement-scale"),
            ("wrong-substrate", "measurement-mode"),
        ),
        (
            msg(
                "Look at these patches on the sheet, then read it again: a scratch or missing lines can be "
                "seen and stay "
                "where they are, a slip of the reading goes away."
            ),
            ("outlying-patches", "solid-off-aim"),
            ("outlying-patches", "tone-shift"),
            ("outlying-patches", "light-ink"),
            ("outlying-patches", "print-moved"),
            ("outlying-patches", "unexplained"),
        ),
        (
            msg(
                "Print a nozzle check: missing lines of a light ink are that ink. Where none is missing, print a chart "
                "with tints of 75 % and more: a light ink leaves those in place, a tone scale seldom does."
            ),
            ("light-ink", "tone-shift"),
        ),
        (
            msg("Read the sheet again from its first row, the right way round: another order of patches goes away."),
            ("patch-order", "unexplained"),
            ("patch-order", "wrong-substrate"),
        ),
    )
    for pair in pairs
}
"""What decides between two causes whose numbers are alike."""


DRY_AFTER = msg("Make sure that the chart was dry when it was read ({span} after printing): wet and dry ink differ.")


def worded(rungs: Iterable[RemedyStep], drying_hours: float | None, technology: str = "") -> list[Message]:
    """Sentences in the order of the ladder, each once."""
    words = dict(WORDS)
    words[RemedyStep.RUNNING] = RUNNING.get(technology, words[RemedyStep.RUNNING])
    if drying_hours:
        words[RemedyStep.DRY] = DRY_AFTER.format(span=Quantity(drying_hours, UnitOfMeasure.HOUR))
    asked = set(rungs)
    if RemedyStep.LIGHT_NOZZLES in asked:  # the same nozzle check
        asked.discard(RemedyStep.NOZZLES)
    return [words[rung] for rung in sorted(asked)]


def next_step(cause: str, drying_hours: float | None) -> Message:
    """What is done first about a cause; it changes nothing."""
    return worded(_looking(cause)[:1], drying_hours)[0]


def looking(answer: Sequence[FindingFacts], mending: Iterable[RemedyStep]) -> set[RemedyStep]:
    """The steps that fit an answer; all that confirm a failure where none is given; and before any `mending` what the
    print ran under, too."""
    fitting = {rung for each in answer for rung in _looking(each["cause"])}
    if mending:
        return {*fitting, *CONFIRMING, RemedyStep.RUNNING}
    return fitting or set(CONFIRMING)


def mending(answer: Sequence[FindingFacts], diagnosis: Iterable[FindingFacts], *, repeated: bool) -> set[RemedyStep]:
    """What may be changed at the printer, where nothing else helps: only what every cause of the answer asks for.

    Nothing on one reading, without an answer, or while the reading or the sheet may be at fault: `diagnosis` is the
    whole list, with what the answer leaves out.
    """
    doubtful = sum(each["confidence"] for each in diagnosis if each["cause"] in FORBIDDING)
    if not repeated or not answer or doubtful >= PLAUSIBLE or forbidding(answer):
        return set()
    common = frozenset.intersection(*(REMEDIES.get(each["cause"], frozenset()) for each in answer))
    curable = all(each["recalibration_helps"] or weak_solid(each) for each in answer)
    return set(common if curable else common - {RemedyStep.RECALIBRATE})


def weak_solid(finding: FindingFacts) -> bool:
    """What no curve makes stronger, but the printer itself can where its channel has headroom."""
    return bool(finding["cause"] == "solid-off-aim" and finding["sign"] == -1)


def forbidding(answer: Iterable[FindingFacts]) -> list[str]:
    """The causes of an answer that forbid to change anything, in its order."""
    return list(dict.fromkeys(each["cause"] for each in answer if each["cause"] in FORBIDDING))


def telling_apart(answer: Iterable[FindingFacts]) -> list[Message]:
    """What decides between the causes of an answer, where that is known."""
    causes = dict.fromkeys(each["cause"] for each in answer)
    known = (APART.get(frozenset(pair)) for pair in combinations(causes, 2))
    return list(dict.fromkeys(words for words in known if words))


def _looking(cause: str) -> tuple[RemedyStep, ...]:
    return LOOKING.get(cause, _UNKNOWN)


CAUTIONS = {
    "always": (
        msg("Keep hands, hair and sleeves away from the carriage and the platen while the printer may move."),
        msg("Rolls are heavy: lift them with two people or a lifting aid."),
    ),
    "aqueous-dye": (),
    "aqueous-pigment": (),
    "solvent": (msg("Solvent ink: fresh air, gloves and goggles, no flame or spark."),),
    "latex": (msg("Heaters and freshly printed stock are hot: let them cool before you reach in."),),
    "uv": (msg("Never look into the UV lamps, lit or reflected; uncured ink harms skin and eyes: wear gloves."),),
}

DEFER = msg(
    "The printer maker's manual and local rules come first; work behind fixed covers, on lamps and on mains parts is "
    "for licensed people."
)

ONE_SHEET = msg("A verdict speaks of that sheet alone. It is no certificate of conformity.")


def confirming(drying_hours: float | None) -> list[Message]:
    """The steps that tell a real failure from a doubtful reading, in their order."""
    return worded(CONFIRMING, drying_hours)


def checking(drying_hours: float | None) -> list[Message]:
    """The steps of making a check."""
    return [
        msg("Load the stock and tell the printer what it is."),
        msg("Print the chart of its aim."),
        drying(drying_hours),
        msg("Measure it and save the file in the drop folder."),
    ]


def preparing(told: ConditionCase) -> list[Text]:
    """What whoever prints a chart must know of the stock: side, core, inks left out, notes of the print room."""
    notes = (told.notes or "").rstrip(".")
    return [
        *([COATED[told.coated_side]] if told.coated_side else []),
        *([CORE.format(core=Quantity(told.core_inches, UnitOfMeasure.CORE_INCH))] if told.core_inches else []),
        *([LEFT_OUT.format(inks=", ".join(told.without_inks))] if told.without_inks else []),
        *([f"{notes}."] if notes else []),
    ]


COATED = {
    "in": msg("Print on the coated side, which is wound in."),
    "out": msg("Print on the coated side, which is wound out."),
}
CORE = msg("Core: {core}; fit the adapter where the spindle takes another size.")
LEFT_OUT = msg("Its chart leaves out: {inks}.")


def certifying() -> list[Message]:
    """What an instrument past its certificate needs."""
    return [
        msg("Have the instrument certified again, as its maker says, or read with another one."),
        msg("Then let an admin set its new date in the settings."),
    ]


def looking_for_files() -> list[Message]:
    """Where measurements that do not arrive get stuck: cheapest first."""
    return [
        msg("Ask whether anybody measured in this time."),
        msg("See where the measuring software saves its exports, and that this is the drop folder."),
        msg("See that the drop folder is there on the sentinel's machine, and its share mounted."),
    ]


def cautions(*technologies: str) -> list[Message]:
    """What to beware of at printers of these ink technologies."""
    own = (line for technology in technologies for line in CAUTIONS[technology])
    return [*CAUTIONS["always"], *dict.fromkeys(own), DEFER]


def what_to_do_with_file(codes: Collection[str]) -> list[Message]:
    """What to do with a file that was not scored, by the codes of its reasons."""
    steps = [step for group, step in FILE_STEPS.items() if set(group) & set(codes)]
    return [*steps, msg("Then save the file in the drop folder again; nothing was lost.")]


def what_to_do_with_events() -> list[Message]:
    """What to do with a file of events that was not taken."""
    return [
        msg("Correct these lines, or let an admin add a name that is missing in the settings."),
        msg("Then save the whole file in the events folder again; nothing was lost."),
    ]


FILE_STEPS = {
    ("not-readable", "no-readings", "meaning-unclear", "contradicts-itself", "spectral-range", "not-d50-2"): msg(
        "Export the measurement again as CGATS text with spectral or D50/2 degree Lab values."
    ),
    ("route-unknown",): msg("Save it in the folder of its printer and substrate, or let an admin add a route for it."),
    ("route-ambiguous",): msg(
        "Its folder, its name and its header tell of different printing conditions: see which one was printed, then "
        "save it where they agree, or let an admin look at the routes."
    ),
    ("printer-unknown", "substrate-unknown"): msg(
        "Save it in the folder of its printer and substrate, or let an admin add the name, or this spelling of it."
    ),
    ("condition-unknown",): msg(
        "See that it is the right folder; where this stock is printed on this printer, let an admin add the printing "
        "condition."
    ),
    ("mode-unknown",): msg(
        "Save it in the folder of its print mode, below those of its printer and substrate, or let an admin add the "
        "mode."
    ),
    ("chart-mismatch", "too-few-patches", "required-group-missing", "ink-unexpected", "ink-missing"): msg(
        "See that the right chart was read, from its first row to its last, and exported whole."
    ),
    ("m-condition-mismatch", "m-condition-unknown", "backing-mismatch"): msg(
        "Measure under the measurement condition of its aim and on its backing."
    ),
    ("no-target", "target-not-readable"): msg("Let an admin name a readable aim for this printing condition."),
    ("condition-not-measurable",): msg("Judge this stock by eye; it is not measured."),
    ("no-permission",): msg("Let an admin give the service the right to read files in this folder."),
    ("link-not-followed", "not-a-file", "too-large"): msg("Save the measurement itself, as one plain file."),
    ("reader-stopped", "service-stopped"): msg(
        "Export the measurement again, from the measuring software itself; give the file to an admin where it happens "
        "again."
    ),
    ("sentinel-broke",): msg(
        "Give the file to an admin: the service's log has the fault, which is the sentinel's own."
    ),
}


def drying(hours: float | None) -> Message:
    """How long a chart dries before it is measured; 0 is dry at once, None where nobody said."""
    if hours is None:
        return msg("Let the chart dry fully before it is measured: wet and dry ink differ.")
    if not hours:
        return msg("The chart is dry as soon as it is printed.")
    return msg(
        "Let the chart dry for {span} before it is measured: wet and dry ink differ.",
        span=Quantity(hours, UnitOfMeasure.HOUR),
    )
