"""A notebook of any version is brought up to date with all that it held; a newer one is only read."""

import importlib.util
from typing import Any

import filled
import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import Engine

from ovalwright.notebook import migrate, tables_work
from ovalwright.notebook.store import Store, engine_for
from ovalwright.notebook.trouble import NotebookTrouble

METADATA = tables_work.Table.metadata
VERSIONS = migrate.versions()


@pytest.fixture
def engine(store_url):
    made = engine_for(store_url)
    yield made
    made.dispose()


def older(engine: Engine, version: str) -> dict[str, list[dict[str, Any]]]:
    """Make a notebook of an older version with something in every table; all its rows."""
    migrate.upgrade(engine, to=version)
    filled.fill(engine)
    return filled.dump(engine)


def test_versions_follow_each_other_without_a_gap():
    assert list(VERSIONS) == [f"{number:04}" for number in range(1, len(VERSIONS) + 1)]


@pytest.mark.parametrize("version", VERSIONS[:-1])
def test_an_older_notebook_keeps_all_its_rows(engine, store_url, version):
    before = older(engine, version)
    assert all(len(rows) == filled.ROWS for rows in before.values())
    Store.open(store_url).close()
    after = filled.dump(engine)
    assert migrate.version_of(engine) == VERSIONS[-1]
    for table, rows in before.items():
        assert [{key: row[key] for key in rows[0]} for row in after[table]] == rows


ASKS = ("columns", "pk_constraint", "foreign_keys", "unique_constraints", "check_constraints", "indexes")


def told(engine: Engine) -> dict[str, Any]:
    """Everything a database says of the tables it keeps."""
    inspector = sa.inspect(engine)
    names = [table.name for table in filled.tables(engine)]
    answers = {}
    for ask in (*ASKS, "table_options"):
        for (_, table), answer in getattr(inspector, f"get_multi_{ask}")(filter_names=names).items():
            listed = answer if isinstance(answer, list) else [answer]
            answers[table, ask] = sorted(
                str(written(one)) for one in listed if one.get("name") != filled.INDEX_OF_WORDS
            )
    return answers


def written(answer: Any) -> Any:
    """An answer with its clauses as text."""
    if isinstance(answer, dict):
        return {key: written(value) for key, value in answer.items()}
    return answer if isinstance(answer, (list, tuple)) else str(answer)


def test_migrated_tables_are_those_of_the_models(engine, store_url, tmp_path, request):
    Store.open(store_url).close()
    names = {table.name for table in filled.tables(engine)}
    with engine.connect() as connection:
        context = MigrationContext.configure(
            connection,
            opts={
                "compare_type": True,
                "include_name": lambda name, kind, _: {
                    "table": name in names,
                    "index": name != filled.INDEX_OF_WORDS,
                }.get(kind, True),
            },
        )
        assert compare_metadata(context, METADATA) == []
    assert told(engine) == made_from_the_models(engine, tmp_path, request)


def made_from_the_models(engine: Engine, tmp_path, request) -> dict[str, Any]:
    if engine.dialect.name == "sqlite":
        return told_of_new(f"sqlite:///{tmp_path / 'models.sqlite'}")
    with request.getfixturevalue("server").database() as url:
        return told_of_new(url)


def told_of_new(url: str) -> dict[str, Any]:
    other = sa.create_engine(url)
    try:
        METADATA.create_all(other)
        return told(other)
    finally:
        other.dispose()


def test_the_way_back_is_refused_in_a_sentence(engine):
    before = older(engine, VERSIONS[-1])
    with pytest.raises(NotebookTrouble, match="not taken back to older tables"):
        migrate.upgrade(engine, to=VERSIONS[0])
    assert filled.dump(engine) == before
    assert migrate.version_of(engine) == VERSIONS[-1]


@pytest.mark.parametrize("version", VERSIONS)
def test_every_migration_refuses_its_own_way_back(version):
    (path,) = (migrate.MIGRATIONS / "versions").glob(f"{version}_*.py")
    spec = importlib.util.spec_from_file_location("migration", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    with pytest.raises(NotebookTrouble, match="not taken back to older tables"):
        module.downgrade()


def test_an_upgrade_that_fails_midway_changes_nothing(engine, store_url):
    before = older(engine, "0002")
    with engine.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE saying (id INTEGER)")
    with pytest.raises(NotebookTrouble, match="already exists"):
        Store.open(store_url)
    after = filled.dump(engine)
    assert after.pop("saying") == []
    assert after == before
    assert migrate.version_of(engine) == "0002"


@pytest.fixture
def newer(store_url, engine):
    """A notebook that a newer program has written, with a table this one does not know."""
    Store.open(store_url).close()
    filled.fill(engine)
    with engine.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE weather_station (id INTEGER PRIMARY KEY)")
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    return store_url


def test_a_newer_notebook_is_read_and_not_written(newer, engine):
    before = filled.dump(engine)
    with Store.open(newer) as store:
        assert "written by a newer Ovalwright" in store.read_only
        with store.reading() as session:
            assert session.query(tables_work.Draft).count() == filled.ROWS
        for way in (lambda: store.entry("a run"), store.aside):
            with pytest.raises(NotebookTrouble, match="written by a newer Ovalwright"), way():
                pass
        with pytest.raises(NotebookTrouble, match="may not be written to"), store.reading() as session:
            session.query(tables_work.Draft).delete()
    assert filled.dump(engine) == before
