"""Rows in every table of a notebook of any version, put in and read by what the database says of itself."""

from __future__ import annotations

import datetime as dt
import re
import warnings
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection, Engine, MetaData, Table
from sqlalchemy.exc import SAWarning

ROWS = 3
INDEX_OF_WORDS = "ix_saying_words"
"""PostgreSQL's index of an expression, which no model tells."""


def tables(engine: Engine) -> list[Table]:
    """The tables that keep something, those first that others refer to."""
    inspector = sa.inspect(engine)
    with engine.connect() as connection:
        made_by_sqlite = _words_of_sqlite(connection)
    names = [
        name
        for name in inspector.get_table_names()
        if name != "alembic_version" and not name.startswith(made_by_sqlite)
    ]
    metadata = MetaData()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SAWarning)  # an index of an expression cannot be told
        metadata.reflect(engine, only=names)
    return metadata.sorted_tables


def _words_of_sqlite(connection: Connection) -> tuple[str, ...]:
    if connection.dialect.name != "sqlite":
        return ()
    told = connection.exec_driver_sql("SELECT name FROM sqlite_schema WHERE sql LIKE 'CREATE VIRTUAL%'")
    return tuple(told.scalars())


def fill(engine: Engine) -> None:
    """Three rows in every table; in the first stands only what must."""
    checks = sa.inspect(engine).get_multi_check_constraints()
    with_rows = tables(engine)
    with engine.begin() as connection:
        for table in with_rows:
            words = _words(table, checks.get((None, table.name), []))
            rows = [{c.name: _value(c, row, words) for c in table.columns} for row in range(1, ROWS + 1)]
            connection.execute(table.insert(), rows)


def _words(table: Table, checks: list[Any]) -> dict[str, list[str]]:
    """The words that a column may hold, where it is checked."""
    allowed = {}
    for check in checks:
        column = next(c.name for c in table.columns if re.search(rf"\b{c.name}\b", check["sqltext"]))
        allowed[column] = re.findall(r"'([^']*)'", check["sqltext"])
    return allowed


def _value(column: sa.Column[Any], row: int, words: dict[str, list[str]]) -> Any:
    if row == 1 and column.nullable:
        return None
    if column.name in words:
        return words[column.name][row % len(words[column.name])]
    if any(key.column.table is column.table for key in column.foreign_keys):
        return row - 1 or None
    if column.foreign_keys or (column.primary_key and isinstance(column.type, sa.Integer)):
        return row
    kinds: tuple[tuple[type[Any], Any], ...] = (
        (sa.Boolean, row % 2 == 0),
        (sa.JSON, {"said": "1/2 round", "row": row}),
        (sa.DateTime, dt.datetime(2026, 5, row, 18, 30, 15, 250000)),
        (sa.Date, dt.date(2026, 5, row)),
        (sa.Integer, row),
        (sa.Float, row + 0.1),
        (sa.String, f"{column.name} {row}"[: getattr(column.type, "length", None)]),
    )
    return next(value for kind, value in kinds if isinstance(column.type, kind))


def dump(engine: Engine) -> dict[str, list[dict[str, Any]]]:
    """All rows of all tables, in a fixed order."""
    found = {}
    with engine.connect() as connection:
        for table in tables(engine):
            rows = connection.execute(sa.select(table).order_by(*table.primary_key.columns)).mappings()
            found[table.name] = [{key: _plain(value) for key, value in row.items()} for row in rows]
    return found


def _plain(value: Any) -> Any:
    """A moment with its zone as that of UTC without."""
    if isinstance(value, dt.datetime) and value.tzinfo is not None:
        return value.astimezone(dt.UTC).replace(tzinfo=None)
    return value
