"""The tables. `site` and `seq` are in every record: seq rises over all tables of a site in the order of commits."""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    Boolean,
    Column,
    Float,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

from sentinel.adapters.store.connection import FROM_COLUMN, TO_COLUMN


class Kept(TypeDecorator[Any]):
    """A value that stands in its column as text: `kind` is one of connection.py."""

    impl: Any = Text
    cache_ok = True
    kind: str

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:  # noqa: ARG002
        return None if value is None else TO_COLUMN[self.kind](value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:  # noqa: ARG002
        return None if value is None else FROM_COLUMN[self.kind](value)


class UtcTime(Kept):
    """An aware time."""

    impl = String(27)
    cache_ok = True
    kind = "time"


class Json(Kept):
    """Any JSON value."""

    cache_ok = True
    kind = "json"


class NoticeFacts(Kept):
    """A JSON object, or what is left of one."""

    cache_ok = True
    kind = "notice-facts"


metadata = MetaData()


def _records(name: str, *columns: Any) -> Table:
    return Table(
        name,
        metadata,
        Column("site", String, primary_key=True),
        Column("seq", Integer, primary_key=True, autoincrement=False),
        *columns,
    )


def _derived(name: str, value: str) -> Table:
    """What is worked out of records, one row a printing condition, with what it was worked out from."""
    kept = Column(value, Json, nullable=True)
    return _records(name, _text("condition"), _text("basis"), kept, UniqueConstraint("site", "condition"))


def _text(name: str, nullable: bool = False) -> Column[str]:
    return Column(name, Text, nullable=nullable)


def _count(name: str, nullable: bool = False) -> Column[int]:
    return Column(name, Integer, nullable=nullable)


def _time(name: str, nullable: bool = False) -> Column[Any]:
    return Column(name, UtcTime, nullable=nullable)


counter = Table("counter", metadata, Column("site", String, primary_key=True), _count("last_seq"))

chart = _records(
    "chart",
    _text("hash"),
    _count("patches"),
    Column("inks", Json, nullable=False),
    Column("patch_labels", Json, nullable=False),
    Column("device", LargeBinary, nullable=False),
    UniqueConstraint("site", "hash"),
)

check = _records(
    "check",
    _text("sha256"),
    _count("table_no"),
    _text("condition"),
    _text("file_name"),
    _text("verdict"),
    Column("reasons", Json, nullable=False),
    Column("metrics", Json, nullable=False),
    _time("measured_at"),
    _count("measured_offset_minutes"),
    _time("printed_at", nullable=True),
    _time("arrived_at"),
    _text("target"),
    _text("target_hash"),
    _count("target_table"),
    Column("limits", Json, nullable=False),
    Column("reckoning", Json, nullable=False),
    Column("recovered", Boolean, nullable=False),
    Column("diagnosis", Json, nullable=True),
    Column("moved", Json, nullable=True),
    Column("sheet_pair", Json, nullable=True),
    _count("rules_version"),
    _text("head_set", nullable=True),
    _text("ink_set", nullable=True),
    _text("instrument", nullable=True),
    _text("m_condition", nullable=True),
    _text("backing", nullable=True),
    _text("illuminant", nullable=True),
    _count("observer", nullable=True),
    _count("patches"),
    _count("matched"),
    _text("chart_hash"),
    Column("patch_values", LargeBinary, nullable=False),
    UniqueConstraint("site", "sha256", "table_no", "condition"),
)
Index("check_by_condition", check.c.site, check.c.condition, check.c.measured_at, check.c.seq)
Index("check_by_pair", check.c.site, check.c.arrived_at, sqlite_where=check.c.sheet_pair.is_not(None))
Index("check_by_rules", check.c.site, check.c.rules_version, check.c.measured_at, check.c.seq)

check_rescored = _records(
    "check_rescored",
    _count("check_seq"),
    _count("rules_version"),
    _text("verdict"),
    Column("reasons", Json, nullable=False),
    Column("metrics", Json, nullable=False),
    Column("recovered", Boolean, nullable=False),
    _time("at"),
    UniqueConstraint("site", "check_seq", "rules_version"),
)

check_counter_entry = _records(
    "check_counter_entry",
    _count("check_seq"),
    _text("kind"),
    _count("by_check_seq", nullable=True),
    _text("by", nullable=True),
    _text("note", nullable=True),
    _time("at"),
)

unscored_file = _records(
    "unscored_file",
    _text("sha256", nullable=True),
    _text("file_name"),
    _text("origin"),
    Column("reasons", Json, nullable=False),
    _text("folder_clue"),
    _text("set_aside_as", nullable=True),
    _time("file_time"),
    _time("arrived_at"),
    _text("settings_fingerprint"),
    _time("settled_at", nullable=True),
)

left_file = _records(
    "left_file",
    _text("origin"),
    UniqueConstraint("site", "origin"),
)

event = _records(
    "event",
    _text("kind"),
    _time("at"),
    _text("printer"),
    _text("substrate", nullable=True),
    _text("mode", nullable=True),
    Column("facts", Json, nullable=False),
    _text("told_by", nullable=True),
    _time("recorded_at"),
    _count("undoes_seq", nullable=True),
    _text("source", nullable=True),
    UniqueConstraint("site", "undoes_seq"),
    UniqueConstraint("site", "source"),
)
Index("event_by_kind", event.c.site, event.c.kind, event.c.at, event.c.seq)
Index("event_by_printer", event.c.site, event.c.printer, event.c.at, event.c.seq)

state_edge = _records(
    "state_edge",
    _text("condition"),
    _text("state"),
    Column("reasons", Json, nullable=False),
    _time("at"),
)
Index("state_edge_by_condition", state_edge.c.site, state_edge.c.condition, state_edge.c.seq)

concern = _records(
    "concern",
    _text("subject"),
    _text("kind"),
    _count("case_seq"),
    _count("cause_seq", nullable=True),
    _count("times"),
    _time("opened_at"),
    _time("closed_at", nullable=True),
    _text("severity", nullable=True),
    _time("told_at", nullable=True),
    _count("reminded", nullable=True),
    Column("escalated", Float, nullable=True),
    _time("gone_since", nullable=True),
)
Index("concern_open", concern.c.site, concern.c.closed_at, concern.c.subject)

outbox = _records(
    "outbox",
    _text("key"),
    _text("kind"),
    _text("recipient"),
    _count("url_no"),
    Column("facts", NoticeFacts, nullable=False),
    _time("created_at"),
    _time("next_try_at"),
    _count("tries"),
    _text("status"),
    _text("step", nullable=True),
    _text("severity", nullable=True),
    _count("summary_seq", nullable=True),
    _time("retried_at", nullable=True),
    UniqueConstraint("site", "key", "recipient", "url_no"),
)
Index("outbox_within", outbox.c.site, outbox.c.summary_seq)
Index("outbox_waiting", outbox.c.site, outbox.c.recipient, outbox.c.status, outbox.c.next_try_at)

concern_notice = Table(
    "concern_notice",
    metadata,
    Column("site", String, primary_key=True),
    Column("concern_seq", Integer, primary_key=True, autoincrement=False),
    Column("outbox_seq", Integer, primary_key=True, autoincrement=False),
)
Index(
    "concern_of_notice",
    concern_notice.c.site,
    concern_notice.c.outbox_seq,
    concern_notice.c.concern_seq,
    unique=True,
)

case_silence = _records(
    "case_silence",
    _count("case_seq"),
    Column("acknowledged", Boolean, nullable=False),
    _text("by"),
    _text("note", nullable=True),
    _text("severity"),
    _time("at"),
    _time("until"),
)
Index("silence_of_case", case_silence.c.site, case_silence.c.case_seq)

moment = Table(
    "moment",
    metadata,
    Column("site", String, primary_key=True),
    Column("part", String, primary_key=True),
    _time("at"),
)

delivery = _records(
    "delivery",
    _count("outbox_seq"),
    _time("at"),
    Column("arrived", Boolean, nullable=False),
    _text("answer"),
)

settings_in_force = _records(
    "settings_in_force",
    _text("path"),
    _text("fingerprint"),
    Column("settings", Json, nullable=False),
    _time("since"),
)

target_version = _records(
    "target_version",
    _text("name"),
    _count("version"),
    _text("sha256"),
    _text("source"),
    _text("added_by"),
    _text("approved_by", nullable=True),
    _time("added_at"),
    Column("facts", Json, nullable=False),
    UniqueConstraint("site", "name", "version"),
)

target_retirement = _records(
    "target_retirement",
    _count("target_seq"),
    _text("by"),
    _text("why"),
    _time("at"),
    UniqueConstraint("site", "target_seq"),
)

outlook = _derived("outlook", "foretold")
risk_outlook = _derived("risk_outlook", "expected")
