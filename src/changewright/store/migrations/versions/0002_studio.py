"""The studio's part: where a take was asked for, the teacher's word on it, who heard it."""

import sqlalchemy as sa
from alembic import op

__all__ = ["branch_labels", "depends_on", "down_revision", "revision", "upgrade"]

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables, and the column of takes."""
    op.add_column("takes", sa.Column("lesson", sa.Text(), nullable=False, server_default=""))
    op.create_table(
        "corrections",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("take", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("bars", sa.JSON(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["take"], ["takes.id"], name=op.f("fk_corrections_take")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_corrections")),
    )
    op.create_index(op.f("ix_corrections_take"), "corrections", ["take"], unique=False)
    op.create_table(
        "accesses",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("take", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["take"], ["takes.id"], name=op.f("fk_accesses_take")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_accesses")),
    )
    op.create_index(op.f("ix_accesses_take"), "accesses", ["take"], unique=False)
