"""The tables of a notebook brought up to date by Alembic; the way back is refused."""

from __future__ import annotations

from pathlib import Path

import sqlalchemy as sa
from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine

from ovalwright.notebook.trouble import NotebookTrouble

VERSIONS = Path(__file__).with_name("migrations")
NEWER = (
    "this notebook was written by a newer Ovalwright and is opened for reading only; get the newer one to "
    "write into it."
)
NO_WAY_BACK = (
    "a notebook is not taken back to older tables, for they could not hold all of it; give back a copy made "
    "before with `notebook restore`."
)


def scripts() -> ScriptDirectory:
    """All migrations, in order."""
    config = Config()
    config.set_main_option("script_location", str(VERSIONS))
    return ScriptDirectory.from_config(config)


def newest() -> str:
    """The version of the tables that this program writes."""
    head = scripts().get_current_head()
    assert head is not None
    return head


def versions() -> tuple[str, ...]:
    """All versions, oldest first."""
    return tuple(script.revision for script in reversed(list(scripts().walk_revisions())))


def version_of(engine: Engine) -> str | None:
    """The version of a notebook, None for an empty one."""
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def is_newer(engine: Engine) -> bool:
    """Whether a newer program has written it."""
    version = version_of(engine)
    return version is not None and version not in versions()


def upgrade(engine: Engine, to: str = "") -> None:
    """Bring a notebook to the newest version, or to an older one that it has not reached yet.

    Raises NotebookTrouble when that would be a step back. One transaction: it is done whole or not at all.
    """
    version, target = version_of(engine), to or newest()
    if version == target:
        return
    order = versions()
    if version is not None and order.index(version) > order.index(target):
        raise NotebookTrouble(NO_WAY_BACK)
    with engine.connect() as connection:
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql("ROLLBACK")
            connection.exec_driver_sql("BEGIN IMMEDIATE")
        else:
            connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_UPGRADE)))
        _run(connection, target)
        connection.commit()


_UPGRADE = 0x6F766972


def _run(connection: Connection, target: str) -> None:
    script = scripts()
    config = Config()
    config.set_main_option("script_location", str(VERSIONS))
    with EnvironmentContext(
        config,
        script,
        fn=lambda version, _context: script._upgrade_revs(target, version),  # type: ignore[arg-type]
    ) as environment:
        environment.configure(
            connection=connection,
            transactional_ddl=False,
            transaction_per_migration=False,
        )
        environment.run_migrations()
