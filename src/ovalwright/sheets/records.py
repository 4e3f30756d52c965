"""From the records of the notebook to what a sheet prints: a run, tires, a day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from sqlalchemy.orm import Session

from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly, Conditions
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.garage.parts import find_part, time_told
from ovalwright.notebook.garage.parts_life import RollOut as Size
from ovalwright.notebook.garage.parts_life import tire_life
from ovalwright.notebook.garage.parts_measured import Measured
from ovalwright.notebook.runs import THIRDS, Read, RunRecord
from ovalwright.notebook.tables import Part, Run
from ovalwright.notebook.typed import entering
from ovalwright.sheets.runs import Comment, RunCorner, RunLap, RunLog
from ovalwright.sheets.show import typed
from ovalwright.sheets.tires import Across, RollOut, TireCard
from ovalwright.study.set_down import KIND_OF
from ovalwright.units import System, show

NOTHING = "nothing in the setup"
BETWEEN = "; "
"""What parts the differences of two setups as the notebook says them."""

# ---------------- a run


def run_log_of(session: Session, run: Run, *, system: System = "us") -> RunLog:
    """A run of the notebook as its log prints it."""
    told, changed = runs.record(session, run), entering.changed_before(session, run)
    weather = shelf.document_of(run.conditions) if run.conditions else None
    told_of = weather if isinstance(weather, Conditions) else None
    reason = run.setup.reason if changed else ""

    def amount(si: float | None, kind: str) -> str:
        return show(si, kind, system=system) if si is not None else ""

    fuel = amount(told.fuel, "volume")
    left = amount(told.fuel_left, "volume")

    def step(si: float | None) -> str:
        return f"{'+' if si > 0.0 else ''}{show(si, 'lap_gain', system=system)}" if si is not None else ""

    return RunLog(
        event=told.event,
        track=told.track,
        driver=told.driver,
        best=amount(told.best, "lap_time"),
        middle=amount(told.middle, "lap_time"),
        fall_off=step(told.fall_off),
        toe_out=_came_back(told, "", system).get("toe_out", ""),
        number=f"{told.number}{f', {told.session}' if told.session else ''}",
        time=f"{told.held_on}{f' {told.started:%H:%M}' if time_told(told.started) else ''}",
        purpose="; ".join(text for text in (reason, told.note) if text),
        changes=tuple(changed.split(BETWEEN)) if changed else (NOTHING,) if told.number > 1 else (),
        tires=_marks(told),
        fuel=", ".join(text for text in (fuel, f"{left} left" if left else "") if text),
        track_temperature=amount(told.surface, "temperature"),
        air_temperature=amount(told.air, "temperature"),
        humidity=typed(told_of, "humidity") if told_of else "",
        barometer=typed(told_of, "barometer") if told_of else "",
        stagger_hot=_stagger_hot(told, system),
        laps=tuple(
            RunLap(
                number=str(lap.number),
                time=show(lap.time, "lap_time", system=system).split(" ")[0],
                flag="" if lap.flag == "green" else lap.said or lap.flag,
            )
            for lap in told.laps
        ),
        corners={corner: _read_at(told, corner, system) for corner in CORNERS},
        comments=tuple(
            Comment(phase=one.phase or "turn", when=one.when, feel=one.feel, words=one.words)
            for one in told.comments
        ),
        decision=". ".join(text for text in (told.decided, f"Hit: {told.hit}" if told.hit else "") if text),
    )


def _marks(told: RunRecord) -> str:
    """The marks of the tires that were on, LF, RF, LR, RR."""
    on = dict(told.ridden)
    marks = [on.get(f"{corner} tire", "-") for corner in CORNERS]
    return ", ".join(marks) if any(mark != "-" for mark in marks) else ""


def _last(told: RunRecord) -> dict[tuple[str, str, str], Read]:
    """The last reading of everything but the set-down."""
    return {(one.what, one.place, one.part): one for one in told.readings if one.taken != "set_down"}


def _read_at(told: RunRecord, corner: str, system: System) -> RunCorner:
    last = _last(told)

    def text(what: str, kind: str, part: str = "") -> str:
        one = last.get((what, corner, part))
        return show(one.si, kind, system=system) if one else ""

    return RunCorner(
        cold=text("cold", "pressure"),
        set_down=_came_back(told, corner, system),
        hot=text("hot", "pressure"),
        temperatures=Across(**{third: text("temperature", "temperature", third) for third in THIRDS}),
        travel=text("travel", "travel"),
    )


def _came_back(told: RunRecord, corner: str, system: System) -> dict[str, str]:
    """What was measured at one corner, or of the whole car, as it came back."""
    return {
        one.what: show(one.si, KIND_OF[one.what], system=system)
        for one in told.readings
        if one.taken == "set_down" and one.place == corner and one.what in KIND_OF
    }


def _stagger_hot(told: RunRecord, system: System) -> str:
    """Rear stagger from roll-outs as the car came back."""
    sizes = {one.place: one.si for one in told.readings if one.what == "roll_out" and one.taken == "set_down"}
    both = "RR" in sizes and "LR" in sizes
    return show(sizes["RR"] - sizes["LR"], "growth", system=system) if both else ""


# ---------------- tires


def cards_of_setup(
    session: Session | None, assembly: Assembly, run: Run | None = None, *, system: System = "us"
) -> tuple[TireCard, ...]:
    """The four tires of a setup, with what the notebook knows of those marks.

    Of a run they are those that were on the car, as they were when it was over.
    """
    told = runs.record(session, run) if session is not None and run is not None else None
    rode = dict(told.ridden) if told else {}
    cards = []
    for corner in CORNERS:
        tire = getattr(assembly.setup, corner).tire
        mark = rode.get(f"{corner} tire", tire.tire or "")
        part = find_part(session, "tire", mark) if session is not None and mark else None
        known = TireCard(mark=mark)
        if session is not None and part is not None:
            known = card_of_tire(session, part, after=told, system=system)
        read = _read_at(told, corner, system) if told else RunCorner()
        own = RollOut(when="setup", length=typed(tire, "roll_out"), pressure=typed(tire, "roll_out_pressure"))
        cards.append(
            replace(
                known,
                corner=corner,
                cold=typed(tire, "cold"),
                hot=read.hot or typed(tire, "hot"),
                temperatures=read.temperatures,
                roll_outs=known.roll_outs or ((own,) if own.length else ()),
            )
        )
    return tuple(cards)


def card_of_tire(
    session: Session, part: Part, *, after: RunRecord | None = None, system: System = "us"
) -> TireCard:
    """A tire as it is now, or as it was after a run. Raises NotebookTrouble for a part that is none."""
    told = tire_life(session, part)
    last_day = after.held_on if after else dt.date.max
    there = next((one for one in told.runs if after is not None and one.code == after.code), None)
    laps = there.laps_before + there.laps if there else told.life.laps
    cycles = there.cycles_before + 1 if there else told.life.cycles
    hard = [one for one in told.durometer if one.on <= last_day][-1:]
    where = told.life.where.place
    return TireCard(
        mark=part.mark,
        corner=where.split(" ")[0] if where.endswith(" tire") else "",
        compound=part.compound,
        date_code=part.date_code,
        laps=f"{laps:,}",
        heat_cycles=str(cycles),
        durometer=show(hard[0].si, "durometer", system=system) if hard else "",
        durometer_temperature=show(hard[0].at, "temperature", system=system) if hard and hard[0].at else "",
        wear=_worn([one for one in told.tread if one.on <= last_day], system),
        roll_outs=tuple(
            RollOut(
                when=str(one.on),
                length=show(one.si, "roll_out", system=system),
                pressure=show(one.at, "pressure", system=system),
            )
            for one in _first_and_last([one for one in told.roll_outs if one.on <= last_day])
        ),
        notes="" if after else part.note,
    )


def _first_and_last(sizes: Sequence[Size]) -> Sequence[Size]:
    return sizes if len(sizes) < 3 else (sizes[0], sizes[-1])


def _worn(tread: Sequence[Measured], system: System) -> Across:
    """Tread gone by thirds since its first reading; one that names no third stands in the middle."""
    depths: dict[str, list[float]] = {}
    for one in tread:
        depths.setdefault(one.what.removeprefix("tread").removeprefix("_") or "middle", []).append(one.si)
    gone = {
        third: show(read[0] - read[-1], "wear", system=system) for third, read in depths.items() if read[1:]
    }
    return Across(**gone)


# ---------------- a day


def day_of(text: dt.date) -> str:
    """A day as it stands on a sheet."""
    return f"{text:%A}, {text.isoformat()}"
