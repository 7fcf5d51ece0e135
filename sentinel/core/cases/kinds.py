"""What people are told, what can be open, and how pressing each is."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum


class NoticeKind(StrEnum):
    """What people are told."""

    CONFIRM_FAILURE = "confirm-failure"
    CHECK_FAILED = "check-failed"
    WRONG_STOCK = "wrong-stock"
    PATCH_ORDER = "patch-order"
    RECOVERED = "recovered"
    CHECK_DUE = "check-due"
    WARNING_REPEATED = "warning-repeated"
    DUE_SOON = "due-soon"
    NEVER_RUN = "never-run"
    FILE_UNSCORED = "file-unscored"
    EVENTS_REFUSED = "events-refused"
    CERTIFICATE_EXPIRED = "certificate-expired"
    NOTHING_ARRIVED = "nothing-arrived"
    SERVICE_TROUBLE = "service-trouble"
    SUMMARY = "summary"


class CaseKind(StrEnum):
    """What can be open. A failed check is one case, whatever its notices are called."""

    CHECK_FAILED = "check-failed"
    WRONG_STOCK = "wrong-stock"
    PATCH_ORDER = "patch-order"
    CHECK_DUE = "check-due"
    NEVER_RUN = "never-run"
    FILE_UNSCORED = "file-unscored"
    EVENTS_REFUSED = "events-refused"
    CERTIFICATE_EXPIRED = "certificate-expired"
    NOTHING_ARRIVED = "nothing-arrived"
    SERVICE_TROUBLE = "service-trouble"


class CaseStep(StrEnum):
    """What happens to a case. `eased` and `returned` are told to nobody."""

    OPENED = "opened"
    REPEATED = "repeated"
    REMINDED = "reminded"
    ESCALATED = "escalated"
    EASED = "eased"
    RETURNED = "returned"
    CLOSED = "closed"


class Severity(StrEnum):
    """How pressing a notice is, the least first."""

    ROUTINE = "routine"
    CONFIRM = "confirm"
    ALARM = "alarm"
    URGENT = "urgent"

    @property
    def rank(self) -> int:
        """Its place, 0 for the least."""
        return list(Severity).index(self)


class Trouble(StrEnum):
    """What can be wrong with the service itself."""

    DROP_FOLDER_MISSING = "drop-folder-missing"
    STORE_REFUSES = "store-refuses"
    ARCHIVE_REFUSES = "archive-refuses"
    SETTINGS_REFUSED = "settings-refused"
    RECIPIENT_DEAD = "recipient-dead"
    CLOCK_JUMPED = "clock-jumped"


SEVERITIES: Mapping[CaseKind, Severity] = {
    CaseKind.CHECK_FAILED: Severity.ALARM,
    CaseKind.WRONG_STOCK: Severity.URGENT,
    CaseKind.PATCH_ORDER: Severity.URGENT,
    CaseKind.CHECK_DUE: Severity.ROUTINE,
    CaseKind.NEVER_RUN: Severity.ROUTINE,
    CaseKind.FILE_UNSCORED: Severity.CONFIRM,
    CaseKind.EVENTS_REFUSED: Severity.CONFIRM,
    CaseKind.CERTIFICATE_EXPIRED: Severity.ALARM,
    CaseKind.NOTHING_ARRIVED: Severity.ALARM,
    CaseKind.SERVICE_TROUBLE: Severity.ALARM,
}
"""How pressing a case of each kind is, where nothing else is known of it."""

TOLD_AS: Mapping[CaseKind, NoticeKind] = {kind: NoticeKind(kind.value) for kind in CaseKind}
"""What its notices are called, where nothing else is known of it."""


ONCE = "run --once"
"""The name under which a single round notes when it ended, among the moments at which each part last worked."""
