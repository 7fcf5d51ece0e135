"""The questions of the light commands: their frozen text is that of the statements, and so are the answers."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from sentinel.adapters.store import freeze, frozen, statements
from sentinel.adapters.store.connection import Asked, connected_to_read
from sentinel.adapters.store.read_session import RowReader, text_of
from sentinel.adapters.store.store import Store, transaction, writer
from tests.support.room import SITE
from tests.support.stores import EarlierRoom

PARAMETERS: dict[str, Any] = {
    "at": datetime(2026, 3, 20, tzinfo=UTC), "condition": "north/satin-240",
    "conditions": ["north/satin-240", "south/matte-190"], "name": "aim", "printers": ["north"], "recent": 3,
    "kinds": ["recalibration", "service", "stock-lot", "printed-area"],
    "since": datetime(2026, 3, 10, tzinfo=UTC),
}  # fmt: skip


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A print room of 28 days, brought up to date."""
    with closing(EarlierRoom("r0005", tmp_path_factory.mktemp("asked") / "room")) as room:
        Store(room.store, SITE).close()
        with closing(sqlite3.connect(room.store)) as connection, connection:
            connection.execute(
                "INSERT INTO risk_outlook SELECT site, seq + 100000, condition, basis, foretold FROM outlook"
            )
            # some that arrived came late
            connection.execute(
                "UPDATE outbox SET tries = 2 WHERE seq IN (SELECT outbox_seq FROM delivery WHERE arrived)"
            )
        yield room.store


def test_the_frozen_text_is_what_the_statements_compile_to() -> None:
    assert set(freeze.LIGHT) == set(frozen.FROZEN)
    for asked, kept in frozen.FROZEN.items():
        assert kept == freeze.frozen(asked), "python -m sentinel.adapters.store.freeze"
    assert Path(frozen.__file__).read_text(encoding="utf-8") == freeze.module()


def both_answers(path: Path, asked: Asked) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """By sqlite3 with the text, and by SQLAlchemy with the statement."""
    question, names = asked
    keys = [key for (key,) in connected_to_read(path).execute("SELECT sha256 FROM unscored_file WHERE sha256 NOT NULL")]
    [[seq]] = connected_to_read(path).execute('SELECT max(seq) FROM "check"')
    values = {name: {"keys": keys, "seq": seq}.get(name) or PARAMETERS[name] for name in names}
    with closing(connected_to_read(path)) as connection:
        light = [vars(row) for row in RowReader(connection, SITE, text_of).rows(question, **values)]
    with transaction(writer(path)) as heavy:
        answer = heavy.execute(statements.statement(asked), {"site": SITE, **values})
        return light, [dict(row._mapping) for row in answer]


@pytest.mark.parametrize("asked", freeze.LIGHT, ids=str)
def test_a_frozen_question_has_the_answer_of_its_statement(store: Path, asked: Asked) -> None:
    light, heavy = both_answers(store, asked)
    assert light == heavy
    assert light
    assert [[type(value) for value in row.values()] for row in light] == [
        [type(value) for value in row.values()] for row in heavy
    ]


OTHERS: tuple[Asked, ...] = (
    ("checks_behind", ("last", "rules")), ("conditions_behind", ("conditions", "rules")),
    ("drift_readings", ("conditions", "most")), ("drift_readings", ("conditions", "most", "since")),
    ("forecasts", ("conditions",)), ("listed_notices", ("last",)),
    ("listed_notices", ("recipient", "statuses")), ("past_scores", ()), ("recorded_checks", ()),
    ("patches", ("seqs",)), ("readings", ("at", "conditions", "since")), ("recorded_events", ("printers", "since")),
)  # fmt: skip


@pytest.mark.parametrize("asked", OTHERS, ids=str)
def test_so_has_one_that_is_compiled_when_it_is_asked(
    store: Path, asked: Asked, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in {
        "last": 5,
        "most": 4,
        "seqs": list(range(1000)),
        "rules": 2,
        "recipient": "night-desk",
        "statuses": ["sent", "given-up"],
    }.items():
        monkeypatch.setitem(PARAMETERS, name, value)
    light, heavy = both_answers(store, asked)
    assert light == heavy
    assert light


def test_an_empty_list_asks_for_nothing(store: Path) -> None:
    with closing(connected_to_read(store)) as connection:
        assert RowReader(connection, SITE, text_of).rows("unscored_places", keys=[]) == []
        assert RowReader(connection, SITE, text_of).rows("recorded_events", printers=[]) == []


def test_a_question_that_does_not_exist_is_told_at_once() -> None:
    with pytest.raises(KeyError):
        statements.statement(("weather", ()))
