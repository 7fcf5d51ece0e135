"""By how much the sheet of a check differs from the one before it, hours apart with nothing done between; and events
found by their kind."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("check", sa.Column("sheet_pair", sa.Text(), nullable=True))
    op.create_index(
        "check_by_pair",
        "check",
        ["site", "arrived_at"],
        sqlite_where=sa.text("sheet_pair IS NOT NULL"),
    )
    op.create_index("event_by_kind", "event", ["site", "kind", "at", "seq"])
