"""The work on the car: checklists, the rounds through them, who did what, what was found, and the hours.

A round is what the racer calls a list under way, until it is closed: in the trade a round is a turn of a jack
bolt.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from ovalwright.notebook.garage.checklists import READY
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.tables import Event, now
from ovalwright.notebook.tables_work import Checklist, CheckRound, Done, Item, PutRight
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.units import KINDS, UnitError, read_quantity

LONGEST_NAME = 120
LONGEST_WORDS = 400


@dataclass(frozen=True)
class Line:
    """A thing on a list and what became of it in a round: done by whom and when (UTC), in how long [s],
    what was found, and when that was put right. `done_by` and `done_at` are empty while it is open.
    """

    number: int
    words: str
    caution: str = ""
    good_until: dt.date | None = None
    done_by: str = ""
    done_at: dt.datetime | None = None
    seconds: float | None = None
    found: str = ""
    right_at: dt.datetime | None = None

    @property
    def is_open(self) -> bool:
        """Whether it still has to be done."""
        return self.done_at is None

    @property
    def is_wrong(self) -> bool:
        """Whether something was found that nobody has put right."""
        return bool(self.found) and self.right_at is None


@dataclass(frozen=True)
class RoundSheet:
    """A round through a checklist, for an event or for none; times in UTC."""

    checklist: str
    note: str
    event: str
    held_on: dt.date | None
    begun_at: dt.datetime
    closed_at: dt.datetime | None
    lines: tuple[Line, ...]

    @property
    def left_open(self) -> tuple[Line, ...]:
        """What has not been done."""
        return tuple(line for line in self.lines if line.is_open)


@dataclass(frozen=True)
class Hours:
    """What a person did for an event, or for none: how many things in which time [s], and of how many of
    them no time is told.
    """

    person: str
    event: str
    held_on: dt.date | None
    things: int
    seconds: float
    untimed: int


# ---------------- lists


def ready_lists(session: Session) -> tuple[str, ...]:
    """Make the checklists to begin with, those that are not there, and say which were made."""
    there = set(session.scalars(sa.select(Checklist.name)))
    made = [ready for ready in READY if ready.name not in there]
    for ready in made:
        items = [
            Item(number=number, words=thing.words, caution=thing.caution)
            for number, thing in enumerate(ready.things, start=1)
        ]
        session.add(Checklist(name=ready.name, note=ready.note, items=items))
    session.flush()
    return tuple(ready.name for ready in made)


def new_list(session: Session, name: str, *, note: str = "") -> Checklist:
    """A checklist of the racer's own. Raises NotebookTrouble for a name that is taken."""
    called = " ".join(name.split())
    if not 0 < len(called) <= LONGEST_NAME:
        raise NotebookTrouble(f"a checklist needs a name of {LONGEST_NAME} letters at the most.")
    if _find(session, called) is not None:
        raise NotebookTrouble(f'checklist "{called}" is there already; add to it, or give another name.')
    checklist = Checklist(name=called, note=note)
    session.add(checklist)
    session.flush()
    return checklist


def list_of(session: Session, name: str) -> Checklist:
    """A checklist by its name. Raises NotebookTrouble, which names those there are."""
    found = _find(session, " ".join(name.split()))
    if found is None:
        there = dict.fromkeys([*lists(session), *(ready.name for ready in READY)])
        raise NotebookTrouble(f'no checklist "{name[:60]}"; there are {", ".join(there)}.')
    return found


def _find(session: Session, name: str) -> Checklist | None:
    return session.scalars(sa.select(Checklist).where(sa.func.lower(Checklist.name) == name.lower())).first()


def lists(session: Session) -> tuple[str, ...]:
    """The names of all checklists."""
    return tuple(session.scalars(sa.select(Checklist.name).order_by(Checklist.id)))


def add_item(
    session: Session,
    checklist: Checklist,
    words: str,
    *,
    caution: str = "",
    good_until: dt.date | None = None,
) -> Item:
    """Add a thing at the end of a checklist. Raises NotebookTrouble without words."""
    told = " ".join(words.split())
    if not 0 < len(told) <= LONGEST_WORDS:
        raise NotebookTrouble(f"say what is to be done, in {LONGEST_WORDS} letters at the most.")
    last = session.scalar(sa.select(sa.func.max(Item.number)).where(Item.checklist_id == checklist.id))
    item = Item(
        checklist_id=checklist.id, number=(last or 0) + 1, words=told, caution=caution, good_until=good_until
    )
    session.add(item)
    session.flush()
    session.expire(checklist, ["items"])
    return item


