"""Stores of every earlier schema, opened with the program of today: nothing is lost, and nothing is told twice.

Where the stores are from, and how to add one: tests/data/stores/README.md.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

import sentinel
from sentinel.adapters.store.store import Store
from sentinel.core.scoring.score import RULES_VERSION, TOLERANCE
from tests.support import stores
from tests.support.amount import LONG
from tests.support.frozen import freeze
from tests.support.room import SITE
from tests.support.stores import RECIPIENTS, EarlierRoom

OPEN_LIST, NUMBER = "cases", "case"
"""The command that lists what is open, and the key of the number in its JSON."""
CASE_TABLE, SILENCE, SILENCED_SEQ, NOTICE_LINK = "incident", "incident_silence", "incident_seq", "incident_notice"
"""Tables, and a column, of today's schema."""
KEY = re.compile(r"incident-(\d+)-")
"""How the key of a notice begins that tells of one thing, with its number."""

SHORTLY = timedelta(minutes=20)
"""After this every notice that waits may be tried again."""
NUMBERED = {CASE_TABLE, "outbox", "unscored_file"}
MOVING = NUMBERED | {"outlook", "moment", "counter", "alembic_version"}
"""Tables whose rows the service changes, and those of them whose rows begin with site and number and stay."""

LIVE = ("waiting", "summarised")
"""On its way, by itself or inside another notice."""
REMIND = timedelta(hours=24)
"""The wait before the first reminder, where the settings say nothing."""


NAMES = stores.names() if LONG else [stores.names()[0], stores.names()[-1]]
"""With little time the oldest and the newest stand for those between."""
SILENCED = [name for name in NAMES if stores.expected(name).get(SILENCE)]


def every(room: str) -> pytest.MarkDecorator:
    """A test of every store."""
    return pytest.mark.parametrize(room, NAMES, indirect=True)


@pytest.fixture(scope="module", autouse=True)
def _frozen() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patched:
        for variable in RECIPIENTS.values():
            patched.setenv(variable, "")
        freeze(patched.setattr)
        yield


