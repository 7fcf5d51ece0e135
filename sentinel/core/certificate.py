"""Whether an instrument was within its certificate when it read."""

from __future__ import annotations

from datetime import date

from sentinel.core.reasons import Code, Reason
from sentinel.core.said import said


def certificate_remark(serial: str | None, until: date | None, day: date) -> Reason | None:
    """A remark for a reading made on `day` after the certificate's last day; None where nothing is to be said."""
    if until is None or day <= until:
        return None
    message = said("the certificate of instrument {serial} ended on {day}", serial=str(serial), day=until)
    return Reason(Code.CERTIFICATE_EXPIRED, message)