def item_of(session: Session, checklist: Checklist, wanted: str) -> Item:
    """A thing of a checklist by its number, or by words that only it holds. Raises NotebookTrouble."""
    told = " ".join(wanted.lower().split())
    items = [item for item in checklist.items if not item.dropped]
    named = [item for item in items if told and told in (str(item.number), item.words.lower())]
    found = named or [item for item in items if told and told in item.words.lower()]
    if len(found) == 1:
        return found[0]
    if found:
        some = "; ".join(f"{item.number} {item.words[:40]}" for item in found[:4])
        raise NotebookTrouble(f'"{wanted[:40]}" may be {some}; give the number.')
    raise NotebookTrouble(
        f'"{wanted[:40]}" is not on {checklist.name}; give a number of it, or words that it holds.'
    )


def change_item(session: Session, item: Item, *, words: str = "", caution: str | None = None) -> None:
    """Say a thing in other words, or give it another caution."""
    item.words = " ".join(words.split())[:LONGEST_WORDS] or item.words
    item.caution = item.caution if caution is None else caution
    session.flush()


def good_until(session: Session, item: Item, day: dt.date | None) -> None:
    """Until which day something is good, such as belts; None when it has no such day."""
    item.good_until = day
    session.flush()


def drop_item(session: Session, item: Item) -> None:
    """Leave a thing out from now on; the rounds in which it was done keep it."""
    item.dropped = True
    session.flush()


# ---------------- rounds


def begin_round(session: Session, checklist: Checklist, *, event: Event | None = None) -> CheckRound:
    """Begin a round through a checklist, for an event or for none; one that is open is gone on with."""
    found = open_round(session, checklist, event=event)
    if found is not None:
        return found
    begun = CheckRound(
        checklist_id=checklist.id, checklist=checklist, event_id=event.id if event else None, event=event
    )
    session.add(begun)
    session.flush()
    return begun


def open_round(session: Session, checklist: Checklist, *, event: Event | None = None) -> CheckRound | None:
    """The round through a checklist that is not closed yet, None where there is none."""
    query = sa.select(CheckRound).where(
        CheckRound.checklist_id == checklist.id,
        CheckRound.event_id == (event.id if event else None),
        CheckRound.closed_at.is_(None),
    )
    return session.scalars(query.order_by(CheckRound.id.desc())).first()


def open_rounds(session: Session, checklist: Checklist | None = None) -> tuple[CheckRound, ...]:
    """The rounds that are not closed, of one checklist or of all, the latest first."""
    query = sa.select(CheckRound).options(joinedload(CheckRound.checklist), joinedload(CheckRound.event))
    query = query.where(CheckRound.closed_at.is_(None))
    query = query.where(CheckRound.checklist_id == checklist.id) if checklist else query
    return tuple(session.scalars(query.order_by(CheckRound.begun_at.desc(), CheckRound.id.desc())))


def tick(
    session: Session,
    check_round: CheckRound,
    item: Item,
    *,
    by: str = "",
    took: str = "",
    found: str = "",
    at: dt.datetime | None = None,
) -> Done:
    """Note that a thing was done in a round. `took` as typed: ``15 min``, ``1 1/2 h`` or ``15`` for minutes.

    Raises NotebookTrouble when it was done already, saying by whom, and when the round is closed.
    """
    if check_round.closed_at is not None:
        raise NotebookTrouble(f"{check_round.checklist.name} is closed; begin it again.")
    if item.checklist_id != check_round.checklist_id or item.dropped:
        raise NotebookTrouble(
            f'"{item.words[:60]}" is not on {check_round.checklist.name}; name one that is.'
        )
    was = _done_of(session, check_round, item)
    if was is not None:
        raise NotebookTrouble(
            f'"{item.words[:60]}" was done by {was.done_by} at {was.done_at:%Y-%m-%d %H:%M} UTC; take that '
            "back first."
        )
    _forget_put_right(session, check_round, item)
    done = Done(
        round_id=check_round.id,
        item_id=item.id,
        done_at=at or now(),
        done_by=(by or entry_of(session).by)[:120],
        seconds=seconds_of(took) if took.strip() else None,
        found=" ".join(found.split()),
    )
    session.add(done)
    session.flush()
    return done


def tick_all(
    session: Session,
    check_round: CheckRound,
    wanted: Sequence[str],
    *,
    by: str = "",
    took: str = "",
    found: str = "",
) -> tuple[Item, ...]:
    """Note several things as done, each by its number or words; `took` is the time of all of them together,
    an equal share of it for each. Raises NotebookTrouble as `tick` does.
    """
    items = tuple(item_of(session, check_round.checklist, one) for one in wanted)
    share = f"{seconds_of(took) / len(items):.3f} s" if took.strip() and len(items) > 1 else took
    for item in items:
        tick(session, check_round, item, by=by, took=share, found=found)
    return items


