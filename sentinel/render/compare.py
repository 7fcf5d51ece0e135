"""Two readings side by side, as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tabulate import tabulate

from sentinel.core.reasons import Reason
from sentinel.core.said import Sentence, Tongue
from sentinel.core.scoring.metrics import Figures
from sentinel.core.scoring.words import group_words

COMPARE_SCHEMA = "sentinel.compare/1"
COLUMNS = {
    "mean ΔE00": "de00_mean",
    "p95": "de00_p95",
    "max": "de00_max",
    "on paper": "rel_de00_mean",
    "ΔL*": "dl_mean",
    "Δa*": "da_mean",
    "Δb*": "db_mean",
}


class _OfReadings(Tongue):
    """What scoring says of a target and a measurement, said of two equal readings; names of files stay."""

    def pattern(self, sentence: Sentence) -> str:
        pattern = super().pattern(sentence)
        return pattern.replace("the target", "the first reading").replace("the measurement", "the second reading")


def of_readings(sentence: Sentence) -> str:
    """A sentence of scoring, in the words of two readings."""
    return _OfReadings().text(sentence)


def compared_text(first: str, second: str, patches: int, figures: Figures, remarks: Sequence[Reason]) -> str:
    """A line a group: differences of the second from the first, and signed means."""
    rows = [
        (str(group_words(group)), *(f"{values[name]:.2f}" if name in values else "-" for name in COLUMNS.values()))
        for group, values in figures.metrics.items()
    ]
    align = ("left", *("right" for _ in COLUMNS))
    table = tabulate(rows, headers=("", *COLUMNS), tablefmt="simple", disable_numparse=True, colalign=align)
    worst = ", ".join(f"{patch.label} ({patch.de00:.2f})" for patch in figures.worst)
    notes = [f"- {of_readings(reason.message)}" for reason in remarks]
    return "\n".join([f"{second} less {first}, {patches} patches", "", table, "", f"farthest apart: {worst}", *notes])


def compared_json(first: str, second: str, patches: int, figures: Figures, remarks: Sequence[Reason]) -> dict[str, Any]:
    """The same, whole."""
    return {
        "schema": COMPARE_SCHEMA,
        "compared": True,
        "first": first,
        "second": second,
        "matched": patches,
        "reasons": [{"code": reason.code.value, "message": of_readings(reason.message)} for reason in remarks],
        "metrics": figures.metrics,
        "worst": [{"patch": patch.label, "de00": patch.de00} for patch in figures.worst],
    }
