"""The roster: students, tunes, exercises, takes, hearings, notes, plans, marks, the journal."""

import sqlalchemy as sa
from alembic import op

__all__ = ["branch_labels", "depends_on", "down_revision", "revision", "upgrade"]

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    for make in (
        _journal,
        _tunes,
        _students,
        _consents,
        _exercises,
        _lesson_notes,
        _phrases,
        _plans,
        _teacher_marks,
        _takes,
        _hearings,
    ):
        make()


def _journal() -> None:
    op.create_table(
        "journal",
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("session", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("action", sa.Text(), nullable=False),
        sa.Column("steps", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_journal")),
    )


def _tunes() -> None:
    op.create_table(
        "tunes",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("chart", sa.Text(), nullable=False),
        sa.Column("rights", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tunes")),
    )


def _students() -> None:
    op.create_table(
        "students",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("nickname", sa.Text(), nullable=False),
        sa.Column("instrument", sa.Text(), nullable=False),
        sa.Column("level", sa.Integer(), nullable=False),
        sa.Column("age_band", sa.Text(), nullable=False),
        sa.Column("goals", sa.Text(), nullable=False),
        sa.Column("constraints", sa.Text(), nullable=False),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.Column("days", sa.JSON(), nullable=False),
        sa.Column("lesson_day", sa.Integer(), nullable=False),
        sa.Column("home_key", sa.Text(), nullable=False),
        sa.Column("range_low", sa.Text(), nullable=False),
        sa.Column("range_high", sa.Text(), nullable=False),
        sa.Column("reading", sa.Integer(), nullable=False),
        sa.Column("tune", sa.String(length=32), nullable=True),
        sa.Column("concert", sa.Date(), nullable=True),
        sa.Column("ended", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["tune"], ["tunes.id"], name=op.f("fk_students_tune")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_students")),
        sa.UniqueConstraint("nickname", name=op.f("uq_students_nickname")),
    )
    op.create_index(op.f("ix_students_tune"), "students", ["tune"], unique=False)


def _consents() -> None:
    op.create_table(
        "consents",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("student", sa.String(length=32), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("given_by", sa.Text(), nullable=False),
        sa.Column("given", sa.Date(), nullable=False),
        sa.Column("withdrawn", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["student"], ["students.id"], name=op.f("fk_consents_student")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_consents")),
    )
    op.create_index(op.f("ix_consents_student"), "consents", ["student"], unique=False)


def _exercises() -> None:
    op.create_table(
        "exercises",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("student", sa.String(length=32), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("recipe", sa.JSON(), nullable=False),
        sa.Column("sheet", sa.JSON(), nullable=False),
        sa.Column("clock", sa.JSON(), nullable=False),
        sa.Column("given", sa.Date(), nullable=False),
        sa.Column("tune", sa.String(length=32), nullable=True),
        sa.ForeignKeyConstraint(["student"], ["students.id"], name=op.f("fk_exercises_student")),
        sa.ForeignKeyConstraint(["tune"], ["tunes.id"], name=op.f("fk_exercises_tune")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_exercises")),
    )
    op.create_index(op.f("ix_exercises_student"), "exercises", ["student"], unique=False)
    op.create_index(op.f("ix_exercises_tune"), "exercises", ["tune"], unique=False)


def _lesson_notes() -> None:
    op.create_table(
        "lesson_notes",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("student", sa.String(length=32), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["student"], ["students.id"], name=op.f("fk_lesson_notes_student")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lesson_notes")),
    )
    op.create_index(op.f("ix_lesson_notes_student"), "lesson_notes", ["student"], unique=False)


def _phrases() -> None:
    op.create_table(
        "phrases",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("notes", sa.JSON(), nullable=False),
        sa.Column("rights", sa.Text(), nullable=False),
        sa.Column("student", sa.String(length=32), nullable=True),
        sa.ForeignKeyConstraint(["student"], ["students.id"], name=op.f("fk_phrases_student")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_phrases")),
    )
    op.create_index(op.f("ix_phrases_student"), "phrases", ["student"], unique=False)


def _plans() -> None:
    op.create_table(
        "plans",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("student", sa.String(length=32), nullable=True),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("starts", sa.Date(), nullable=False),
        sa.Column("made", sa.DateTime(timezone=True), nullable=False),
        sa.Column("plan", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["student"], ["students.id"], name=op.f("fk_plans_student")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plans")),
    )
    op.create_index(op.f("ix_plans_student"), "plans", ["student"], unique=False)


def _teacher_marks() -> None:
    op.create_table(
        "teacher_marks",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("student", sa.String(length=32), nullable=False),
        sa.Column("family", sa.Text(), nullable=False),
        sa.Column("progression", sa.Text(), nullable=False),
        sa.Column("level", sa.Integer(), nullable=False),
        sa.Column("standing", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("key", sa.Text(), nullable=True),
        sa.Column("tempo_bpm", sa.Integer(), nullable=True),
        sa.Column("words", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["student"], ["students.id"], name=op.f("fk_teacher_marks_student")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_teacher_marks")),
    )
    op.create_index(op.f("ix_teacher_marks_student"), "teacher_marks", ["student"], unique=False)


def _takes() -> None:
    op.create_table(
        "takes",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("student", sa.String(length=32), nullable=False),
        sa.Column("received", sa.DateTime(timezone=True), nullable=False),
        sa.Column("media", sa.Text(), nullable=False),
        sa.Column("exercise", sa.String(length=32), nullable=True),
        sa.Column("blob", sa.String(length=64), nullable=True),
        sa.Column("expires", sa.Date(), nullable=True),
        sa.Column("my_ears", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["exercise"], ["exercises.id"], name=op.f("fk_takes_exercise")),
        sa.ForeignKeyConstraint(["student"], ["students.id"], name=op.f("fk_takes_student")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_takes")),
    )
    op.create_index(op.f("ix_takes_blob"), "takes", ["blob"], unique=False)
    op.create_index(op.f("ix_takes_exercise"), "takes", ["exercise"], unique=False)
    op.create_index(op.f("ix_takes_student"), "takes", ["student"], unique=False)


def _hearings() -> None:
    op.create_table(
        "hearings",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("take", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("hearing", sa.JSON(), nullable=False),
        sa.Column("evidence", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["take"], ["takes.id"], name=op.f("fk_hearings_take")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hearings")),
    )
    op.create_index(op.f("ix_hearings_take"), "hearings", ["take"], unique=False)
