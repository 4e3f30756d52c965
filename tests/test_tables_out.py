"""Tables for people with notebooks of their own: other libraries read back what the notebook holds."""

import sys

import numpy as np
import pytest
from shared_rows import LAPS, NIGHT, PRICE, SECRET, fill

from ovalwright.notebook import runs, shelf
from ovalwright.notebook.sharing.carried import CARRIED
from ovalwright.notebook.sharing.private import ALL
from ovalwright.notebook.sharing.tables_out import as_dataset, csv_folder, parquet_folder
from ovalwright.notebook.store import Store
from ovalwright.notebook.trouble import NotebookTrouble


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    with Store.open(tmp_path_factory.mktemp("tables") / "notebook.sqlite", by="ann") as opened:
        fill(opened)
        yield opened


@pytest.fixture(scope="module")
def told(store):
    with store.reading() as session:
        return [runs.record(session, run) for run in runs.runs_of(session, runs.event_of(session, "last"))]


def test_parquet_holds_every_table_with_its_types(store, told, tmp_path):
    parquet = pytest.importorskip("pyarrow.parquet")
    with store.reading() as session:
        files = parquet_folder(session, tmp_path / "out", private=ALL)
        figures = shelf.figures_of(shelf.assembly_of(session, shelf.revision(session, told[1].setup)).setup)
    tables = {path.stem: parquet.read_table(path) for path in files}
    assert set(tables) == {carried.file.removesuffix(".csv") for carried in CARRIED} | {"figures"}
    assert all(table.num_rows for table in tables.values())
    ran = {row["code"]: row for row in tables["runs"].to_pylist()}
    for record in told:
        row = ran[record.code]
        laps = [lap for lap in tables["laps"].to_pylist() if lap["run"] == row["uid"]]
        assert [(lap["number"], lap["time"], lap["flag"]) for lap in laps] == [
            (lap.number, lap.time, lap.flag) for lap in record.laps
        ]
        assert (row["best"], row["fall_off"], row["started"]) == (
            record.best,
            record.fall_off,
            record.started,
        )
    assert tables["events"].to_pylist()[0]["held_on"] == NIGHT
    assert tables["events"].to_pylist()[0]["spent"] == PRICE
    uid = {row["code"]: row["uid"] for row in tables["revisions"].to_pylist()}[told[1].setup]
    assert {
        row["key"]: row["si"] for row in tables["figures"].to_pylist() if row["revision"] == uid
    } == figures


def test_csv_is_read_by_another_library_and_holds_nothing_private(store, told, tmp_path):
    pandas = pytest.importorskip("pandas")
    with store.reading() as session:
        files = {path.name: path for path in csv_folder(session, tmp_path / "out")}
    names = {"code": str, "run": str, "uid": str}
    laps, ran = (pandas.read_csv(files[name], dtype=names) for name in ("laps.csv", "runs.csv"))
    joined = laps.merge(ran, left_on="run", right_on="uid")
    assert joined[joined["code"] == told[0].code]["time"].tolist() == [lap.time for lap in LAPS]
    everything = b"".join(path.read_bytes() for path in files.values())
    assert SECRET.encode() not in everything and str(PRICE).encode() not in everything


def test_the_dataset_lays_runs_laps_and_corners_side_by_side(store, told):
    pytest.importorskip("xarray")
    with store.reading() as session:
        data = as_dataset(session)
    assert data.sizes == {"run": 2, "lap": len(told[1].laps), "corner": 4, "third": 3}
    for record in told:
        one = data.sel(run=record.code)
        times = one["lap_time"].dropna("lap")
        assert times.values.tolist() == [lap.time for lap in record.laps]
        assert times["lap"].values.tolist() == [lap.number for lap in record.laps]
        assert one["flag"].sel(lap=2).item() == record.laps[1].flag
        assert (one["setup"].item(), one["event"].item()) == (record.setup, record.event)
        assert one["started"].values == np.datetime64(record.started)
    feature = data.sel(run=told[1].code)
    assert feature["temperature"].sel(corner="RF", third="inside").item() == 361.483
    assert np.isnan(feature["temperature"].sel(corner="LF", third="inside").item())
    assert feature["weight_set_down"].sel(corner="LR").item() == 336.5
    assert data["lap_time"].attrs["units"] == "s" and data["temperature"].attrs["units"] == "K"
    assert "driver" not in data
    # The median of the green laps, by xarray, is the notebook's middle lap but for a few slow ones.
    green = feature["lap_time"].where(feature["flag"] == "green")
    assert green.median().item() == pytest.approx(told[1].middle, abs=0.05)


def test_a_folder_with_something_in_it_is_left_alone(store, tmp_path):
    (tmp_path / "mine.txt").write_text("keep")
    with store.reading() as session, pytest.raises(NotebookTrouble, match="holds files already; name a new"):
        csv_folder(session, tmp_path)
    with store.reading() as session, pytest.raises(NotebookTrouble, match="cannot be written"):
        csv_folder(session, tmp_path / "mine.txt" / "out")
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


@pytest.mark.parametrize("make, library", [(parquet_folder, "pyarrow"), (as_dataset, "xarray")])
def test_a_library_that_is_missing_is_named(store, tmp_path, monkeypatch, make, library):
    monkeypatch.setitem(sys.modules, library, None)
    folder = [tmp_path / "out"] if make is parquet_folder else []
    with store.reading() as session, pytest.raises(NotebookTrouble) as told:
        make(session, *folder)
    assert f"needs {library}; get it with: pip install 'ovalwright[tables]'." in str(told.value)
