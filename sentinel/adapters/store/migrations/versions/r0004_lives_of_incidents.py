"""The lives of incidents: whom each notice told of which, who keeps silent, and when each part last worked."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    for column in (
        sa.Column("severity", sa.Text(), nullable=True),
        sa.Column("told_at", sa.String(27), nullable=True),
        sa.Column("reminded", sa.Integer(), nullable=True),
        sa.Column("escalated", sa.Float(), nullable=True),
        sa.Column("gone_since", sa.String(27), nullable=True),
    ):
        op.add_column("incident", column)
    for column in (
        sa.Column("step", sa.Text(), nullable=True),
        sa.Column("severity", sa.Text(), nullable=True),
        sa.Column("summary_seq", sa.Integer(), nullable=True),
        sa.Column("retried_at", sa.String(27), nullable=True),
    ):
        op.add_column("outbox", column)
    op.create_index("outbox_within", "outbox", ["site", "summary_seq"])
    _make_tables()
    # the keys of older notices begin with `incident-` and the incident's number; SQLite's CAST stops at its end
    op.execute(
        "INSERT INTO incident_notice (site, incident_seq, outbox_seq) "
        "SELECT site, CAST(substr(key, 10) AS INTEGER), seq FROM outbox WHERE key LIKE 'incident-%'"
    )


def _make_tables() -> None:
    op.create_table(
        "incident_notice",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("incident_seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("outbox_seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.PrimaryKeyConstraint("site", "incident_seq", "outbox_seq"),
    )
    op.create_index("incident_of_notice", "incident_notice", ["site", "outbox_seq", "incident_seq"], unique=True)
    op.create_table(
        "incident_silence",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("incident_seq", sa.Integer(), nullable=False),
        sa.Column("acknowledged", sa.Boolean(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("severity", sa.Text(), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("until", sa.String(27), nullable=False),
        sa.PrimaryKeyConstraint("site", "seq"),
    )
    op.create_index("silence_of_incident", "incident_silence", ["site", "incident_seq"])
    op.create_table(
        "moment",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("part", sa.String(), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.PrimaryKeyConstraint("site", "part"),
    )
