"""Finding runs by what a racer asks of them, and anything by its words or its code.

A question becomes one query in which numbers, names and words are asked together; newest runs come first.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from ovalwright.corners import CORNERS
from ovalwright.notebook.asked.clauses import read_question
from ovalwright.notebook.asked.question import Clause, Days, Felt, Measured, Named, Question, Rode, keyed
from ovalwright.notebook.garage.findings import findings_said
from ovalwright.notebook.tables import (
    Comment,
    Document,
    Event,
    Figure,
    Lap,
    Part,
    Reference,
    Revision,
    Ridden,
    Run,
)
from ovalwright.notebook.tables_work import Saying
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.words import BETWEEN, snippet, spoken, spoken_by, tell

__all__ = ["Found", "FoundRun", "Thing", "find_anything", "find_runs", "tell"]

Condition = sa.ColumnElement[bool]


@dataclass(frozen=True)
class FoundRun:
    """A run in a list: times [s], `fall_off` [s per 10 laps]; `comment` and `snippet` are what matched."""

    code: str
    date: dt.date
    event: str
    session: str
    track: str
    setup: str
    setup_name: str
    best: float | None
    middle: float | None
    fall_off: float | None
    laps: int
    comment: str = ""
    snippet: str = ""


@dataclass(frozen=True)
class Found:
    """The newest runs that a question asks for, how it was understood, and whether there are more."""

    runs: tuple[FoundRun, ...]
    understood: tuple[str, ...]
    more: bool


@dataclass(frozen=True)
class Thing:
    """Anything found: what it is (`run`, `event`, `tire`, `setup` ...), its code or mark, and its name."""

    what: str
    code: str
    name: str
    date: dt.date | None
    snippet: str


def find_runs(session: Session, question: Question | str, *, most: int = 50) -> Found:
    """The runs of which every clause of a question holds, newest first. Raises NotebookTrouble."""
    asked = question if isinstance(question, Question) else read_question(question)
    clauses = [looked_up(session, clause) for clause in asked.clauses]
    ids = list(session.scalars(run_ids(session, clauses, most + 1)))
    runs = found_runs(session, ids[:most])
    return Found(
        _with_what_matched(session, clauses, ids[:most], runs),
        tuple(clause.understood for clause in clauses),
        more=len(ids) > most,
    )


def run_ids(session: Session, clauses: Sequence[Clause], most: int) -> sa.Select[int]:
    """The query of the ids of the newest runs of which all clauses hold."""
    query = sa.select(Run.id).order_by(Run.started.desc(), Run.id.desc()).limit(most)
    query = query.where(*(_condition(session, clause) for clause in clauses if not _is_words(clause)))
    texts = [clause.name for clause in clauses if isinstance(clause, Named) and clause.what == "words"]
    if texts:
        said = sa.select(Saying.owner_id).where(Saying.owner == "run", spoken_by(session, texts))
        query = query.where(Run.id.in_(said))
    return query


def looked_up(session: Session, clause: Clause) -> Clause:
    """A clause with what only the notebook tells: which track is `here`, which words are a part's mark."""
    return _marked(session, _here(session, clause))


def _is_words(clause: Clause) -> bool:
    return isinstance(clause, Named) and clause.what == "words"


def _here(session: Session, clause: Clause) -> Clause:
    """`here` as the track of the last event that tells one."""
    if not isinstance(clause, Named) or clause.what != "here":
        return clause
    last = (
        sa.select(Event.track_id)
        .where(Event.track_id.is_not(None))
        .order_by(Event.held_on.desc(), Event.id.desc())
    )
    track = session.get(Revision, session.scalars(last.limit(1)).first() or 0)
    if track is None:
        raise NotebookTrouble('"here": no event tells its track yet; ask for "track" and its name.')
    told = f"at {track.document.name}, the track of the last event"
    return replace(clause, understood=told, name=str(track.document_id))


def _marked(session: Session, clause: Clause) -> Clause:
    """A bare mark of a part as the part; in quotes it stays words."""
    if not isinstance(clause, Named) or not _is_words(clause) or clause.typed.startswith('"'):
        return clause
    known = sa.select(Part.mark).where(sa.func.lower(Part.mark) == clause.name.lower())
    mark = session.scalars(known.limit(1)).first()
    return clause if mark is None else Rode(clause.typed, f"part {mark} was in the car", "", mark)


# ---------------- conditions


def _condition(session: Session, clause: Clause) -> Condition:
    match clause:
        case Named(what="hit", name=name):
            said = sa.select(Saying.owner_id).where(Saying.owner == "run", spoken_by(session, [name]))
            return sa.or_(Run.hit != "", Run.id.in_(said))
        case Measured():
            return _measured(clause)
        case Felt():
            return Run.id.in_(sa.select(Comment.run_id).where(comment_is(clause)))
        case Rode():
            return Run.id.in_(_rode(clause))
        case Days(first=first, end=end):
            return _within(Run.started, _midnight(first), _midnight(end), open_end=True)
        case Named():
            return _named(clause)
    raise TypeError(clause)


