"""How pressing a failed check is."""

from __future__ import annotations

from typing import Any

import pytest

from sentinel.core.cases.findings import urgency


def failed(mean: float, *codes: str) -> dict[str, Any]:
    return {
        "reasons": [{"code": code, "message": ""} for code in ("action-limit", *codes)],
        "metrics": {"all": {"de00_mean": mean}, "paper": {"dl_mean": -mean}},
        "limits": {"all": {"de00_mean": [2.0, 3.0, None]}, "paper": {"dl_mean": [2.0, 3.0, None]}, "greys": {}},
    }


@pytest.mark.parametrize(
    ("check", "count", "confirm_first", "expected"),
    [
        (failed(3.5), 1, True, "confirm"),
        (failed(3.5), 2, True, "alarm"),
        (failed(3.5), 1, False, "alarm"),
        (failed(6.0), 1, True, "confirm"),
        (failed(6.1), 1, True, "urgent"),
        (failed(6.1), 3, False, "urgent"),
        (failed(3.5, "rival-fits-better"), 1, True, "urgent"),
    ],
)
def test_gross_figures_and_a_doubtful_stock_are_urgent_at_once(
    check: dict[str, Any], count: int, confirm_first: bool, expected: str
) -> None:
    assert urgency(check, count, confirm_first, gross_factor=2.0) == expected
