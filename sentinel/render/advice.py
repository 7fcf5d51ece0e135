"""What people are asked to do: cheapest and safest first, and no remedy before the simple causes are excluded."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from sentinel.core.said import Quantity, Sentence, Text, Unit, said
from sentinel.render.ladder import CONFIRMING, worded

CAUTIONS = {
    "always": (
        said("Keep hands, hair and sleeves away from the carriage and the platen while the printer may move."),
        said("Rolls are heavy: lift them with two people or a lifting aid."),
    ),
    "aqueous-dye": (),
    "aqueous-pigment": (),
    "solvent": (said("Solvent ink: fresh air, gloves and goggles, no flame or spark."),),
    "latex": (said("Heaters and freshly printed stock are hot: let them cool before you reach in."),),
    "uv": (said("Never look into the UV lamps, lit or reflected; uncured ink harms skin and eyes: wear gloves."),),
}

DEFER = said(
    "The printer maker's manual and local rules come first; work behind fixed covers, on lamps and on mains parts is "
    "for licensed people."
)

ONE_SHEET = said("A verdict speaks of that sheet alone. It is no certificate of conformity.")


def confirming(drying_hours: float | None) -> list[Sentence]:
    """The steps that tell a real failure from a doubtful reading, in their order."""
    return worded(CONFIRMING, drying_hours)


def checking(drying_hours: float | None) -> list[Sentence]:
    """The steps of making a check."""
    return [
        said("Load the stock and tell the printer what it is."),
        said("Print the chart of its target."),
        drying(drying_hours),
        said("Measure it and save the file in the drop folder."),
    ]


def preparing(facts: Mapping[str, Any]) -> list[Text]:
    """What whoever prints a chart must know of the stock: side, core, inks left out, notes of the print room."""
    side, core, inks = facts.get("coated_side"), facts.get("core_inches"), facts.get("without_inks")
    notes = str(facts.get("notes") or "").rstrip(".")
    return [
        *([COATED[side]] if side else []),
        *([CORE.format(core=Quantity(core, Unit.CORE_INCH))] if core else []),
        *([LEFT_OUT.format(inks=", ".join(inks))] if inks else []),
        *([f"{notes}."] if notes else []),
    ]


COATED = {
    "in": said("Print on the coated side, which is wound in."),
    "out": said("Print on the coated side, which is wound out."),
}
CORE = said("Core: {core}; fit the adapter where the spindle takes another size.")
LEFT_OUT = said("Its chart leaves out: {inks}.")


def certifying() -> list[Sentence]:
    """What an instrument past its certificate needs."""
    return [
        said("Have the instrument certified again, as its maker says, or read with another one."),
        said("Then let an admin set its new date in the settings."),
    ]


def looking_for_files() -> list[Sentence]:
    """Where measurements that do not arrive get stuck: cheapest first."""
    return [
        said("Ask whether anybody measured in this time."),
        said("See where the measuring software saves its exports, and that this is the drop folder."),
        said("See that the drop folder is there on the sentinel's machine, and its share mounted."),
    ]


def cautions(*technologies: str) -> list[Sentence]:
    """What to beware of at printers of these ink technologies."""
    own = (line for technology in technologies for line in CAUTIONS[technology])
    return [*CAUTIONS["always"], *dict.fromkeys(own), DEFER]


def what_to_do_with_file(codes: Collection[str]) -> list[Sentence]:
    """What to do with a file that was not scored, by the codes of its reasons."""
    steps = [step for group, step in FILE_STEPS.items() if set(group) & set(codes)]
    return [*steps, said("Then save the file in the drop folder again; nothing was lost.")]


def what_to_do_with_events() -> list[Sentence]:
    """What to do with a file of events that was not taken."""
    return [
        said("Correct these lines, or let an admin add a name that is missing in the settings."),
        said("Then save the whole file in the events folder again; nothing was lost."),
    ]


FILE_STEPS = {
    ("not-readable", "no-readings", "spectral-range", "not-d50-2"): said(
        "Export the measurement again as CGATS text with spectral or D50/2 degree Lab values."
    ),
    ("route-unknown", "route-ambiguous", "printer-unknown", "substrate-unknown", "condition-unknown"): said(
        "Save it in the folder of its printer and substrate, or let an admin add the name or the route."
    ),
    ("chart-mismatch", "too-few-patches", "ink-unexpected", "ink-missing"): said(
        "See that the right chart was read, from its first row to its last, and exported whole."
    ),
    ("m-condition-mismatch", "m-condition-unknown", "backing-mismatch"): said(
        "Measure under the target's measurement condition and on its backing."
    ),
    ("no-target", "target-not-readable"): said("Let an admin name a readable target for this printing condition."),
    ("condition-not-measurable",): said("Judge this stock by eye; it is not measured."),
    ("no-permission",): said("Let an admin give the service the right to read files in this folder."),
    ("link-not-followed", "not-a-file", "too-large"): said("Save the measurement itself, as one plain file."),
}


def drying(hours: float | None) -> Sentence:
    """How long a chart dries before it is measured; 0 is dry at once, None where nobody said."""
    if hours is None:
        return said("Let the chart dry fully before it is measured: wet and dry ink differ.")
    if not hours:
        return said("The chart is dry as soon as it is printed.")
    return said(
        "Let the chart dry for {span} before it is measured: wet and dry ink differ.", span=Quantity(hours, Unit.HOUR)
    )
