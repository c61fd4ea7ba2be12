"""Run the migrations on the connection that the store gives."""

from alembic import context

from changewright.store.schema import METADATA

__all__: list[str] = []

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=METADATA,
    render_as_batch=connection.dialect.name == "sqlite",
)
with context.begin_transaction():
    context.run_migrations()