def untick(session: Session, check_round: CheckRound, item: Item) -> None:
    """Take back that a thing was done. Raises NotebookTrouble when it was not."""
    was = _done_of(session, check_round, item)
    if was is None:
        raise NotebookTrouble(f'"{item.words[:60]}" was not done there; there is nothing to take back.')
    _forget_put_right(session, check_round, item)
    session.delete(was)
    session.flush()


def _forget_put_right(session: Session, check_round: CheckRound, item: Item) -> None:
    """What was put right before belongs to what was found before."""
    was = sa.select(PutRight).where(PutRight.round_id == check_round.id, PutRight.item_id == item.id)
    for one in session.scalars(was):
        session.delete(one)


def _done_of(session: Session, check_round: CheckRound, item: Item) -> Done | None:
    query = sa.select(Done).where(Done.round_id == check_round.id, Done.item_id == item.id)
    return session.scalars(query).first()


def seconds_of(took: str) -> float:
    """How long something took [s] as it is typed for `tick`. Raises NotebookTrouble."""
    told = took.strip()
    try:
        return read_quantity(f"{told} min" if re.fullmatch(r"[\d\s./]+", told) else told, KINDS["time"]).si
    except UnitError as problem:
        raise NotebookTrouble(f"how long it took: {problem}.") from None


def close_round(session: Session, check_round: CheckRound, *, at: dt.datetime | None = None) -> RoundSheet:
    """Close a round, and show it with what was left open."""
    if check_round.closed_at is None:
        check_round.closed_at = at or now()
        session.flush()
    return round_sheet(session, check_round)


def round_sheet(session: Session, check_round: CheckRound) -> RoundSheet:
    """A round, thing by thing, in the order of the list; what was dropped is there when it was done."""
    told = {
        done.item_id: done for done in session.scalars(sa.select(Done).where(Done.round_id == check_round.id))
    }
    right = {
        one.item_id: one.right_at
        for one in session.scalars(sa.select(PutRight).where(PutRight.round_id == check_round.id))
    }
    query = sa.select(Item).where(Item.checklist_id == check_round.checklist_id).order_by(Item.number)
    checklist, event = check_round.checklist, check_round.event
    return RoundSheet(
        checklist=checklist.name,
        note=checklist.note,
        event=event.name if event else "",
        held_on=event.held_on if event else None,
        begun_at=check_round.begun_at,
        closed_at=check_round.closed_at,
        lines=tuple(
            _line(item, told.get(item.id), right.get(item.id))
            for item in session.scalars(query)
            if not item.dropped or item.id in told
        ),
    )


def list_lines(session: Session, checklist: Checklist) -> tuple[Line, ...]:
    """A checklist to be done, thing by thing."""
    query = sa.select(Item).where(Item.checklist_id == checklist.id, Item.dropped.is_(False))
    return tuple(_line(item, None) for item in session.scalars(query.order_by(Item.number)))


def _line(item: Item, done: Done | None, right_at: dt.datetime | None = None) -> Line:
    line = Line(item.number, item.words, item.caution, item.good_until)
    if done is None:
        return line
    return replace(
        line,
        done_by=done.done_by,
        done_at=done.done_at,
        seconds=done.seconds,
        found=done.found,
        right_at=right_at,
    )


def rounds(session: Session, *, event: Event | None = None, most: int = 50) -> tuple[RoundSheet, ...]:
    """The latest rounds, of an event or of all, newest first."""
    query = sa.select(CheckRound).options(joinedload(CheckRound.checklist), joinedload(CheckRound.event))
    query = query.where(CheckRound.event_id == event.id) if event else query
    found = session.scalars(
        query.order_by(CheckRound.begun_at.desc(), CheckRound.id.desc()).limit(most)
    ).all()
    return tuple(round_sheet(session, one) for one in found)


# ---------------- hours


def hours(session: Session, *, event: Event | None = None) -> tuple[Hours, ...]:
    """Who worked how long, by event, the latest event first; of one event where it is named."""
    query = (
        sa.select(
            Done.done_by,
            Event.name,
            Event.held_on,
            sa.func.count(),
            sa.func.sum(Done.seconds),
            sa.func.count() - sa.func.count(Done.seconds),
        )
        .join(CheckRound, CheckRound.id == Done.round_id)
        .outerjoin(Event, Event.id == CheckRound.event_id)
        .group_by(Done.done_by, Event.id, Event.name, Event.held_on)
        .order_by(Event.held_on.desc().nulls_last(), Event.id.desc(), Done.done_by)
    )
    query = query.where(CheckRound.event_id == event.id) if event else query
    return tuple(
        Hours(person, name or "", held_on, things, seconds or 0.0, untimed)
        for person, name, held_on, things, seconds, untimed in session.execute(query)
    )
