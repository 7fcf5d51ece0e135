"""What older programs left otherwise than today's: the columns of the very first stores, and a trouble's old name.

Revision 0001 was changed three times after it was first used, so stores that say 0001 and later differ in two tables.
"""

from __future__ import annotations

import json
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    columns = {name: {each["name"] for each in _inspector().get_columns(name)} for name in ("event", "check")}
    if "substrate" not in columns["event"]:
        _make_events_anew()
    if missing := {"target_table", "reckoning", "recovered"} - columns["check"]:
        _complete_checks(missing)
    _rename_dead_recipients()


def _inspector() -> Any:
    return sa.inspect(op.get_bind())


def _make_events_anew() -> None:
    """The first event tables knew a printer or a condition, and no source. No command wrote into them then."""
    rows = op.get_bind().execute(sa.text("SELECT * FROM event ORDER BY site, seq")).mappings().all()
    op.drop_table("event")
    event = op.create_table(
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
    for row in rows:
        op.get_bind().execute(event.insert().values(**_as_of_today(row)))


def _as_of_today(row: Any) -> dict[str, Any]:
    """A condition is written printer/substrate or printer/substrate/mode."""
    named = [*(row["condition"] or "").split("/"), "", ""]
    kept = {name: value for name, value in row.items() if name not in ("printer", "condition")}
    place = {"printer": row["printer"] or named[0], "substrate": named[1] or None, "mode": named[2] or None}
    return {**kept, **place, "source": None}


PLAIN = {"ink_names": [], "own_groups": {}, "share_beyond": 3.0, "ink_space": True}
"""How every figure was made before a check said how."""

COMPLETED: dict[str, tuple[sa.types.TypeEngine[Any], str]] = {
    "target_table": (sa.Integer(), "1"),
    "reckoning": (sa.Text(), f"'{json.dumps(PLAIN, sort_keys=True)}'"),
    "recovered": (sa.Boolean(), "verdict <> 'fail'"),
}
"""What stood for each of these before there was a column: targets had their first table read; a failing condition was
over with whatever did not fail."""


def _complete_checks(missing: set[str]) -> None:
    for name in sorted(missing):
        kind, value = COMPLETED[name]
        op.add_column("check", sa.Column(name, kind, nullable=True))
        op.execute(f'UPDATE "check" SET {name} = {value}')  # noqa: S608 - literals of this file
    with op.batch_alter_table("check") as table:
        for name in sorted(missing):
            table.alter_column(name, existing_type=COMPLETED[name][0], nullable=False)


def _rename_dead_recipients() -> None:
    """Open trouble is known by its subject: under another one it would be told again."""
    op.execute(
        "UPDATE incident SET subject = 'service:recipient-dead:' || substr(subject, 34) "
        "WHERE kind = 'service-trouble' AND closed_at IS NULL AND subject LIKE 'service:recipient-dead:recipient %' "
        "AND NOT EXISTS (SELECT 1 FROM incident AS known WHERE known.site = incident.site "
        "AND known.kind = incident.kind AND known.closed_at IS NULL "
        "AND known.subject = 'service:recipient-dead:' || substr(incident.subject, 34))"
    )
