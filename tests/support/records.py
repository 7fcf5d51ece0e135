"""Records with everything filled in, so that a test says only what it is about."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any

from sentinel.adapters.store.store import WriteSession
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.records import Notice, Posting
from sentinel.core.conditions.checks import ChartRecord, CheckRecord, UnscoredFile
from sentinel.core.message import msg
from sentinel.core.scoring.policy import Limit
from sentinel.core.scoring.target_versions import KeptTarget, Retirement, TargetVersion
from sentinel.core.verdict import Code, Reason, Verdict
from tests.support.clock import NOON

CHART = ChartRecord("c" * 64, ("C", "M", "Y", "K"), ("A1",), zlib.compress(b"\0" * 32))


def digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def check(
    file: str = "sheet",
    condition: str = "north/satin-240",
    *,
    verdict: Verdict = Verdict.PASS,
    measured_at: datetime = NOON,
    table: int = 1,
    chart: ChartRecord = CHART,
    recovered: bool = True,
) -> CheckRecord:
    """A check of the file whose content is `file`."""
    return CheckRecord(
        sha256=digest(file),
        table=table,
        condition=condition,
        file_name=f"{file}.txt",
        verdict=verdict,
        reasons=(),
        metrics={"all": {"de00_mean": 1.0, "de00_p95": 1.5, "de00_max": 2.0}},
        measured_at=measured_at,
        arrived_at=NOON,
        target="satin",
        target_hash="d" * 64,
        limits={"all": {"de00_mean": Limit(2.0, 3.0)}},
        rules_version=1,
        instrument="0042",
        m_condition="M1",
        backing=None,
        illuminant="D50",
        observer=2,
        patches=10,
        matched=10,
        chart=chart,
        patch_values=zlib.compress(b"\0" * 32),
        recovered=recovered,
    )


def refused(file: str = "scribble", *, origin: str | None = None, code: Code = Code.NOT_READABLE) -> UnscoredFile:
    """The record of a file that could not be scored."""
    return UnscoredFile(
        sha256=digest(file),
        file_name=f"{file}.txt",
        origin=origin or f"/drop|{file}.txt|1|2|3",
        folder_clue="north/satin-240",
        reasons=(Reason(code, msg("expected a CGATS text, got something else")),),
        file_time=NOON,
        arrived_at=NOON,
        set_aside_as=f"{file}.txt",
    )


def notice(key: str = "case-1-opened", recipient: str = "colour-team", url_no: int = 0, **facts: Any) -> Notice:
    """A notice of a file that was not scored, which is the shortest there is."""
    told = {
        "file_name": "scribble.txt",
        "folder": "north/satin-240",
        "set_aside_as": "scribble.txt",
        "arrived_at": NOON.isoformat(),
        "reasons": [{"code": "not-readable", "message": "expected a CGATS text, got none"}],
        "timezone": "UTC",
    }
    return Notice(key, NoticeKind.FILE_UNSCORED, recipient, url_no, {**told, **facts})


def kept_target(version: int = 1, name: str = "house", content: str | None = None) -> TargetVersion:
    """A version of a kept target, added from a file."""
    facts = {"file": "house.txt", "patches": 10, "quantity": "Lab", "m_condition": "M1", "backing": None}
    sha256 = digest(content or f"{name} {version}")
    return TargetVersion(version, KeptTarget(name, sha256, "file house.txt", "Ana", None, NOON, facts))


def retired(version: TargetVersion) -> TargetVersion:
    """The same, taken out of use."""
    return replace(version, retirement=Retirement("Ben", "the stock is gone", NOON))


def enqueue(session: WriteSession, notices: Iterable[Notice]) -> None:
    """Puts notices that tell of no case into the outbox."""
    session.outbox.post([Posting(each) for each in notices], NOON)
