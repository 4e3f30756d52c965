"""The turn: the car drawn where it is solved, and every adjustment of it to be pressed."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

from fastapi import Depends, Query
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import DocumentError
from ovalwright.notebook import shelf
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.study.lap import NoLap
from ovalwright.web import hand as hands
from ovalwright.web.bench import bench_of
from ovalwright.web.controls_shown import groups_of, rows_at_hand
from ovalwright.web.door import who
from ovalwright.web.hand import Hand
from ovalwright.web.joined import Joined, hand_on, join, looked_at
from ovalwright.web.kept_car import after_keeping, before_keeping
from ovalwright.web.looking import Looking, asked
from ovalwright.web.moment import Moment, held_at, moment_at
from ovalwright.web.page import Notice, show
from ovalwright.web.sure_turn import Sureness, sureness
from ovalwright.web.troubles import sentence
from ovalwright.web.turn_now import now_of, sliders
from ovalwright.web.turn_page import Choice, ClashShown, Pressed, TurnPage
from ovalwright.web.which_setup import newer_than

MOST_SETUPS = 40
FIRST_CONTROLS = 5
USUAL = (
    "RR.coil.spring",
    "RR.coil.rate",
    "LR.turned",
    "RF.stop.packers",
    "link_shift.panhard.frame_up",
    "panhard.frame_height",
    "RR.tire.cold",
    "bar.preload",
)
"""Controls at hand before anything was pressed, as far as the setup has them."""
HELD = "The speeds of this turn: {}"
GONE = "{} was taken back in the notebook; {} is in hand in its place."
CODE = "^[2-9A-Z]{6}$|^$"
KEPT = "Kept as {}, made of {}. It is in hand now; the one before is drawn behind it. {}"


def turn(
    request: Request,
    looking: Annotated[Looking, Depends(asked)],
    hand: Annotated[str, Query(max_length=40)] = "",
    version: Annotated[int | None, Query(ge=0, le=2**31)] = None,
    base: Annotated[str, Query(max_length=12)] = "",
    look_again: bool = False,
    kept: Annotated[str, Query(pattern=CODE)] = "",
    taken: Annotated[int, Query(ge=0, le=2**31)] = 0,
) -> Response:
    """The page, or what of it moves with the thumb; all of it when another phone pressed meanwhile.

    `hand`, `version` and `base` are what the page showed. `look_again` asks whether another pressed, without
    a thumb on anything; `kept` is the code of a new setup, `taken` the version that took a press back.
    """
    with bench_of(request).store.reading() as session:
        if request.headers.get("hx-target") == "keeping":
            return show(request, _keeping(session, request, looking))
        if request.headers.get("hx-target") != "now":
            return show(request, page_of(session, request, looking, kept=kept, taken=taken))
        if look_again and _shown(session, request, base) == (hand, version, base):
            return Response(status_code=204)
        moved = _moved(session, request, looking)
        if moved is not None and (
            version is None or (moved.uid, moved.version, moved.base) == (hand, version, base)
        ):
            return show(request, moved)
        page = page_of(session, request, looking, notices=_put_away(session, hand))
    answer = show(request, page, block="turn")
    answer.headers["HX-Retarget"] = "#turn"
    return answer


def _shown(session: Session, request: Request, base: str) -> tuple[str, int, str]:
    """What is in hand here, or the setup that nobody took in hand yet."""
    hand = hands.in_hand(session, hand_on(request))
    return ("", 0, base) if hand is None else (hand.uid, hand.version, hand.base)


def _put_away(session: Session, uid: str) -> tuple[Notice, ...]:
    """What is said to a page whose hand is there no more."""
    if not uid or any(one.uid == uid for one in hands.hands(session)):
        return ()
    return (Notice("The hand that was here was put away; what is in hand now is shown."),)


def _moved(session: Session, request: Request, looking: Looking) -> TurnPage | None:
    """Only what moves with the thumb; None where something is wrong that the whole page must tell."""
    try:
        hand = looked_at(session, hand_on(request))
        joined = join(session, hand)
        here = _moment(joined, looking)
        now = now_of(here, looking, _known(request, here))
    except (NotebookTrouble, DocumentError, NoLap):
        return None
    return TurnPage(
        title="The turn",
        here="/turn",
        uid=hand.uid,
        version=hand.version,
        base=hand.base,
        looking=looking,
        behind=joined.behind_is,
        now=now,
    )


def _keeping(session: Session, request: Request, looking: Looking) -> TurnPage:
    """Only what keeping would change, at the place and fuel looked at."""
    page = TurnPage(title="The turn", here="/turn", looking=looking)
    try:
        joined = join(session, looked_at(session, hand_on(request)))
        here = _moment(joined, looking)
        return replace(page, keeping=before_keeping(here) if joined.hand.changes else None)
    except (NotebookTrouble, DocumentError, NoLap):
        return page


def page_of(
    session: Session,
    request: Request,
    looking: Looking,
    *,
    held: Hand | None = None,
    pressed: str = "",
    kept: str = "",
    taken: int = 0,
    clash: ClashShown | None = None,
    notices: tuple[Notice, ...] = (),
) -> TurnPage:
    """The page as it is looked at; with what is `held`, the control `pressed` last, the setup just `kept` and
    the version that took a press back, where known.
    """
    try:
        hand = held or looked_at(session, hand_on(request))
    except NotebookTrouble as problem:
        return TurnPage(title="The turn", here="/turn", empty=sentence(str(problem)), notices=notices)
    notices = (*notices, *taken_back(hand, taken, who(request)))
    if hand.gone:
        notices = (*notices, Notice(GONE.format(" and ".join(hand.gone), hand.base)))
    page = _page_of_hand(session, request, hand, looking, notices)
    page = replace(page, is_fragment="hx-request" in request.headers)
    try:
        joined = join(session, hand)
        here = _moment(joined, looking)
        page = replace(page, notices=(*page.notices, *(Notice(HELD.format(one)) for one in held_at(joined))))
        if kept:
            changed = after_keeping(here) if kept == hand.base and not hand.changes else ""
            page = replace(
                page,
                notices=(*page.notices, Notice(KEPT.format(kept, _made_of(session, kept), changed).strip())),
            )
        return _filled(page, joined, here, pressed, clash, _known(request, here))
    except (NotebookTrouble, DocumentError, NoLap) as problem:
        return replace(page, trouble=str(problem))


def _made_of(session: Session, code: str) -> str:
    """The setup that a kept one was made of, by its code and revision."""
    kept = shelf.revision(session, code, kind="setup")
    return f"{kept.parent.code} (revision {kept.parent.number})" if kept.parent else "no other"


def _moment(joined: Joined, looking: Looking) -> Moment:
    return moment_at(joined, looking.at, looking.fuel)


def _page_of_hand(
    session: Session, request: Request, hand: Hand, looking: Looking, notices: tuple[Notice, ...]
) -> TurnPage:
    setups = shelf.revisions(session, kind="setup", most=MOST_SETUPS)
    tracks = shelf.revisions(session, kind="track", most=MOST_SETUPS)
    return TurnPage(
        title="The turn",
        here="/turn",
        notices=notices,
        uid=hand.uid,
        version=hand.version,
        base=hand.base,
        newer=newer_than(session, hand.base),
        hand=hand.name,
        hands=tuple(Choice(one.uid, one.name, one.uid == hand.uid) for one in hands.hands(session)),
        looking=looking,
        undoes=hand.changes[-1].by if hand.changes and hand.changes[-1].by != who(request) else "",
        presses=tuple(Pressed(one.said, one.by) for one in hand.changes),
        setups=tuple(Choice(one.code, _named(one), one.code == hand.base) for one in setups),
        others=tuple(Choice(one.code, _named(one), one.code == hand.other) for one in setups),
        tracks=tuple(Choice(one.code, one.name, one.code == hand.track) for one in tracks),
    )


def _named(one: shelf.RevisionLine) -> str:
    return f"{one.name} {one.number}, {one.code}"


def taken_back(hand: Hand, version: int, by: str) -> tuple[Notice, ...]:
    """What another had pressed, where a version took it back."""
    gone = [one for one in hand.presses if version and one.undone == version and one.by not in ("", by)]
    return tuple(Notice(f"Taken back: {one.said}, which {one.by} pressed.") for one in gone)


def _known(request: Request, here: Moment) -> Sureness:
    return sureness(bench_of(request).work, here.tank.joined, here.tank.gallons)


def _filled(
    page: TurnPage, joined: Joined, here: Moment, pressed: str, clash: ClashShown | None, known: Sureness
) -> TurnPage:
    hand = joined.hand
    last = pressed or (hand.changes[-1].key if hand.changes else "")
    at, fuel = sliders(here)
    groups = groups_of(joined)
    shown = [one for group in groups for one in group.controls]
    keys = {one.key for one in shown}
    usual = [key for key in USUAL if key in keys][:FIRST_CONTROLS]
    at_hand = rows_at_hand(usual, [press.key for press in hand.presses])
    first = tuple(one for key in at_hand for one in shown if one.key == key)
    return replace(
        page,
        setup=f"{joined.names[hand.base]} {hand.base}",
        behind=joined.behind_is,
        track=joined.names[hand.track],
        now=now_of(here, page.looking, known),
        at=at,
        fuel=fuel,
        first=first,
        under_keys=last if last in at_hand else at_hand[-1] if at_hand else "",
        groups=groups,
        control_count=len(shown),
        changed=hands.what_changed(joined.base, joined.now) if hand.changes else (),
        keeping=before_keeping(here) if hand.changes else None,
        ends=tuple(
            Choice(str(n), end.name, n == joined.end + 1) for n, end in enumerate(joined.track.ends, start=1)
        ),
        clash=clash,
    )
