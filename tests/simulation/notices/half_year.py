"""Half a year of one invented print room, worked by the service itself under a clock that is told the time.

Three printers, six stocks each, checked weekly. Solids wear, heads and lots change, sheets are now and then read wet,
backwards or on the wrong stock, files are torn. People work from Monday to Friday, 08:00 to 17:00, but for a fortnight
in summer and some days off; they read their notices and mostly do what these ask for. What reached whom is kept with
what was true at that moment, for `reading` to count and print.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from sentinel.adapters.recipients import Addressee
from sentinel.adapters.store.store import Store
from sentinel.bootstrap import Assembly
from sentinel.core.cases.kinds import CaseStep, NoticeKind
from sentinel.core.conditions.events import Event, EventKind
from sentinel.render.notices import Letter
from tests.support.cgats import PATCHES, Patch
from tests.support.cgats import text as cgats_text
from tests.support.clock import FakeClock
from tests.support.reading import ReaderHere
from tests.support.room import SITE, Room

BEGIN = datetime.fromisoformat("2026-03-02T06:00:00+00:00")
DAYS = 182
PRINTERS = ("north", "harbour", "quarry")
STOCKS = ("satin-240", "matte-190", "cotton-310", "banner-440", "board-300", "canvas-380")
HOLIDAYS = ("2026-04-03", "2026-04-06", "2026-05-01", *(f"2026-07-{day:02}" for day in range(20, 32)))
STEP = timedelta(minutes=30)


def settings() -> str:
    """The room's TOML; an operator a printer, a colour lead who hears of everything but the routine."""
    lines = [
        '[site]\nname = "hall"\ntimezone = "UTC"',
        'working_days = ["monday", "tuesday", "wednesday", "thursday", "friday"]',
        f"holidays = [{', '.join(HOLIDAYS)}]",
        '[folders]\ndrop = ["drop"]\narchive = "archive"\nput_aside = "aside"',
        '[store]\npath = "store.sqlite"',
        "[due]\nmax_age_days = 7\nlearning_days = 7",
        "[notices]\ndaily_at = 07:30:00",
        *(f"[printers.{each}]" for each in PRINTERS),
        *(f"[substrates.{each}]\ndrying_hours = 2" for each in STOCKS),
        *(f'[targets."{each}"]\nfile = "targets/{each}.txt"\ncolour_path = "ink-space"' for each in STOCKS),
        *(f'[conditions."{p}/{s}"]\ntargets = ["{s}"]' for p in PRINTERS for s in STOCKS),
        '[recipients.lead]\nurl_env = "NONE"\nroles = ["colour-lead"]',
        *(f'[recipients."at-{each}"]\nurl_env = "NONE"\nroles = ["operator"]' for each in PRINTERS),
        '[[tell]]\nroles = ["colour-lead"]\nseverities = ["confirm", "alarm", "urgent"]',
        '[[tell]]\nroles = ["colour-lead"]\nseverities = ["routine"]\ndaily = true',
        *(f'[[tell]]\nrecipients = ["at-{each}"]\nprinters = ["{each}"]' for each in PRINTERS),
    ]
    return "\n".join(lines) + "\n"


@dataclass(frozen=True, slots=True)
class Told:
    """A notice as it reached somebody."""

    at: datetime
    recipient: str
    kind: NoticeKind
    title: str
    body: str
    facts: Any
    key: str = ""
    over: int = 0
    """How many of its cases were over by then, ends that it tells apart."""


@dataclass(slots=True)
class Press:
    """What one stock on one printer truly does: shifts of each ink, in units of a strong warning."""

    inks: np.ndarray[Any, np.dtype[np.float64]]
    paper: float = 0.0


class Mailboxes:
    """Takes every letter."""

    def __init__(self, clock: FakeClock, open_cases: Callable[[], set[int]]) -> None:
        self._clock = clock
        self.open = open_cases
        self.told: list[Told] = []

    def send(self, recipient: str, url_no: int, letter: Letter) -> str | None:
        message, facts = letter.message(), dict(letter.facts)
        over = len(told_open(letter.kind, facts) - self.open())
        kind = NoticeKind(letter.kind)
        self.told.append(Told(self._clock.now(), recipient, kind, message.title, message.body, facts, letter.key, over))
        return None


@dataclass(slots=True)
class Errand:
    """Somebody is going to print and read a chart: when it will have been read."""

    at: datetime
    condition: str
    kind: str = "good"


