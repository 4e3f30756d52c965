"""Temperatures and pressures of a run in the order they are read off, which is told once and remembered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sqlalchemy.orm import Session

from ovalwright.notebook import remembered, runs
from ovalwright.notebook.runs import Read
from ovalwright.notebook.tables import Run
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.reading_order import (
    DEFAULT,
    ReadingOrder,
    Spot,
    TireReading,
    read_order,
    read_pressures,
    read_temperatures,
)

ORDER = "reading order"
"""Under what it is remembered."""
TAKEN = {"cold": "before", "hot": "after"}


def usual_order(session: Session) -> ReadingOrder:
    """The order that was told last, or the usual one."""
    return read_order(str(remembered.recall(session, ORDER) or DEFAULT))


def put_temperatures(session: Session, run: Run, text: str, order: str = "") -> ReadingOrder:
    """Keep the temperatures of a run, read in an `order`, remembered when it is told; returns the order.

    Raises NotebookTrouble, one sentence that says how many are missing and where.
    """
    read_in = read_order(order) if order.strip() else usual_order(session)
    found = read_temperatures(text, read_in)
    _keep(session, run, "temperature", found.readings, "after")
    if order.strip():
        remembered.remember(session, ORDER, str(read_in))
    return read_in


def put_pressures(session: Session, run: Run, text: str, which: str) -> ReadingOrder:
    """Keep the `cold` or `hot` pressures of a run, the tires in the usual order; returns the order.

    Raises NotebookTrouble as above.
    """
    if which not in TAKEN:
        raise NotebookTrouble(f'"{which[:20]}" pressures are none; say cold or hot.')
    read_in = usual_order(session)
    _keep(session, run, which, read_pressures(text, read_in).readings, TAKEN[which])
    return read_in


def put_cells(session: Session, run: Run, what: str, cells: Mapping[Spot, str]) -> None:
    """Keep what was typed into cells by corner and third of the tread: `temperature`, or `cold` or `hot`
    pressures, whose third is empty. A corner of which nothing was typed was not read.

    Raises NotebookTrouble, one sentence.
    """
    order = read_order(DEFAULT)
    spots = order.spots if what == "temperature" else tuple((corner, "") for corner in order.corners)
    lines = []
    for corner in order.corners:
        typed = [cells.get(spot, "").strip() for spot in spots if spot[0] == corner]
        if any(typed):
            lines.append(f"{corner} {' '.join(one or '-' for one in typed)}")
    read = read_temperatures if what == "temperature" else read_pressures
    _keep(
        session, run, what, read("\n".join(lines), order).readings if lines else (), TAKEN.get(what, "after")
    )


def unreadable(what: str, cells: Mapping[Spot, str]) -> tuple[Spot, ...]:
    """The cells that cannot be read, each looked at by itself; `what` as in `put_cells`."""
    return tuple(
        spot for spot, typed in cells.items() if typed.strip() and not _can_be_read(what, spot, typed)
    )


def _can_be_read(what: str, spot: Spot, typed: str) -> bool:
    read = read_temperatures if what == "temperature" else read_pressures
    try:
        read(typed, ReadingOrder((spot,)))
    except NotebookTrouble:
        return False
    return True


def _keep(session: Session, run: Run, what: str, found: Sequence[TireReading], taken: str) -> None:
    if not found:
        raise NotebookTrouble("nothing was read; write a number for one tire at least.")
    runs.add_readings(
        session,
        run,
        [Read(what, one.si, one.corner, one.part, typed=one.typed, taken=taken) for one in found],
    )
