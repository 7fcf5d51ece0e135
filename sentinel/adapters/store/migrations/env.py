"""Run by Alembic: applies the revisions on the connection it is given, inside the caller's transaction."""

from alembic import context

from sentinel.adapters.store.schema import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata, render_as_batch=True)
context.run_migrations()
