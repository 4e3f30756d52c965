"""Parts as individuals: where each is and was, and in which runs it was in the car.

A place on a car ends in the kind of part that it holds, so it holds one part of a kind: ``LF tire``,
``RR spring``, ``RF lower ball joint``, ``bar``, ``gear``, ``L50-1 lead``. Off the car a part is on the
``shelf``, ``lent to ...`` or ``scrapped``; one that was never moved is on the shelf. Moves of a part are told
in order, with the time on the wall at the car.
"""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from ovalwright.corners import CORNERS
from ovalwright.notebook.shelf import kept_with
from ovalwright.notebook.tables import Document, Part, Reference, Revision, Ridden, Run, Stay
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.words import tell

ONE_AT_A_CORNER = ("tire", "wheel", "spring", "shock", "stop", "hub", "rotor", "brake pads")
ONE_ON_A_CAR = ("bar", "gear", "engine", "clutch", "rear end", "steering")
SEVERAL = ("ball joint", "rod end", "tie rod", "u-joint", "axle", "lead")
KINDS = (*ONE_AT_A_CORNER, *ONE_ON_A_CAR, *SEVERAL)
"""Kinds of part with a meaning of their own; a racer may name any other."""
CALLED = {"motor": "engine", "sway bar": "bar", "ring and pinion": "gear", "pads": "brake pads"}
"""Other words for a kind that he may say."""
TOLD_OF_A_PART = frozenset(
    {"name", "compound", "date_code", "bought_on", "paid", "bought_from", "rated", "note"}
)
SHELF, SCRAPPED, LENT = "shelf", "scrapped", "lent to "
LONGEST_KIND, LONGEST_MARK, LONGEST_PLACE = 20, 60, 40
UNTOLD = dt.time(12)
"""When a run stands whose time was not told; one after a run of that day stands microseconds after it."""


@dataclass(frozen=True)
class Whereabouts:
    """Where a part is or was: at a `place` of a `car`, or off it, where `car` is empty.

    `since` is None where it was never moved, `until` is None where it still is.
    """

    kind: str
    mark: str
    car: str = ""
    place: str = SHELF
    since: dt.datetime | None = None
    until: dt.datetime | None = None


# ---------------- parts


def new_part(
    session: Session,
    kind: str,
    mark: str,
    *,
    name: str = "",
    compound: str = "",
    date_code: str = "",
    bought_on: dt.date | None = None,
    paid: float | None = None,
    bought_from: str = "",
    rated: float | None = None,
    laps_before: int = 0,
    distance_before: float = 0.0,
    cycles_before: int = 0,
    note: str = "",
) -> Part:
    """A part by the mark on it, on the shelf. `rated` in SI; `..._before` is what it had when it came.

    Raises NotebookTrouble for a mark that another part of the kind has, and for less than nothing before.
    """
    kind, mark = _kind(kind), " ".join(mark.split())
    if not 0 < len(mark) <= LONGEST_MARK:
        raise NotebookTrouble(f"a {kind} needs the mark on it, of {LONGEST_MARK} letters at the most.")
    if find_part(session, kind, mark) is not None:
        raise NotebookTrouble(f"{kind} {mark} is in the notebook already; give this one its own mark.")
    if laps_before < 0 or distance_before < 0 or cycles_before < 0:
        raise NotebookTrouble(f"{kind} {mark} cannot have run less than nothing before it came.")
    part = Part(
        kind=kind,
        mark=mark,
        name=name[:120],
        compound=compound[:60],
        date_code=date_code[:20],
        bought_on=bought_on,
        paid=paid,
        bought_from=bought_from[:120],
        rated=rated,
        laps_before=laps_before,
        distance_before=distance_before,
        cycles_before=cycles_before,
        note=note,
    )
    session.add(part)
    session.flush()
    tell(session, "part", part.id)
    return part