def _within(value: Any, low: Any, high: Any, *, open_end: bool = False) -> Condition:
    bounds = [] if low is None else [value >= low]
    if high is not None:
        bounds.append(value < high if open_end else value <= high)
    return sa.and_(*bounds)


def _midnight(day: dt.date | None) -> dt.datetime | None:
    return None if day is None else dt.datetime.combine(day, dt.time())


def _measured(clause: Measured) -> Condition:
    field = clause.field
    if field.place == "run":
        return _within(getattr(Run, field.keys[0]), clause.low, clause.high)
    if field.place == "setup":
        setups = sa.select(Figure.revision_id).where(
            Figure.key.in_(field.keys), _within(Figure.si, clause.low, clause.high)
        )
        return Run.setup_id.in_(setups)
    weights = [f"{corner}.weight" for corner in CORNERS]
    those = [f"{corner}.weight" for corner in field.keys]
    share = sa.func.sum(sa.case((Figure.key.in_(those), Figure.si), else_=0.0)) / sa.func.sum(Figure.si)
    sheets = sa.select(Figure.revision_id).where(Figure.key.in_(weights)).group_by(Figure.revision_id)
    sheets = sheets.having(sa.func.sum(Figure.si) > 0.0, _within(share, clause.low, clause.high))
    weighed = sa.select(Reference.revision_id).where(
        Reference.role == "sheet", Reference.target_id.in_(sheets)
    )
    return Run.setup_id.in_(weighed)


def comment_is(clause: Felt) -> Condition:
    """The condition on `Comment` that it says so; one of all the run counts for early and for late."""
    asked: list[Condition] = [sa.true()]
    if clause.feel:
        asked.append(Comment.feel == clause.feel)
    if clause.phase:
        asked.append(Comment.phase == clause.phase)
    if clause.when:
        asked.append(Comment.when.in_((clause.when, "")))
    return sa.and_(*asked)


def _rode(clause: Rode) -> sa.Select[int]:
    query = sa.select(Ridden.run_id).join(Part, Part.id == Ridden.part_id)
    query = query.where(sa.func.lower(Part.mark) == clause.mark.lower())
    if clause.kind:
        query = query.where(Part.kind == clause.kind)
    return query.where(Ridden.place.startswith(f"{clause.corner} ")) if clause.corner else query


def _named(clause: Named) -> Condition:
    name = clause.name
    match clause.what:
        case "here":
            return Run.track_id.in_(sa.select(Revision.id).where(Revision.document_id == int(name)))
        case "track":
            return Run.track_id.in_(_revisions(Document.kind == "track", _called(Document.name, name)))
        case "setup":
            by_code = Revision.code == name.upper()
            return Run.setup_id.in_(_revisions(sa.or_(by_code, _called(Document.name, name))))
        case "car":
            cars = _revisions(Document.kind == "car", _called(Document.name, name))
            fits = sa.select(Reference.revision_id).where(
                Reference.role == "car", Reference.target_id.in_(cars)
            )
            return Run.setup_id.in_(fits)
        case "event":
            return Run.event_id.in_(sa.select(Event.id).where(_called(Event.name, name)))
        case "driver":
            return _called(Run.driver, name)
        case "session":
            return _called(Run.session, name)
        case "run":
            return Run.code == name.upper()
        case "flag" if name == "green":
            return sa.exists().where(Lap.run_id == Run.id, Lap.flag == name)
        case "flag":
            not_green = Lap.flag != sa.literal_column("'green'")
            return Run.id.in_(sa.select(Lap.run_id).where(Lap.flag == name, not_green))
    raise TypeError(clause)


def _revisions(*conditions: Condition) -> sa.Select[int]:
    query = sa.select(Revision.id).join(Document, Document.id == Revision.document_id)
    return query.where(*conditions)


def _called(column: Any, name: str) -> Condition:
    """Every word of a name stands in a column, whatever its case, also beyond the letters of English."""
    return sa.and_(
        *(
            sa.or_(
                *(
                    column.icontains(one, autoescape=True)
                    for one in {word, word.lower(), word.upper(), word.title()}
                )
            )
            for word in name.split()
        )
    )


# ---------------- what is shown


def found_runs(session: Session, ids: Sequence[int]) -> tuple[FoundRun, ...]:
    """Runs as they are listed, in the order of their ids."""
    setup, track = aliased(Revision), aliased(Revision)
    setup_home, track_home = aliased(Document), aliased(Document)
    query = (
        sa.select(
            Run.id, Run.code, Run.started, Event.name, Run.session, track_home.name, setup.code,
            setup_home.name, Run.best, Run.middle, Run.fall_off, Run.laps,
        )
        .join(Event, Event.id == Run.event_id)
        .join(setup, setup.id == Run.setup_id)
        .join(setup_home, setup_home.id == setup.document_id)
        .outerjoin(track, track.id == Run.track_id)
        .outerjoin(track_home, track_home.id == track.document_id)
        .where(Run.id.in_(ids))
    )  # fmt: skip
    rows = {row[0]: row for row in session.execute(query)}
    return tuple(
        FoundRun(code, started.date(), event, called, at or "", setup_code, name, *times)
        for _, code, started, event, called, at, setup_code, name, *times in (rows[one] for one in ids)
    )


