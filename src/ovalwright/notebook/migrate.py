"""The tables of a notebook brought up to date by Alembic; the way back is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection, Engine

from ovalwright.notebook.trouble import NotebookTrouble

MIGRATIONS = Path(__file__).with_name("migrations")
NEWER = (
    "this notebook was written by a newer Ovalwright and is opened for reading only; get the newer one to "
    "write into it."
)
NO_WAY_BACK = (
    "a notebook is not taken back to older tables, for they could not hold all of it; give back a copy made "
    "before with `notebook restore`."
)


_UPGRADE = 0x6F766972
"""Number of the lock that two programs upgrading one database wait for."""


def versions() -> tuple[str, ...]:
    """All versions of the tables, oldest first."""
    return tuple(sorted(path.name.split("_")[0] for path in (MIGRATIONS / "versions").glob("[0-9]*.py")))


def version_of(engine: Engine) -> str | None:
    """The version of a notebook, None for an empty one."""
    with engine.connect() as connection:
        if not sa.inspect(connection).has_table("alembic_version"):
            return None
        version: str | None = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
        return version


def is_newer(engine: Engine) -> bool:
    """Whether a newer program has written it."""
    version = version_of(engine)
    return version is not None and version not in versions()


def upgrade(engine: Engine, to: str = "") -> None:
    """Bring a notebook to the newest version, or to an older one that it has not reached yet.

    Raises NotebookTrouble when that would be a step back. One transaction: it is done whole or not at all.
    """
    order = versions()
    version, target = version_of(engine), to or order[-1]
    if version == target:
        return
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


def _run(connection: Connection, target: str) -> None:
    from alembic.config import Config
    from alembic.runtime.environment import EnvironmentContext
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    script = ScriptDirectory.from_config(config)

    def steps(version: Any, _context: object) -> Any:
        return script._upgrade_revs(target, version)

    with EnvironmentContext(config, script, fn=steps) as environment:
        environment.configure(connection=connection, transactional_ddl=False, transaction_per_migration=False)
        environment.run_migrations()
