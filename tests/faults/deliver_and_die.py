"""Delivers what waits in a store, and kills itself now and then between sending a notice and recording it.

    python -m tests.faults.deliver_and_die PLAN

PLAN is a JSON file: `store`, `clock` (a file with the time of day), `urls` (by recipient), `apart`, `pace` (the
seconds between two rounds of tries), `chance` and `seed` of dying. Ends with 0 when nothing waits any more.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path

from sentinel.adapters.notifier import AppriseNotifier
from sentinel.adapters.recipients import Addressee
from sentinel.adapters.store.store import Store
from sentinel.core.cases.kinds import NoticeKind
from sentinel.render.notices import Letter
from sentinel.service.deliver import Deliverer, RetryPolicy
from tests.support.clock import FakeClock
from tests.support.room import SITE

TIMEOUT_SECONDS = 0.5


class Deadly(AppriseNotifier):
    """Sends, and may not live to tell."""

    def __init__(self, addressees: list[Addressee], chance: random.Random, share: float) -> None:
        super().__init__(addressees, TIMEOUT_SECONDS)
        self._chance, self._share = chance, share

    def send(self, recipient: str, url_no: int, letter: Letter) -> str | None:
        answer = super().send(recipient, url_no, letter)
        if answer is None and self._chance.random() < self._share:
            os.kill(os.getpid(), signal.SIGKILL)
        return answer


def deliver(plan: dict[str, object], until: datetime | None = None) -> None:
    """Tries what waits, lets time pass, and so on, until nothing waits or the time has come."""
    store, place = Store(Path(str(plan["store"])), SITE), Path(str(plan["clock"]))
    clock = FakeClock(datetime.fromisoformat(place.read_text()))
    urls: dict[str, str] = plan["urls"]  # type: ignore[assignment]
    told = [Addressee(name, tuple(NoticeKind), (url,)) for name, url in urls.items()]
    notifier = Deadly(told, random.Random(str(plan["seed"])), float(str(plan["chance"])))
    retry_policy = RetryPolicy(
        timedelta(seconds=10), timedelta(minutes=15), timedelta(hours=168), int(str(plan["apart"]))
    )
    workers = [Deliverer(each.name, store, notifier, clock, retry_policy) for each in told]
    while _anything_waits(store, urls) and (until is None or clock.now() < until):
        for worker in workers:
            while worker.step() == 0.0:
                pass
        clock.advance(float(str(plan["pace"])))
        place.write_text(clock.now().isoformat())
    store.close()


def _anything_waits(store: Store, recipients: Iterable[str]) -> bool:
    with store.transaction() as session:
        return any(session.outbox.next_try_at(name) for name in recipients)


if __name__ == "__main__":
    deliver(json.loads(Path(sys.argv[1]).read_text()))
