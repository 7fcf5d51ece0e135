"""Curves as CGATS and CSV text, each saying what it is for and that a person answers for it."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from sentinel.core.cgats import document_of, write
from sentinel.core.recalibration.curve import Curve
from sentinel.core.recalibration.smoothing import KNOTS


@dataclass(frozen=True, slots=True)
class Origin:
    """Where curves come from: the number of the `check`, its printing condition, file and target, and the calibration
    in use when the chart was printed, where that is known."""

    check: int
    condition: str
    file: str
    target: str
    calibration: str | None = None


def statements(origin: Origin) -> tuple[str, ...]:
    """What must be known before curves are used, a sentence each."""
    calibration = origin.calibration or "not named in the settings; ask who printed it"
    return (
        "Tone curves of a recalibration, an ink each, straight between their points.",
        "Direction: the first column is the ink amount the job asks for, in percent; the column of an ink is what to "
        "send.",
        f"Stacks on the calibration in use when the chart was printed ({calibration}): these curves are applied before "
        "it, it stays as it is.",
        f"From check {origin.check} of {origin.condition}, file {origin.file}, against the target {origin.target}.",
        "Not to be used before a wrong stock, a wet chart, blocked nozzles and a misreading are excluded, nor before a "
        "person has signed below; print and measure the chart again afterwards.",
    )


SIGNATURE = ("approved by:", "date:")


def curves_csv(curves: Sequence[Curve], origin: Origin) -> str:
    """Text with a comment line for each statement, a head, and a row for every 5 %."""
    out = io.StringIO()
    out.writelines(f"# {line}\n" for line in (*map(_one_line, statements(origin)), *SIGNATURE))
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["asked_percent", *(f"{curve.ink}_sent_percent" for curve in curves)])
    for row, asked in enumerate(KNOTS):
        writer.writerow([f"{asked:g}", *(f"{curve.sent[row]:.2f}" for curve in curves)])
    return out.getvalue()


def curves_cgats(curves: Sequence[Curve], origin: Origin) -> bytes:
    """A CGATS.17 text: a row for every 5 %, the amount asked and, a column an ink, the amount to send."""
    columns = {"ASKED_PERCENT": [f"{asked:g}" for asked in KNOTS]}
    columns |= {f"SENT_{curve.ink}": [f"{value:.2f}" for value in curve.sent.tolist()] for curve in curves}
    keywords = {
        "DESCRIPTOR": _one_line(f"Tone curves from check {origin.check} of {origin.condition}"),
        "CURVE_DIRECTION": "asked by the job to sent to the printer",
        "STACKS_ON": _one_line(origin.calibration or "the calibration in use when the chart was printed"),
        "APPROVED_BY": "",
    }
    return write(document_of(columns, keywords, comments=[*map(_one_line, statements(origin)), *SIGNATURE]))


def _one_line(text: str) -> str:
    return " ".join(text.split())
