"""Tables for people with notebooks of their own: a folder of CSV or of Parquet, and an xarray Dataset.

Values are SI. Rows name each other by uid, as in a bundle; of what is private the kinds asked for.
Parquet and the Dataset need the libraries of the extra ``tables``.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.corners import CORNERS
from ovalwright.notebook.runs import THIRDS
from ovalwright.notebook.sharing.carried import CARRIED, TOTALS, Carried, Field, Row, rows_of
from ovalwright.notebook.sharing.csv_text import write_table
from ovalwright.notebook.tables import Event, Figure, Lap, Moment, Reading, Revision, Run
from ovalwright.notebook.trouble import NotebookTrouble

if TYPE_CHECKING:
    import xarray

SHOWN = (
    *(replace(carried, left_out=carried.left_out - TOTALS) for carried in CARRIED),
    Carried("figures.csv", Figure, ("revision", "key"), owner="revision"),
)
"""What travels, with what follows from it: the totals of a run, the numbers of a revision."""
UNITS = {
    "lap_time": "s", "best": "s", "middle": "s", "fall_off": "s per 10 laps", "distance": "m", "fuel": "m3",
    "fuel_left": "m3", "air": "K", "surface": "K", "stagger": "m", "temperature": "K", "cold": "Pa",
    "hot": "Pa", "weight": "kg", "height": "m", "travel": "m", "roll_out": "m", "camber": "rad",
    "toe_out": "m",
}  # fmt: skip
"""Unit of a variable of the Dataset; one that is not named here is in the SI unit of what was read."""
OF_A_RUN = (
    "best", "middle", "fall_off", "distance", "fuel", "fuel_left", "air", "surface", "stagger"
)  # fmt: skip


def csv_folder(session: Session, folder: Path | str, *, private: Collection[str] = ()) -> tuple[Path, ...]:
    """Every table as a CSV file in a new folder. Raises NotebookTrouble."""
    return _written(
        folder,
        {
            carried.file: write_table([field.column for field in fields], rows).encode()
            for carried, fields, rows in _shown(session, private)
        },
    )


def parquet_folder(
    session: Session, folder: Path | str, *, private: Collection[str] = ()
) -> tuple[Path, ...]:
    """Every table as a Parquet file in a new folder. Raises NotebookTrouble, also without pyarrow."""
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError:
        raise _missing("Parquet", "pyarrow") from None
    files = {}
    for carried, fields, rows in _shown(session, private):
        columns = {
            field.name: pyarrow.array([row[field.name] for row in rows], _arrow_type(pyarrow, carried, field))
            for field in fields
        }
        out = pyarrow.BufferOutputStream()
        parquet.write_table(pyarrow.table(columns), out)
        files[carried.file.replace(".csv", ".parquet")] = out.getvalue().to_pybytes()
    return _written(folder, files)


def as_dataset(session: Session, *, private: Collection[str] = ()) -> xarray.Dataset:
    """The runs as a Dataset over `run` (its code), `lap`, `corner` and `third` of a tread; NaN where unknown.

    What was read off the car after or before a run stands under its name, such as `temperature` or `hot`; of
    what was read more than once the last. Raises NotebookTrouble without xarray.
    """
    try:
        import xarray
    except ImportError:
        raise _missing("the Dataset", "xarray") from None
    setup, track = sa.orm.aliased(Revision), sa.orm.aliased(Revision)
    query = (
        sa.select(Run, Event.name, setup.code, track.code)
        .join(Event, Event.id == Run.event_id)
        .join(setup, setup.id == Run.setup_id)
        .outerjoin(track, track.id == Run.track_id)
        .order_by(Run.started, Run.id)
    )
    told = [
        (run, event, of_setup, on_track or "") for run, event, of_setup, on_track in session.execute(query)
    ]
    runs = [run for run, *_ in told]
    at = {run.id: place for place, run in enumerate(runs)}
    words = {"event": 1, "setup": 2, "track": 3}
    data: dict[str, Any] = {name: ("run", [row[place] for row in told]) for name, place in words.items()}
    data["session"] = ("run", [run.session for run in runs])
    data["started"] = ("run", np.array([run.started for run in runs], dtype="datetime64[us]"))
    if "names" in private:
        data["driver"] = ("run", [run.driver for run in runs])
    for name in OF_A_RUN:
        values = [getattr(run, name) for run in runs]
        data[name] = ("run", np.array([np.nan if value is None else value for value in values], dtype=float))
    laps, times, flags = _laps(session, at)
    data["lap_time"], data["flag"] = (("run", "lap"), times), (("run", "lap"), flags)
    data.update(_readings(session, at))
    dataset = xarray.Dataset(
        data,
        coords={
            "run": [run.code for run in runs],
            "lap": laps,
            "corner": list(CORNERS),
            "third": list(THIRDS),
        },
    )
    for name in UNITS.keys() & set(dataset.data_vars):
        dataset[name].attrs["units"] = UNITS[name]
    return dataset


# ---------------- tables


def _shown(
    session: Session, private: Collection[str]
) -> Iterator[tuple[Carried, tuple[Field, ...], list[Row]]]:
    for carried in SHOWN:
        yield carried, carried.fields(bool(private)), rows_of(session, carried, private=private)


def _written(folder: Path | str, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Files in a folder that is new or empty."""
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise NotebookTrouble(f"{folder}: holds files already; name a new folder for the tables.")
        for name, raw in files.items():
            (folder / name).write_bytes(raw)
    except OSError as problem:
        reason = problem.strerror or "the name cannot be used"
        raise NotebookTrouble(f"{folder}: cannot be written ({reason}); name a folder that can be.") from None
    return tuple(folder / name for name in files)


