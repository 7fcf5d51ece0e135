"""The whole of the TOML. Every default of policy stands in these models and nowhere else."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sentinel.settings.base import Name, Part
from sentinel.settings.catalogue import Instrument, Printer, Route, Substrate
from sentinel.settings.diagnosis import Diagnosis
from sentinel.settings.drift import Drift
from sentinel.settings.due import Due
from sentinel.settings.heartbeat import Heartbeat
from sentinel.settings.judging import Condition, LimitSet, Measurements, Reader, TargetFile
from sentinel.settings.notices import Notices, Recipient
from sentinel.settings.place import Folders, Site, Store
from sentinel.settings.recalibration import Recalibration
from sentinel.settings.round import Round
from sentinel.settings.telling import Tell


class Settings(Part):
    """The whole file."""

    site: Site = Site()
    folders: Folders
    store: Store
    reader: Reader = Reader()
    measurements: Measurements = Measurements()
    limits: dict[Name, LimitSet] = {}
    routes: Annotated[tuple[Route, ...], Field(strict=False)] = (Route(by="folder"),)
    printers: dict[Name, Printer] = {}
    substrates: dict[Name, Substrate] = {}
    targets: dict[Name, TargetFile] = {}
    conditions: dict[str, Condition] = {}
    due: Due = Due()
    drift: Drift = Drift()
    diagnosis: Diagnosis = Diagnosis()
    recalibration: Recalibration = Recalibration()
    round: Round = Round()
    instruments: dict[str, Instrument] = {}
    recipients: dict[Name, Recipient] = {}
    notices: Notices = Notices()
    tell: Annotated[tuple[Tell, ...], Field(strict=False)] = ()
    heartbeat: Heartbeat | None = None
