"""Checks scored again under later rules, beside their verdicts on record."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "check_rescored",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("check_seq", sa.Integer(), nullable=False),
        sa.Column("rules_version", sa.Integer(), nullable=False),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.Column("reasons", sa.Text(), nullable=False),
        sa.Column("metrics", sa.Text(), nullable=False),
        sa.Column("recovered", sa.Boolean(), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.PrimaryKeyConstraint("site", "seq"),
        sa.UniqueConstraint("site", "check_seq", "rules_version"),
    )
    op.create_index("check_by_rules", "check", ["site", "rules_version", "measured_at", "seq"], unique=False)
