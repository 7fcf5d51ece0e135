"""Kept targets on a real store: versions are added and retired, an older store is brought up to date."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from sentinel.adapters.store.connection import SCHEMA_VERSION
from sentinel.adapters.store.read_session import ReadSession
from sentinel.adapters.store.store import Store, revision, upgrade, writer
from sentinel.core.scoring.target_versions import KeptTarget, Retirement, TargetVersion
from sentinel.errors import AdminError
from tests.support.clock import NOON
from tests.support.records import check, enqueue, kept_target, notice
from tests.support.room import SITE, rows

GONE = Retirement("Ben", "the stock is gone", NOON)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "store.sqlite"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    opened = Store(path, SITE)
    yield opened
    opened.close()


def target(content: str, name: str = "house") -> KeptTarget:
    return kept_target(1, name, content).target


def add(store: Store, wanted: KeptTarget) -> TargetVersion:
    with store.transaction() as session:
        return session.targets.add(wanted)


def retire(store: Store, name: str, version: int | None, retirement: Retirement) -> TargetVersion:
    with store.transaction() as session:
        return session.targets.retire(name, version, retirement)


def versions(store: Store, name: str) -> list[TargetVersion]:
    with store.transaction() as session:
        return session.targets.versions(name)


def test_versions_count_up_under_their_name_and_come_back_as_they_were(store: Store, path: Path) -> None:
    adopted = replace(target("two"), approved_by="Ben", facts={"spread": {"de00_mean": 0.25}, "unread": []})
    added = [add(store, each) for each in (target("one"), target("one", "strip"), adopted)]
    assert [each.version for each in added] == [1, 1, 2]
    assert versions(store, "house") == [added[0], added[2]]
    assert ReadSession(path, SITE).targets.versions() == [added[0], added[2], added[1]]
    assert ReadSession(path, SITE).targets.versions("strip") == [added[1]]


def test_the_very_content_of_the_version_in_use_is_refused(store: Store) -> None:
    add(store, target("one"))
    with pytest.raises(AdminError, match="another content than that of house version 1, which is in use, got the same"):
        add(store, target("one"))
    assert len(versions(store, "house")) == 1


def test_an_older_content_may_come_back_as_a_new_version(store: Store) -> None:
    for content in ("one", "two", "one"):
        add(store, target(content))
    retire(store, "house", None, GONE)
    assert add(store, target("one")).version == 4


def test_a_retired_version_keeps_who_and_why_and_changes_in_nothing_else(store: Store, path: Path) -> None:
    before = add(store, target("one"))
    kept = rows(path, "SELECT * FROM target_version")
    assert retire(store, "house", None, GONE) == replace(before, retirement=GONE)
    assert versions(store, "house") == [replace(before, retirement=GONE)]
    assert rows(path, "SELECT * FROM target_version") == kept


def test_without_a_number_the_version_in_use_is_retired(store: Store) -> None:
    for content in ("one", "two", "three"):
        add(store, target(content))
    assert retire(store, "house", 3, GONE).version == 3
    assert retire(store, "house", None, GONE).version == 2
    assert [each.version for each in versions(store, "house") if each.retirement is None] == [1]


REFUSED = [
    ("strip", None, "expected a target that was added, got 'strip'"),
    ("house", 3, "expected a version of house from 1 to 2, got 3"),
    ("house", 2, "expected a version of house in use, got 2, which Ben retired"),
]


@pytest.mark.parametrize(("name", "number", "said"), REFUSED)
def test_what_cannot_be_retired_is_refused(store: Store, name: str, number: int | None, said: str) -> None:
    for content in ("one", "two"):
        add(store, target(content))
    retire(store, "house", 2, GONE)
    with pytest.raises(AdminError, match=said):
        retire(store, name, number, GONE)


def test_where_all_are_retired_none_is_in_use_to_retire(store: Store) -> None:
    add(store, target("one"))
    retire(store, "house", None, GONE)
    with pytest.raises(AdminError, match="expected a target with a version in use, got house: all 1 are retired"):
        retire(store, "house", None, GONE)


def test_each_site_keeps_its_own_targets(store: Store, path: Path) -> None:
    other = Store(path, "annexe")
    add(store, target("one"))
    assert versions(other, "house") == []
    assert add(other, target("one")).version == 1
    retire(other, "house", None, GONE)
    assert versions(store, "house")[0].retirement is None
    other.close()


def test_two_people_at_once_get_two_versions(store: Store) -> None:
    with ThreadPoolExecutor(4) as people:
        added = list(people.map(partial(add, store), [target(f"content {number}") for number in range(8)]))
    assert sorted(each.version for each in added) == list(range(1, 9))


def test_targets_take_part_in_the_one_count_of_the_site(store: Store, path: Path) -> None:
    add(store, target("one"))
    with store.transaction() as session:
        enqueue(session, [notice()])
    retire(store, "house", None, GONE)
    assert rows(path, "SELECT seq FROM target_version") == [(1,)]
    assert rows(path, "SELECT seq, target_seq FROM target_retirement") == [(3, 1)]


def test_a_store_without_any_reads_as_one_without_targets(path: Path) -> None:
    assert ReadSession(path, SITE).targets.versions() == []


def test_a_store_of_the_first_schema_is_brought_up_to_date_with_all_it_holds(path: Path) -> None:
    upgrade(writer(path), to="0001")
    assert revision(writer(path)) == "0001"
    with closing(sqlite3.connect(path)) as connection:
        tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
        connection.execute("INSERT INTO left_file (site, seq, origin) VALUES (?, 1, 'before')", (SITE,))
        connection.execute("INSERT INTO counter (site, last_seq) VALUES (?, 1)", (SITE,))
        connection.commit()
    assert "target_version" not in tables
    store = Store(path, SITE)
    with store.transaction() as session:
        assert session.files.left() == {"before"}
        session.checks.add(check())
    assert add(store, target("one")).version == 1
    store.close()
    assert ReadSession(path, SITE).facts().schema_version == SCHEMA_VERSION
    assert rows(path, "SELECT seq FROM target_version") == [(4,)]  # behind the chart and the check