def change_part(session: Session, part: Part, changes: Mapping[str, object]) -> None:
    """Fill in or mend what is told of a part by its columns. Raises NotebookTrouble for any other.

    Its kind and mark stay; what it ran is counted, not told.
    """
    odd = sorted(set(changes) - TOLD_OF_A_PART)
    if odd:
        raise NotebookTrouble(
            f"{odd[0]} of {_shown(part)} is not changed so; {', '.join(sorted(TOLD_OF_A_PART))} are."
        )
    for key, value in changes.items():
        setattr(part, key, value)
    session.flush()
    tell(session, "part", part.id)


def kind_named(told: str) -> str:
    """A kind in our word for it: a motor is an engine."""
    kind = " ".join(told.lower().split())
    return CALLED.get(kind, kind)


def _kind(told: str) -> str:
    """A kind as it is kept. Raises NotebookTrouble when it is none, or one of ours misspelled."""
    kind = kind_named(told)
    if not 0 < len(kind) <= LONGEST_KIND:
        raise NotebookTrouble(f'"{kind[:30]}" is no kind of part; write {", ".join(KINDS)}, or another word.')
    near = difflib.get_close_matches(kind, KINDS, n=1, cutoff=0.8)
    if near and near[0] != kind:
        raise NotebookTrouble(f'"{kind}" is no kind of part; did you mean {near[0]}?')
    return kind


def find_part(session: Session, kind: str, mark: str) -> Part | None:
    """A part by its kind and mark, None where there is none."""
    return session.scalars(sa.select(Part).where(Part.kind == kind, Part.mark == mark)).first()


def part_of(session: Session, wanted: str) -> Part:
    """A part by its mark (``T8``) or its kind and mark (``tire T8``). Raises NotebookTrouble."""
    told = " ".join(wanted.split())
    named = sa.func.lower(Part.kind + " " + Part.mark) == told.lower()
    found = session.scalars(sa.select(Part).where(sa.or_(Part.mark == told, named))).all()
    exact = [part for part in found if part.mark == told] or found
    if len(exact) == 1:
        return exact[0]
    if found:
        raise NotebookTrouble(f"{' and '.join(_shown(part) for part in found)} bear that mark; say which.")
    raise NotebookTrouble(f'no part "{told[:60]}" is in the notebook; enter it, or take in the rack.')


def _shown(part: Part) -> str:
    return f"{part.kind} {part.mark}"


# ---------------- places


def place_for(part: Part, where: str = "") -> str:
    """The place of a part on a car from what the racer says (``LF``, ``lf tire``), as it is kept.

    Raises NotebookTrouble where a part of the kind cannot be.
    """
    told = " ".join(where.split())
    at = told.removesuffix(part.kind).strip()
    first, _, rest = at.partition(" ")
    if first.upper() in CORNERS:
        at = f"{first.upper()} {rest}".strip()
    if part.kind in ONE_AT_A_CORNER and at not in CORNERS:
        raise NotebookTrouble(f'{_shown(part)} cannot be at "{told[:40]}"; name a corner: LF, RF, LR, RR.')
    if part.kind in ONE_ON_A_CAR and at:
        raise NotebookTrouble(f'{_shown(part)} cannot be at "{told[:40]}"; a car has one {part.kind}.')
    place = lead_place(part.mark) if part.kind == "lead" and not at else f"{at} {part.kind}".strip()
    if len(place) > LONGEST_PLACE:
        raise NotebookTrouble(f'"{told[:40]}" is too long for a place; use {LONGEST_PLACE} letters at most.')
    return place


def lead_place(mark: str) -> str:
    """The place of a piece of lead of which no more is told than its mark."""
    return f"{mark[: LONGEST_PLACE - len(' lead')].strip()} lead"


def put(session: Session, part: Part, car: Document, where: str = "", *, when: dt.datetime) -> Stay:
    """Put a part on a car; what was in its place goes to the shelf.

    Runs of that car kept since `when` with nothing in that place are taken to have had it there. Raises
    NotebookTrouble when the part, or that in its place, was elsewhere after `when`.
    """
    if car.kind != "car":
        raise NotebookTrouble(f"{car.name} is a {car.kind}; a part is put on a car.")
    return _move(session, part, car.id, place_for(part, where), when)


