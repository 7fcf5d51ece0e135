"""What the checks of each printing condition foretell, kept so that the light commands need not work it out."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "outlook",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("condition", sa.Text(), nullable=False),
        sa.Column("basis", sa.Text(), nullable=False),
        sa.Column("foretold", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("site", "seq"),
        sa.UniqueConstraint("site", "condition"),
    )