def _missing(what: str, library: str) -> NotebookTrouble:
    return NotebookTrouble(f"{what} needs {library}; get it with: pip install 'ovalwright[tables]'.")


def _arrow_type(pyarrow: Any, carried: Carried, field: Field) -> Any:
    column = sa.inspect(carried.model).column_attrs[field.key].columns[0]
    if field.to:
        return pyarrow.string()
    if isinstance(column.type, Moment):
        return pyarrow.timestamp("us", tz="UTC")
    types = {
        bool: pyarrow.bool_(),
        int: pyarrow.int64(),
        float: pyarrow.float64(),
        str: pyarrow.string(),
        dt.datetime: pyarrow.timestamp("us"),
        dt.date: pyarrow.date32(),
    }
    return types[column.type.python_type]


# ---------------- the Dataset


def _laps(session: Session, at: Mapping[int, int]) -> tuple[list[int], Any, Any]:
    """Numbers of laps, and times [s] and flags by run and lap."""
    rows = session.execute(sa.select(Lap.run_id, Lap.number, Lap.time, Lap.flag)).all()
    numbers = sorted({row.number for row in rows})
    column = {number: place for place, number in enumerate(numbers)}
    times = np.full((len(at), len(numbers)), np.nan)
    flags = np.full((len(at), len(numbers)), "", dtype="U10")
    for row in rows:
        place = at[row.run_id], column[row.number]
        times[place], flags[place] = row.time, row.flag
    return numbers, times, flags


def _readings(session: Session, at: Mapping[int, int]) -> dict[str, tuple[tuple[str, ...], Any]]:
    """What was read at the corners, by name; what the car measured at its set-down is called so."""
    corners: dict[str, int] = {corner: place for place, corner in enumerate(CORNERS)}
    thirds = {third: place for place, third in enumerate(THIRDS)}
    whole: dict[str, Any] = defaultdict(lambda: np.full((len(at), len(CORNERS)), np.nan))
    parted: dict[str, Any] = defaultdict(lambda: np.full((len(at), len(CORNERS), len(THIRDS)), np.nan))
    for one in session.scalars(sa.select(Reading).where(Reading.place.in_(CORNERS)).order_by(Reading.id)):
        name = one.what if one.taken == "after" else f"{one.what}_{one.taken}"
        row, corner = at[one.run_id], corners[one.place]
        if one.part in thirds:
            parted[name][row, corner, thirds[one.part]] = one.si
        elif not one.part:
            whole[name][row, corner] = one.si
    told: dict[str, tuple[tuple[str, ...], Any]] = {
        name: (("run", "corner"), values) for name, values in whole.items()
    }
    for name, values in parted.items():
        told[name if name not in told else f"{name}_by_third"] = (("run", "corner", "third"), values)
    return told
