"""`sentinel compare --instruments`: what is printed and the JSON of paired readings by two instruments."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from tabulate import tabulate

from sentinel.application.comparing_instruments import PairedInstruments
from sentinel.core.diagnosis.instruments import (
    USUAL_ONE_MODEL,
    USUAL_TWO_MODELS,
    Correction,
    CorrectionForm,
    InstrumentAgreement,
    RegionAgreement,
)
from sentinel.core.message import Message
from sentinel.core.scoring.names import group_words

INSTRUMENTS_SCHEMA = "sentinel.compare-instruments/1"
FOR_INFORMATION = (
    "For information alone: the sentinel applies this correction to no reading, no aim and no verdict. Have both "
    "instruments certified, as their makers say, and read a sheet with the instrument that its aim was read with."
)
NOT_TOLD = "not told by the files: that they are two instruments is taken from the command"
COLUMNS = ("patches", "mean ΔE00", "p95", "max", "ΔL*", "Δa*", "Δb*", "left")
FORM_WORDS = {
    CorrectionForm.NONE: "no correction makes the two agree better than they do",
    CorrectionForm.SHIFT: "the same shift everywhere",
    CorrectionForm.SCALE_AND_ZERO: (
        "a factor on X, Y and Z, and what is added to them (scale and zero, Y = 100 for white)"
    ),
    CorrectionForm.AFFINE: "a linear function of Lab",
}


def instruments_text(pairs: Sequence[tuple[str, str]], told: PairedInstruments, words: Callable[[Message], str]) -> str:
    """How far apart the instruments are, region by region, and the correction from the second to the first.

    `words` says a remark in words of two readings.
    """
    found = told.found
    rows = [(_region_words(each.region), *_cells(each)) for each in found.regions]
    sheets = "1 sheet" if found.sheets == 1 else f"{found.sheets} sheets"
    align = ("left", *("right" for _ in COLUMNS))
    table = tabulate(rows, headers=("", *COLUMNS), tablefmt="simple", disable_numparse=True, colalign=align)
    lines = [
        f"second instrument less first, {sheets}, {found.patches} patches",
        f"first: {told.first or 'not told'} ({', '.join(first for first, _ in pairs)})",
        f"second: {told.second or 'not told'} ({', '.join(second for _, second in pairs)})",
        "",
        table,
        "ΔL*, Δa*, Δb*: mean ± its uncertainty (90 %), spread of the patches in brackets; left: mean ΔE00 after the "
        "correction",
        "",
        _usual(found),
        "",
        *_correction(found),
    ]
    lines += [f"- {words(each.message)}" for each in told.remarks]
    if not told.known:
        lines.append(f"- the instruments are {NOT_TOLD}")
    if found.one_sheet is None:
        lines.append("- what is left is much for one sheet read twice: make sure that both read the same sheet, dry")
    return "\n".join([*lines, "", FOR_INFORMATION])


def _region_words(region: str) -> str:
    return region if region == "neutrals" else str(group_words(region))


def _cells(region: RegionAgreement) -> list[str]:
    spreads = ["-"] * len(region.lab) if region.spread is None else [f"{each:.2f}" for each in region.spread]
    lab = zip(region.lab, region.plus_minus, spreads, strict=True)
    return [
        str(region.count),
        *(f"{value:.2f}" for value in (region.mean, region.p95, region.maximum)),
        *(f"{mean:+.2f} ± {give:.2f} ({spread})" for mean, give, spread in lab),
        f"{region.left:.2f}",
    ]


def _usual(found: InstrumentAgreement) -> str:
    mean = found.everything.mean
    if mean <= USUAL_ONE_MODEL:
        place = "as near as two instruments of one model usually are"
    elif mean < USUAL_TWO_MODELS:
        place = "between what is usual of one model and of two"
    else:
        place = "as far as instruments of two models usually are, or farther"
    return (
        f"A mean of {mean:.2f} ΔE00: {place} ({USUAL_ONE_MODEL:.1f} and less, {USUAL_TWO_MODELS:.1f} and more; common "
        "practice, no published source)."
    )


def _correction(found: InstrumentAgreement) -> list[str]:
    correction = found.correction
    tried = "sheets" if found.by_sheets else "patches"
    lines = [
        f"Correction from the second to the first: {FORM_WORDS[correction.form]}; on {tried} it was not made from it "
        f"leaves a mean of {correction.left:.2f} ΔE00."
    ]
    return [*lines, *(f"- {name}: {value:.4f} ± {give:.4f}" for name, value, give in correction.terms)]


def instruments_json(
    pairs: Sequence[tuple[str, str]], told: PairedInstruments, words: Callable[[Message], str]
) -> dict[str, Any]:
    """The same, whole; `words` says a remark in words of two readings."""
    found = told.found
    return {
        "schema": INSTRUMENTS_SCHEMA,
        "compared": True,
        "pairs": [{"first": first, "second": second} for first, second in pairs],
        "first": told.first,
        "second": told.second,
        "known_to_differ": told.known,
        "sheets": found.sheets,
        "matched": found.patches,
        "same_sheets": found.one_sheet,
        "regions": {each.region: _region_json(each) for each in found.regions},
        "usual": {"one_model": USUAL_ONE_MODEL, "two_models": USUAL_TWO_MODELS},
        "correction": _correction_json(found.correction, by_sheets=found.by_sheets),
        "applied": False,
        "note": FOR_INFORMATION,
        "reasons": [{"code": each.code.value, "message": words(each.message)} for each in told.remarks],
    }


def _region_json(region: RegionAgreement) -> dict[str, Any]:
    lab = {
        name: {"mean": round(mean, 3), "plus_minus": round(give, 3), "spread": spread and round(spread, 3)}
        for name, mean, give, spread in zip(
            ("dl", "da", "db"), region.lab, region.plus_minus, region.spread or (None, None, None), strict=True
        )
    }
    return {
        "count": region.count,
        "de00_mean": round(region.mean, 3),
        "de00_p95": round(region.p95, 3),
        "de00_max": round(region.maximum, 3),
        **lab,
        "left": round(region.left, 3),
    }


def _correction_json(correction: Correction, *, by_sheets: bool) -> dict[str, Any]:
    return {
        "form": correction.form.value,
        "from": "second",
        "to": "first",
        "terms": {
            name: {"value": round(value, 6), "plus_minus": round(give, 6)} for name, value, give in correction.terms
        },
        "left_de00_mean": round(correction.left, 3),
        "tried_on": "sheets" if by_sheets else "patches",
        "others": {form.value: round(left, 3) for form, left in correction.others.items()},
    }
