"""The setup in hand: a kept setup with what was changed of it since, one for every phone in the shop.

It lies in the notebook as a draft. Every press of a control is written down with the version it made, and one
taken back with the version that took it back, so what any phone saw can be told from its version: nothing
that was pressed is lost when two press at once.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from sqlalchemy.orm import Session

from ovalwright.documents import Assembly, assemble
from ovalwright.notebook import drafts, shelf
from ovalwright.notebook.drafts import DraftChanged, DraftNow
from ovalwright.notebook.tables import Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.difference import differences

HAND = "hand"
"""The form of a draft that is the setup in hand, which is never waiting."""
NAMES = "ABCDEFGH"
"""Hands are called so; there are no more at a time."""
MOST_PRESSES = 400
"""Presses that are remembered, those taken back among them."""


@dataclass(frozen=True)
class Press:
    """One change: the `key` of its control, the keys of the setup that it writes with their values, how it is
    said, by whom; the version of the hand that it made, and the one that took it back, 0 while it stands.
    """

    key: str
    value: Mapping[str, object]
    said: str
    by: str = ""
    made: int = 0
    undone: int = 0

    def stood_at(self, version: int) -> bool:
        """Whether it was on the car as seen at a version."""
        return self.made <= version and not 0 < self.undone <= version


@dataclass(frozen=True)
class Hand:
    """A setup in hand: what it is changed from (`base`), what is drawn behind it (`other`, or nothing), both
    by their codes; the track by its code and its end, 1 or 2; and every press since the base came to hand.

    `before` was the base before this one. `gone` are base and track that the notebook has no more: others are
    in their place.
    """

    uid: str
    name: str
    version: int
    base: str
    other: str
    track: str
    end: int
    presses: tuple[Press, ...]
    saved_by: str
    saved_at: dt.datetime
    before: str = ""
    gone: tuple[str, ...] = ()

    @property
    def changes(self) -> tuple[Press, ...]:
        """The presses that stand."""
        return self.seen(self.version)

    def seen(self, version: int) -> tuple[Press, ...]:
        """The presses that stood when the hand was at a version."""
        return tuple(press for press in self.presses if press.stood_at(version))

    def since(self, version: int) -> tuple[Press, ...]:
        """Presses that were made or taken back after a version."""
        return tuple(press for press in self.presses if max(press.made, press.undone) > version)


class Clash(NotebookTrouble):
    """Another phone was quicker: `hand` is what stands, `seen` the version that was looked at, on the setup
    `base` where that is known.
    """

    def __init__(self, hand: Hand, seen: int, base: str = "") -> None:
        self.hand, self.seen = hand, seen
        self.is_other_setup = base not in ("", hand.base)
        pressed = [_told(press, seen) for press in hand.since(seen)[-5:]]
        anew = [f"{hand.base} is in hand now"] if self.is_other_setup or not pressed else []
        told = "; ".join([*anew, *pressed])
        by, when = hand.saved_by or "another phone", f"{hand.saved_at.astimezone():%H:%M}"
        super().__init__(f"{by} changed hand {hand.name} at {when}: {told}.")


def _told(press: Press, seen: int) -> str:
    return f"took back {press.said}" if press.undone > seen else press.said


# ---------------- finding


def hands(session: Session) -> tuple[Hand, ...]:
    """All that are in hand, by their names; a draft without a setup is none."""
    saved = (draft for draft in drafts.drafts(session, HAND) if draft.typed.get("base"))
    found = (_read(session, draft) for draft in saved)
    return tuple(sorted(found, key=lambda one: (one.name, one.uid)))


def in_hand(session: Session, uid: str = "") -> Hand | None:
    """The hand of that name, else the first there is."""
    found = hands(session)
    return next((one for one in found if one.uid == uid), found[0] if found else None)


def hand_of(session: Session, uid: str) -> Hand:
    """The hand of that name. Raises NotebookTrouble when there is none any more."""
    draft = drafts.draft(session, uid)
    if draft.form != HAND:
        raise NotebookTrouble("that is no setup in hand; look at the turn again.")
    return _read(session, draft)


def _read(session: Session, draft: DraftNow) -> Hand:
    """A hand as it was saved; what was taken back in the notebook since is not in it."""
    typed = draft.typed
    before, other = str(typed.get("before", "")), str(typed.get("other", ""))
    base = _standing(session, "setup", str(typed["base"]), before)
    track = _standing(session, "track", str(typed.get("track", "")))
    return Hand(
        uid=draft.uid,
        name=str(typed.get("name", NAMES[0])),
        version=draft.version,
        base=base,
        other=other if other != base and shelf.is_kept(session, other) else "",
        track=track,
        end=int(typed.get("end", 1)),
        presses=tuple(Press(**one) for one in typed.get("changes", ())),
        saved_by=draft.saved_by,
        saved_at=draft.saved_at,
        before=before,
        gone=tuple(sorted({str(typed["base"]), str(typed.get("track", ""))} - {base, track})),
    )


def _standing(session: Session, kind: str, *codes: str) -> str:
    """The first of these that is in the notebook, else the latest of the kind, else the first."""
    kept = next((code for code in codes if shelf.is_kept(session, code)), "")
    if kept or not codes[0]:
        return kept
    return next((one.code for one in shelf.revisions(session, kind=kind, most=1)), codes[0])


# ---------------- changing


def begin(
    session: Session,
    base: str,
    *,
    other: str = "",
    track: str = "",
    end: int = 1,
    by: str = "",
    changes: Iterable[Press] = (),
) -> Hand:
    """A new hand. Raises NotebookTrouble when there are as many as there may be."""
    used = {one.name for one in hands(session)}
    name = next((one for one in NAMES if one not in used), "")
    if not name:
        raise NotebookTrouble(f"{len(NAMES)} setups are in hand already; put one of them away first.")
    presses = [asdict(replace(press, made=1, undone=0)) for press in changes]
    typed = {"name": name, "base": base, "other": other, "track": track, "end": end, "changes": presses}
    return _read(session, drafts.begin(session, HAND, typed, about=f"hand {name}", by=by))


def press(session: Session, uid: str, version: int, one: Press, *, by: str = "") -> Hand:
    """Change what is in hand, as it was seen at a version. Raises Clash when another phone was quicker."""
    held = hand_of(session, uid)
    made = replace(one, by=by, made=version + 1)
    return _save(session, held, version, by, changes=(*held.presses, made))


def undo(session: Session, uid: str, version: int, *, seen: int | None = None, by: str = "") -> Hand:
    """Take the last change back, or the last of those `seen` at an earlier version; nothing happens where
    there is none. Raises Clash.
    """
    held = hand_of(session, uid)
    standing = [one for one in held.changes if one.stood_at(version if seen is None else seen)]
    if held.version == version and not standing:
        return held
    last = standing[-1] if standing else None
    presses = [replace(one, undone=version + 1) if one is last else one for one in held.presses]
    return _save(session, held, version, by, changes=presses)


def choose(
    session: Session,
    uid: str,
    version: int,
    *,
    by: str = "",
    base: str | None = None,
    other: str | None = None,
    track: str | None = None,
    end: int | None = None,
) -> Hand:
    """Look at other setups or another turn; another base is taken up without the changes. Raises Clash."""
    held = hand_of(session, uid)
    told = {"base": base, "other": other, "track": track, "end": end}
    chosen = {key: value for key, value in told.items() if value is not None}
    anew = base is not None and base != held.base
    return _save(session, held, version, by, changes=() if anew else held.presses, **chosen)


def keep_both(
    session: Session, uid: str, version: int, one: Press | None, undone: bool = False, *, by: str = ""
) -> Hand:
    """A hand of its own for what was seen at a version, with one press more or its last one `undone`; the
    other stays as it is.
    """
    held = hand_of(session, uid)
    seen = held.seen(version)
    mine = (*(seen[:-1] if undone else seen), *((replace(one, by=by),) if one else ()))
    return begin(session, held.base, other=held.other, track=held.track, end=held.end, by=by, changes=mine)


def keep(
    session: Session,
    uid: str,
    version: int,
    *,
    reason: str,
    name: str = "",
    by: str = "",
    child: Callable[..., Revision] = shelf.child,
) -> Revision:
    """Keep what is in hand as a new setup, which is in hand from then on; `child` keeps the base with changes
    of it. Raises Clash, DocumentError.
    """
    held = hand_of(session, uid)
    if held.version != version:
        raise Clash(held, version)
    if not held.changes:
        raise NotebookTrouble("nothing was changed; change something first, then keep it as a new setup.")
    base = shelf.revision(session, held.base, kind="setup")
    kept = child(session, base, written(held.changes), reason=reason, name=name)
    session.flush()
    _save(session, held, version, by, changes=(), base=kept.code, other=held.base)
    return kept


def follow(session: Session, moved: Mapping[str, str], *, by: str = "") -> None:
    """Let every hand rest on what its setups were made into, by the codes of both: a number of a car is known
    better, and what was pressed since stays pressed.
    """
    for held in hands(session):
        base, other = moved.get(held.base, held.base), moved.get(held.other, held.other)
        if (base, other) != (held.base, held.other):
            _save(session, held, held.version, by, changes=held.presses, base=base, other=other)


def put_away(session: Session, uid: str, version: int) -> None:
    """Let a hand go, with its changes. Raises Clash."""
    held = hand_of(session, uid)
    if held.version != version:
        raise Clash(held, version)
    drafts.drop(session, uid)


def _save(
    session: Session, held: Hand, version: int, by: str, *, changes: Iterable[Press], **chosen: object
) -> Hand:
    kept = _shortened(tuple(changes))
    typed: dict[str, Any] = {
        "name": held.name,
        "base": held.base,
        "other": held.other,
        "track": held.track,
        "end": held.end,
        "before": held.before if chosen.get("base", held.base) == held.base else held.base,
        **chosen,
        "changes": [asdict(one) for one in kept],
    }
    try:
        return _read(session, drafts.save(session, held.uid, typed, version=version, by=by))
    except DraftChanged as problem:
        raise Clash(_read(session, problem.theirs), version) from None


def _shortened(presses: tuple[Press, ...]) -> tuple[Press, ...]:
    """The presses without the oldest of those taken back, when they are too many."""
    standing = sum(not one.undone for one in presses)
    if standing > MOST_PRESSES:
        raise NotebookTrouble(f"{MOST_PRESSES} changes are in hand; keep them as a new setup, then go on.")
    surplus = len(presses) - MOST_PRESSES
    gone = {id(one) for one in [one for one in presses if one.undone][: max(surplus, 0)]}
    return tuple(one for one in presses if id(one) not in gone)


# ---------------- the setup itself


def written(changes: Iterable[Press]) -> dict[str, object]:
    """What the presses write into the setup, the last of a key alone, in the order it was pressed."""
    told: dict[str, object] = {}
    for one in changes:
        for key, value in one.value.items():
            told.pop(key, None)
            told[key] = value
    return told


def assembly(session: Session, hand: Hand, *more: Press) -> Assembly:
    """The base with the changes, and with `more`. Raises NotebookTrouble, DocumentError."""
    base = shelf.revision(session, hand.base, kind="setup")
    joined = shelf.assembly_of(session, base)
    told = written((*hand.changes, *more))
    if not told:
        return joined
    setup = shelf.setup_of(base).changed(told)
    return assemble(setup, car=joined.car, sheet=joined.sheet, rack=joined.rack)


def what_changed(base: Assembly, now: Assembly) -> tuple[str, ...]:
    """What differs from the base, as the racer says it."""
    return tuple(one.said for one in differences(base.setup, now.setup) if one.said)