def _with_what_matched(
    session: Session, clauses: Sequence[Clause], ids: Sequence[int], runs: Sequence[FoundRun]
) -> tuple[FoundRun, ...]:
    comments = _comments(session, clauses, ids)
    texts = [clause.name for clause in clauses if isinstance(clause, Named) and clause.what == "words"]
    said: dict[int, str] = {}
    if texts:
        query = sa.select(Saying.owner_id, Saying.words).where(
            Saying.owner == "run", Saying.owner_id.in_(ids)
        )
        codes = {one: f"{run.code}{BETWEEN}" for one, run in zip(ids, runs, strict=True)}
        said = {
            owner: snippet(words.removeprefix(codes[owner]), texts) for owner, words in session.execute(query)
        }
    return tuple(
        replace(run, comment=comments.get(one, ""), snippet=said.get(one, ""))
        for one, run in zip(ids, runs, strict=True)
    )


def _comments(session: Session, clauses: Sequence[Clause], ids: Sequence[int]) -> dict[int, str]:
    asked = [comment_is(clause) for clause in clauses if isinstance(clause, Felt)]
    if not asked:
        return {}
    query = sa.select(Comment).where(Comment.run_id.in_(ids), sa.or_(*asked)).order_by(Comment.id)
    found: dict[int, str] = {}
    for one in session.scalars(query):
        told = spoken(one.feel, one.phase, one.when, one.words)
        found[one.run_id] = f"{found[one.run_id]}; {told}" if one.run_id in found else told
    return found


def said_of(session: Session, codes: Sequence[str]) -> dict[str, str]:
    """What the driver said of runs, each in one line by its code; none where he said nothing."""
    query = sa.select(Run.code, Comment).join(Run, Run.id == Comment.run_id).order_by(Comment.id)
    said: dict[str, list[str]] = {}
    for code, one in session.execute(query.where(Run.code.in_(codes))):
        said.setdefault(code, []).append(spoken(one.feel, one.phase, one.when, one.words))
    return {code: BETWEEN.join(words) for code, words in said.items()}


# ---------------- anything


def find_anything(session: Session, text: str, *, most: int = 20) -> tuple[Thing, ...]:
    """What bears a code or a mark; then events, parts and documents by words, newest first.

    Runs are found by their code here, by their words with `find_runs`. Raises NotebookTrouble.
    """
    text = " ".join(keyed(text).split())
    said = sa.select(Saying.owner, Saying.owner_id, Saying.words)
    worded = said.where(Saying.owner != "run", spoken_by(session, [text])).order_by(Saying.id.desc())
    found = [*_by_code(session, text[:60]), *session.execute(worded.limit(most))]
    things = {
        (owner, owner_id): _thing(session, owner, owner_id, words, text) for owner, owner_id, words in found
    }
    return (*_seen(session, text, most), *things.values())[:most]


def _seen(session: Session, text: str, most: int) -> Iterator[Thing]:
    """What was found on the car, put right or not."""
    for one in findings_said(session, text, most=most):
        what = "put right" if one.right_at else "found"
        where = f"{one.checklist}, {one.number}"
        yield Thing(what, where, f"{one.found}: {one.words}", one.found_at.date(), one.how)


def _by_code(session: Session, code: str) -> list[tuple[str, int, str]]:
    """What a code or a mark names by itself."""
    marked: tuple[tuple[str, Any, Any], ...] = (
        ("run", Run, Run.code == code.upper()),
        ("revision", Revision, Revision.code == code.upper()),
        ("part", Part, sa.func.lower(Part.mark) == code.lower()),
    )
    return [
        (owner, one, "")
        for owner, table, is_it in marked
        for one in session.scalars(sa.select(table.id).where(is_it))
    ]


def _thing(session: Session, owner: str, owner_id: int, words: str, text: str) -> Thing:
    matched = snippet(words, [text]) if words else ""
    if owner == "run":
        run = session.get_one(Run, owner_id)
        return Thing("run", run.code, run.event.name, run.started.date(), matched)
    if owner == "event":
        event = session.get_one(Event, owner_id)
        return Thing("event", "", event.name, event.held_on, matched)
    if owner == "part":
        part = session.get_one(Part, owner_id)
        return Thing(part.kind, part.mark, part.name, part.bought_on, matched)
    one = session.get_one(Revision, owner_id)
    return Thing(one.document.kind, one.code, one.document.name, one.made_at.date(), matched)
