"""Laps by a flag other than green; on PostgreSQL words parted at every mark, as SQLite parts them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from ovalwright.notebook.migrate import NO_WAY_BACK
from ovalwright.notebook.trouble import NotebookTrouble

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

NOT_GREEN = sa.text("flag <> 'green'")
POSTGRESQL = (
    "DROP INDEX ix_saying_words",
    "CREATE INDEX ix_saying_words ON saying USING gin (to_tsvector('simple', "
    "translate(words, '!\"#$%&''()*+,-./:;<=>?@[\\]^_`{|}~', repeat(' ', 32))))",
)


def upgrade() -> None:
    """Make them."""
    op.create_index(
        "ix_lap_flag_run_id",
        "lap",
        ["flag", "run_id"],
        sqlite_where=NOT_GREEN,
        postgresql_where=NOT_GREEN,
    )
    if op.get_bind().dialect.name == "postgresql":
        for statement in POSTGRESQL:
            op.execute(statement)


def downgrade() -> None:
    """Refused. Raises NotebookTrouble."""
    raise NotebookTrouble(NO_WAY_BACK)
