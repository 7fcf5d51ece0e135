"""The whole of the TOML. Every default of policy stands in these models and nowhere else."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sentinel.settings.base import Hours, Name, TomlTable
from sentinel.settings.diagnosis import DiagnosisTable, RecalibrationTable
from sentinel.settings.due import DriftTable, DueTable
from sentinel.settings.notices import HeartbeatTable, NoticesTable, RecipientTable, TellTable
from sentinel.settings.room import InstrumentTable, PrinterTable, RouteTable, SubstrateTable
from sentinel.settings.site import FoldersTable, SiteTable, StoreTable
from sentinel.settings.targets_and_limits import ConditionTable, LimitSet, MeasurementsTable, ReaderTable, TargetFile


class RoundTable(TomlTable):
    soon_days: Annotated[float, Field(ge=0, le=36_500)] = 1.0
    """A check that turns due within so many days is made in the same round; with 0 only what is due already."""
    assumed_drying_hours: Annotated[Hours, Field(gt=0)] = 24.0
    """Taken where no drying time is told for a stock, and said to be an assumption; wet charts must not be measured."""


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
    targets: dict[Name, TargetFile] = {}
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
    heartbeat: HeartbeatTable | None = None
