"""How likely each printing condition is out of tolerance in the days to come, by the wear of its printer."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "risk_outlook",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("condition", sa.Text(), nullable=False),
        sa.Column("basis", sa.Text(), nullable=False),
        sa.Column("expected", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("site", "seq"),
        sa.UniqueConstraint("site", "condition"),
    )
