"""Entries, documents with their revisions, events, runs, laps, what was read and said."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from ovalwright.notebook.migrate import NO_WAY_BACK
from ovalwright.notebook.trouble import NotebookTrouble

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make them."""
    op.create_table(
        "draft",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("uid", sa.String(length=32), nullable=False),
        sa.Column("form", sa.String(length=40), nullable=False),
        sa.Column("about", sa.String(length=120), nullable=False),
        sa.Column("typed", sa.JSON(), nullable=False),
        sa.Column("saved_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("saved_by", sa.String(length=120), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_draft"),
        sa.UniqueConstraint("uid", name="uq_draft_uid"),
    )
    op.create_index("ix_draft_form", "draft", ["form"], unique=False)
    op.create_table(
        "entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(length=120), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("undone_by_id", sa.Integer(), nullable=True),
        sa.Column("undoes", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["undone_by_id"], ["entry.id"], name="fk_entry_undone_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_entry"),
    )
    op.create_index("ix_entry_undone_by_id", "entry", ["undone_by_id"], unique=False)
    op.create_table(
        "change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("of_table", sa.String(length=40), nullable=False),
        sa.Column("row_id", sa.Integer(), nullable=False),
        sa.Column("done", sa.String(length=12), nullable=False),
        sa.Column("before", sa.JSON(), nullable=True),
        sa.CheckConstraint("done IN ('added', 'changed', 'removed')", name="ck_change_done"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_change_entry_id"),
        sa.PrimaryKeyConstraint("id", name="pk_change"),
    )
    op.create_index("ix_change_entry_id", "change", ["entry_id"], unique=False)
    op.create_index("ix_change_of_table_row_id", "change", ["of_table", "row_id"], unique=False)
    op.create_table(
        "document",
        sa.Column("uid", sa.String(length=32), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_document_entry_id"),
        sa.PrimaryKeyConstraint("id", name="pk_document"),
        sa.UniqueConstraint("uid", name="uq_document_uid"),
    )
    op.create_index("ix_document_kind_name", "document", ["kind", "name"], unique=False)
    op.create_table(
        "remembered",
        sa.Column("what", sa.String(length=40), nullable=False),
        sa.Column("of", sa.String(length=200), nullable=False),
        sa.Column("told", sa.JSON(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_remembered_entry_id"),
        sa.PrimaryKeyConstraint("id", name="pk_remembered"),
        sa.UniqueConstraint("what", "of", name="uq_remembered_what_of"),
    )
    op.create_table(
        "revision",
        sa.Column("uid", sa.String(length=32), nullable=False),
        sa.Column("code", sa.String(length=12), nullable=False),
        sa.Column("document_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("parent_id", sa.Integer(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("said", sa.Text(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("file_name", sa.String(length=400), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made_by", sa.String(length=120), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name="fk_revision_document_id"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_revision_entry_id"),
        sa.ForeignKeyConstraint(["parent_id"], ["revision.id"], name="fk_revision_parent_id"),
        sa.PrimaryKeyConstraint("id", name="pk_revision"),
        sa.UniqueConstraint("code", name="uq_revision_code"),
        sa.UniqueConstraint("document_id", "number", name="uq_revision_document_id_number"),
        sa.UniqueConstraint("uid", name="uq_revision_uid"),
    )
    op.create_index("ix_revision_parent_id", "revision", ["parent_id"], unique=False)
    op.create_index("ix_revision_sha256", "revision", ["sha256"], unique=False)
    op.create_table(
        "event",
        sa.Column("uid", sa.String(length=32), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("held_on", sa.Date(), nullable=False),
        sa.Column("track_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("spent", sa.Double(), nullable=True),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_event_entry_id"),
        sa.ForeignKeyConstraint(["track_id"], ["revision.id"], name="fk_event_track_id"),
        sa.PrimaryKeyConstraint("id", name="pk_event"),
        sa.UniqueConstraint("uid", name="uq_event_uid"),
    )
    op.create_index("ix_event_held_on", "event", ["held_on"], unique=False)
    op.create_table(
        "figure",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=120), nullable=False),
        sa.Column("si", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name="fk_figure_revision_id"),
        sa.PrimaryKeyConstraint("revision_id", "key", name="pk_figure"),
    )
    op.create_index("ix_figure_key_si", "figure", ["key", "si"], unique=False)
    op.create_table(
        "reference",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("target_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_reference_entry_id"),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name="fk_reference_revision_id"),
        sa.ForeignKeyConstraint(["target_id"], ["revision.id"], name="fk_reference_target_id"),
        sa.PrimaryKeyConstraint("id", name="pk_reference"),
        sa.UniqueConstraint("revision_id", "role", name="uq_reference_revision_id_role"),
    )
    op.create_index("ix_reference_target_id", "reference", ["target_id"], unique=False)
    op.create_table(
        "run",
        sa.Column("uid", sa.String(length=32), nullable=False),
        sa.Column("code", sa.String(length=12), nullable=False),
        sa.Column("event_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("session", sa.String(length=60), nullable=False),
        sa.Column("started", sa.DateTime(), nullable=False),
        sa.Column("setup_id", sa.Integer(), nullable=False),
        sa.Column("track_id", sa.Integer(), nullable=True),
        sa.Column("conditions_id", sa.Integer(), nullable=True),
        sa.Column("driver", sa.String(length=120), nullable=False),
        sa.Column("fuel", sa.Double(), nullable=True),
        sa.Column("fuel_left", sa.Double(), nullable=True),
        sa.Column("air", sa.Double(), nullable=True),
        sa.Column("surface", sa.Double(), nullable=True),
        sa.Column("stagger", sa.Double(), nullable=True),
        sa.Column("decided", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("hit", sa.String(length=60), nullable=False),
        sa.Column("laps", sa.Integer(), nullable=False),
        sa.Column("green", sa.Integer(), nullable=False),
        sa.Column("best", sa.Double(), nullable=True),
        sa.Column("middle", sa.Double(), nullable=True),
        sa.Column("fall_off", sa.Double(), nullable=True),
        sa.Column("distance", sa.Double(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["conditions_id"], ["revision.id"], name="fk_run_conditions_id"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_run_entry_id"),
        sa.ForeignKeyConstraint(["event_id"], ["event.id"], name="fk_run_event_id"),
        sa.ForeignKeyConstraint(["setup_id"], ["revision.id"], name="fk_run_setup_id"),
        sa.ForeignKeyConstraint(["track_id"], ["revision.id"], name="fk_run_track_id"),
        sa.PrimaryKeyConstraint("id", name="pk_run"),
        sa.UniqueConstraint("code", name="uq_run_code"),
        sa.UniqueConstraint("event_id", "number", name="uq_run_event_id_number"),
        sa.UniqueConstraint("uid", name="uq_run_uid"),
    )
    op.create_index("ix_run_air", "run", ["air"], unique=False)
    op.create_index("ix_run_best", "run", ["best"], unique=False)
    op.create_index("ix_run_fall_off", "run", ["fall_off"], unique=False)
    op.create_index("ix_run_setup_id", "run", ["setup_id"], unique=False)
    op.create_index("ix_run_started", "run", ["started"], unique=False)
    op.create_index("ix_run_track_id", "run", ["track_id"], unique=False)
    op.create_table(
        "comment",
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("phase", sa.String(length=10), nullable=False),
        sa.Column("when", sa.String(length=10), nullable=False),
        sa.Column("feel", sa.String(length=10), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("feel IN ('', 'tight', 'loose', 'good')", name="ck_comment_feel"),
        sa.CheckConstraint("phase IN ('', 'entry', 'middle', 'exit')", name="ck_comment_phase"),
        sa.CheckConstraint("\"when\" IN ('', 'early', 'late')", name="ck_comment_when"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_comment_entry_id"),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name="fk_comment_run_id"),
        sa.PrimaryKeyConstraint("id", name="pk_comment"),
    )
    op.create_index("ix_comment_feel_phase_when", "comment", ["feel", "phase", "when"], unique=False)
    op.create_index("ix_comment_run_id", "comment", ["run_id"], unique=False)
    op.create_table(
        "lap",
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("time", sa.Double(), nullable=False),
        sa.Column("flag", sa.String(length=10), nullable=False),
        sa.Column("said", sa.String(length=60), nullable=False),
        sa.CheckConstraint("flag IN ('green', 'yellow', 'pit', 'traffic', 'other')", name="ck_lap_flag"),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name="fk_lap_run_id"),
        sa.PrimaryKeyConstraint("run_id", "number", name="pk_lap"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "reading",
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("taken", sa.String(length=10), nullable=False),
        sa.Column("what", sa.String(length=40), nullable=False),
        sa.Column("place", sa.String(length=20), nullable=False),
        sa.Column("part", sa.String(length=10), nullable=False),
        sa.Column("lap", sa.Integer(), nullable=True),
        sa.Column("si", sa.Double(), nullable=False),
        sa.Column("typed", sa.String(length=120), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("taken IN ('before', 'after', 'set_down')", name="ck_reading_taken"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_reading_entry_id"),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name="fk_reading_run_id"),
        sa.PrimaryKeyConstraint("id", name="pk_reading"),
    )
    op.create_index("ix_reading_run_id", "reading", ["run_id"], unique=False)


def downgrade() -> None:
    """Refused. Raises NotebookTrouble."""
    raise NotebookTrouble(NO_WAY_BACK)
