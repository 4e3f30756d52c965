"""Words to find by, and a guard that no revision is changed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from ovalwright.notebook.migrate import NO_WAY_BACK
from ovalwright.notebook.trouble import NotebookTrouble

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

SQLITE = (
    "CREATE VIRTUAL TABLE saying_words USING fts5"
    "(words, content='saying', content_rowid='id', tokenize='unicode61 remove_diacritics 2')",
    "CREATE TRIGGER saying_added AFTER INSERT ON saying BEGIN "
    "INSERT INTO saying_words(rowid, words) VALUES (new.id, new.words); END",
    "CREATE TRIGGER saying_removed AFTER DELETE ON saying BEGIN "
    "INSERT INTO saying_words(saying_words, rowid, words) VALUES ('delete', old.id, old.words); END",
    "CREATE TRIGGER saying_changed AFTER UPDATE ON saying BEGIN "
    "INSERT INTO saying_words(saying_words, rowid, words) VALUES ('delete', old.id, old.words); "
    "INSERT INTO saying_words(rowid, words) VALUES (new.id, new.words); END",
    "CREATE TRIGGER revision_stays BEFORE UPDATE OF text, sha256, parent_id, document_id, number ON revision "
    "BEGIN SELECT RAISE(ABORT, 'a revision never changes'); END",
)
POSTGRESQL = (
    "CREATE INDEX ix_saying_words ON saying USING gin (to_tsvector('simple', words))",
    "CREATE FUNCTION revision_stays() RETURNS trigger AS "
    "$$ BEGIN RAISE EXCEPTION 'a revision never changes'; END $$ LANGUAGE plpgsql",
    "CREATE TRIGGER revision_stays BEFORE UPDATE OF text, sha256, parent_id, document_id, number ON revision "
    "FOR EACH ROW EXECUTE FUNCTION revision_stays()",
)


def upgrade() -> None:
    """Make them."""
    op.create_table(
        "saying",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("owner", sa.String(length=20), nullable=False),
        sa.Column("owner_id", sa.Integer(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_saying"),
    )
    op.create_index("uq_saying_owner", "saying", ["owner", "owner_id"], unique=True)

    if op.get_bind().dialect.name == "sqlite":
        for statement in SQLITE:
            op.execute(statement)
    else:
        for statement in POSTGRESQL:
            op.execute(statement)


def downgrade() -> None:
    """Refused. Raises NotebookTrouble."""
    raise NotebookTrouble(NO_WAY_BACK)