def shelve(session: Session, part: Part, *, when: dt.datetime) -> Stay:
    """Take a part off the car, or back from whom it was lent to. Raises NotebookTrouble as `put` does."""
    return _move(session, part, None, SHELF, when)


def lend(session: Session, part: Part, to: str, *, when: dt.datetime) -> Stay:
    """Lend a part. Raises NotebookTrouble as `put` does, and without a name."""
    name = " ".join(to.split())
    if not 0 < len(name) <= LONGEST_PLACE - len(LENT):
        longest = LONGEST_PLACE - len(LENT)
        raise NotebookTrouble(f"say whom {_shown(part)} is lent to, in {longest} letters at the most.")
    return _move(session, part, None, LENT + name, when)


def scrap(session: Session, part: Part, *, when: dt.datetime) -> Stay:
    """Scrap a part; it keeps its history and is moved no more. Raises NotebookTrouble as `put` does."""
    stay = _move(session, part, None, SCRAPPED, when)
    part.retired_on = when.date()
    session.flush()
    return stay


def _move(session: Session, part: Part, car_id: int | None, place: str, when: dt.datetime) -> Stay:
    if when.tzinfo is not None:
        raise NotebookTrouble("a move is told by the time on the wall at the car, without a zone.")
    here = _open_stay(session, part)
    if here is not None and (here.car_id, here.place) == (car_id, place):
        if when >= here.since:
            return here
        if car_id is not None and not _spoken_for(session, here, car_id, when):
            return _since_earlier(session, here, car_id, when)
    if part.retired_on is not None:
        raise NotebookTrouble(
            f"{_shown(part)} was scrapped on {part.retired_on}; undo that, or name another."
        )
    there = _standing(session, car_id, place) if car_id is not None else None
    for left in (here, there):
        if left is not None:
            _check_may_leave(session, left, when)
    if car_id is not None:
        _check_was_free(session, car_id, place, when)
    if there is not None:
        _stay(session, there.part, there, None, SHELF, when)
    stay = _stay(session, part, here, car_id, place, when)
    if car_id is not None:
        _ride_since(session, stay, car_id)
    return stay


def _stay(
    session: Session, part: Part, before: Stay | None, car_id: int | None, place: str, when: dt.datetime
) -> Stay:
    """The stay of a part from a moment on; the one before ends then, or is this one if it began then."""
    if before is not None and before.since == when:
        before.car_id, before.place = car_id, place
        session.flush()
        return before
    if before is not None:
        before.until = when
        session.flush()
    stay = Stay(part_id=part.id, part=part, car_id=car_id, place=place, since=when)
    session.add(stay)
    session.flush()
    return stay


def _since_earlier(session: Session, stay: Stay, car_id: int, when: dt.datetime) -> Stay:
    """A first fitting told of an earlier day: it began then, and the part was in the runs since."""
    stay.since = when
    session.flush()
    _ride_since(session, stay, car_id)
    return stay


def _spoken_for(session: Session, stay: Stay, car_id: int, when: dt.datetime) -> bool:
    """Whether a move or a run since a moment says that before a stay its part or its place was elsewhere."""
    others = sa.select(Stay.id).where(
        Stay.id != stay.id,
        sa.or_(Stay.until.is_(None), Stay.until > when),
        sa.or_(
            Stay.part_id == stay.part_id,
            sa.and_(Stay.car_id == car_id, Stay.place == stay.place, Stay.since < stay.since),
        ),
    )
    own_place, own_part = Ridden.place == stay.place, Ridden.part_id == stay.part_id
    runs = sa.select(Ridden.id).join(Run, Run.id == Ridden.run_id)
    runs = runs.where(Run.started >= when, Run.started < stay.since)
    on_car = Run.id.in_(runs_of_car(car_id))
    runs = runs.where(sa.or_(sa.and_(own_part, sa.not_(sa.and_(own_place, on_car))),
                             sa.and_(own_place, on_car, sa.not_(own_part))))  # fmt: skip
    return any(session.scalars(query.limit(1)).first() is not None for query in (others, runs))


