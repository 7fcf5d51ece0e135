"""Many cases against receivers that misbehave, and an outage of three days; a report from the receivers' logs.

python -m tests.faults.storm            # 1,000 cases, some minutes
"""

from __future__ import annotations

import json
import random
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from datetime import timedelta
from pathlib import Path

from sentinel.adapters.recipients import Addressee
from sentinel.core.cases.kinds import NoticeKind, Trouble
from sentinel.service.health import ServiceFault
from tests.faults.counting import Outcome, outcome
from tests.faults.deliver_and_die import deliver
from tests.faults.receivers import MailReceiver, WebhookReceiver
from tests.support.room import Room, Staff

ILL = ("429", "500", "cut", "swallow", "refuse")
RECIPIENTS = ("mail", "chat", "hook")


class Weather:
    """How receivers meet a request: badly as long as it storms, `hangs` times not at all, otherwise well."""

    def __init__(self, seed: int, share: float, hangs: int = 0) -> None:
        self._chance, self.share, self._hangs = random.Random(seed), share, hangs

    def __call__(self) -> str:
        if self._chance.random() >= self.share:
            return "well"
        if self._hangs and self._chance.random() < 0.3:
            self._hangs -= 1
            return "hang"
        return self._chance.choice(ILL)


class Storm:
    """A store, its service without the threads, and three receivers."""

    def __init__(self, folder: Path, weather: Callable[[], str], apart: int, pace: float, chance: float = 0.0) -> None:
        self.room = Room(folder / "room")
        told = tuple(Addressee(name, tuple(NoticeKind), ("json://never.example",)) for name in RECIPIENTS)
        self.room.configure(extra="[notices]\ncalm_minutes = 0\n")
        self.staff = Staff(self.room, told=told)
        self.receivers: dict[str, MailReceiver | WebhookReceiver] = {
            "mail": MailReceiver(weather),
            "chat": WebhookReceiver(weather),
            "hook": WebhookReceiver(weather),
        }
        self.plan: dict[str, object] = {
            "store": str(self.room.store),
            "clock": str(folder / "clock"),
            "urls": {name: each.url for name, each in self.receivers.items()},
            "apart": apart,
            "pace": pace,
            "chance": chance,
        }

    def holds(self, numbers: Sequence[int]) -> None:
        """These cases are open now, and no others."""
        found = [ServiceFault(Trouble.DROP_FOLDER_MISSING, f"/drop/{number}") for number in numbers]
        self.staff.schedule.tick(self.staff.house, found)

    def deliver_and_die(self) -> int:
        """Delivers everything by processes that are killed between sending and recording; returns how many were."""
        folder, deaths = Path(str(self.plan["clock"])).parent, 0
        self._say_the_time()
        while True:
            plan = folder / "plan.json"
            plan.write_text(json.dumps({**self.plan, "seed": deaths}))
            done = subprocess.run([sys.executable, "-m", "tests.faults.deliver_and_die", plan], check=False)
            if done.returncode == 0:
                return deaths
            assert done.returncode == -9, f"the worker ended with {done.returncode}"
            deaths += 1

    def deliver(self, seconds: float) -> None:
        """Delivers for so long, by the clock of the room, and lets that time pass."""
        self._say_the_time()
        deliver({**self.plan, "seed": 0, "chance": 0.0}, self.staff.clock.now() + timedelta(seconds=seconds))
        self.staff.clock.advance(seconds)

    def _say_the_time(self) -> None:
        Path(str(self.plan["clock"])).write_text(self.staff.clock.now().isoformat())

    def outcomes(self) -> list[Outcome]:
        """What became of everything."""
        return [outcome(self.room.store, name, each.log) for name, each in self.receivers.items()]

    def waiting(self) -> Counter[str]:
        """How many notices have not arrived, by recipient, those inside a summary among them."""
        late = ("waiting", "summarised")
        return Counter(each.notice.recipient for each in self.room.notices() if each.status in late)

    def stop(self) -> None:
        self.staff.store.close()
        for each in self.receivers.values():
            each.stop()


def bad_servers(folder: Path, cases: int, share: float, hangs: int, chance: float) -> tuple[Storm, int]:
    """Cases told one by one to receivers that misbehave in `share` of all requests; half of them end."""
    storm = Storm(folder, Weather(1, share, hangs), apart=10 * cases, pace=300.0, chance=chance)
    storm.holds(range(cases))
    storm.staff.clock.advance(60)
    storm.holds(range(cases // 2))
    return storm, storm.deliver_and_die()


def long_outage(folder: Path, cases: int, apart: int, pace: float, hours: int = 72) -> tuple[Storm, Counter[str]]:
    """Cases spread over an outage of all receivers, half of which end meanwhile; then the receivers are well again.

    Returns how many notices waited, by recipient, when it was over.
    """
    down = True
    storm = Storm(folder, lambda: "refuse" if down else "well", apart, pace)
    for hour in range(0, hours, 4):
        storm.holds(range(cases * hour // (2 * hours), cases * (hour + 4) // hours))
        storm.deliver(4 * 3600)
    waited = storm.waiting()
    down = False
    storm.deliver(3600)
    return storm, waited


def main() -> None:
    """The long run."""
    with tempfile.TemporaryDirectory() as folder:
        storm, deaths = bad_servers(Path(folder) / "bad", 1000, 0.4, 20, 0.005)
        _report(f"1,000 cases, 500 of which end; killed between sending and recording {deaths} times", storm)
        storm, waited = long_outage(Path(folder) / "outage", 1000, apart=10, pace=900.0)
        _report(f"1,000 cases during an outage of 72 hours; {dict(waited)} waited at its end", storm)


def _report(what: str, storm: Storm) -> None:
    print("\n".join([what, *(f"  {each}" for each in storm.outcomes())]), flush=True)  # noqa: T201
    storm.stop()


if __name__ == "__main__":
    main()
