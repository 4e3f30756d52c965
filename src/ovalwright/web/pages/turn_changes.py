"""What is pressed on the turn: a step of a control, undo, keep as a new setup, other setups to look at."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Annotated, Literal

from fastapi import Depends, Form
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import DocumentError
from ovalwright.notebook import shelf
from ovalwright.notebook.store import Store
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.pack import rebuilt_as_bolted
from ovalwright.web import hand as hands
from ovalwright.web import stands_kept
from ovalwright.web.bench import bench_of
from ovalwright.web.controls_shown import pressed_on
from ovalwright.web.door import who
from ovalwright.web.hand import Clash, Hand
from ovalwright.web.joined import hand_on, join, look_from_now_on, looked_at, seen_at
from ovalwright.web.looking import Looking, posted
from ovalwright.web.page import Notice, go_to, show
from ovalwright.web.pages.turn import page_of, taken_back
from ovalwright.web.sent_once import answer_once
from ovalwright.web.troubles import sentence
from ovalwright.web.turn_page import ClashShown

Uid = Annotated[str, Form(max_length=40)]
Version = Annotated[int, Form(ge=0, le=2**31)]
Text = Annotated[str, Form(max_length=400)]
Code = Annotated[str, Form(max_length=12)]
UNDO = "undo"
WAYS = {"bolted": stands_kept.keep, "reset": shelf.child}
"""How a setup is kept: as it stands, or re-set to its scale sheet."""
TRIES = 4
"""How often a change is worked out anew when the hand moved on while it was."""
Write = Callable[[Session], Hand]
Change = Callable[[Session, Hand, str], Write]
"""What is to be written into a hand, worked out of it for somebody while others may write."""


Looked = Annotated[Looking, Depends(posted)]


def look(looking: Looked) -> Response:
    """Another place, fuel or view, for a browser without JavaScript."""
    return go_to(looking.path)


def press(
    request: Request,
    looking: Looked,
    press: Text = "",
    hand: Uid = "",
    version: Version = 0,
    base: Code = "",
) -> Response:
    """One step of a control, or the last change taken back; what another phone did meanwhile is shown."""

    def change(session: Session, held: Hand, by: str) -> Write:
        if not held.uid:
            return _pressed(session, replace(held, base=base or held.base), press, by)
        is_own = base == held.base and _is_own(held, version, by)
        if base not in ("", held.base) or not (is_own or held.version == version):
            raise Clash(held, version, base)
        return _pressed(session, held, press, by)

    return _answer(request, change, hand, looking, pressed=press)


def settle(
    request: Request,
    looking: Looked,
    choice: Annotated[Literal["mine", "his", "both"], Form()] = "his",
    press: Text = "",
    seen: Version = 0,
    hand: Uid = "",
    version: Version = 0,
) -> Response:
    """Two pressed at once: mine after his, his alone, or both, each in a hand of its own."""

    def change(session: Session, held: Hand, by: str) -> Write:
        if choice == "his":
            return lambda _: held
        one = pressed_on(seen_at(session, held, seen), press) if press != UNDO else None
        if choice == "both":
            return lambda writing: hands.keep_both(writing, held.uid, seen, one, one is None, by=by)
        if one is None:
            return lambda writing: hands.undo(writing, held.uid, version, seen=seen, by=by)
        return lambda writing: hands.press(writing, held.uid, version, one, by=by)

    return _answer(request, change, hand, looking, pressed=press)


def _is_own(held: Hand, version: int, by: str) -> bool:
    """Whether all that was pressed since a version was pressed by the same device."""
    return held.saved_by == by and all(one.by == by for one in held.since(version))


def _pressed(session: Session, held: Hand, press: str, by: str) -> Write:
    """A press on what is in hand. Raises DocumentError where the car cannot be built so."""
    if press == UNDO:
        return lambda writing: hands.undo(writing, held.uid, held.version, by=by) if held.uid else held
    joined = join(session, held)
    one = pressed_on(joined, press)
    rebuilt_as_bolted(joined.trial.base, hands.assembly(session, held, one))

    def write(writing: Session) -> Hand:
        begun = _begun(writing, held, by)
        return hands.press(writing, begun.uid, begun.version, one, by=by)

    return write


def _begun(session: Session, held: Hand, by: str) -> Hand:
    """A hand, begun now where nothing was in hand. Raises Clash when another phone began one meanwhile."""
    if held.uid:
        return held
    theirs = hands.in_hand(session)
    if theirs is not None:
        raise Clash(theirs, 0, held.base)
    return hands.begin(session, held.base, other=held.other, track=held.track, end=held.end, by=by)


def _answer(
    request: Request,
    change: Change,
    uid: str,
    looking: Looking,
    *,
    pressed: str,
) -> Response:
    """Do a change and show the page it makes, with what went wrong in one sentence."""
    bench = bench_of(request)
    key = pressed.rpartition(" ")[0]
    notices: tuple[Notice, ...] = ()
    clash: ClashShown | None = None
    held: Hand | None = None
    status = 200
    try:
        before, held = _done(bench.store, request, uid, change)
        notices = taken_back(held, held.version if held.version > before.version else 0, who(request))
    except Clash as problem:
        held, status = problem.hand, 409
        theirs = sentence(str(problem))
        if pressed:
            mine = _said(bench.store, problem, pressed)
            clash = ClashShown(theirs, mine, pressed, problem.seen, problem.is_other_setup)
        else:
            notices = (Notice(theirs, trouble=True),)
    except (DocumentError, NotebookTrouble) as problem:
        notices, status = (Notice(sentence(str(problem)), trouble=True),), 422
    if status == 200 and "hx-request" not in request.headers:
        told = f"&taken={held.version}" if held is not None and notices else ""
        return _with_hand(go_to(looking.path + told), held)
    with bench.store.reading() as session:
        page = page_of(session, request, looking, held=held, pressed=key, clash=clash, notices=notices)
    return _with_hand(show(request, page, status=status), held)


def _done(store: Store, request: Request, uid: str, change: Change, tries: int = TRIES) -> tuple[Hand, Hand]:
    """The hand before a change and after it. The car is built while others may write; where the hand moved on
    meanwhile it is done anew. Raises Clash, DocumentError, NotebookTrouble.
    """
    by = who(request)
    with store.reading() as session:
        before = _held(session, request, uid)
        write = change(session, before, by)
    try:
        with store.aside() as session:
            return before, write(session)
    except Clash as problem:
        moved_on = (problem.hand.uid, problem.hand.version) != (before.uid, before.version)
        if not moved_on or tries == 1:
            raise
    return _done(store, request, uid, change, tries - 1)


def _said(store: Store, problem: Clash, pressed: str) -> str:
    """What was pressed here, in words."""
    if pressed == UNDO:
        return "take the last change back"
    try:
        with store.reading() as session:
            return pressed_on(seen_at(session, problem.hand, problem.seen), pressed).said
    except (DocumentError, NotebookTrouble):
        return "what you pressed"


def _held(session: Session, request: Request, uid: str) -> Hand:
    return hands.hand_of(session, uid) if uid else looked_at(session, hand_on(request))


def _with_hand(answer: Response, held: Hand | None) -> Response:
    """This device looks at that hand from now on."""
    if held is not None and held.uid:
        look_from_now_on(answer, held.uid)
    return answer


# ---------------- other setups, keeping, hands


def choose(
    request: Request,
    looking: Looked,
    hand: Uid = "",
    version: Version = 0,
    base: Code = "",
    other: Code = "",
    track: Code = "",
    end: Annotated[int, Form(ge=1, le=2)] = 1,
) -> Response:
    """Look at another setup, at one behind it, at another turn."""

    def change(_session: Session, held: Hand, by: str) -> Write:
        told = {"base": base or held.base, "track": track or held.track}

        def write(writing: Session) -> Hand:
            begun = _begun(writing, held, by)
            seen = version if held.uid else begun.version
            return hands.choose(writing, begun.uid, seen, other=other, end=end, by=by, **told)

        return write

    return _answer(request, change, hand, looking, pressed="")


def keep(
    request: Request,
    looking: Looked,
    hand: Uid = "",
    version: Version = 0,
    reason: Text = "",
    name: Text = "",
    stands: Annotated[Literal["bolted", "reset"], Form()] = "reset",
) -> Response:
    """Keep what is in hand as a new setup: as it stands bolted in, or re-set to its scale sheet."""
    bench = bench_of(request)
    try:
        if not reason.strip():
            raise NotebookTrouble("why is not told; type what for, such as: tight in the middle.")
        with bench.store.entry("a new setup out of the hand") as session:
            held = _held(session, request, hand)
            told = {"reason": reason.strip(), "name": name.strip(), "by": who(request)}
            code = hands.keep(session, held.uid, version, child=WAYS[stands], **told).code
            return answer_once(request, session, f"{looking.path}&kept={code}", done="keep-hand")
    except (Clash, NotebookTrouble, DocumentError, ValueError) as problem:
        with bench.store.reading() as session:
            mistake = sentence(str(problem))
            typed = f' You typed why: "{reason.strip()}".' if reason.strip() else ""
            notices = (Notice(f"Not kept: {mistake}{typed}", trouble=True),)
            page = page_of(session, request, looking, notices=notices)
        page = replace(page, reason_typed=reason, name_typed=name, stands=stands, mistake=mistake)
        return show(request, page, status=422)


def hold(request: Request, hand: Uid = "") -> Response:
    """Look at another hand on this device."""
    with bench_of(request).store.reading() as session:
        held = hands.hand_of(session, hand)
    return _with_hand(go_to("/turn"), held)


def put_away(request: Request, hand: Uid = "", version: Version = 0) -> Response:
    """Let a hand go."""
    with bench_of(request).store.aside() as session:
        hands.put_away(session, hand, version)
    return go_to("/turn")
