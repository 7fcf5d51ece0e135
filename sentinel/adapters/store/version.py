"""The version of the tables in a store. Alembic is loaded only where a store is behind."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Engine, inspect, text

from sentinel.errors import StoreError

SCHEMA_VERSION = "0005"
"""The newest revision under migrations/versions."""


class StoreTooNewError(StoreError):
    """The store was written by a newer version of this program."""


def schema_version(engine: Engine) -> str | None:
    """The revision of the store; None for a new and empty one."""
    with engine.begin() as connection:
        if not inspect(connection).has_table("alembic_version"):
            return None
        found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one_or_none()
    return None if found is None else str(found)


def upgrade(engine: Engine, to: str = SCHEMA_VERSION) -> None:
    """Brings the store to SCHEMA_VERSION, or to an older one that is newer than its own, in one transaction.

    Raises StoreTooNewError for a revision this program does not know.
    """
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    found = schema_version(engine)
    if found is not None and found not in known:
        raise StoreTooNewError(f"expected a store of schema {SCHEMA_VERSION} or older, got {found} of a newer program")
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, to)
