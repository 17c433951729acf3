"""Run by Alembic: applies the steps on the connection `opening.bring_up_to_date` hands over, in its transaction."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], transactional_ddl=True)
with context.begin_transaction():
    context.run_migrations()