def _open_stay(session: Session, part: Part) -> Stay | None:
    return session.scalars(sa.select(Stay).where(Stay.part_id == part.id, Stay.until.is_(None))).first()


def _standing(session: Session, car_id: int, place: str) -> Stay | None:
    query = sa.select(Stay).where(Stay.car_id == car_id, Stay.place == place, Stay.until.is_(None))
    return session.scalars(query).first()


def _check_may_leave(session: Session, stay: Stay, when: dt.datetime) -> None:
    """Raise NotebookTrouble when a stay began after a moment, or a run says that it lasted longer."""
    if when < stay.since:
        raise NotebookTrouble(
            f"{_shown(stay.part)} has been at {stay.place} since {_time(stay.since)}; moves are told in "
            "order, say a time after that."
        )
    if stay.car_id is None:
        return
    query = (
        sa.select(Run)
        .join(Ridden, Ridden.run_id == Run.id)
        .where(Ridden.part_id == stay.part_id, Ridden.place == stay.place, Run.started >= when)
    )
    run = session.scalars(query.order_by(Run.started.desc()).limit(1)).first()
    if run is not None:
        raise NotebookTrouble(
            f"{_shown(stay.part)} was at {stay.place} in run {run.code}, of {_time(run.started)}; say a time "
            "after it, or mend first what was in the car in that run."
        )


def _check_was_free(session: Session, car_id: int, place: str, when: dt.datetime) -> None:
    """Raise NotebookTrouble when a part left a place after a moment."""
    query = sa.select(Stay).where(Stay.car_id == car_id, Stay.place == place, Stay.until > when)
    stay = session.scalars(query.order_by(Stay.until.desc()).limit(1)).first()
    if stay is not None and stay.until is not None:
        raise NotebookTrouble(
            f"{_shown(stay.part)} was at {place} until {_time(stay.until)}; moves are told in order, say a "
            "time after that."
        )


