"""An instrument past its certificate."""

from __future__ import annotations

from datetime import date

import pytest

from sentinel.core.conditions.measurability import certificate_remark
from sentinel.core.verdict import Code

LAST = date(2026, 4, 30)


@pytest.mark.parametrize(("until", "day"), [(LAST, LAST), (LAST, date(2026, 1, 1)), (None, date(2030, 1, 1))])
def test_nothing_is_said_within_the_certificate(until: date | None, day: date) -> None:
    assert certificate_remark("0042", until, day) is None


def test_the_day_after_it_ended_is_remarked() -> None:
    remark = certificate_remark("0042", LAST, date(2026, 5, 1))
    assert remark is not None
    assert (remark.code, str(remark.message)) == (
        Code.CERTIFICATE_EXPIRED,
        "the certificate of instrument 0042 ended on 2026-04-30",
    )
