"""The whole of the TOML. Every default of policy stands in these models and nowhere else."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Annotated

from pydantic import Field

from sentinel.core.cases.duty import Duty
from sentinel.core.cases.notice_policy import Recipient, UrlPlace
from sentinel.core.message import Language, Units
from sentinel.core.planning.room import RoundRules
from sentinel.settings.base import Hours, Name, TomlTable
from sentinel.settings.diagnosis import DiagnosisTable, RecalibrationTable
from sentinel.settings.due import DriftTable, DueTable
from sentinel.settings.notices import HeartbeatTable, NoticesTable, RecipientTable, ShiftTable, TellTable
from sentinel.settings.room import InstrumentTable, PrinterTable, RouteTable, SubstrateTable
from sentinel.settings.site import FoldersTable, SiteTable, StoreTable
from sentinel.settings.targets_and_limits import ConditionTable, LimitSet, MeasurementsTable, ReaderTable, TargetTable


class RoundTable(TomlTable):
    soon_days: Annotated[float, Field(ge=0, le=36_500)] = 1.0
    """A check that turns due within so many days is made in the same round; with 0 only what is due already."""
    assumed_drying_hours: Annotated[Hours, Field(gt=0)] = 24.0
    """Taken where no drying time is told for a stock, and said to be an assumption; wet charts must not be measured."""

    def rules(self, printers: Mapping[str, PrinterTable], substrates: Mapping[str, SubstrateTable]) -> RoundRules:
        """For the core."""
        return RoundRules(
            soon=timedelta(days=self.soon_days),
            assumed_drying_hours=self.assumed_drying_hours,
            printers={name: own.times for name, own in printers.items()},
            stocks=tuple(own.stock(name) for name, own in substrates.items()),
        )


MOST_SHIFTS = 40


class Settings(TomlTable):
    """The whole file."""

    site: SiteTable = SiteTable()
    folders: FoldersTable
    store: StoreTable
    reader: ReaderTable = ReaderTable()
    measurements: MeasurementsTable = MeasurementsTable()
    limits: dict[Name, LimitSet] = {}
    routes: Annotated[tuple[RouteTable, ...], Field(strict=False)] = (RouteTable(by="folder"),)
    printers: dict[Name, PrinterTable] = {}
    substrates: dict[Name, SubstrateTable] = {}
    targets: dict[Name, TargetTable] = {}
    conditions: dict[str, ConditionTable] = {}
    due: DueTable = DueTable()
    drift: DriftTable = DriftTable()
    diagnosis: DiagnosisTable = DiagnosisTable()
    recalibration: RecalibrationTable = RecalibrationTable()
    round: RoundTable = RoundTable()
    instruments: dict[str, InstrumentTable] = {}
    recipients: dict[Name, RecipientTable] = {}
    notices: NoticesTable = NoticesTable()
    tell: Annotated[tuple[TellTable, ...], Field(strict=False)] = ()
    duty: Annotated[dict[Name, ShiftTable], Field(max_length=MOST_SHIFTS)] = {}
    heartbeat: HeartbeatTable | None = None

    def wording(self, recipient: str | None = None) -> tuple[Language, Units]:
        """The language and units of a recipient; those of the house where it has none of its own, or is not known."""
        own = self.recipients.get(recipient or "")
        return (own and own.language) or self.notices.language, (own and own.units) or self.notices.units

    @property
    def duties(self) -> Duty:
        """Every shift, with the working days of the site."""
        return Duty(tuple(own.shift(name) for name, own in self.duty.items()), self.site.calendar)

    @property
    def heartbeat_place(self) -> UrlPlace | None:
        """Where the URL of the heartbeat stands, where there is one."""
        return None if self.heartbeat is None else self.heartbeat.url

    @property
    def known_recipients(self) -> dict[str, Recipient]:
        """Who is told of what, and where the URLs stand, by name."""
        return {name: own.recipient for name, own in self.recipients.items()}
