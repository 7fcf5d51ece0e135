"""A print room with a past: printers that wear, checks as people made them by age, recalibrations after failures."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from contextlib import closing
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from sentinel.adapters.store.store import Store
from sentinel.core.colour.difference import de00
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.scoring.judging import judge
from sentinel.core.scoring.policy import Limits
from sentinel.core.scoring.score import RULES_VERSION
from sentinel.core.verdict import Verdict
from tests.support import cgats, records
from tests.support.room import SITE, Room

DAY = timedelta(days=1)


def kept_past(
    room: Room,
    until: datetime,
    *,
    weeks: int = 20,
    every: float = 7.0,
    wears: float = 0.06,
    scatter: float = 0.25,
    printer: str = "north",
    seed: int = 1,
) -> int:
    """So many weeks of checks of the printer's conditions up to `until`, kept in the room's store: their number.

    Its solids grow lighter by `wears` ΔL* a day on all stocks. A check that fails is followed by a recalibration of the
    condition the same day and a second check the day after.
    """
    house = room.snapshot().house
    names = [name for name in sorted(house.conditions, key=str) if name.printer == printer]
    names = [name for name in names if not house.conditions[name].obstacles]
    aim = hashlib.sha256((room.folder / "targets" / "house.txt").read_bytes()).hexdigest()
    draw, made, begins = np.random.default_rng(seed), 0, until - weeks * 7 * DAY
    with closing(Store(room.store, SITE)) as store:
        for place, name in enumerate(names):
            limits: Limits = house.conditions[name].scoring.own_limits("house")
            offset, day = 0.0, place * every / len(names)
            while (at := begins + day * DAY) < until:
                off = wears * day + offset
                metrics = _figures({ink: off + float(draw.normal(0.0, scatter)) for ink in "CMYK"})
                verdict, _ = judge(metrics, limits)
                sheet = records.check(f"{name}-{made}", str(name), verdict=verdict, measured_at=at)
                sheet = replace(sheet, target="house", target_hash=aim, limits=limits, metrics=metrics)
                with store.transaction() as session:
                    session.checks.add(
                        replace(
                            sheet, rules_version=RULES_VERSION, recovered=verdict is not Verdict.FAIL, arrived_at=at
                        )
                    )
                    if verdict is Verdict.FAIL:
                        moved = at + timedelta(hours=2)
                        told = Event(EventKind.RECALIBRATION, moved, printer, name.substrate, name.mode)
                        session.events.add(told, None, told.at)
                        offset -= off
                made += 1
                day += 1.0 if verdict is Verdict.FAIL else every
    return made


def _figures(moved: Mapping[str, float]) -> dict[str, dict[str, float]]:
    """Of a sheet whose solids are so much lighter than their aims."""
    aims = {ink: np.array([patch.lab]) for ink, patch in zip("CMYK", cgats.PATCHES[1:5], strict=True)}
    apart = {ink: float(de00(aims[ink], aims[ink] + [[by, 0.0, 0.0]])[0]) for ink, by in moved.items()}
    solids = {
        f"solid_{ink}": {"dl_mean": by, "da_mean": 0.0, "db_mean": 0.0, "de00_mean": apart[ink]}
        for ink, by in moved.items()
    }
    return {**solids, "solids": {"de00_max": max(apart.values()), "de00_mean": sum(apart.values()) / len(apart)}}
