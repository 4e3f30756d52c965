"""Parts as individuals, service, checklists."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from ovalwright.notebook.migrate import NO_WAY_BACK
from ovalwright.notebook.trouble import NotebookTrouble

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make them."""
    op.create_table(
        "checklist",
        sa.Column("uid", sa.String(length=32), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_checklist_entry_id"),
        sa.PrimaryKeyConstraint("id", name="pk_checklist"),
        sa.UniqueConstraint("name", name="uq_checklist_name"),
        sa.UniqueConstraint("uid", name="uq_checklist_uid"),
    )
    op.create_table(
        "part",
        sa.Column("uid", sa.String(length=32), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("mark", sa.String(length=60), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("compound", sa.String(length=60), nullable=False),
        sa.Column("date_code", sa.String(length=20), nullable=False),
        sa.Column("bought_on", sa.Date(), nullable=True),
        sa.Column("paid", sa.Double(), nullable=True),
        sa.Column("bought_from", sa.String(length=120), nullable=False),
        sa.Column("rated", sa.Double(), nullable=True),
        sa.Column("laps_before", sa.Integer(), nullable=False),
        sa.Column("distance_before", sa.Double(), nullable=False),
        sa.Column("cycles_before", sa.Integer(), nullable=False),
        sa.Column("retired_on", sa.Date(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_part_entry_id"),
        sa.PrimaryKeyConstraint("id", name="pk_part"),
        sa.UniqueConstraint("kind", "mark", name="uq_part_kind_mark"),
        sa.UniqueConstraint("uid", name="uq_part_uid"),
    )
    op.create_table(
        "interval",
        sa.Column("part_id", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("job", sa.String(length=120), nullable=False),
        sa.Column("laps", sa.Integer(), nullable=True),
        sa.Column("distance", sa.Double(), nullable=True),
        sa.Column("days", sa.Integer(), nullable=True),
        sa.Column("cycles", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=10), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("source IN ('maker', 'builder', 'own', 'typical')", name="ck_interval_source"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_interval_entry_id"),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name="fk_interval_part_id"),
        sa.PrimaryKeyConstraint("id", name="pk_interval"),
    )
    op.create_index("ix_interval_part_id", "interval", ["part_id"], unique=False)
    op.create_table(
        "item",
        sa.Column("checklist_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("caution", sa.Text(), nullable=False),
        sa.Column("good_until", sa.Date(), nullable=True),
        sa.Column("dropped", sa.Boolean(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["checklist_id"], ["checklist.id"], name="fk_item_checklist_id"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_item_entry_id"),
        sa.PrimaryKeyConstraint("id", name="pk_item"),
        sa.UniqueConstraint("checklist_id", "number", name="uq_item_checklist_id_number"),
    )
    op.create_table(
        "measurement",
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("measured_on", sa.Date(), nullable=False),
        sa.Column("what", sa.String(length=40), nullable=False),
        sa.Column("si", sa.Double(), nullable=False),
        sa.Column("at", sa.Double(), nullable=True),
        sa.Column("typed", sa.String(length=120), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_measurement_entry_id"),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name="fk_measurement_part_id"),
        sa.PrimaryKeyConstraint("id", name="pk_measurement"),
    )
    op.create_index("ix_measurement_part_id", "measurement", ["part_id"], unique=False)
    op.create_table(
        "stay",
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("car_id", sa.Integer(), nullable=True),
        sa.Column("place", sa.String(length=40), nullable=False),
        sa.Column("since", sa.DateTime(), nullable=False),
        sa.Column("until", sa.DateTime(), nullable=True),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["car_id"], ["document.id"], name="fk_stay_car_id"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_stay_entry_id"),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name="fk_stay_part_id"),
        sa.PrimaryKeyConstraint("id", name="pk_stay"),
    )
    op.create_index("ix_stay_part_id_since", "stay", ["part_id", "since"], unique=False)
    op.create_index(
        "uq_stay_open_part",
        "stay",
        ["part_id"],
        unique=True,
        sqlite_where=sa.text("until IS NULL"),
        postgresql_where=sa.text("until IS NULL"),
    )
    op.create_index(
        "uq_stay_open_place",
        "stay",
        ["car_id", "place"],
        unique=True,
        sqlite_where=sa.text("until IS NULL AND car_id IS NOT NULL"),
        postgresql_where=sa.text("until IS NULL AND car_id IS NOT NULL"),
    )
    op.create_table(
        "check_round",
        sa.Column("uid", sa.String(length=32), nullable=False),
        sa.Column("checklist_id", sa.Integer(), nullable=False),
        sa.Column("event_id", sa.Integer(), nullable=True),
        sa.Column("begun_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["checklist_id"], ["checklist.id"], name="fk_check_round_checklist_id"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_check_round_entry_id"),
        sa.ForeignKeyConstraint(["event_id"], ["event.id"], name="fk_check_round_event_id"),
        sa.PrimaryKeyConstraint("id", name="pk_check_round"),
        sa.UniqueConstraint("uid", name="uq_check_round_uid"),
    )
    op.create_index("ix_check_round_checklist_id", "check_round", ["checklist_id"], unique=False)
    op.create_index("ix_check_round_event_id", "check_round", ["event_id"], unique=False)
    op.create_table(
        "done",
        sa.Column("round_id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done_by", sa.String(length=120), nullable=False),
        sa.Column("seconds", sa.Double(), nullable=True),
        sa.Column("found", sa.Text(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_done_entry_id"),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name="fk_done_item_id"),
        sa.ForeignKeyConstraint(["round_id"], ["check_round.id"], name="fk_done_round_id"),
        sa.PrimaryKeyConstraint("id", name="pk_done"),
        sa.UniqueConstraint("round_id", "item_id", name="uq_done_round_id_item_id"),
    )
    op.create_table(
        "ridden",
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("place", sa.String(length=40), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_ridden_entry_id"),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name="fk_ridden_part_id"),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name="fk_ridden_run_id"),
        sa.PrimaryKeyConstraint("id", name="pk_ridden"),
        sa.UniqueConstraint("run_id", "part_id", name="uq_ridden_run_id_part_id"),
        sa.UniqueConstraint("run_id", "place", name="uq_ridden_run_id_place"),
    )
    op.create_index("ix_ridden_part_id", "ridden", ["part_id"], unique=False)
    op.create_table(
        "serviced",
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("job", sa.String(length=120), nullable=False),
        sa.Column("done_on", sa.Date(), nullable=False),
        sa.Column("done_by", sa.String(length=120), nullable=False),
        sa.Column("laps", sa.Integer(), nullable=False),
        sa.Column("distance", sa.Double(), nullable=False),
        sa.Column("cycles", sa.Integer(), nullable=False),
        sa.Column("after_run_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["after_run_id"], ["run.id"], name="fk_serviced_after_run_id"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_serviced_entry_id"),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name="fk_serviced_part_id"),
        sa.PrimaryKeyConstraint("id", name="pk_serviced"),
    )
    op.create_index("ix_serviced_part_id", "serviced", ["part_id"], unique=False)


def downgrade() -> None:
    """Refused. Raises NotebookTrouble."""
    raise NotebookTrouble(NO_WAY_BACK)
