"""The first tables."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "chart",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("hash", sa.Text(), nullable=False),
        sa.Column("patches", sa.Integer(), nullable=False),
        sa.Column("inks", sa.Text(), nullable=False),
        sa.Column("patch_labels", sa.Text(), nullable=False),
        sa.Column("device", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("site", "seq"),
        sa.UniqueConstraint("site", "hash"),
    )
    op.create_table(
        "check",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("table_no", sa.Integer(), nullable=False),
        sa.Column("condition", sa.Text(), nullable=False),
        sa.Column("file_name", sa.Text(), nullable=False),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.Column("reasons", sa.Text(), nullable=False),
        sa.Column("metrics", sa.Text(), nullable=False),
        sa.Column("measured_at", sa.String(27), nullable=False),
        sa.Column("measured_offset_minutes", sa.Integer(), nullable=False),
        sa.Column("printed_at", sa.String(27), nullable=True),
        sa.Column("arrived_at", sa.String(27), nullable=False),
        sa.Column("target", sa.Text(), nullable=False),
        sa.Column("target_hash", sa.Text(), nullable=False),
        sa.Column("target_table", sa.Integer(), nullable=False),
        sa.Column("limits", sa.Text(), nullable=False),
        sa.Column("reckoning", sa.Text(), nullable=False),
        sa.Column("recovered", sa.Boolean(), nullable=False),
        sa.Column("rules_version", sa.Integer(), nullable=False),
        sa.Column("head_set", sa.Text(), nullable=True),
        sa.Column("ink_set", sa.Text(), nullable=True),
        sa.Column("instrument", sa.Text(), nullable=True),
        sa.Column("m_condition", sa.Text(), nullable=True),
        sa.Column("backing", sa.Text(), nullable=True),
        sa.Column("illuminant", sa.Text(), nullable=True),
        sa.Column("observer", sa.Integer(), nullable=True),
        sa.Column("patches", sa.Integer(), nullable=False),
        sa.Column("matched", sa.Integer(), nullable=False),
        sa.Column("chart_hash", sa.Text(), nullable=False),
        sa.Column("patch_values", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("site", "seq"),
        sa.UniqueConstraint("site", "sha256", "table_no", "condition"),
    )
    op.create_index("check_by_condition", "check", ["site", "condition", "measured_at", "seq"], unique=False)
    op.create_table(
        "check_counter_entry",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("check_seq", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("by_check_seq", sa.Integer(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("at", sa.String(27), nullable=False),
        sa.PrimaryKeyConstraint("site", "seq"),
    )
    op.create_table(
        "counter",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("last_seq", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("site"),
    )
    op.create_table(
        "delivery",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("outbox_seq", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("arrived", sa.Boolean(), nullable=False),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site", "seq"),
    )
    op.create_table(
        "event",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("printer", sa.Text(), nullable=False),
        sa.Column("substrate", sa.Text(), nullable=True),
        sa.Column("mode", sa.Text(), nullable=True),
        sa.Column("facts", sa.Text(), nullable=False),
        sa.Column("told_by", sa.Text(), nullable=True),
        sa.Column("recorded_at", sa.String(27), nullable=False),
        sa.Column("undoes_seq", sa.Integer(), nullable=True),
        sa.Column("source", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("site", "seq"),
        sa.UniqueConstraint("site", "undoes_seq"),
        sa.UniqueConstraint("site", "source"),
    )
    op.create_index("event_by_printer", "event", ["site", "printer", "at", "seq"], unique=False)
    op.create_table(
        "incident",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("cause_seq", sa.Integer(), nullable=True),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.Column("opened_at", sa.String(27), nullable=False),
        sa.Column("closed_at", sa.String(27), nullable=True),
        sa.PrimaryKeyConstraint("site", "seq"),
    )
    op.create_index("incident_open", "incident", ["site", "closed_at", "subject"], unique=False)
    op.create_table(
        "left_file",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("origin", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site", "seq"),
        sa.UniqueConstraint("site", "origin"),
    )
    op.create_table(
        "outbox",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("recipient", sa.Text(), nullable=False),
        sa.Column("url_no", sa.Integer(), nullable=False),
        sa.Column("facts", sa.Text(), nullable=False),
        sa.Column("created_at", sa.String(27), nullable=False),
        sa.Column("next_try_at", sa.String(27), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("status", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site", "seq"),
        sa.UniqueConstraint("site", "key", "recipient", "url_no"),
    )
    op.create_index("outbox_waiting", "outbox", ["site", "recipient", "status", "next_try_at"], unique=False)
    op.create_table(
        "settings_in_force",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("path", sa.Text(), nullable=False),
        sa.Column("fingerprint", sa.Text(), nullable=False),
        sa.Column("settings", sa.Text(), nullable=False),
        sa.Column("since", sa.String(27), nullable=False),
        sa.PrimaryKeyConstraint("site", "seq"),
    )
    op.create_table(
        "state_edge",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("condition", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("reasons", sa.Text(), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.PrimaryKeyConstraint("site", "seq"),
    )
    op.create_index("state_edge_by_condition", "state_edge", ["site", "condition", "seq"], unique=False)
    op.create_table(
        "unscored_file",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("sha256", sa.Text(), nullable=True),
        sa.Column("file_name", sa.Text(), nullable=False),
        sa.Column("origin", sa.Text(), nullable=False),
        sa.Column("reasons", sa.Text(), nullable=False),
        sa.Column("folder_clue", sa.Text(), nullable=False),
        sa.Column("set_aside_as", sa.Text(), nullable=True),
        sa.Column("file_time", sa.String(27), nullable=False),
        sa.Column("arrived_at", sa.String(27), nullable=False),
        sa.Column("settings_fingerprint", sa.Text(), nullable=False),
        sa.Column("settled_at", sa.String(27), nullable=True),
        sa.PrimaryKeyConstraint("site", "seq"),
    )
