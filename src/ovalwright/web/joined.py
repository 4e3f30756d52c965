"""What is in hand, joined with its documents and built: once for each version of it, for all who look."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass, replace

from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import Assembly, Conditions, DocumentError, Track
from ovalwright.documents.car import Car
from ovalwright.notebook import shelf
from ovalwright.notebook.store import state_of
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.pack import Packed, build
from ovalwright.study.compare import Trial, tried
from ovalwright.study.controls import Control, controls
from ovalwright.web import hand as hands
from ovalwright.web.hand import Hand
from ovalwright.web.kept import Lately, once
from ovalwright.web.next_up import NextUp, next_up, with_car_of

LATELY_BUILT = 24
HAND_COOKIE = "hand"
"""In which a device keeps the name of the hand that it looks at."""
LOOKS_FOR = 30 * 24 * 3600
"""How long it does [s]."""
DAY = Conditions()
"""A typical day: nothing on these pages is sworn to a tenth of a second."""


@dataclass(frozen=True, eq=False)
class Joined:
    """A hand with its documents: the `base`, the setup as it is `now`, the `other` one drawn behind it."""

    hand: Hand
    base: Assembly
    now: Assembly
    other: Assembly | None
    track: Track
    names: dict[str, str]
    """Names of the documents by their codes."""

    @property
    def key(self) -> tuple[str, str, str]:
        """What an answer depends on of the car and its track: base, changes, track."""
        return self.key_at(self.hand.version)

    def key_at(self, version: int) -> tuple[str, str, str]:
        """The same of the hand as it was at a version."""
        changes = hands.written(self.hand.seen(version))
        return self.hand.base, json.dumps(changes, sort_keys=True), self.hand.track

    @property
    def end(self) -> int:
        """The end of the track, counted from nought."""
        return min(self.hand.end, len(self.track.ends)) - 1

    @once
    def controls(self) -> tuple[Control, ...]:
        """Everything that can be turned on the setup in hand."""
        return controls(self.now)

    @once
    def base_controls(self) -> tuple[Control, ...]:
        """Those of the base, which tell what each was."""
        return controls(self.base)

    @once
    def trial(self) -> Trial:
        """The base, the setup in hand as bolted into it, and re-set. Raises DocumentError."""
        return tried(build(self.base), self.now)

    @once
    def behind(self) -> Packed | None:
        """The car that is drawn behind: the other setup, or else the base once something was changed."""
        if self.other is not None:
            return build(self.other)
        return self.trial.base if self.hand.changes else None

    def build(self) -> None:
        """Build its cars now. Raises DocumentError."""
        _ = self.trial, self.behind

    @property
    def behind_is(self) -> str:
        """What is drawn behind, by its code; nothing when nothing is."""
        return self.hand.other or (self.hand.base if self.hand.changes else "")


_JOINED: Lately[Joined] = Lately(LATELY_BUILT)
_LOOKED: Lately[Hand] = Lately(LATELY_BUILT)
_CARS: Lately[CarInHand] = Lately(LATELY_BUILT)


def join(session: Session, hand: Hand) -> Joined:
    """A hand with its documents. Raises NotebookTrouble, DocumentError."""
    key = (hand.uid, hand.version, hand.saved_at, hand.base, hand.other, hand.track)
    return _JOINED.of(key, lambda: _joined(session, hand))


def seen_at(session: Session, hand: Hand, version: int) -> Joined:
    """A hand as it was seen at a version. Raises NotebookTrouble, DocumentError."""
    return join(session, replace(hand, version=version))


def _joined(session: Session, hand: Hand) -> Joined:
    base = shelf.revision(session, hand.base, kind="setup")
    other = shelf.revision(session, hand.other, kind="setup") if hand.other else None
    track = shelf.revision(session, hand.track, kind="track")
    oval = shelf.document_of(track)
    assert isinstance(oval, Track)
    names = {one.code: one.document.name for one in (base, other, track) if one is not None}
    return Joined(
        hand=hand,
        base=shelf.assembly_of(session, base),
        now=hands.assembly(session, hand),
        other=shelf.assembly_of(session, other) if other is not None else None,
        track=oval,
        names=names,
    )


def looked_at(session: Session, uid: str = "") -> Hand:
    """The hand of that name, else the first, else what would usually be in hand, which has no name yet.

    Looked up once for each state of the notebook and day. Raises NotebookTrouble when there is no setup or no
    track to take in hand.
    """

    def look() -> Hand:
        return hands.in_hand(session, uid) or usual(session)

    state = state_of(session)
    return look() if state is None else _LOOKED.of((state, uid, dt.date.today()), look)


def hand_on(request: Request) -> str:
    """The name of the hand that the device of a request looks at; empty for the latest."""
    return request.cookies.get(HAND_COOKIE, "")


def look_from_now_on(answer: Response, uid: str) -> None:
    """Let the device that gets an answer look at that hand."""
    answer.set_cookie(HAND_COOKIE, uid, max_age=LOOKS_FOR, httponly=True, samesite="strict")


def joined_for(request: Request, session: Session) -> Joined:
    """What the device of a request looks at. Raises NotebookTrouble, DocumentError."""
    return join(session, looked_at(session, hand_on(request)))


def next_for(request: Request, session: Session) -> NextUp:
    """What is next up for the car in hand on the device of a request. Raises NotebookTrouble."""
    ahead = next_up(session, dt.date.today())
    held = hands.in_hand(session, hand_on(request))
    return ahead if held is None else with_car_of(session, ahead, held.base, held.track)


@dataclass(frozen=True)
class CarInHand:
    """The name of that car, and what must stand beside the answers about it, where anything must."""

    name: str = ""
    stands_in: str = ""


def car_in_hand(request: Request, session: Session) -> CarInHand:
    """That car, without a name where there is none. Looked up once for each state of the notebook."""

    def look() -> CarInHand:
        ahead = next_for(request, session)
        if ahead.car is None or ahead.setup is None:
            return CarInHand()
        try:
            car = shelf.document_of(shelf.refers_to(session, ahead.setup)["car"])
        except DocumentError:
            return CarInHand(ahead.car.name)
        return CarInHand(ahead.car.name, car.stands_in if isinstance(car, Car) else "")

    state = state_of(session)
    key = (state, hand_on(request), dt.date.today())
    return look() if state is None else _CARS.of(key, look)


def usual(session: Session) -> Hand:
    """The setup and the track that are next up, as a hand that nobody has changed. Raises NotebookTrouble."""
    ahead = next_up(session, dt.date.today())
    if ahead.setup is None:
        raise NotebookTrouble("no setup is in the notebook yet; set up a car, or keep a setup first.")
    if ahead.track is None:
        raise NotebookTrouble("no track is in the notebook yet; keep one first, then its turn is here.")
    return Hand("", hands.NAMES[0], 0, ahead.setup.code, "", ahead.track.code, 1, (), "", dt.datetime.min)


def take_up(session: Session, old: str, new: str) -> None:
    """Take a setup in hand in the place of the one it came from, unless something was changed of that.

    With nothing in hand it is taken up at the track that is usual, if there is one.
    """
    held = hands.hands(session)
    track = next_up(session, dt.date.today()).track
    if not held and track is not None:
        held = (hands.begin(session, old, track=track.code),)
    for one in held:
        if one.base == old and not one.changes:
            hands.choose(session, one.uid, one.version, base=new)
