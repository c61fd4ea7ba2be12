"""The schema's history, a step a file; Alembic runs what a database lacks."""
