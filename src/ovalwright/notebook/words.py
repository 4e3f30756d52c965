"""The words of every run, revision, event and part, kept where they can be searched.

They are made from the other tables, so they are no entry of their own and can be made again at any time.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook.tables import Comment, Event, Part, Revision, Ridden, Run
from ovalwright.notebook.tables_work import Saying
from ovalwright.notebook.trouble import NotebookTrouble

BETWEEN = "; "
"""What parts the words of a saying."""
AROUND = 40
"""Characters of a saying shown on each side of a word that was found."""


def tell(session: Session, owner: str, owner_id: int) -> None:
    """Bring the words of one `run`, `revision`, `event` or `part` up to date.

    What is no longer there loses its words. Raises KeyError for another owner.
    """
    words = BETWEEN.join(part for part in _WORDS[owner](session, owner_id) if part)
    found = session.scalars(
        sa.select(Saying).where(Saying.owner == owner, Saying.owner_id == owner_id)
    ).first()
    if not words:
        if found is not None:
            session.delete(found)
    elif found is None:
        session.add(Saying(owner=owner, owner_id=owner_id, words=words))
    elif found.words != words:
        found.words = words
    session.flush()


def tell_all(session: Session) -> None:
    """Make the words of everything again, as after taking much in at once."""
    session.execute(sa.delete(Saying))
    for owner, table in OWNERS.items():
        for owner_id in session.scalars(sa.select(table.id)).all():
            tell(session, owner, owner_id)


# ---------------- what is told


def _of_run(session: Session, owner_id: int) -> Iterator[str]:
    run = session.get(Run, owner_id)
    if run is None:
        return
    setup, track = session.get_one(Revision, run.setup_id), run.track_id
    yield from (run.code, run.session, run.event.name)
    if track is not None:
        yield session.get_one(Revision, track).document.name
    yield from (setup.document.name, setup.code, setup.reason, setup.said, run.driver)
    for one in session.scalars(sa.select(Comment).where(Comment.run_id == owner_id).order_by(Comment.id)):
        yield spoken(one.feel, one.phase, one.when, one.words)
    yield from (run.note, run.decided, run.hit)
    rode = sa.select(Ridden.place, Part.mark).join(Part, Part.id == Ridden.part_id)
    for place, mark in session.execute(rode.where(Ridden.run_id == owner_id).order_by(Ridden.place)):
        yield f"{place} {mark}"


def spoken(feel: str, phase: str, when: str, words: str) -> str:
    """A driver's comment in one line: `tight middle late: would not turn`."""
    return ": ".join(filter(None, (" ".join(filter(None, (feel, phase, when))), words)))


def _of_revision(session: Session, owner_id: int) -> Iterator[str]:
    one = session.get(Revision, owner_id)
    if one is not None:
        yield from (one.document.kind, one.document.name, one.code, one.reason, one.said)


def _of_event(session: Session, owner_id: int) -> Iterator[str]:
    one = session.get(Event, owner_id)
    if one is not None:
        yield from (one.name, one.held_on.isoformat(), one.note)


def _of_part(session: Session, owner_id: int) -> Iterator[str]:
    one = session.get(Part, owner_id)
    if one is not None:
        yield from (f"{one.kind} {one.mark}", one.name, one.compound, one.date_code, one.note)


_WORDS: dict[str, Callable[[Session, int], Iterator[str]]] = {
    "run": _of_run,
    "revision": _of_revision,
    "event": _of_event,
    "part": _of_part,
}
OWNERS: dict[str, type[Run | Revision | Event | Part]] = {
    "run": Run,
    "revision": Revision,
    "event": Event,
    "part": Part,
}


# ---------------- looking for words

_found = sa.table("saying_words", sa.column("rowid"), sa.column("words"))
_PARTED: sa.ColumnElement[str] = sa.literal_column(
    "to_tsvector('simple', translate(saying.words, '!\"#$%&''()*+,-./:;<=>?@[\\]^_`{|}~', repeat(' ', 32)))"
)
"""What PostgreSQL searches, to the letter that of its index."""


def words_of(text: str) -> list[str]:
    """The words of a text: runs of letters and digits."""
    return re.findall(r"[^\W_]+", unicodedata.normalize("NFC", text))


def spoken_by(session: Session, texts: Iterable[str]) -> sa.ColumnElement[bool]:
    """The condition on `Saying` that all words of all texts are in it; the last of a text may go on."""
    wanted = [words for words in map(words_of, texts) if words]
    if not wanted:
        raise NotebookTrouble("there is no word in it to look for.")
    if session.get_bind().dialect.name == "sqlite":
        asked = " AND ".join(part for words in wanted for part in _quoted(words, '"', "*"))
        return Saying.id.in_(sa.select(_found.c.rowid).where(_found.c.words.match(asked)))
    asked = " & ".join(part for words in wanted for part in _quoted(words, "'", ":*"))
    return _PARTED.op("@@")(sa.func.to_tsquery("simple", asked))


def _quoted(words: Sequence[str], quote: str, goes_on: str) -> Iterator[str]:
    """Words that cannot be taken for anything else: they hold letters and digits only."""
    for number, word in enumerate(words, start=1):
        yield f"{quote}{word}{quote}{goes_on if number == len(words) else ''}"


def snippet(said: str, texts: Iterable[str]) -> str:
    """The place of a saying where the longest word of the texts stands, with what is around it."""
    words = sorted((word for text in texts for word in words_of(text)), key=len, reverse=True)
    folded = _folded(said)
    for word in words:
        match = re.search(rf"(?<![^\W_]){re.escape(_folded(word))}", folded)
        if match is not None:
            return _cut(said, match.start(), match.end())
    return ""


def _folded(text: str) -> str:
    """Lower case without accents, character by character."""
    return "".join((unicodedata.normalize("NFD", one)[0].lower() or one)[0] for one in text)


def _cut(said: str, start: int, end: int) -> str:
    first, last = max(0, start - AROUND), min(len(said), end + AROUND)
    return f"{'...' if first else ''}{said[first:last].strip()}{'...' if last < len(said) else ''}"
