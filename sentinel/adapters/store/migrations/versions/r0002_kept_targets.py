"""Targets that the sentinel keeps itself."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "target_version",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("added_by", sa.Text(), nullable=False),
        sa.Column("approved_by", sa.Text(), nullable=True),
        sa.Column("added_at", sa.String(27), nullable=False),
        sa.Column("facts", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site", "seq"),
        sa.UniqueConstraint("site", "name", "version"),
    )
    op.create_table(
        "target_retirement",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("target_seq", sa.Integer(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.PrimaryKeyConstraint("site", "seq"),
        sa.UniqueConstraint("site", "target_seq"),
    )
