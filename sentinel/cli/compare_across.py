"""`sentinel compare --across`: what is printed and the JSON of sheets held side by side across the web."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tabulate import tabulate

from sentinel.application.comparing_across import HeldAcross
from sentinel.core.diagnosis.width import TO_TELL_A_SHAPE, Across, PartAcross, overall_words, part_sentence, place_words
from sentinel.core.message import Message
from sentinel.render.across import beware, excluded_first, looked_at_then

ACROSS_SCHEMA = "sentinel.compare-across/1"
MOST_PRINTED = 12
NO_VERDICT = "No verdict: sheets are compared with one another, not with an aim."


def across_text(names: Sequence[str], held: HeldAcross) -> str:
    """What differs across the width, how sure that is, and what to do about it, in that order."""
    found = held.found
    places = [str(place_words(place, found.count)) for place in range(found.count)]
    titles = [f"{place}: {name}" for place, name in zip(places, names, strict=True)]
    rows = [
        (place, *("-" if one == other else f"{mean:.2f}" for other, mean in enumerate(row)))
        for one, (place, row) in enumerate(zip(places, found.between, strict=True))
    ]
    align = ("left", *("right" for _ in places))
    table = tabulate(rows, headers=("mean ΔE00", *places), tablefmt="simple", disable_numparse=True, colalign=align)
    lines = [f"{found.count} places from left to right, {found.patches} patches", *titles, "", table, ""]
    lines += [_ordinary(held), "", f"{overall_words(found)}{_how_sure(found)}"]
    told = found.parts[:MOST_PRINTED]
    lines += [f"- {part_sentence(part, found.count)}{_likely(part, found)}" for part in told]
    if len(found.parts) > len(told):
        lines.append(f"- and {len(found.parts) - len(told)} parts more: see --json")
    lines += [f"! {doubt}" for doubt in held.doubts]
    if found.differs:
        lines += _listed("Exclude the simple causes first (operator):", excluded_first(held.drying_hours))
        lines += _listed("Then look at (colour lead; common practice):", looked_at_then(held.technology))
        lines += _listed("Beware:", beware(held.technology))
    return "\n".join([*lines, "", NO_VERDICT])


def _listed(title: str, steps: Sequence[Message]) -> list[str]:
    return ["", title, *(f"- {step}" for step in steps)]


def _ordinary(held: HeldAcross) -> str:
    low, high = held.found.ordinary
    ink = held.technology or "aqueous inks; latex, solvent, UV and canvas 0.5 to 1.0"
    beyond = "more" if held.found.largest_mean > high else "no more"
    return (
        f"Farthest apart: a mean of {held.found.largest_mean:.2f} ΔE00, {beyond} than a sheet and the next ordinarily "
        f"differ by: {low:.1f} to {high:.1f} ({ink}; common practice)."
    )


def _how_sure(found: Across) -> str:
    if not found.differs or found.count < TO_TELL_A_SHAPE:
        return ""
    return f" ({100 * found.confidence:.0f} % sure)"


def _likely(part: PartAcross, found: Across) -> str:
    unsure = part.beyond and not part.sure and found.count >= TO_TELL_A_SHAPE
    return f" ({100 * part.confidence:.0f} % sure of that)" if unsure else ""


def across_json(names: Sequence[str], held: HeldAcross) -> dict[str, Any]:
    """The same, whole."""
    found = held.found
    overall = overall_words(found).as_json()
    return {
        "schema": ACROSS_SCHEMA,
        "compared": True,
        "places": [
            {"place": str(place_words(place, found.count)), "reading": name} for place, name in enumerate(names)
        ],
        "matched": found.patches,
        "technology": held.technology,
        "between": [[round(mean, 3) for mean in row] for row in found.between],
        "ordinary": {"low": found.ordinary[0], "high": found.ordinary[1]},
        "beyond_ordinary": found.largest_mean > found.ordinary[1],
        "differs": found.differs,
        "shape": found.shape.pattern.value,
        "place": found.shape.place,
        "confidence": round(found.confidence, 3),
        "sure": found.sure,
        "sentence": overall.pop("message"),
        **overall,
        "parts": [_part_json(part, found) for part in found.parts],
        "doubts": [doubt.as_json() for doubt in held.doubts],
        "exclude_first": [str(step) for step in excluded_first(held.drying_hours)] if found.differs else [],
        "look_at_then": [str(step) for step in looked_at_then(held.technology)] if found.differs else [],
        "cautions": [str(step) for step in beware(held.technology)] if found.differs else [],
        "who_acts": ["operator", "colour lead"] if found.differs else [],
    }


def _part_json(part: PartAcross, found: Across) -> dict[str, Any]:
    made = part_sentence(part, found.count).as_json()
    return {
        **part.movement.as_json(),
        "beyond": part.beyond,
        "shape": part.shape.pattern.value,
        "place": part.shape.place,
        "confidence": round(part.confidence, 3),
        "sure": part.sure,
        "from": part.start,
        "to": part.end,
        "by_place": [round(size, 2) for size in part.places],
        "sentence": made.pop("message"),
        **made,
    }
