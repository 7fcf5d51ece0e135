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
CONCERN, NOTICE_LINK = "concern", "concern_notice"
"""Tables of today's schema."""
SILENCE = "incident_silence"
"""Under which name the builder of the stores kept what it found of silences."""
TODAY = {"incident": "concern", "incident_notice": "concern_notice", "incident_silence": "case_silence"}
TODAY_SEQ = {"incident_notice": "concern_seq", "incident_silence": "case_seq"}
"""Tables that have another name today, and what `incident_seq` is called there."""
KEY = re.compile(r"(?:incident|case)-(\d+)-(?:(\d+)-)?")
"""How the key of a notice begins that tells of one thing: the number of its case, and its own where that is another."""

SHORTLY = timedelta(minutes=20)
"""After this every notice that waits may be tried again."""
NUMBERED = {CONCERN, "outbox", "unscored_file"}
MOVING = NUMBERED | {"outlook", "moment", "counter", "alembic_version"}
"""Tables whose rows the service changes, and those of them whose rows begin with site and number and stay."""

PACED = timedelta(minutes=4)
"""After this the next may be told of a kind that may come in hundreds."""

LIVE = ("waiting", "summarised")
"""On its way, by itself or inside another notice."""
REMIND = timedelta(hours=24)
"""The wait before the first reminder, where the settings say nothing."""


NAMES = stores.names() if LONG else [stores.names()[0], stores.names()[-1]]
"""With little time the oldest and the newest stand for those between."""
GIVING_UP = [name for name in NAMES if stores.expected(name)["revision"] < "0008"]
"""From 0008 on nothing is given up that was hardly tried, as in this story."""
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
    """What the service tells when it goes round so long after the last day, and once more for what it paces."""
    told = room.goes_round(room.last + span)
    return told + room.goes_round(room.last + span + PACED)


# --- nothing is lost --------------------------------------------------------------------------------------------------


@every("packed")
def test_a_store_is_what_its_builder_found(packed: EarlierRoom) -> None:
    tables = packed.tables()
    assert {name: len(packed.rows(f'SELECT 1 FROM "{name}"')) for name in tables} == packed.expected["rows"]  # noqa: S608
    assert packed.rows("SELECT version_num FROM alembic_version") == [(packed.expected["revision"],)]


@every("packed")
def test_opening_keeps_every_value_of_every_row(packed: EarlierRoom) -> None:
    """But for the number under which silences are: what was said of something is said of its case now."""
    tables = {name: columns for name, columns in packed.tables().items() if name != "alembic_version"}
    before = packed.everything(tables)
    assert sum(map(len, before.values())) > 100
    opened(packed)
    numbers = dict(packed.rows("SELECT seq, case_seq FROM concern"))
    told = {name: sorted((renamed(row) for row in each), key=repr) for name, each in before.items()}
    if SILENCE in tables:
        place = tables[SILENCE].index("incident_seq")
        told[SILENCE] = sorted(
            ((*row[:place], numbers[row[place]], *row[place + 1 :]) for row in told[SILENCE]), key=repr
        )
    found = packed.everything({TODAY.get(name, name): _today(name, columns) for name, columns in tables.items()})
    assert found == {TODAY.get(name, name): each for name, each in told.items()}
    assert packed.rows("SELECT version_num FROM alembic_version") == [(newest(revisions()),)]


def _today(name: str, columns: list[str]) -> list[str]:
    return [TODAY_SEQ.get(name, column) if column == "incident_seq" else column for column in columns]


@every("room")
def test_every_notice_that_told_of_something_stays_tied_to_it(room: EarlierRoom) -> None:
    keyed = {(number, seq) for seq, key, _, _ in outbox(room) if (number := concern_of(key)) is not None}
    assert keyed
    assert keyed <= set(room.rows(f"SELECT concern_seq, outbox_seq FROM {NOTICE_LINK}"))  # noqa: S608


@every("room")
def test_every_check_is_listed_with_its_verdict(room: EarlierRoom) -> None:
    shown = room.shows("checks", "--last", "1000")
    assert sorted([each["check"], each["condition"], each["verdict"]] for each in shown) == room.expected["checks"]
    assert all(each["metrics"]["all"]["de00_mean"] >= 0 for each in shown)


@every("room")
def test_what_moved_on_a_sheet_of_an_earlier_program_is_not_known(room: EarlierRoom) -> None:
    """Not known, which is not nothing; what moved is kept from 0009 on."""
    shown = [each["moved"] for each in room.shows("checks", "--last", "1000")]
    assert all(each is None for each in shown) is (room.expected["revision"] < "0009")


@every("room")
def test_no_check_of_an_earlier_program_teaches_how_sheets_move(room: EarlierRoom) -> None:
    """From 0010 on a check keeps what its sheet differs from the one before it; what came before stays without."""
    [(checks, pairs)] = room.rows('SELECT count(*), count(sheet_pair) FROM "check"')
    assert checks == len(room.expected["checks"])
    assert (pairs > 0) is (room.expected["revision"] >= "0010")


