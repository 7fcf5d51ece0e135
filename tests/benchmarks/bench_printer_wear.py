"""Speed of following a printer. Run: python -m tests.benchmarks.bench_printer_wear

20 printing conditions with 24 figures each, a check of one of them every 8.4 hours. Ratios come from one run: scoring
one sheet of 1617 patches is the measure. Taking a check and the curves of 60 days are processor time of one thread; the
printer derived anew is ten years in a store, with all that is read and written.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from statistics import median

import numpy as np

from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.forecasts import FigureBounds
from sentinel.core.drift.figures import SHEET, SIGNED, TONE, Figure
from sentinel.core.drift.forecast import Reading
from sentinel.core.drift.printer_outlook import FollowedPrinter, PrinterSheet, WatchedPrinter
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.metrics import figures_of
from sentinel.core.scoring.policy import ScoringOptions
from sentinel.core.scoring.score import RULES_VERSION
from tests.support import records
from tests.support.clock import NOON
from tests.support.room import Room, Staff
from tests.unit.core.diagnosis.sheets import Press, full_chart, measurement

INKS, STOCKS, YEARS = "CMYK", 20, 10
BETWEEN = timedelta(hours=8.4)
NAMES = [f"north/stock-{number:02}" for number in range(STOCKS)]
FIGURES = [
    *(Figure(group, metric) for group in ("paper", "greys", *(f"solid_{ink}" for ink in INKS)) for metric in SIGNED),
    *(Figure(f"tones_{ink}", TONE) for ink in INKS),
    *(Figure(SHEET, metric) for metric in ("de00_mean", "de00_p95")),
]
BOUNDS = [FigureBounds(figure.group, figure.metric, None if figure.group == SHEET else -3.0, 3.0) for figure in FIGURES]
ROUNDS = 21


def main() -> None:
    """Prints medians, and their ratios to the scoring of a sheet."""
    scoring = _scoring()
    _say(f"scoring a sheet of 1617 patches: {scoring:.1f} ms")
    for stocks in (1, 8, STOCKS):
        printer, sheets = _followed(stocks)
        taking = _median(_taking(printer, sheets), 300)
        curves = _median(lambda printer=printer, of=NAMES[:stocks]: printer.outlooks(dict.fromkeys(of, BOUNDS)))  # type: ignore[misc]
        _say(
            f"{stocks} printing conditions: a check {taking:.2f} ms, {taking / scoring:.2f} of the scoring "
            f"(wanted: 5 ms); curves of all {curves:.1f} ms, {curves / scoring:.2f} of the scoring (wanted: 50 ms)"
        )
    with tempfile.TemporaryDirectory() as folder:
        _ten_years(Path(folder), scoring)


def _scoring() -> float:
    chart = full_chart(4, 1617)
    target, sample = (measurement(chart, Press(4, seed=seed).spectra(chart)) for seed in (1, 2))
    return _median(lambda: figures_of(match(target, sample), ScoringOptions()))


def _followed(stocks: int) -> tuple[FollowedPrinter, Sequence[PrinterSheet]]:
    """A printer behind a year, and further sheets."""
    rng = np.random.default_rng(1)
    sheets = []
    for number in range(1000 + ROUNDS * 20):
        values = np.abs(rng.normal(0.0, 0.3, len(FIGURES))) + 0.0005 * number
        reading = Reading(number + 1, NOON + number * BETWEEN, dict(zip(FIGURES, values.tolist(), strict=True)))
        sheets.append(PrinterSheet(NAMES[number % stocks], "aim", reading))
    printer = FollowedPrinter(WatchedPrinter.of(NAMES[:stocks], sheets))
    printer.go_on(sheets, 1000)
    return printer, sheets


def _taking(printer: FollowedPrinter, sheets: Sequence[PrinterSheet]) -> Callable[[], object]:
    coming: Iterator[PrinterSheet] = iter(sheets[printer.taken :])
    return lambda: printer.take(next(coming))


def _ten_years(folder: Path, scoring: float) -> None:
    names = [name.removeprefix("north/") for name in NAMES]
    room = Room(folder / "room")
    room.configure(
        extra="".join(f'[substrates.{name}]\n[conditions."north/{name}"]\ntargets = ["house"]\n' for name in names)
    )
    staff, rng = Staff(room), np.random.default_rng(2)
    checks = int(YEARS * timedelta(days=365) / BETWEEN)
    with staff.store.transaction() as session:
        for number in range(checks):
            groups: dict[str, dict[str, float]] = {}
            for figure, value in zip(FIGURES, rng.normal(0.0, 0.3, len(FIGURES)).tolist(), strict=True):
                groups.setdefault(figure.group, {})[figure.metric] = value
            at = NOON + number * BETWEEN
            plain = records.check(f"{number}", NAMES[number % STOCKS], measured_at=at)
            session.checks.add(replace(plain, target="house", metrics=groups, rules_version=RULES_VERSION))
            if number % 300 == 0:
                session.events.add(Event(EventKind.SERVICE, at, "north"), None, at)
    staff.clock.advance(days=365 * YEARS)
    foretelling = _taken(lambda: _settle(staff))
    with staff.store.transaction() as session:
        for name in NAMES:
            session.risks.keep(name, "of another day", None)
    staff.restart()
    anew = _taken(lambda: _settle(staff))
    with staff.store.transaction() as session:
        session.events.add(Event(EventKind.SERVICE, staff.clock.now(), "north"), None, staff.clock.now())
    on = _taken(lambda: _settle(staff))
    _say(
        f"{checks} checks of {YEARS} years on one printer: derived anew {anew:.2f} s, "
        f"{1e3 * anew / scoring:.0f} scorings (wanted: 2 s)"
    )
    _say(f"with forecasts and states of all conditions: {foretelling:.2f} s, {on:.2f} s after one more event")


def _settle(staff: Staff) -> None:
    while staff.forecaster.refresh(staff.house):
        pass


def _taken(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def _median(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    taken = []
    for _ in range(rounds):
        began = time.thread_time()
        work()
        taken.append(1e3 * (time.thread_time() - began))
    return median(taken)


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


if __name__ == "__main__":
    main()
