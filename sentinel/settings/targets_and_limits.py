"""What a measurement is held against: targets, limits, the house limits, the age at which a check is due."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from datetime import date, timedelta
from math import inf
from typing import Annotated, Literal

from pydantic import AfterValidator, ConfigDict, Field, model_validator

from sentinel.core.dropped_file import MEGABYTE
from sentinel.core.measurement import Backing, MCondition, ReaderBounds
from sentinel.core.planning.room import ChartMinutes
from sentinel.core.scoring.expression import Expression
from sentinel.core.scoring.names import METRIC_WORDS
from sentinel.core.scoring.policy import DensityStatus, Limit, Limits, OwnGroup, ScoringRules, TargetSource, laid_over
from sentinel.settings.base import Days, FilePath, Minutes, Name, Names, Positive, Share, TomlTable
from sentinel.settings.due import DueHere


class MeasurementsTable(TomlTable):
    unknown_m_condition: Literal["score", "unscored"] = "score"
    """What to do where the file or the target does not say M0 to M3: score with a warning, or not."""
    least_share: Share = 0.9
    """The share of a target's patches a file must hold to be scored."""
    least_patches: Annotated[int, Field(ge=1)] = 6
    """The number of patches a file must share with its target to be scored."""
    rival_share: Share = 0.5
    """Another target whose mean difference is below this part of the failed one's makes the stock doubtful."""
    share_beyond: Positive = 3.0
    """The CIEDE2000 difference beyond which a patch counts in the metric `de00_share`."""
    density_status: DensityStatus = "E"
    """The filters of ISO 5-3 that densities are reckoned with: E is usual in Europe, T in North America, A for
    photographic prints (common practice, no published source); black is always looked at through the visual filter."""
    trust_created_days: Days = 90.0
    """A time of measurement older than this in a file's header is taken for a template's."""

    @property
    def rules(self) -> ScoringRules:
        """For the core."""
        return ScoringRules(
            score_unknown_m=self.unknown_m_condition == "score",
            least_patches=self.least_patches,
            least_share=self.least_share,
            rival_share=self.rival_share,
        )

    @property
    def trusted(self) -> timedelta:
        """How old a time in a header may be."""
        return timedelta(days=self.trust_created_days)


class ReaderTable(TomlTable):
    """What a file may hold; one that holds more is refused, so that no file can exhaust the machine."""

    rows: Annotated[int, Field(ge=1)] = 100_000
    """Rows of all tables of one file."""
    columns: Annotated[int, Field(ge=1)] = 2_000
    """Columns of one table."""
    tables: Annotated[int, Field(ge=1)] = 64
    """Tables of one file."""
    cell_mb: Positive = 1.0
    """One cell, name or value."""
    header_lines: Annotated[int, Field(ge=1)] = 20_000
    """Keywords and comments of one file."""

    processes: Annotated[int, Field(ge=1, le=64)] = 1
    """How many processes understand files beside the service."""
    memory_mb: Annotated[Positive, Field(ge=64)] = 1024.0
    """What such a process may take for one file, beside the 60 MB or so that it has; one that needs more is refused."""
    seconds: Annotated[Positive, Field(le=60)] = 30.0
    """How long it may take for one file."""

    def bounds(self, largest_mb: float) -> ReaderBounds:
        """For the core; `largest_mb` is that of [folders]."""
        return ReaderBounds(
            file_bytes=round(largest_mb * MEGABYTE),
            rows=self.rows,
            columns=self.columns,
            tables=self.tables,
            token_bytes=round(self.cell_mb * MEGABYTE),
            header_lines=self.header_lines,
        )


class LimitEntry(TomlTable):
    warn: Positive
    """Above this the verdict is `warn`."""
    act: Positive
    """Above this the verdict is `fail`."""
    recover: Positive | None = None
    """After a failure, at most this counts as recovered; the action limit where nothing is said."""

    @model_validator(mode="after")
    def _ordered(self) -> LimitEntry:
        if self.warn > self.act:
            raise ValueError(f"expected the warning limit at or below the action limit, got {self.warn} and {self.act}")
        if self.recover is not None and self.recover > self.act:
            raise ValueError(f"expected recovery at or below the action limit, got {self.recover} and {self.act}")
        return self

    @property
    def limit(self) -> Limit:
        """For the core."""
        return Limit(self.warn, self.act, self.recover)


