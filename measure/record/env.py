"""What Alembic runs for each migration: on the connection that `measure.record.migration` gives, in its transaction."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], transactional_ddl=True)
context.run_migrations()
