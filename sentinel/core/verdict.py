"""What is said of one sheet."""

from __future__ import annotations

from enum import StrEnum


class Verdict(StrEnum):
    """Of that sheet alone, and no certificate of conformity."""

    PASS = "pass"  # noqa: S105 - no password
    WARN = "warn"
    FAIL = "fail"
    UNSCORED = "unscored"
