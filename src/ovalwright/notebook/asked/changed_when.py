"""What was changed when the driver said something, and whether it helped.

For every run of which he said it: the next run of that car, what of its setup had been changed by then, what
he said of the same phase there, and what the laps did at the same track.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from ovalwright.documents import DocumentError
from ovalwright.notebook.asked.find import FoundRun, found_runs, looked_up, run_ids
from ovalwright.notebook.asked.question import Clause, Felt
from ovalwright.notebook.shelf import changed
from ovalwright.notebook.tables import Comment, Document, Reference, Revision, Run
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.difference import said
from ovalwright.notebook.words import spoken

LOOKED_AT = 200
"""The newest runs with such a comment that are looked at."""
LONGEST_LINE = 30
"""Revisions between two setups whose differences are told one after another."""
COMPARED = 8
"""So many of the newest changes to a setup that is no edit of the one before are told from both documents; of
the others the setup is named."""
OTHER_SIDE = {"tight": "loose", "loose": "tight"}
After = Literal["gone", "still", "turned", "unsaid"]
AFTER: dict[After, str] = {
    "gone": "gone",
    "still": "still there",
    "turned": "turned to the other side",
    "unsaid": "nothing was said of it",
}


@dataclass(frozen=True)
class ChangedThen:
    """A run, what was said of it, the next run of the car, and what of the setup was changed between them.

    `after` tells of the same phase in the next run: the feel is `gone`, `still` there, `turned` to the other
    side, or `unsaid`. `best` [s] and `fall_off` [s per 10 laps] are the next run's less this one's, None
    where a time is missing or the track is another.
    """

    run: FoundRun
    comment: str
    next: FoundRun
    changed: str
    reason: str
    after: After
    next_comment: str
    best: float | None
    fall_off: float | None

    @property
    def then_said(self) -> str:
        """What became of it in the next run."""
        return AFTER[self.after]

    @property
    def helped(self) -> bool | None:
        """Whether the driver no longer said it; None where he said nothing of that phase."""
        return None if self.after == "unsaid" else self.after == "gone"


@dataclass(frozen=True)
class Changes:
    """Changes after such a comment, newest first; `looked_at` runs had it, `left_alone` kept their setup."""

    changes: tuple[ChangedThen, ...]
    looked_at: int
    left_alone: int
    said: str


def what_i_changed_when(
    session: Session,
    feel: str,
    phase: str,
    when: str = "",
    *,
    also: Sequence[Clause] = (),
    most: int = 50,
) -> Changes:
    """What was changed after runs that were `tight` or `loose` in a phase (empty for any), and of which all
    clauses of `also` hold.

    Raises NotebookTrouble for another feel.
    """
    if feel not in OTHER_SIDE:
        raise NotebookTrouble(f'"{feel[:30]}" is nothing to be mended; ask for tight or loose.')
    felt = Felt("", "", feel, phase, when)
    asked = (felt, *(looked_up(session, one) for one in also))
    runs = list(session.scalars(run_ids(session, asked, LOOKED_AT)))
    after = _next_runs(session, runs)
    pairs = [after[one] for one in runs if one in after and after[one].was != after[one].now]
    told = tuple(_told(session, pairs[:most], felt))
    left_alone = len(after) - len(pairs)
    return Changes(told, len(runs), left_alone, _summed_up(felt, len(runs), left_alone, told))


class _Pair(NamedTuple):
    """A run and the next one of its car, by their ids, and the setups that they were run on."""

    run: int
    follower: int
    was: int
    now: int


def _next_runs(session: Session, runs: Sequence[int]) -> dict[int, _Pair]:
    """The next run of the car of each run that has one."""
    later, mine, theirs = aliased(Run), _cars(), _cars()
    follows = (
        sa.select(later.id)
        .outerjoin(theirs, theirs.c.setup_id == later.setup_id)
        .where(
            sa.func.coalesce(theirs.c.car, 0) == sa.func.coalesce(mine.c.car, 0),
            sa.tuple_(later.started, later.id) > sa.tuple_(Run.started, Run.id),
        )
        .order_by(later.started, later.id)
        .limit(1)
        .scalar_subquery()
        .correlate(Run, mine)
    )
    pairs = (
        sa.select(Run.id, Run.setup_id, follows.label("follower"))
        .outerjoin(mine, mine.c.setup_id == Run.setup_id)
        .where(Run.id.in_(runs))
        .subquery()
    )
    query = sa.select(pairs.c.id, later.id, pairs.c.setup_id, later.setup_id)
    query = query.join(later, later.id == pairs.c.follower)
    return {row[0]: _Pair(*row) for row in session.execute(query)}


def _cars() -> sa.Subquery:
    """The car of each setup."""
    query = sa.select(Reference.revision_id.label("setup_id"), Revision.document_id.label("car"))
    return query.join(Revision, Revision.id == Reference.target_id).where(Reference.role == "car").subquery()


def _told(session: Session, pairs: Sequence[_Pair], felt: Felt) -> Iterator[ChangedThen]:
    ids = [*(one.run for one in pairs), *(one.follower for one in pairs)]
    listed = dict(zip(ids, found_runs(session, ids), strict=True))
    comments: dict[int, list[Comment]] = {}
    for comment in session.scalars(sa.select(Comment).where(Comment.run_id.in_(ids)).order_by(Comment.id)):
        comments.setdefault(comment.run_id, []).append(comment)
    past = _past(session, {setup for one in pairs for setup in (one.was, one.now)})
    edits = [past[one.now].parent == one.was for one in pairs]
    for k, one in enumerate(pairs):
        run, after = listed[one.run], listed[one.follower]
        before = [heard for heard in _of_phase(comments.get(one.run, ()), felt) if heard.feel == felt.feel]
        then = _of_phase(comments.get(one.follower, ()), felt)
        compared = "" if edits[k] or edits[:k].count(False) >= COMPARED else _compared(session, one)
        changes, reason = _changed(past, one, compared)
        same_track = run.track != "" and run.track == after.track
        yield ChangedThen(
            run,
            _words(before),
            after,
            changes,
            reason,
            _after(then, felt.feel),
            _words(then),
            _less(after.best, run.best) if same_track else None,
            _less(after.fall_off, run.fall_off) if same_track else None,
        )


def _of_phase(comments: Iterable[Comment], felt: Felt) -> list[Comment]:
    return [
        one
        for one in comments
        if felt.phase in ("", one.phase) and (felt.when == "" or one.when in (felt.when, ""))
    ]


def _after(comments: Sequence[Comment], feel: str) -> After:
    feels = {one.feel for one in comments}
    if feel in feels:
        return "still"
    if OTHER_SIDE[feel] in feels:
        return "turned"
    return "gone" if "good" in feels else "unsaid"


def _words(comments: Iterable[Comment]) -> str:
    return "; ".join(spoken(one.feel, one.phase, one.when, one.words) for one in comments)


def _less(after: float | None, before: float | None) -> float | None:
    return None if after is None or before is None else after - before


class _Setup(NamedTuple):
    """What is told of a revision on the way from one setup to another."""

    parent: int | None
    said: str
    reason: str
    called: str


def _past(session: Session, setups: set[int]) -> dict[int, _Setup]:
    """Setups with their ancestors, one generation after another."""
    query = sa.select(
        Revision.id, Revision.parent_id, Revision.said, Revision.reason, Document.name, Revision.code
    ).join(Document, Document.id == Revision.document_id)
    past: dict[int, _Setup] = {}
    for _ in range(LONGEST_LINE):
        for one, parent, change, reason, name, code in session.execute(query.where(Revision.id.in_(setups))):
            past[one] = _Setup(parent, change, reason, f"{name} {code}")
        setups = {past[one].parent or 0 for one in setups if one in past} - past.keys() - {0}
        if not setups:
            break
    return past


def _changed(past: Mapping[int, _Setup], pair: _Pair, compared: str) -> tuple[str, str]:
    """What changed from one setup to another in words, and the reasons.

    `compared` is their difference; where that is not told, it is put together along the line of revisions.
    """
    line = _line(past, pair.now, pair.was)
    if line:
        return compared or "; ".join(one.said for one in line if one.said), _reasons(line)
    now = past[pair.now]
    other = f"{'back to' if _line(past, pair.was, pair.now) else 'another setup,'} {now.called}"
    return f"{other}: {compared}" if compared else other, now.reason


def _compared(session: Session, pair: _Pair) -> str:
    """The difference of two setups by their documents, empty where one can no longer be read."""
    was, now = (session.get_one(Revision, one) for one in (pair.was, pair.now))
    try:
        return said(changed(session, was, now))
    except (DocumentError, NotebookTrouble):
        return ""


def _reasons(line: Iterable[_Setup]) -> str:
    return "; ".join(one.reason for one in line if one.reason)


def _line(past: Mapping[int, _Setup], young: int, old: int) -> list[_Setup]:
    """The revisions after an old one down to a young one, oldest first; empty when it is no ancestor."""
    line = [past[young]]
    while len(line) < LONGEST_LINE and line[-1].parent != old:
        parent = past.get(line[-1].parent or 0)
        if parent is None:
            return []
        line.append(parent)
    return line[::-1] if line[-1].parent == old else []


def _summed_up(felt: Felt, looked_at: int, left_alone: int, told: Sequence[ChangedThen]) -> str:
    """All of it in one sentence."""
    where = {"": "", "entry": " on entry", "middle": " in the middle", "exit": " on exit"}[felt.phase]
    late = f" {felt.when}" if felt.when else ""
    said = f"{felt.feel}{where}{late} in {looked_at} run{'' if looked_at == 1 else 's'}"
    if not told:
        return f"{said}; the setup was not changed before the next run of the car."
    outcomes = (("gone", "gone"), ("still", "still there"), ("turned", f"turned {OTHER_SIDE[felt.feel]}"))
    counts = [(sum(one.after == after for one in told), words) for after, words in outcomes]
    counts.append((sum(one.after == "unsaid" for one in told), "not spoken of"))
    outcome = ", ".join(f"{count} {words}" for count, words in counts if count)
    alone = f", left alone {_times(left_alone)}" if left_alone else ""
    return f"{said}; changed {_times(len(told))} before the next run{alone}: then {outcome}."


def _times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"
