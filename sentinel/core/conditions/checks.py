"""Checks as they are written down and read back, and what of them later decisions look at. Light: no numpy."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from sentinel.core.scoring.policy import Limits, ScoringOptions
from sentinel.core.verdict import Code, Reason, Verdict

CLOCK_TOLERANCE = timedelta(minutes=1)
"""A clock that is set by a time server is moved by less."""


class ArrivalsAround(NamedTuple):
    """When checks arrived last before a moment, and first and last after it, as their records have it."""

    before: datetime | None
    first_ahead: datetime | None
    last_ahead: datetime | None

    def clock_is_behind(self, now: datetime) -> bool:
        """Whether it is the clock that is wrong now, and not the one that dated what lies ahead.

        A clock that was ahead for a while dated some records far away from now, and none in between; one that was set
        back is among the records, or before them all.
        """
        if self.first_ahead is None or self.last_ahead is None:
            return False
        return self.before is None or 2 * (self.first_ahead - now) < self.last_ahead - now


@dataclass(frozen=True, slots=True)
class PastScore:
    """Its number, when it was measured (aware), its figures and how they were made, and what was said of it then.

    `inks` are those of its chart; `stock_doubtful` says that another stock's target fitted far better.
    """

    seq: int
    condition: str
    measured_at: datetime
    verdict: Verdict
    recovered: bool
    target: str
    target_hash: str
    metrics: Mapping[str, Mapping[str, float]]
    reckoning: ScoringOptions
    inks: tuple[str, ...]
    stock_doubtful: bool = False

    @property
    def order(self) -> tuple[datetime, int]:
        """Checks count in the order in which they were measured."""
        return self.measured_at, self.seq


@dataclass(frozen=True, slots=True)
class Withheld:
    """The check of a condition that was measured last; `code` says for what its verdict was withheld."""

    seq: int
    code: Code


LEAST = 0.5
"""ΔL* below which a sheet has not moved enough for a comparison."""


class Lightness(NamedTuple):
    """The mean ΔL* of all patches of one check."""

    condition: str
    at: datetime
    dl: float


def moved_alike(
    condition: str, dl: float, readings: Iterable[Lightness], at: datetime, within: timedelta
) -> float | None:
    """From 1, where the others read within this time moved just as the sheet did, to -1, where they stayed.

    `readings` are those by the instrument, in the order of their times; each condition is held against its own reading
    before. The sheet has moved by `dl` since the condition's last reading, or from its aim where there is none. None:
    nothing to compare.
    """
    by_condition: dict[str, list[Lightness]] = defaultdict(list)
    for reading in readings:
        if reading.at <= at + within:
            by_condition[reading.condition].append(reading)
    own = [each for each in by_condition.pop(condition, []) if each.at < at]
    moved = dl - (own[-1].dl if own else 0.0)
    others = [
        (row[-1].dl - row[-2].dl) / moved
        for row in by_condition.values()
        if abs(moved) >= LEAST and len(row) > 1 and row[-1].at >= at - within > row[-2].at
    ]
    if not others:
        return None
    return 2 * sum(min(max(share, 0.0), 1.0) for share in others) / len(others) - 1


@dataclass(frozen=True, slots=True)
class ChartRecord:
    """The patches that were compared, kept once by their hash. `device` is compressed, see `arrays.packed`."""

    hash: str
    inks: tuple[str, ...]
    labels: tuple[str, ...]
    device: bytes


@dataclass(frozen=True, slots=True)
class EarlierSheet:
    """The check of a condition before another one: its chart and its readings, compressed as they are kept (Lab and
    spread of every patch)."""

    seq: int
    measured_at: datetime
    target_hash: str
    chart: ChartRecord
    patch_values: bytes


@dataclass(frozen=True, slots=True)
class KeptPair:
    """What the sheet of `check` differs from that of the check `before` it, as `diagnosis.sheet_pairs` keeps it: the
    two hours apart, with nothing done between."""

    condition: str
    check: int | None
    before: int
    differing: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class CheckRecord:
    """A judged check with everything needed to judge it again. Times are aware; `moved` is None where not known,
    `pair` where there was no sheet just before."""

    sha256: str
    table: int
    condition: str
    file_name: str
    verdict: Verdict
    reasons: tuple[Reason, ...]
    metrics: Mapping[str, Mapping[str, float]]
    measured_at: datetime
    arrived_at: datetime
    target: str
    target_hash: str
    limits: Limits
    rules_version: int
    instrument: str | None
    m_condition: str | None
    backing: str | None
    illuminant: str | None
    observer: int | None
    patches: int
    matched: int
    chart: ChartRecord
    patch_values: bytes
    target_table: int = 1
    reckoning: ScoringOptions = field(default_factory=ScoringOptions)
    recovered: bool = True
    diagnosis: Sequence[Mapping[str, Any]] = ()
    moved: Sequence[Mapping[str, Any]] | None = None
    pair: KeptPair | None = None


@dataclass(frozen=True, slots=True)
class RecordedCheck:
    """What of a check is needed to list it, to score it again, or to compare it. `seq` is its number; `moved` is None
    where it is not known: of a check by an earlier program."""

    seq: int
    sha256: str
    table: int
    condition: str
    file_name: str
    verdict: Verdict
    metrics: Mapping[str, Mapping[str, float]]
    limits: Limits
    measured_at: datetime
    arrived_at: datetime
    target: str
    target_hash: str
    target_table: int
    reckoning: ScoringOptions
    rules_version: int
    m_condition: str | None
    backing: str | None
    diagnosis: Sequence[Mapping[str, Any]] = ()
    moved: Sequence[Mapping[str, Any]] | None = None
    recovered: bool = False
    instrument: str | None = None


@dataclass(frozen=True, slots=True)
class ReadingOnRecord:
    """A check as far as it may be one of two readings of a sheet. Two of equal `read_as` were read alike: the same
    patches of one chart against one target, by one instrument, under one measurement condition."""

    seq: int
    condition: str
    measured_at: datetime
    read_as: tuple[str | None, ...]


@dataclass(frozen=True, slots=True)
class KeptPatches:
    """The patches of a check that were compared: `device` and `values` are compressed arrays (`arrays.unpacked`), of n
    rows; `values` are L*, a*, b* and the spread of replicates."""

    seq: int
    inks: tuple[str, ...]
    device: bytes
    values: bytes
    reckoning: ScoringOptions


@dataclass(frozen=True, slots=True)
class Voiding:
    """Who took a check back, why, and when."""

    by: str
    why: str
    at: datetime


@dataclass(frozen=True, slots=True)
class RescoredRecord:
    """What a check was scored again to under later rules, beside its verdict on record.

    Where today's rules take it no longer it is unscored, with the reason and without figures.
    """

    check: int
    rules_version: int
    verdict: Verdict
    reasons: tuple[Reason, ...]
    metrics: Mapping[str, Mapping[str, float]]
    recovered: bool
    at: datetime


class RescoredPair(NamedTuple):
    """A check with its limits, its figures on record, and those it was scored again to."""

    condition: str
    seq: int
    measured_at: datetime
    limits: Limits
    recorded: Mapping[str, Mapping[str, float]]
    now: Mapping[str, Mapping[str, float]]


@dataclass(frozen=True, slots=True)
class DriftReading:
    """What of a check is needed to foretell. `stock_doubtful`: another stock's target fitted it better.

    `metrics` are those under the rules of its series.
    """

    seq: int
    measured_at: datetime
    target: str
    target_hash: str
    metrics: Mapping[str, Mapping[str, float]]
    stock_doubtful: bool


@dataclass(frozen=True, slots=True)
class UnscoredFile:
    """A file that could not be scored.

    `sha256` is None where it could not even be read. `origin` tells this very file, at this place, from another one
    of the same bytes; `set_aside_as` is the name it has in the put-aside folder.
    """

    sha256: str | None
    file_name: str
    origin: str
    folder_clue: str
    reasons: tuple[Reason, ...]
    file_time: datetime
    arrived_at: datetime
    set_aside_as: str
