"""What moved on the sheet of a check."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("check", sa.Column("moved", sa.Text(), nullable=True))
