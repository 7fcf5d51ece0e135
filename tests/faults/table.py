"""The rows of the faults page: what was done to the service, how often, and what came of it.

Every run of faults hands its row to `record`, before it asserts anything. `tests/run --long tests/faults --faults-page`
writes the rows of that run to README.md beside this file, those that fail as well; what failed or was skipped without
a row is named there too. Runs by hand keep rows with `SENTINEL_FAULT_TABLE=FILE`, and
`python -m tests.faults.table FILE...` writes the page of such files.
"""

from __future__ import annotations

import json
import math
import os
import sys
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import pytest

from tests.support.amount import LONG

PAGE = Path(__file__).with_name("README.md")
PROSE = Path(__file__).with_name("page.md")
"""What stands on the page beside the table; `{rows}` and `{missing}` are filled in."""

ROWS = "SENTINEL_FAULT_TABLE"
"""The environment variable that names the file rows go to."""

NEVER = math.inf
"""People were to be told, or it was to come back, and that did not happen."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the page. A time is the worst of all times, None where there is nothing to tell or to come back."""

    fault: str
    place: str
    times: int
    lost: int
    twice: int
    told_within_seconds: float | None
    back_within_seconds: float | None

    def __str__(self) -> str:
        told, back = _seconds(self.told_within_seconds), _seconds(self.back_within_seconds)
        return f"| {self.fault} | {self.place} | {self.times:,} | {self.lost:,} | {self.twice:,} | {told} | {back} |"

    @property
    def good(self) -> bool:
        """Whether nothing was lost or told twice, and all came about that had to."""
        return not (self.lost or self.twice or NEVER in (self.told_within_seconds, self.back_within_seconds))


def record(
    fault: str,
    place: str,
    times: int,
    lost: int,
    twice: int,
    told_within_seconds: float | None,
    back_within_seconds: float | None,
) -> Row:
    """Keeps a row where rows are wanted; several of one fault and place become one line.

    `lost` counts files, checks and notices that are nowhere any more; `twice` what was told or recorded twice.
    """
    row = Row(fault, place, times, lost, twice, told_within_seconds, back_within_seconds)
    if ROWS in os.environ:
        with Path(os.environ[ROWS]).open("ab", buffering=0) as file:
            file.write(json.dumps(asdict(row)).encode() + b"\n")  # one write: other processes append too
    return row


def read(file: Path) -> list[Row]:
    """Every row of a file."""
    return [Row(**json.loads(line)) for line in file.read_text(encoding="utf-8").splitlines()]


def together(rows: Iterable[Row]) -> list[Row]:
    """One line for each fault and place: counts added up, the worst of the times."""
    lines: dict[tuple[str, str], Row] = {}
    for row in rows:
        key = (row.fault, row.place)
        lines[key] = _added(lines[key], row) if key in lines else row
    return [lines[key] for key in sorted(lines)]


def write_page(rows: Iterable[Row], missing: Sequence[str]) -> None:
    """The whole page; `missing` names what failed or was skipped."""
    table = "\n".join(map(str, together(rows)))
    named = "".join(f"\n- {each}" for each in missing) if missing else " nothing."
    PAGE.write_text(PROSE.read_text("utf-8").format(rows=table, missing=named), encoding="utf-8")


def _added(one: Row, other: Row) -> Row:
    return Row(
        one.fault,
        one.place,
        one.times + other.times,
        one.lost + other.lost,
        one.twice + other.twice,
        _worst(one.told_within_seconds, other.told_within_seconds),
        _worst(one.back_within_seconds, other.back_within_seconds),
    )


def _worst(*seconds: float | None) -> float | None:
    return max((each for each in seconds if each is not None), default=None)


def _seconds(seconds: float | None) -> str:
    """Two digits; None is a dash."""
    if seconds is None:
        return "–"
    return "never" if seconds == NEVER else f"{seconds:.1f} s" if seconds < 10 else f"{seconds:.0f} s"


class Page:
    """The part of a pytest run that writes the page at its end."""

    def __init__(self) -> None:
        self._missing: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.outcome != "passed":
            self._missing.append(f"{report.outcome}: `{report.nodeid}`")

    def pytest_sessionfinish(self) -> None:
        write_page(read(Path(os.environ[ROWS])), self._missing)


def pytest_addoption(parser: pytest.Parser) -> None:
    """For tests/faults/conftest.py."""
    parser.addoption("--faults-page", action="store_true", help="write tests/faults/README.md")


def pytest_configure(config: pytest.Config) -> None:
    """For tests/faults/conftest.py."""
    if not config.getoption("--faults-page", default=False) or "PYTEST_XDIST_WORKER" in os.environ:
        return
    if not LONG:
        raise pytest.UsageError("expected `tests/run --long` for --faults-page: other runs do less")
    if ROWS not in os.environ:
        handle, os.environ[ROWS] = tempfile.mkstemp(suffix=".rows")
        os.close(handle)
    config.pluginmanager.register(Page(), "faults-page")


if __name__ == "__main__":
    write_page([row for name in sys.argv[1:] for row in read(Path(name))], [])