@dataclass
class HalfYear:
    """One run of the room, by its seed."""

    folder: Path
    seed: int
    days: int = DAYS
    errands: list[Errand] = field(default_factory=list)

    def run(self) -> list[Told]:
        """Everything that was told, in order."""
        self.rng = np.random.default_rng(self.seed)
        self.clock = FakeClock(BEGIN)
        self.room = Room(self.folder)
        self.room.config.write_text(settings())
        self.stock_colours = {stock: self._stock(number) for number, stock in enumerate(STOCKS)}
        for stock, patches in self.stock_colours.items():
            (self.folder / "targets" / f"{stock}.txt").write_text(cgats_text(patches=patches))
        self.conditions = [f"{p}/{s}" for p in PRINTERS for s in STOCKS]
        self.presses = {each: Press(self.rng.normal(0, 0.15, 4)) for each in self.conditions}
        self.wear = {each: self.rng.normal(0, 0.012, 4) for each in PRINTERS}
        self.boxes = Mailboxes(self.clock, self._open)
        self.files = 0
        snapshot = self.room.snapshot()
        people = [
            Addressee(name, tuple(NoticeKind), ("json://127.0.0.1:9/never-called",))
            for name in ("lead", *(f"at-{each}" for each in PRINTERS))
        ]
        self.store = Store(self.room.store, SITE)
        assembly = Assembly(self.store, self.room.store, self.clock, notifier=self.boxes, reader=ReaderHere())
        self.works = assembly.runtime(snapshot, people)
        self.deliverers = assembly.deliverers(snapshot, people)
        self.house = snapshot.house
        for number, condition in enumerate(self.conditions):
            self._plan(condition, 1 + number // 2)
        self.read = 0
        for _ in range(self.days * 48):
            self._half_hour()
            self.clock.advance(STEP.total_seconds())
        with self.store.transaction() as session:
            self.left = session.outbox.counts()
        self.store.close()
        return self.boxes.told

    def _open(self) -> set[int]:
        """The numbers of the cases that are open."""
        with self.store.transaction() as session:
            return {each.number for concerns in session.cases.open().values() for each in concerns.values()}

    # --- the world

    def _stock(self, number: int) -> tuple[Patch, ...]:
        """A stock's own print: paper a little otherwise, solids too."""
        rng = np.random.default_rng(900 + number)
        paper, gain = rng.normal(0, 1.2, 3), rng.normal(1.0, 0.05)
        found = []
        for device, lab in PATCHES:
            share = sum(device) / 100
            shift = paper * max(0.0, 1 - share) + np.array([0.0, lab[1], lab[2]]) * (gain - 1) + (share > 0) * paper
            found.append(Patch(device, _lab(np.array(lab) + shift)))
        return tuple(found)

    def _overnight(self) -> None:
        for printer in PRINTERS:
            self.wear[printer] = 0.98 * self.wear[printer] + self.rng.normal(0, 0.003, 4)
            for stock in STOCKS:
                press = self.presses[f"{printer}/{stock}"]
                press.inks += self.wear[printer] + self.rng.normal(0, 0.03, 4)
            if self._works():
                self._happen(printer)

    def _happen(self, printer: str) -> None:
        if self.rng.random() < 1 / 120:
            self._event(EventKind.HEADS, printer)
            for stock in STOCKS:
                self.presses[f"{printer}/{stock}"].inks = self.rng.normal(0, 0.5, 4)
            for stock in STOCKS:
                self._plan(f"{printer}/{stock}", float(self.rng.integers(1, 4)))
        if self.rng.random() < 1 / 60:
            self._event(EventKind.SERVICE, printer)
        if self.rng.random() < 1 / 40:
            stock = str(self.rng.choice(STOCKS))
            self._event(EventKind.STOCK_LOT, printer, stock, {"lot": f"L{self.rng.integers(1000)}"})
            self.presses[f"{printer}/{stock}"].paper += float(self.rng.normal(0, 0.5))
        if self.rng.random() < 1 / 120:  # a step that nobody tells
            ink = int(self.rng.integers(4))
            step = float(self.rng.choice([-1, 1]) * self.rng.uniform(1, 3))
            for stock in STOCKS:
                self.presses[f"{printer}/{stock}"].inks[ink] += step

    def _event(
        self, kind: EventKind, printer: str, substrate: str | None = None, facts: dict[str, str] | None = None
    ) -> None:
        event = Event(
            kind=kind, printer=printer, substrate=substrate, at=self.clock.now(), facts=facts or {}, told_by="the room"
        )
        with self.store.transaction() as session:
            session.events.add(event, None, self.clock.now())

    def _works(self) -> bool:
        day = self.clock.now().date()
        return day.weekday() < 5 and day.isoformat() not in HOLIDAYS

    def _at_work(self) -> bool:
        return self._works() and time(8) <= self.clock.now().time() < time(17)

    # --- people

    def _half_hour(self) -> None:
        if self.clock.now().time() == time(6):
            self._overnight()
        closed = set(self._measured()) if self._at_work() else set()
        self.works.intake.look(self.house, closed)
        if self.clock.now().minute == 0 or closed:
            moments, waits = {"intake": self.clock.now()}, self.works.untaken()
            self.works.schedule.tick(self.house, (), moments, files_wait=waits)
            while self.works.forecaster is not None and self.works.forecaster.refresh(self.house):
                pass
        for each in self.deliverers:
            while each.step() == 0.0:
                pass
        if self._at_work():
            self._read_notices()

    def _measured(self) -> Iterator[str]:
        due = [each for each in self.errands if each.at <= self.clock.now()]
        self.errands = [each for each in self.errands if each.at > self.clock.now()]
        for errand in due:
            yield str(self._sheet(errand))

    def _sheet(self, errand: Errand) -> Path:
        self.files += 1
        printer, stock = errand.condition.split("/")
        press, inks = self.presses[errand.condition], self.presses[errand.condition].inks
        chance = self.rng.random()
        kind = errand.kind
        if kind == "good" and chance < 0.06:
            kind = ("wet", "stock", "order", "torn")[int(self.rng.choice(4, p=[0.5, 0.15, 0.15, 0.2]))]
        colours = self.stock_colours[stock if kind != "stock" else str(self.rng.choice(STOCKS))]
        shift = inks * 2.5 + (3.0 if kind == "wet" else 0.0)
        patches = []
        for device, lab in colours:
            amounts = np.array(device) / 100
            strength = float(amounts @ shift)
            bare = max(0.0, 1 - float(amounts.sum()))
            value = np.array(lab) + np.array([-1.0, 0.0, 0.0]) * strength + np.array([-press.paper * bare, 0, 0])
            value = value + np.array([0.0, 0.02, 0.02]) * np.array(lab) * strength + self.rng.normal(0, 0.12, 3)
            patches.append(Patch(device, _lab(value)))
        if kind == "order":
            labs = [each.lab for each in patches[1:]][::-1]
            patches = [patches[0], *(Patch(p.device, lab) for p, lab in zip(patches[1:], labs, strict=True))]
        content = cgats_text(patches=patches)
        if kind == "torn":
            content = content[: len(content) // 2] + "END_DATA\n"
        return self.room.put(f"{printer}/{stock}/sheet-{self.files}.txt", content, at=self.clock.now())

    def _plan(self, condition: str, hours: float, kind: str = "good") -> None:
        if any(each.condition == condition for each in self.errands):
            return
        self.errands.append(Errand(self.clock.now() + timedelta(hours=hours), condition, kind))

    def _read_notices(self) -> None:
        for told in self.boxes.told[self.read :]:
            for kind, facts in singles(told):
                self._follow(told.recipient, kind, facts)
        self.read = len(self.boxes.told)

    def _follow(self, recipient: str, kind: str, facts: Any) -> None:
        if self.rng.random() < 0.1:
            return  # overlooked; a reminder will come
        if recipient != "lead" and kind in ("check-due", "never-run", "due-soon"):
            for each in facts.get("conditions") or [facts]:
                self._plan(each["condition"], float(self.rng.uniform(3, 20)))
        elif recipient != "lead" and kind in ("confirm-failure", "wrong-stock", "patch-order", "warning-repeated"):
            self._plan(facts["condition"], float(self.rng.uniform(0.5, 3)), "again")
        elif recipient == "lead" and kind == "check-failed":
            self._recalibrate(facts["condition"])

    def _recalibrate(self, condition: str) -> None:
        printer, stock = condition.split("/")
        self.presses[condition].inks = self.rng.normal(0, 0.2, 4)
        self.presses[condition].paper = 0.0
        self._event(EventKind.RECALIBRATION, printer, stock, {})
        self._plan(condition, float(self.rng.uniform(3, 6)), "again")


def _lab(value: np.ndarray[Any, np.dtype[np.float64]]) -> tuple[float, float, float]:
    lightness, a, b = (round(float(each), 3) for each in value)
    return lightness, a, b


def told_open(kind: str, facts: Any) -> set[int]:
    """The numbers of the cases that a notice tells as open."""
    own = set() if facts.get("step") == CaseStep.CLOSED.value else set(facts.get("cases") or ())
    within = facts["notices"] if kind in WITHIN else ()
    return own.union(*(told_open(each["kind"], each["facts"]) for each in within))


WITHIN = (NoticeKind.SUMMARY.value, NoticeKind.ON_RETURN.value, NoticeKind.HAND_OVER.value)
"""Kinds that hold others."""

ASKED = {"check-failed": "confirm-failure"}
"""What a page says of a condition asks its reader for the same as this kind of notice would."""


def singles(told: Told) -> Iterator[tuple[str, Any]]:
    """What a notice is made of, by kind and facts; of a page what it asks for a condition."""
    if told.kind.value in WITHIN:
        for each in told.facts["notices"]:
            yield each["kind"], each["facts"]
        for each in told.facts.get("conditions", ()):
            stand = each["standing"]
            decides = stand["next_step"] == "decide"
            yield stand["leading"] if decides else ASKED.get(stand["leading"], stand["leading"]), each
    else:
        yield told.kind.value, told.facts