@every("room")
def test_what_was_open_is_open_and_what_was_closed_is_closed(room: EarlierRoom) -> None:
    shown = {each[NUMBER]: each for each in room.shows(OPEN_LIST, "--all")}
    for standing in ("open", "closed"):
        told = sorted(
            [concern["concern"], each["subject"], concern["kind"]]
            for each in shown.values()
            for concern in each["concerns"]
            if (concern["closed_at"] is None) is (standing == "open")
        )
        assert told == [list(renamed(each)) for each in room.expected[standing]]
    open_cases = [each for each in shown.values() if each["closed_at"] is None]
    first: dict[str, int] = {}  # what is open of one subject is one case, with the number that was told first
    for number, subject, _ in map(renamed, room.expected["open"]):
        first.setdefault(subject, number)
    first |= dict(room.expected.get("cases", []))  # of a store that knew cases: that of one that is closed by now
    assert {each["subject"]: each[NUMBER] for each in open_cases} == first
    silences = {
        first[subject]: (bool(acknowledged), datetime.fromisoformat(until))
        for number, acknowledged, until in room.expected.get(SILENCE, [])
        for seq, subject, _ in map(renamed, room.expected["open"])
        if seq == number
    }
    assert len(silences) == len(room.expected.get(SILENCE, []))
    assert silences == {
        number: (each["silence"]["acknowledged"], datetime.fromisoformat(each["silence"]["until"]))
        for number, each in shown.items()
        if each["silence"] is not None
    }


@every("packed")
def test_every_open_case_takes_an_answer_by_any_number_it_was_told_under(packed: EarlierRoom) -> None:
    opened(packed)
    for number, subject, _ in map(renamed, packed.expected["open"]):
        [done] = packed.shows("ack", f"case-{number}", "--by", "Ana")
        assert (done["subject"], done["silence"]["by"]) == (subject, "Ana")


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
    found = after.room.rows(f"SELECT seq, subject, kind FROM {CONCERN} WHERE closed_at IS NULL ORDER BY seq")  # noqa: S608
    standing = [list(renamed(each)) for each in after.room.expected["open"]]
    assert [list(each) for each in found if list(each) in standing] == standing
    knew_of_the_dead_server = after.room.expected["revision"] >= "0005"
    new = [(subject, kind) for seq, subject, kind in found if [seq, subject, kind] not in standing]
    drifting = [subject for subject, kind in new if kind == "drift-confirmed"]  # no earlier program knew of it
    assert len(drifting) == len(set(drifting))
    opened_now = [kind for _, kind in new if kind != "drift-confirmed"]
    assert opened_now == ([] if knew_of_the_dead_server else ["service-trouble"])


@every("after")
def test_what_a_printer_s_wear_brings_is_derived_and_calls_for_nothing_where_age_does(after: Round) -> None:
    """From 0011 on it is kept beside the forecasts."""
    kept = {condition for (condition,) in after.room.rows("SELECT condition FROM risk_outlook WHERE expected NOT NULL")}
    assert kept
    assert kept <= {condition for (condition,) in after.room.rows('SELECT DISTINCT condition FROM "check"')}
    reasons = after.room.rows("SELECT reasons FROM state_edge")
    assert not any('"risk"' in str(each) for (each,) in reasons)


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
    """Kept as it was, as the test before says. A program that had today's rules left nothing to score again."""
    of_today = {seq for (seq,) in after.room.rows(f'SELECT seq FROM "check" WHERE rules_version = {RULES_VERSION}')}  # noqa: S608
    assert not of_today or after.room.expected["revision"] >= "0007"
    judged = [seq for seq, _, verdict in after.room.expected["checks"] if verdict != "unscored" and seq not in of_today]
    found = after.room.rows("SELECT check_seq, rules_version, verdict, metrics FROM check_rescored ORDER BY check_seq")
    assert [(seq, rules) for seq, rules, _, _ in found] == [(seq, RULES_VERSION) for seq in judged]
    assert all((verdict == "unscored") is (metrics == "{}") for _, _, verdict, metrics in found)
    assert not judged or sum(verdict != "unscored" for _, _, verdict, _ in found) > len(found) / 2


@every("packed")
def test_a_second_round_tells_nothing(fresh: EarlierRoom) -> None:
    assert later(fresh, SHORTLY)
    assert later(fresh, SHORTLY + timedelta(minutes=5)) == []


@pytest.mark.parametrize("packed", GIVING_UP, indirect=True)
def test_what_was_given_up_is_sent_once_somebody_asks(fresh: EarlierRoom) -> None:
    later(fresh, SHORTLY)
    later(fresh, SHORTLY + timedelta(minutes=5))
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
        f"SELECT i.seq, subject, kind FROM {CONCERN} i JOIN {NOTICE_LINK} l ON l.concern_seq = i.seq "  # noqa: S608
        f"WHERE l.outbox_seq = {seq}"
    )


def last_told(room: EarlierRoom, number: int, before: int) -> datetime:
    """When the notice of it that came before this one was made."""
    [(made,)] = room.rows(
        f"SELECT max(created_at) FROM outbox o JOIN {NOTICE_LINK} l ON l.outbox_seq = o.seq "  # noqa: S608
        f"WHERE l.concern_seq = {number} AND o.seq < {before} AND o.created_at <= '{room.last:%Y-%m-%dT%H:%M:%S}Z'"
    )
    return datetime.fromisoformat(made)


def numbers(told: list[tuple[str, str]]) -> set[int]:
    """Of what was told, as the keys have it."""
    return {number for _, key in told if (number := concern_of(key)) is not None}


def concern_of(key: str) -> int | None:
    """The number of the one thing that a notice tells of, from its key."""
    found = KEY.match(key)
    return None if found is None else int(found[2] or found[1])


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
