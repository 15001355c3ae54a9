"""Run by Alembic: migrate on the connection that `storage.migrate` opened, inside its transaction."""

from alembic import context

from borewright.storage.tables import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata, render_as_batch=True)
context.run_migrations()
