"""The parts of the service, each behind a fence: what breaks in one stops no other, is told, is tried again later."""

from __future__ import annotations

import traceback
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeVar

import structlog

from sentinel.core.cases.kinds import Part, Trouble
from sentinel.errors import ANY_FAULT, PassingError
from sentinel.ports import Clock
from sentinel.service.health import ServiceFault

log = structlog.get_logger()

Result = TypeVar("Result")

FIRST_WAIT_SECONDS = 15.0
LONGEST_WAIT_SECONDS = 300.0
"""A part that broke is tried again at the next occasion, and where it breaks again after these waits."""

AGAIN_SECONDS = 3600.0
"""A fault that comes again within this time is logged without its traceback."""

LONGEST_DETAIL = 200


def waits_after(times: int) -> float:
    """How long a part is left alone that broke so many times in a row."""
    return 0.0 if times < 2 else min(FIRST_WAIT_SECONDS * 2 ** min(times - 2, 20), LONGEST_WAIT_SECONDS)


class FaultLog:
    """Tells a fault with its traceback once in a while, and in a line in between."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._told: dict[object, float] = {}

    def tell(self, name: str, fault: BaseException) -> None:
        """Of the part of this name."""
        now, mark = self._clock.elapsed(), (name, type(fault), _where(fault))
        self._told = {known: at for known, at in self._told.items() if now - at < AGAIN_SECONDS}
        if mark in self._told:
            log.warning("unexpected fault again", part=name, fault=type(fault).__name__)
            return
        self._told[mark] = now
        log.error("work goes on after an unexpected fault", part=name, exc_info=fault)


def _where(fault: BaseException) -> object:
    frame = fault.__traceback__
    while frame is not None and frame.tb_next is not None:
        frame = frame.tb_next
    return None if frame is None else (frame.tb_frame.f_code.co_filename, traceback.extract_tb(frame, 1)[-1].lineno)


@dataclass(slots=True)
class _Broken:
    detail: str
    times: int
    until: float


class Fences:
    """Which parts are broken, and since how many tries. For one thread."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._log = FaultLog(clock)
        self._broken: dict[tuple[Part, str], _Broken] = {}
        self._pieces: dict[Part, dict[str, str]] = {}
        self.store_fault: str | None = None
        """What the store said, where work waits for it since somebody last set this to None."""
        self.first: BaseException | None = None
        """The first fault of all."""

    def run(self, part: Part, work: Callable[[], Result], otherwise: Result, what: str = "") -> Result:
        """What the work of a part gives; `otherwise` where it broke, where the store would not, or where it is too
        soon to try again. A part that has several things to do names each."""
        known = self._broken.get((part, what))
        if known is not None and self._clock.elapsed() < known.until:
            return otherwise
        try:
            result = work()
        except PassingError as fault:
            log.warning("work waits for the store", part=part.value, fault=str(fault))
            self.store_fault = str(fault)
            return otherwise
        except ANY_FAULT as fault:
            self._broke(part, what, fault)
            return otherwise
        self._broken.pop((part, what), None)
        return result

    def went(self, part: Part, work: Callable[[], object], what: str = "") -> bool:
        """Whether the work of a part was done."""

        def done() -> bool:
            work()
            return True

        return self.run(part, done, otherwise=False, what=what)

    def _broke(self, part: Part, what: str, fault: BaseException) -> None:
        self._log.tell(part.value, fault)
        times = self._broken[part, what].times + 1 if (part, what) in self._broken else 1
        self._broken[part, what] = _Broken(fault_text(fault), times, self._clock.elapsed() + waits_after(times))
        self.first = self.first or fault

    def stands(self, part: Part) -> bool:
        """Whether a part did its main work when it was last tried."""
        return (part, "") not in self._broken

    def keep(self, part: Part, broken: Mapping[str, BaseException]) -> None:
        """Exactly these pieces of a part are broken now, as it tells itself: it goes on with the others."""
        before = self._pieces.pop(part, {})
        for piece, fault in broken.items():
            name = named(part, piece)
            if name not in before:
                self._log.tell(name, fault)
            self._pieces.setdefault(part, {})[name] = fault_text(fault)
            self.first = self.first or fault

    def faults(self) -> Iterator[ServiceFault]:
        """A trouble for each part, or piece of one, that is broken."""
        found = {name: detail for pieces in self._pieces.values() for name, detail in pieces.items()}
        found |= {part.value: each.detail for (part, _), each in self._broken.items()}
        for name, detail in found.items():
            yield ServiceFault(Trouble.PART_FAILING, name, detail)


def named(part: Part, of: str = "") -> str:
    """A part, or the piece of it that has a name of its own."""
    return f"{part.value} {of}" if of else part.value


def fault_text(fault: BaseException) -> str:
    """A fault in a line."""
    try:
        said = str(fault)
    except Exception:  # one that cannot even be told must not break what tells it
        said = ""
    text = " ".join(f"{type(fault).__name__}: {said}".removesuffix(": ").split())
    return text if len(text) <= LONGEST_DETAIL else f"{text[:LONGEST_DETAIL]}…"