@pytest.fixture
def packed(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[EarlierRoom]:
    """A room that nobody has opened since its last day, at the last moment of that."""
    with closing(EarlierRoom(request.param, tmp_path / "room")) as found:
        yield found


@pytest.fixture
def fresh(packed: EarlierRoom) -> EarlierRoom:
    """The same, opened with the program of today."""
    opened(packed)
    return packed


@pytest.fixture(scope="module")
def room(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[EarlierRoom]:
    """The same, for all who only look."""
    with closing(EarlierRoom(request.param, tmp_path_factory.mktemp("looked-at") / "room")) as found:
        opened(found)
        yield found


Rows = dict[str, list[tuple[Any, ...]]]


@dataclass(frozen=True)
class Round:
    """What one round of the service shortly after the last day tells, and what it leaves."""

    room: EarlierRoom
    before: Rows
    arrived_before: Counter[int]
    told: list[tuple[str, str]]

    @property
    def new_notices(self) -> list[tuple[int, str]]:
        """(seq, step) of what was not in the outbox before."""
        last = max(seq for seq, _, _, _ in outbox(self.room))
        return self.room.rows(f"SELECT seq, step FROM outbox WHERE seq > {last}")  # noqa: S608


@pytest.fixture(scope="module")
def after(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Round]:
    with closing(EarlierRoom(request.param, tmp_path_factory.mktemp("gone-round") / "room")) as found:
        opened(found)
        before, arrivals = found.everything(found.tables()), arrived(found)
        yield Round(found, before, arrivals, later(found, SHORTLY))


def opened(room: EarlierRoom) -> None:
    Store(room.store, SITE).close()


def later(room: EarlierRoom, span: timedelta) -> list[tuple[str, str]]:
    """What the service tells when it goes round so long after the last day."""
    return room.goes_round(room.last + span)


# --- nothing is lost --------------------------------------------------------------------------------------------------


@every("packed")
def test_a_store_is_what_its_builder_found(packed: EarlierRoom) -> None:
    tables = packed.tables()
    assert {name: len(packed.rows(f'SELECT 1 FROM "{name}"')) for name in tables} == packed.expected["rows"]  # noqa: S608
    assert packed.rows("SELECT version_num FROM alembic_version") == [(packed.expected["revision"],)]


@every("packed")
def test_opening_keeps_every_value_of_every_row(packed: EarlierRoom) -> None:
    tables = {name: columns for name, columns in packed.tables().items() if name != "alembic_version"}
    before = packed.everything(tables)
    assert sum(map(len, before.values())) > 100
    opened(packed)
    assert packed.everything(tables) == {
        name: sorted((renamed(row) for row in each), key=repr) for name, each in before.items()
    }
    assert packed.rows("SELECT version_num FROM alembic_version") == [(newest(revisions()),)]


@every("room")
def test_every_notice_that_told_of_something_stays_tied_to_it(room: EarlierRoom) -> None:
    keyed = {(int(found[1]), seq) for seq, key, _, _ in outbox(room) if (found := KEY.match(key))}
    assert keyed
    assert keyed <= set(room.rows(f"SELECT {SILENCED_SEQ}, outbox_seq FROM {NOTICE_LINK}"))  # noqa: S608


@every("room")
def test_every_check_is_listed_with_its_verdict(room: EarlierRoom) -> None:
    shown = room.shows("checks", "--last", "1000")
    assert sorted([each["check"], each["condition"], each["verdict"]] for each in shown) == room.expected["checks"]
    assert all(each["metrics"]["all"]["de00_mean"] >= 0 for each in shown)


@every("room")
def test_what_was_open_is_open_and_what_was_closed_is_closed(room: EarlierRoom) -> None:
    shown = {each[NUMBER]: each for each in room.shows(OPEN_LIST, "--all")}
    for standing in ("open", "closed"):
        found = [each for each in shown.values() if (each["closed_at"] is None) is (standing == "open")]
        told = sorted([each[NUMBER], each["subject"], each["kind"]] for each in found)
        assert told == [list(renamed(each)) for each in room.expected[standing]]
    silences = {
        number: (bool(acknowledged), datetime.fromisoformat(until))
        for number, acknowledged, until in room.expected.get(SILENCE, [])
    }
    assert silences == {
        number: (each["silence"]["acknowledged"], datetime.fromisoformat(each["silence"]["until"]))
        for number, each in shown.items()
        if each["silence"] is not None
    }


@every("room")
def test_every_notice_is_listed_where_it_stood(room: EarlierRoom) -> None:
    shown = room.shows("notify", "list", "--last", "1000")
    assert Counter((each["key"], each["recipient"], each["status"]) for each in shown) == Counter(
        (key, recipient, status) for _, key, recipient, status in outbox(room)
    )


@every("room")
def test_every_notice_can_be_read(room: EarlierRoom) -> None:
    for key in {key for _, key, _, _ in outbox(room)}:
        for shown in room.shows("notify", "show", key):
            assert shown["body"].endswith(key)


@every("room")
def test_every_event_is_listed_undone_ones_among_them(room: EarlierRoom) -> None:
    told = [(seq, kind) for seq, kind, undoes in room.expected["event"] if undoes is None]
    undone = {undoes for _, _, undoes in room.expected["event"] if undoes is not None}
    assert sorted((each["event"], each["kind"]) for each in room.shows("event", "list", "--all")) == told
    held = {each["event"] for each in room.shows("event", "list")}
    assert held == {seq for seq, _ in told} - undone


@every("room")
def test_every_target_version_is_listed_and_retired_ones_stay_retired(room: EarlierRoom) -> None:
    shown = room.shows("target", "list")
    found = sorted([each["target"], each["version"], int(each["state"] == "retired")] for each in shown)
    assert found == room.expected.get("target_version", [])
    for name, version, _ in found:
        assert room.shows_whole("target", "show", f"{name}@{version}")["version"] == version


@every("room")
def test_states_are_those_that_were_announced(room: EarlierRoom) -> None:
    announced = {condition: state for condition, state, _ in room.expected["states"]}
    shown = room.shows_whole("status")["conditions"]
    assert {each["condition"]: each["state"] for each in shown} == announced
    for condition, state in announced.items():
        assert room.shows_whole("explain", condition)["state"] == state


NEW_METRICS = ("density_", "tvd_")
TOLD_OTHERWISE = {"greys", "dark", "skin", "secondaries", "tertiaries"}


@every("room")
def test_every_check_is_scored_again_and_only_what_the_rules_changed_differs(room: EarlierRoom) -> None:
    """Rules of version 2 tell other greys, groups and metrics that are new; all other figures are the same."""
    for seq, _, _ in room.expected["checks"]:
        found = json.loads(room.does("rescore", "--check", str(seq), "--json", codes=(0, 1)))
        if found["recorded_verdict"] == "unscored":  # rows of one patch in two colours are no longer averaged
            assert found["verdict"] == "unscored"
            continue
        figures = [
            name.partition(".")[::2]
            for name, difference in found["differing"].items()
            if difference is None or difference > TOLERANCE  # the stores were built on other machines
        ]
        others = [each for each in figures if each[0] not in TOLD_OTHERWISE and not each[1].startswith(NEW_METRICS)]
        assert others == [], found


# --- nothing is told twice --------------------------------------------------------------------------------------------


@every("after")
def test_what_waits_is_sent_once_and_nothing_that_was_told_is_told_again(after: Round) -> None:
    before = {seq: (recipient, key, status) for seq, key, recipient, status in outbox(after.room)}
    left = {seq: (recipient, key, status) for seq, key, recipient, status in now_in_outbox(after.room)}
    waited = {(recipient, key) for recipient, key, status in before.values() if status == "waiting"}
    new = {(recipient, key) for seq, (recipient, key, _) in left.items() if seq not in before}
    told_in = dict(after.room.rows("SELECT seq, summary_seq FROM outbox WHERE summary_seq IS NOT NULL"))
    inside = {before[seq][:2] for seq, within in told_in.items() if seq in before and within not in before}
    assert Counter(after.told) == Counter((waited | new) - inside)
    arrivals = arrived(after.room)
    for seq, (recipient, key, status) in before.items():
        live = status in LIVE
        assert left[seq] == (recipient, key, "sent" if live else status)
        assert (after.arrived_before[seq], arrivals[seq]) == ((0, 1) if live else 2 * (int(status == "sent"),))


@every("after")
def test_of_what_was_open_people_are_only_reminded_and_only_when_it_is_time(after: Round) -> None:
    was_open = [renamed((subject, kind)) for _, subject, kind in after.room.expected["open"]]
    silent = {number for number, _, _ in after.room.expected.get(SILENCE, [])}
    for seq, step in after.new_notices:
        for number, subject, kind in of_notice(after.room, seq):
            if (subject, kind) in was_open:
                assert step == "reminded"
                assert number not in silent
                assert last_told(after.room, number, seq) <= after.room.last + SHORTLY - REMIND


@every("after")
def test_nothing_is_opened_or_closed_but_trouble_that_was_not_known(after: Round) -> None:
    found = after.room.rows(f"SELECT seq, subject, kind FROM {CASE_TABLE} WHERE closed_at IS NULL ORDER BY seq")  # noqa: S608
    standing = [list(renamed(each)) for each in after.room.expected["open"]]
    assert [list(each) for each in found if list(each) in standing] == standing
    knew_of_the_dead_server = after.room.expected["revision"] >= "0005"
    opened_now = [kind for seq, subject, kind in found if [seq, subject, kind] not in standing]
    assert opened_now == ([] if knew_of_the_dead_server else ["service-trouble"])


@every("after")
def test_a_round_takes_nothing_away(after: Round) -> None:
    now = after.room.everything(after.room.tables())
    for name, kept in after.before.items():
        if name not in MOVING:
            assert not Counter(kept) - Counter(now[name]), name
        elif name in NUMBERED:
            assert {row[:2] for row in kept} <= {row[:2] for row in now[name]}, name


@every("after")
def test_every_verdict_of_earlier_rules_is_scored_again_once_beside_it(after: Round) -> None:
    """Kept as it was, as the test before says."""
    judged = [seq for seq, _, verdict in after.room.expected["checks"] if verdict != "unscored"]
    found = after.room.rows("SELECT check_seq, rules_version, verdict, metrics FROM check_rescored ORDER BY check_seq")
    assert [(seq, rules) for seq, rules, _, _ in found] == [(seq, RULES_VERSION) for seq in judged]
    assert all((verdict == "unscored") is (metrics == "{}") for _, _, verdict, metrics in found)
    assert sum(verdict != "unscored" for _, _, verdict, _ in found) > len(found) / 2


@every("packed")
def test_a_second_round_tells_nothing_and_what_was_given_up_is_sent_once_somebody_asks(fresh: EarlierRoom) -> None:
    assert later(fresh, SHORTLY)
    assert later(fresh, SHORTLY + timedelta(minutes=5)) == []
    dead = {(recipient, key) for _, key, recipient, status in now_in_outbox(fresh) if status == "given-up"}
    assert dead
    fresh.does("notify", "retry")
    told = later(fresh, SHORTLY + timedelta(minutes=9))
    assert dead <= {(recipient, key) for _, key, recipient, status in now_in_outbox(fresh) if status == "sent"}
    assert len(told) == len(set(told))
    in_one = ("summary-", "file-unscored-")  # what came together is told together
    assert all(each in dead or each[1].startswith(in_one) for each in told)


@pytest.mark.parametrize("packed", SILENCED, indirect=True)
def test_silence_is_kept_until_its_time_and_ends_then(fresh: EarlierRoom) -> None:
    later(fresh, SHORTLY)
    for number, _, until in sorted(fresh.expected[SILENCE], key=lambda silence: str(silence[2])):
        end = datetime.fromisoformat(until)
        assert number not in numbers(fresh.goes_round(end - timedelta(minutes=10)))
        assert number in numbers(fresh.goes_round(end + timedelta(minutes=10)))


@pytest.mark.parametrize("packed", ["r0005"], indirect=True)
def test_what_was_held_for_the_daily_summary_comes_with_the_next(fresh: EarlierRoom) -> None:
    [held] = [seq for seq, _, _, status in outbox(fresh) if status == "held"]
    assert all(recipient != "buyer" for recipient, _ in later(fresh, SHORTLY))
    told = fresh.goes_round(datetime(2026, 3, 30, 7, 40, tzinfo=UTC))
    assert [key.split("-")[0] for recipient, key in told if recipient == "buyer"] == ["daily"]
    assert [status for seq, _, _, status in now_in_outbox(fresh) if seq == held] == ["sent"]


def renamed(values: Iterable[Any]) -> tuple[Any, ...]:
    """As opening leaves them: the subject of a recipient that takes nothing was another one once."""
    dead = "service:recipient-dead:"
    return tuple(each.replace(f"{dead}recipient ", dead) if isinstance(each, str) else each for each in values)


def outbox(room: EarlierRoom) -> list[tuple[int, str, str, str]]:
    """(seq, key, recipient, status) of every notice on the last day."""
    return [tuple(each) for each in room.expected["outbox"]]


def now_in_outbox(room: EarlierRoom) -> list[tuple[Any, ...]]:
    return room.rows('SELECT seq, "key", recipient, status FROM outbox ORDER BY seq')


def arrived(room: EarlierRoom) -> Counter[int]:
    """How often each notice has arrived."""
    return Counter(seq for (seq,) in room.rows("SELECT outbox_seq FROM delivery WHERE arrived"))


def of_notice(room: EarlierRoom, seq: int) -> list[tuple[Any, ...]]:
    """(number, subject, kind) of what a notice tells of."""
    return room.rows(
        f"SELECT i.seq, subject, kind FROM {CASE_TABLE} i JOIN {NOTICE_LINK} l ON l.{SILENCED_SEQ} = i.seq "  # noqa: S608
        f"WHERE l.outbox_seq = {seq}"
    )


def last_told(room: EarlierRoom, number: int, before: int) -> datetime:
    """When the notice of it that came before this one was made."""
    [(made,)] = room.rows(
        f"SELECT max(created_at) FROM outbox o JOIN {NOTICE_LINK} l ON l.outbox_seq = o.seq "  # noqa: S608
        f"WHERE l.{SILENCED_SEQ} = {number} AND o.seq < {before} AND o.created_at <= '{room.last:%Y-%m-%dT%H:%M:%S}Z'"
    )
    return datetime.fromisoformat(made)


def numbers(told: list[tuple[str, str]]) -> set[int]:
    """Of what was told, as the keys have it."""
    return {int(found[1]) for _, key in told if (found := KEY.match(key))}


# --- the standing rule ------------------------------------------------------------------------------------------------


def revisions() -> dict[str, str | None]:
    """Every revision of the program of today, with the one before it."""
    found = {}
    for path in Path(sentinel.__path__[0]).rglob("migrations/versions/r*.py"):
        said = dict(re.findall(r'^(revision|down_revision)\b.*?= (?:"(\w+)"|None)$', path.read_text(), re.MULTILINE))
        found[said["revision"]] = said["down_revision"] or None
    return found


def newest(known: dict[str, str | None]) -> str:
    [head] = set(known) - set(known.values())
    return head


def without_store(known: dict[str, str | None], kept: set[str]) -> set[str]:
    """Revisions that a later one migrates from, and of which no store shows that this loses nothing."""
    return {before for before in known.values() if before is not None} - kept


def test_there_is_a_store_of_every_revision_that_a_later_one_migrates_from() -> None:
    known = revisions()
    assert {"0001", "0002", "0003", "0004", "0005"} <= set(known)
    kept = {stores.expected(name)["revision"] for name in stores.names()}
    assert without_store(known, kept) == set(), "tests/data/stores/README.md says how to add one"


def test_a_new_revision_without_a_store_of_the_one_before_would_be_noticed() -> None:
    known = revisions()
    added = known | {"9999": newest(known)}
    assert without_store(added, set(known) - {newest(known)}) == {newest(known)}
