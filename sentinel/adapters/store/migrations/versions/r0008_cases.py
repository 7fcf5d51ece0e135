"""Concerns of one subject are one case with one number; what somebody said is said of the case."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

SEVERITIES = ("routine", "confirm", "alarm", "urgent")
KEPT = (
    "site, seq, subject, kind, cause_seq, times, opened_at, closed_at, severity, told_at, reminded, escalated, "
    "gone_since"
)
SAID = ("acknowledged", '"by"', "note", "severity", '"at"', '"until"')


def upgrade() -> None:
    op.create_table(
        "concern",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("case_seq", sa.Integer(), nullable=False),
        sa.Column("cause_seq", sa.Integer(), nullable=True),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.Column("opened_at", sa.String(27), nullable=False),
        sa.Column("closed_at", sa.String(27), nullable=True),
        sa.Column("severity", sa.Text(), nullable=True),
        sa.Column("told_at", sa.String(27), nullable=True),
        sa.Column("reminded", sa.Integer(), nullable=True),
        sa.Column("escalated", sa.Float(), nullable=True),
        sa.Column("gone_since", sa.String(27), nullable=True),
        sa.PrimaryKeyConstraint("site", "seq"),
    )
    op.execute(
        f"INSERT INTO concern (case_seq, {KEPT}) SELECT CASE WHEN closed_at IS NULL THEN (SELECT min(other.seq) FROM "  # noqa: S608
        "incident AS other WHERE other.site = incident.site AND other.subject = incident.subject AND "
        f"other.closed_at IS NULL) ELSE seq END, {KEPT} FROM incident"
    )
    op.drop_table("incident")
    for index in ("incident_of_notice", "silence_of_incident"):
        op.drop_index(index)
    op.rename_table("incident_notice", "concern_notice")
    op.rename_table("incident_silence", "case_silence")
    op.execute("ALTER TABLE concern_notice RENAME COLUMN incident_seq TO concern_seq")
    op.execute("ALTER TABLE case_silence RENAME COLUMN incident_seq TO case_seq")
    op.add_column("check_counter_entry", sa.Column("by", sa.Text(), nullable=True))
    _merge_silences(op.get_bind())
    op.create_index("silence_of_case", "case_silence", ["site", "case_seq"])
    op.create_index("concern_open", "concern", ["site", "closed_at", "subject"], unique=False)
    op.create_index("concern_of_notice", "concern_notice", ["site", "outbox_seq", "concern_seq"], unique=True)


def _merge_silences(connection: sa.Connection) -> None:
    """What was said of several concerns is said of their case; the word on the most pressing one becomes the newest."""
    rows = connection.execute(
        sa.text(
            f"SELECT s.site, s.seq, c.case_seq, c.severity AS pressing, {', '.join(f's.{each}' for each in SAID)} "  # noqa: S608
            "FROM case_silence AS s JOIN concern AS c ON c.site = s.site AND c.seq = s.case_seq "
            "WHERE c.closed_at IS NULL ORDER BY s.seq"
        )
    ).all()
    said: dict[tuple[str, int], list[Any]] = defaultdict(list)
    for row in rows:
        said[row.site, row.case_seq].append(row)
    assignments = ", ".join(f"{each} = :said{number}" for number, each in enumerate(SAID))
    change = sa.text(f"UPDATE case_silence SET case_seq = :number, {assignments} WHERE site = :site AND seq = :seq")  # noqa: S608
    for (site, number), words in said.items():
        ordered = sorted(words, key=lambda row: (SEVERITIES.index(row.pressing or "alarm"), row.seq))
        for place, word in zip(words, ordered, strict=True):
            told = {f"said{index}": word[4 + index] for index in range(len(SAID))}
            connection.execute(change, {"site": site, "seq": place.seq, "number": number, **told})
