"""Made-up printing conditions, checks and files, as the service hands them on: what samples of notices are made of."""

from __future__ import annotations

from datetime import date
from typing import Any

from sentinel.core.conditions.due import AND_MORE, TOO_OLD
from sentinel.core.conditions.forecasts import CHARTS, SHIFTED
from sentinel.core.conditions.state import NEVER_RUN
from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.findings import WHO_ACTS, Evidence, sentence
from sentinel.core.diagnosis.movement import Direction, Movement, SheetPart, Tone, What
from sentinel.core.diagnosis.order import SHIFTED as SHIFTED_ROWS
from sentinel.core.diagnosis.weighing_again import AGAIN
from sentinel.core.measurement import UnreadableError
from sentinel.core.measurement.formats import read_measurements
from sentinel.core.message import Quantity, UnitOfMeasure
from sentinel.core.scoring.judging import BEYOND
from sentinel.core.scoring.names import figure_words
from sentinel.core.scoring.score import FITS_BETTER
from sentinel.core.verdict import Code, Reason

KEY = "case-7-opened"
ZONE = {"timezone": "Europe/Lisbon"}

SOLIDS = BEYOND[Code.ACTION_LIMIT, True].format(
    figure=figure_words("solids", "de00_max"), limit=5.0, value=7.25, unit="ΔE00"
)
REASON = Reason(Code.ACTION_LIMIT, SOLIDS).as_json()
RIVAL_REASON = Reason(Code.RIVAL_FITS_BETTER, FITS_BETTER.format(stock="Gloss 260", mean=0.8, own=4.1)).as_json()
OLD = Reason(
    Code.TOO_OLD, TOO_OLD["age", True].format(day=date(2026, 7, 6), span=Quantity(7, UnitOfMeasure.DAY))
).as_json()
DRIFT = SHIFTED["above"].format(
    figure=figure_words("paper", "db_mean"), day=date(2026, 6, 22), chart=CHARTS["ewma"], value=7.1, limit=6.0
)
DRIFTED = Reason(Code.DRIFT_CONFIRMED, AND_MORE.format(shift=DRIFT, count=1)).as_json()
NEVER = Reason(Code.NEVER_RUN, NEVER_RUN).as_json()


def _unreadable() -> dict[str, Any]:
    try:
        read_measurements(
            b"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50 0\nEND_DATA\n"
        )
    except UnreadableError as fault:
        return Reason(Code.NOT_READABLE, fault.sentence).as_json()
    raise AssertionError("expected a row that is too short to be refused")


UNREADABLE = _unreadable()

FIGURES = {"de00_mean": 4.1, "de00_p95": 6.789, "de00_max": 7.25}
TREND = [
    {"measured_at": f"2026-06-{day:02}T08:30:00+00:00", "mean": mean, "max": most, "verdict": "pass"}
    for day, mean, most in ((1, 0.9, 2.8), (8, 1.0, 3.1), (15, 1.2, 3.0), (22, 1.7, 4.4), (29, 2.4, 5.2))
]
WORST = [
    {"patch": "A1", "aim": [47.0, 68.0, -4.0], "read": [52.0, 60.0, -1.5], "de00": 7.25},
    {"patch": "B7", "aim": [55.0, -37.0, -50.0], "read": [58.0, -33.0, -46.0], "de00": 4.6},
]
TONE = {
    "cause": "tone-shift", "ink": "M", "sign": 1, "confidence": 0.95, "recalibration_helps": True,
    "evidence": Evidence(sentence(Cause.TONE, "M", 1, 3.1)).as_json(), "who_acts": WHO_ACTS[Cause.TONE],
    "predicted": {
        "de00_mean": 0.8,
        "recalibrated": {
            "de00_mean": {"expected": 0.9, "low": 0.7, "high": 1.2},
            "de00_p95": {"expected": 2.0, "low": 1.6, "high": 2.6},
            "de00_max": {"expected": 3.6, "low": 2.8, "high": 4.9}, "confidence": 0.9, "remains": [],
        },
    },
}  # fmt: skip
MOVED = [
    Movement(part, 4, de00, 0.9, way, lab).as_json()
    for part, de00, way, lab in (
        (
            SheetPart(What.TONES, ink="M", tone=Tone.MID),
            4.4,
            (Direction.DARKER, Direction.MORE_SATURATED),
            (-3.9, 5.2, 0.4),
        ),
        (SheetPart(What.NEUTRALS, tone=Tone.MID), 2.3, (Direction.REDDER, Direction.DARKER), (-1.4, 2.0, 0.1)),
    )
]
ROWS_SHIFTED = Reason(Code.PATCH_ORDER, SHIFTED_ROWS["file", True].format(first=8, last=72, count=1)).as_json()
CHECK = {
    "seq": 118,
    "file_name": "monday.txt",
    "verdict": "fail",
    "reasons": [REASON],
    "metrics": {"solids": FIGURES, "all": {**FIGURES, "de00_mean": 1.234}},
    "diagnosis": [TONE],
    "moved": MOVED,
    "limits": {"all": {"de00_mean": [2.0, 3.0], "de00_max": [4.5, 6.0]}},
    "target": "satin-full",
    "patches": 72,
    "matched": 70,
    "m_condition": "M1",
    "measured_at": "2026-07-06T08:30:00+00:00",
    "trend": TREND,
    "worst": WORST,
}
CONDITION = {
    "condition": "north/satin-240/fine",
    "printer": "North",
    "substrate": "Satin 240",
    "mode": "fine",
    "technology": "aqueous-pigment",
    "drying_hours": 2.0,
    "coated_side": "out",
    "core_inches": 3.0,
    "without_inks": ["MK"],
    "notes": "keep it in its box until it is loaded",
    "state": "due",
    "reasons": [OLD],
    "due_at": "2026-07-13T08:30:00+00:00",
    **ZONE,
}
BARE = {**CONDITION, "condition": "south/matte-190", "printer": "South", "substrate": "Matte 190", "mode": None,
        "technology": "solvent", "drying_hours": None, "coated_side": None, "core_inches": None, "without_inks": [],
        "notes": None}  # fmt: skip
FILE = {
    "file_name": "monday.txt",
    "folder": "north/satin-240",
    "set_aside_as": "monday-2.txt",
    "arrived_at": "2026-01-06T08:30:00+00:00",
    "reasons": [UNREADABLE],
    **ZONE,
}

READ_TWICE: dict[str, Any] = {
    "first": 117,
    "outcome": "alike",
    "hours": 20.0,
    "same_sheet": 0.95,
    "was_wet": False,
    "misread": False,
    "excluded": ["possibly-not-dry"],
    "sentence": AGAIN["not wet"].format(span=Quantity(20.0, UnitOfMeasure.HOUR)).as_json(),
}
"""What a check tells as a second reading."""