def _time(moment: dt.datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M")


def whereabouts(session: Session, part: Part) -> Whereabouts:
    """Where a part is now."""
    return whereabouts_of(session, [part])[part.id]


def whereabouts_of(session: Session, parts: Iterable[Part]) -> dict[int, Whereabouts]:
    """Where some parts are now, by their ids."""
    told = {part.id: Whereabouts(part.kind, part.mark) for part in parts}
    query = sa.select(Stay).options(joinedload(Stay.part))
    stays = session.scalars(query.where(Stay.part_id.in_(list(told)), Stay.until.is_(None))).all()
    return told | dict(zip((stay.part_id for stay in stays), _seen(session, stays), strict=True))


def moves(session: Session, part: Part) -> tuple[Whereabouts, ...]:
    """Where a part was, in order, up to where it is."""
    stays = session.scalars(sa.select(Stay).where(Stay.part_id == part.id).order_by(Stay.since, Stay.id))
    return _seen(session, stays.all())


def on_car(session: Session, car: Document) -> tuple[Whereabouts, ...]:
    """The parts on a car now, by place."""
    stays = session.scalars(sa.select(Stay).where(Stay.car_id == car.id, Stay.until.is_(None)))
    return _seen(session, sorted(stays, key=lambda stay: stay.place))


def _seen(session: Session, stays: Sequence[Stay]) -> tuple[Whereabouts, ...]:
    ids = {stay.car_id for stay in stays}
    cars = {car.id: car.name for car in session.scalars(sa.select(Document).where(Document.id.in_(ids)))}
    return tuple(
        Whereabouts(
            stay.part.kind, stay.part.mark, cars.get(stay.car_id or 0, ""), stay.place, stay.since, stay.until
        )
        for stay in stays
    )


# ---------------- what was in the car in a run


def ride(session: Session, run: Run) -> tuple[Ridden, ...]:
    """Note which parts are in the car in a run, in place of those noted before.

    They are those on the car of its setup at the time of the run; a run whose time was not told comes after
    every move of its day.
    """
    car_id = _car_of(session, run)
    stays = stays_on(session, car_id, moment_of(run)) if car_id is not None else []
    return _note_ridden(session, run, {stay.place: stay.part for stay in stays})


def mend_ride(session: Session, run: Run, told: Mapping[str, Part | None]) -> tuple[Ridden, ...]:
    """Mend what was in the car in a run: the part that really was at each place told, None for nothing.

    Where parts are now is not touched. Raises NotebookTrouble where a part cannot be.
    """
    there = {ridden.place: ridden.part for ridden in _ridden(session, run)}
    for where, part in told.items():
        place = place_for(part, where) if part is not None else where
        there = {at: other for at, other in there.items() if at != place and other is not part}
        if part is not None:
            there[place] = part
    mended = _note_ridden(session, run, there)
    tell(session, "run", run.id)
    return mended


def marks_ridden(session: Session, run: Run) -> tuple[tuple[str, str], ...]:
    """Places of the car in a run, and the marks of the parts that were there."""
    return tuple((ridden.place, ridden.part.mark) for ridden in _ridden(session, run))


def _ridden(session: Session, run: Run) -> list[Ridden]:
    query = sa.select(Ridden).options(joinedload(Ridden.part)).where(Ridden.run_id == run.id)
    return list(session.scalars(query.order_by(Ridden.place)))


def _note_ridden(session: Session, run: Run, there: Mapping[str, Part]) -> tuple[Ridden, ...]:
    noted = {ridden.place: ridden for ridden in _ridden(session, run)}
    for place, ridden in noted.items():
        if there.get(place) is not ridden.part:
            session.delete(ridden)
    session.flush()
    for place, part in there.items():
        if place not in noted or noted[place].part is not part:
            session.add(Ridden(run_id=run.id, run=run, part_id=part.id, part=part, place=place))
    session.flush()
    return tuple(_ridden(session, run))


def moment_of(run: Run) -> dt.datetime:
    """The time of a run among the moves."""
    if not time_told(run.started):
        return dt.datetime.combine(run.started.date(), dt.time.max)
    return run.started


def time_told(started: dt.datetime) -> bool:
    """Whether the time of a run was told, or is only its place among the others."""
    return started.time() != UNTOLD and not started.microsecond


def _car_of(session: Session, run: Run) -> int | None:
    """The id of the car whose setup was run, None where the setup was kept without one."""
    query = (
        sa.select(Revision.document_id)
        .join(Reference, Reference.target_id == Revision.id)
        .where(Reference.revision_id == run.setup_id, Reference.role == "car")
    )
    return session.scalars(query).first()


def stays_on(session: Session, car_id: int, moment: dt.datetime | None = None) -> list[Stay]:
    """The stays on a car at a moment, or now."""
    query = sa.select(Stay).options(joinedload(Stay.part)).where(Stay.car_id == car_id).order_by(Stay.place)
    if moment is None:
        return list(session.scalars(query.where(Stay.until.is_(None))))
    still = sa.or_(Stay.until.is_(None), Stay.until > moment)
    return list(session.scalars(query.where(Stay.since <= moment, still)))


def runs_of_car(car_id: int) -> sa.Select[int]:
    """The ids of the runs whose setup was kept with a car."""
    return sa.select(Run.id).where(Run.setup_id.in_(kept_with([car_id])))


def _ride_since(session: Session, stay: Stay, car_id: int) -> None:
    """A part put on a car as of an earlier time was in the runs kept since, where its place was empty."""
    since = sa.select(Run).where(Run.id.in_(runs_of_car(car_id)), Run.started >= stay.since)
    for run in session.scalars(since).all():
        there = {ridden.place: ridden.part for ridden in _ridden(session, run)}
        if stay.place not in there and stay.part not in there.values():
            _note_ridden(session, run, {**there, stay.place: stay.part})
            tell(session, "run", run.id)
