"""When what was found in a round was put right."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from ovalwright.notebook.migrate import NO_WAY_BACK
from ovalwright.notebook.trouble import NotebookTrouble

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make it."""
    op.create_table(
        "put_right",
        sa.Column("round_id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("right_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("right_by", sa.String(length=120), nullable=False),
        sa.Column("how", sa.Text(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_put_right_entry_id"),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name="fk_put_right_item_id"),
        sa.ForeignKeyConstraint(["round_id"], ["check_round.id"], name="fk_put_right_round_id"),
        sa.PrimaryKeyConstraint("id", name="pk_put_right"),
        sa.UniqueConstraint("round_id", "item_id", name="uq_put_right_round_id_item_id"),
    )


def downgrade() -> None:
    """Refused. Raises NotebookTrouble."""
    raise NotebookTrouble(NO_WAY_BACK)
