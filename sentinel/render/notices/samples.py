"""Made-up facts of every kind of notice, as the service hands them on: to try templates with."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sentinel.render.notices.document import Document
from sentinel.render.notices.facts import Facts
from sentinel.render.notices.letter import written

KEY = "incident-7-opened"
ZONE = {"timezone": "Europe/Lisbon"}

REASON = {
    "code": "action-limit",
    "message": "maximum ΔE00 of solids: expected at most the action limit 5.00, got 7.25",
}
RIVAL = {"code": "rival-fits-better", "message": "the target gloss-260 fits better: mean difference 0.80 not 4.10"}
OLD = {"code": "too-old", "message": "the last check is of 2026-07-06, a check is due after 7 days"}
NEVER = {"code": "never-run", "message": "no check is on record"}
UNREADABLE = {"code": "not-readable", "message": "line 7: expected 8 cells, got 3"}

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
    "evidence": {"sentence": "the tone scale of M is 3.1 % heavier in the middle"}, "who_acts": "colour lead",
    "predicted": {
        "de00_mean": 0.8,
        "recalibrated": {
            "de00_mean": {"expected": 0.9, "low": 0.7, "high": 1.2},
            "de00_p95": {"expected": 2.0, "low": 1.6, "high": 2.6},
            "de00_max": {"expected": 3.6, "low": 2.8, "high": 4.9}, "confidence": 0.9, "remains": [],
        },
    },
}  # fmt: skip
SHIFTED = {"code": "patch-order", "message": "with every row one place further on the mean ΔE00 would be 0.90"}
CHECK = {
    "seq": 118,
    "file_name": "monday.txt",
    "verdict": "fail",
    "reasons": [REASON],
    "metrics": {"solids": FIGURES, "all": {**FIGURES, "de00_mean": 1.234}},
    "diagnosis": [TONE],
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

SAMPLES: Mapping[str, Mapping[str, Mapping[str, Any]]] = {
    "confirm-failure": {"a first failure": {**CONDITION, "check": CHECK, "count": 1, "urgency": "confirm"}},
    "check-failed": {
        "a failure again": {**BARE, "check": {**CHECK, "m_condition": None}, "count": 3, "urgency": "alarm"},
        "a reminder": {**CONDITION, "check": CHECK, "count": 2, "urgency": "alarm", "step": "reminded"},
    },
    "wrong-stock": {
        "a wrong stock": {**CONDITION, "check": {**CHECK, "reasons": [REASON, RIVAL]}, "count": 1, "urgency": "urgent"},
    },
    "patch-order": {
        "rows shifted": {
            **CONDITION,
            "check": {**CHECK, "verdict": "unscored", "reasons": [SHIFTED]},
            "count": 1,
            "urgency": "urgent",
        },
    },
    "warning-repeated": {"a warning again": {**CONDITION, "check": {**CHECK, "verdict": "warn"}, "count": 3}},
    "recovered": {
        "a recovery": {**CONDITION, "check": {**CHECK, "verdict": "pass", "reasons": []}, "count": 2},
        "trouble that is over": {"title": "the drop folder is gone", "what": "The drop folder is there again.", **ZONE},
    },
    "check-due": {
        "one check": {"conditions": [{**CONDITION, "check": CHECK}], **ZONE},
        "two checks": {"conditions": [{**CONDITION, "check": CHECK}, BARE], **ZONE},
    },
    "due-soon": {"one check": {"conditions": [CONDITION], **ZONE}},
    "never-run": {
        "one printing condition": {"conditions": [{**CONDITION, "reasons": [NEVER]}], **ZONE},
        "two printing conditions": {"conditions": [{**each, "reasons": [NEVER]} for each in (CONDITION, BARE)], **ZONE},
    },
    "file-unscored": {
        "a file put aside": FILE,
        "a file that was left": {**FILE, "folder": "", "set_aside_as": None},
    },
    "events-refused": {"a file of events": {**FILE, "file_name": "events.csv"}},
    "certificate-expired": {"an instrument": {"instrument": "4711", "day": "2026-06-30", **ZONE}},
    "service-trouble": {
        "a folder that is gone": {
            "title": "the drop folder is gone",
            "what": "The drop folder cannot be listed any more.",
            "why": "it was looked for three times in a row.",
            "steps": ["See whether the share is mounted.", "Mount it again; the sentinel goes on by itself."],
            **ZONE,
        },
        "a sentence alone": {"what": "The clock jumped by more than an hour.", **ZONE},
    },
    "nothing-arrived": {
        "silence": {"hours": 9.0, "last_at": "2026-07-06T08:30:00+00:00", **ZONE},
        "silence from the start": {"hours": 9.0, "last_at": None, **ZONE},
    },
}
"""By kind and by what each is a sample of."""

TOLD = [
    {"kind": kind, "key": f"incident-{number}-opened", "facts": facts}
    for number, (kind, samples) in enumerate(SAMPLES.items(), 1)
    for facts in list(samples.values())[:1]
]
SUMMARIES: Mapping[str, Mapping[str, Any]] = {
    "a summary": {"notices": TOLD, **ZONE},
    "an empty summary": {"notices": [], **ZONE},
}


def sample_documents() -> dict[str, dict[str, tuple[Document, Facts]]]:
    """Every sample with its document, as `Templates.faults` takes them."""
    return {
        kind: {what: (written(kind, facts, KEY), facts) for what, facts in samples.items()}
        for kind, samples in {**SAMPLES, "summary": SUMMARIES}.items()
    }