def _known_metric(name: str) -> str:
    if name not in METRIC_WORDS:
        near = difflib.get_close_matches(name, METRIC_WORDS, n=1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise ValueError(f"expected a metric, got {name!r}{hint}")
    return name


MetricName = Annotated[str, AfterValidator(_known_metric)]
LimitTable = dict[str, dict[MetricName, LimitEntry]]
"""By group, then by metric."""


def limits_of(table: LimitTable) -> Limits:
    """For the core; groups without a metric are left out."""
    return {
        group: {metric: entry.limit for metric, entry in metrics.items()} for group, metrics in table.items() if metrics
    }


class LimitSet(TomlTable):
    """Every other key is a group of patches with its metrics."""

    model_config = ConfigDict(extra="allow")
    __pydantic_extra__: LimitTable

    based_on: str | None = None
    """Another limit set that this one changes; `house` where nothing is said."""

    @property
    def limits(self) -> LimitTable:
        return self.__pydantic_extra__


HOUSE = "house"


def named_set(sets: Mapping[str, LimitSet], name: str) -> Limits:
    """A named set with all it is based on; every chain ends at the house limits.

    Raises KeyError for an unknown name and ValueError for a set based on itself.
    """
    limits: Limits = HOUSE_LIMITS
    for link in reversed(chain(sets, name)):
        if link in sets:
            limits = laid_over(limits, limits_of(sets[link].limits))
    return limits


def chain(sets: Mapping[str, LimitSet], name: str) -> list[str]:
    """The set's name and those of all below it, the house set last."""
    names: list[str] = []
    while name != HOUSE:
        if name in names:
            raise ValueError(f"limit set {name!r} is based on itself: {' -> '.join([*names, name])}")
        names.append(name)
        name = sets[name].based_on or HOUSE
    return [*names, HOUSE]


def _condition(text: str) -> str:
    Expression(text)
    return text


class GroupTable(TomlTable):
    """Patches by name or id, by a condition on device values, or both together."""

    names: Names = ()
    """Names or ids of patches, as in the target."""
    where: Annotated[str, AfterValidator(_condition)] | None = None
    """A condition such as `C > 0 and M == Y and total < 250`: inks, `ink1`, `total`, `most`, `least`, `used`."""

    @model_validator(mode="after")
    def _something(self) -> GroupTable:
        if not self.names and self.where is None:
            raise ValueError("expected names, where, or both, got neither")
        return self

    @property
    def group(self) -> OwnGroup:
        """For the core."""
        return OwnGroup(self.names, self.where)


def _not_all(name: str) -> str:
    if name == "all":
        raise ValueError("expected a name of a group, got 'all', which is every patch")
    return name


class TargetTable(TomlTable):
    file: FilePath | None = None
    """A CGATS file with the aim values; without it, the newest version in use of `sentinel target add`."""
    table: Annotated[int, Field(ge=1)] = 1
    """Which measurement of the file, counted from 1."""
    colour_path: Literal["ink-space", "through-profile"]
    """`ink-space`: printed with colour management off, device values are ink amounts."""
    m_condition: MCondition | None = None
    """Declared where the file does not say."""
    backing: Backing | None = None
    """Declared where the file does not say."""
    instrument: str | None = None
    """Serial number of the instrument the aim was read with, where its file does not say: another one explains much."""
    limit_set: str | None = None
    """The limit set for this kind of chart: the maximum of a strip is not that of a full chart."""
    least_share: Share | None = None
    """Replaces [measurements] least_share, for an aim that holds more patches than the chart printed."""
    required: Names | None = None
    """Groups of patches without which there is no verdict; where nothing is said, paper and solids of a whole chart."""
    aim_sheets: Annotated[int, Field(ge=1, le=10_000)] | Literal["published"] | None = None
    """Of how many sheets the aim is the mean; "published" for characterization data, which do not stray. Where nothing
    is said as many as it was adopted from, else one. Tells what a recalibration may bring."""
    groups: dict[Annotated[Name, AfterValidator(_not_all)], GroupTable] = {}
    """Groups of patches of this chart that replace those told from device values, or add to them."""
    print_minutes: Minutes = 10.0
    """How long this chart prints."""
    measuring_minutes: Minutes = 10.0
    """How long it takes to measure this chart."""
    metres: Positive | None = None
    """How much of the roll this chart uses up, with the feed and the cut."""

    @property
    def source(self) -> TargetSource:
        """Where its aim values are, for the core."""
        return TargetSource(
            file=self.file,
            table=self.table,
            colour_path=self.colour_path,
            m_condition=self.m_condition,
            backing=self.backing,
            instrument=self.instrument,
            least_share=self.least_share,
            required=self.required,
            aim_sheets=inf if self.aim_sheets == "published" else self.aim_sheets,
        )

    def times(self, print_minutes: float | None) -> ChartMinutes:
        """For a round; `print_minutes` takes the place of its own, where given."""
        minutes = self.print_minutes if print_minutes is None else print_minutes
        return ChartMinutes(print_minutes=minutes, measuring_minutes=self.measuring_minutes, metres=self.metres)


def _in_order(days: tuple[date, date]) -> tuple[date, date]:
    if days[0] > days[1]:
        raise ValueError(f"expected the first day before the last one, got {days[0]} and {days[1]}")
    return days


class ConditionTable(TomlTable):
    targets: Names = ()
    """One or several; a file is scored against the one that fits its chart best."""
    limit_set: str | None = None
    """A limit set laid over that of the target."""
    limits: LimitTable = {}
    """Single limits laid over all others."""
    max_age_days: Days | None = None
    """Replaces [due] max_age_days."""
    due: DueHere = DueHere()
    """Replaces single keys of [due]."""
    print_minutes: Minutes | None = None
    """Replaces print_minutes of the target: a fine mode prints longer."""
    baseline: Annotated[tuple[date, date], Field(strict=False), AfterValidator(_in_order)] | None = None
    """First and last day of the checks that say where this condition stands, in place of the first after a reset."""
    not_measurable: str | None = None
    """The reason why this cannot be measured, in words."""
    measurable: Literal[True] | None = None
    """Says that this can be measured although the substrate's properties speak against it."""


HOUSE_LIMITS: Limits = {
    "all": {
        "de00_mean": Limit(warn=2.0, act=3.0),
        "de00_p95": Limit(warn=4.0, act=6.0),
        "de00_max": Limit(warn=8.0, act=12.0),
    },
    "paper": {"de00_mean": Limit(warn=1.5, act=3.0)},
    "solids": {"de00_max": Limit(warn=3.0, act=5.0)},
    "greys": {"de00_mean": Limit(warn=2.0, act=3.5)},
}
