"""What is said of one sheet, and the reasons behind a verdict or a state: fixed codes, and the sentence of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from sentinel.core.message import Message, bounded


class Verdict(StrEnum):
    """Of that sheet alone, and no certificate of conformity."""

    PASS = "pass"  # noqa: S105 - no password
    WARN = "warn"
    FAIL = "fail"
    UNSCORED = "unscored"


class Code(StrEnum):
    """Every reason code of the JSON contract. A code is never renamed or reused."""

    # the file
    NOT_A_FILE = "not-a-file"
    LINK_NOT_FOLLOWED = "link-not-followed"
    NO_PERMISSION = "no-permission"
    TOO_LARGE = "too-large"
    NOT_READABLE = "not-readable"
    NO_READINGS = "no-readings"
    MEANING_UNCLEAR = "meaning-unclear"
    CONTRADICTS_ITSELF = "contradicts-itself"
    SENTINEL_BROKE = "sentinel-broke"
    READER_STOPPED = "reader-stopped"
    SERVICE_STOPPED = "service-stopped"
    # the printing condition
    ROUTE_UNKNOWN = "route-unknown"
    ROUTE_AMBIGUOUS = "route-ambiguous"
    PRINTER_UNKNOWN = "printer-unknown"
    SUBSTRATE_UNKNOWN = "substrate-unknown"
    CONDITION_UNKNOWN = "condition-unknown"
    MODE_UNKNOWN = "mode-unknown"
    CONDITION_NOT_MEASURABLE = "condition-not-measurable"
    # the target
    NO_TARGET = "no-target"
    TARGET_NOT_READABLE = "target-not-readable"
    CHART_MISMATCH = "chart-mismatch"
    TOO_FEW_PATCHES = "too-few-patches"
    DEVICE_VALUES_ROUNDED = "device-values-rounded"
    PART_OF_TARGET = "part-of-target"
    REQUIRED_GROUP_MISSING = "required-group-missing"
    INK_UNEXPECTED = "ink-unexpected"
    INK_MISSING = "ink-missing"
    # the measurement condition
    M_CONDITION_MISMATCH = "m-condition-mismatch"
    M_CONDITION_UNKNOWN = "m-condition-unknown"
    BACKING_MISMATCH = "backing-mismatch"
    NOT_D50_2 = "not-d50-2"
    SPECTRAL_RANGE = "spectral-range"
    # the figures
    WARNING_LIMIT = "warning-limit"
    ACTION_LIMIT = "action-limit"
    GROUP_ABSENT = "group-absent"
    GROUP_NOT_READ = "group-not-read"
    RIVAL_FITS_BETTER = "rival-fits-better"
    WRONG_SUBSTRATE = "wrong-substrate"
    PATCH_ORDER = "patch-order"
    MEASURED_TIME_ASSUMED = "measured-time-assumed"
    CERTIFICATE_EXPIRED = "certificate-expired"
    # the state
    TOO_OLD = "too-old"
    DATED_AHEAD = "dated-ahead"
    LAST_CHECK_FAILED = "last-check-failed"
    NOT_RECOVERED = "not-recovered"
    LAST_CHECK_WARNED = "last-check-warned"
    RISK = "risk"
    PINNED = "pinned"
    SKIPPED = "skipped"
    WARNED_REPEATEDLY = "warned-repeatedly"
    EVENT_SINCE = "event-since"
    PRINTED_SINCE = "printed-since"
    STOOD_STILL = "stood-still"
    CLIMATE_OUT_OF_RANGE = "climate-out-of-range"
    TARGET_CHANGED = "target-changed"
    LIMITS_CHANGED = "limits-changed"
    FORECAST = "forecast"
    DRIFT_SUSPECTED = "drift-suspected"
    DRIFT_CONFIRMED = "drift-confirmed"
    NEVER_RUN = "never-run"
    NEVER_RUN_SINCE = "never-run-since"
    DECLARED_NOT_MEASURABLE = "declared-not-measurable"
    TRANSPARENT = "transparent"
    COLOURED = "coloured"
    TEXTURED_GLOSS = "textured-gloss"


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason: its fixed code and a sentence for people, whose length does not depend on what a file says."""

    code: Code
    message: Message

    def __post_init__(self) -> None:
        object.__setattr__(self, "message", bounded(self.message))

    def as_json(self) -> dict[str, Any]:
        """The form of the JSON contract, in which it is kept too."""
        return {"code": self.code.value, **self.message.as_json()}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> Reason:
        """What `as_json` gave."""
        return cls(Code(kept["code"]), Message.from_json(kept))


class Unscored(Exception):  # noqa: N818 - an outcome of scoring, not a failure of the program
    """Raised inside the core where something cannot be scored; the caller turns it into a verdict."""

    def __init__(self, code: Code, message: Message) -> None:
        self.reason = Reason(code, message)
        super().__init__(str(self.reason.message))
