"""Lead on the scales: placed by the book, moved by hand, kept as a new setup, taken back."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated
from urllib.parse import urlencode

from fastapi import Form
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import DocumentError
from ovalwright.notebook import drafts
from ovalwright.web import lead_kept, lead_work, taken_back, weighings
from ovalwright.web.at_the_pads import car_on_pads, race_of
from ovalwright.web.bench import bench_of
from ovalwright.web.door import who
from ovalwright.web.joined import take_up
from ovalwright.web.page import go_to
from ovalwright.web.pages.scales import TAKEN_BACK, as_sent, refused
from ovalwright.web.pages.scales_asked import (
    PATH,
    Asked,
    Sent,
    address,
    books_of,
    by_hand,
    kept_as,
)
from ovalwright.web.sent_once import answer_once
from ovalwright.web.troubles import sentence
from ovalwright.web.weighing import read


def place_lead(request: Request, sent: Sent) -> Response:
    """Begin to search which piece of lead to bolt where."""
    asked = as_sent(request, sent)
    bench, found = bench_of(request), read(asked.typed)
    with bench.store.reading() as session:
        book = books_of(session, asked.typed)
    if not book:
        return refused(request, asked, "A lead plan is made by a rule book; keep one first.")
    asked = _with_moves(request, asked, "")
    assembly = car_on_pads(asked.on, found, asked.typed)
    lead_work.begin(
        bench.work, assembly, book[0], race_of(asked.on.assembly, found), asked.aim, of=asked.on.setup.code
    )
    return go_to(address(asked) + "#lead")


def move_lead(request: Request, sent: Sent) -> Response:
    """Move one piece of lead by hand, out of the rack or back into it too; without a piece, none is moved."""
    asked = as_sent(request, sent)
    before = asked.typed["moves"]
    moves = lead_work.moved(before, *asked.move) if asked.move[0] else ""
    asked = replace(asked, typed={**asked.typed, "moves": moves})
    try:
        by_hand(request, asked)
    except (DocumentError, ValueError) as problem:
        asked = replace(asked, typed={**asked.typed, "moves": before})
        return refused(request, asked, sentence(str(problem)))
    return go_to(address(_with_moves(request, asked, moves)) + "#lead")


def _with_moves(request: Request, asked: Asked, moves: str) -> Asked:
    """The same with lead moved by hand so, which is kept with what is typed."""
    typed, draft = {**asked.typed, "moves": moves}, asked.draft
    if (draft.typed.get("moves", "") if draft else "") != moves:
        uid, version = (draft.uid, draft.version) if draft else ("", 0)
        with bench_of(request).store.aside() as session:
            draft = weighings.save(
                session, typed, uid=uid, version=version, about=asked.on.about, by=who(request)
            )
    return replace(asked, typed=typed, draft=draft)


def keep_lead(request: Request, sent: Sent) -> Response:
    """Keep the lead as it is planned as a new setup, on a sheet worked out until it is weighed."""
    asked = as_sent(request, sent)
    bench, on = bench_of(request), asked.on
    try:
        job = lead_work.look(bench.work, on.setup.code)
        plan = by_hand(request, asked) or (job.answer if job and job.state == "done" else None)
        if plan is None:
            return refused(request, asked, "No lead was placed; place it, then keep the plan.")
        with bench.store.entry(f"lead placed in {on.setup.document.name}"[:120]) as session:
            on = weighings.on_the_scales(session, on.setup.code, None) or on
            kept = lead_kept.keep(
                session, on, plan.assembly, plan.plan.outcome.bolted, reason=f"lead placed: {plan.aim}"
            )
            take_up(session, on.setup.code, kept.code)
            if asked.draft:
                drafts.drop(session, asked.draft.uid)
            path = f"{PATH}?{urlencode({'setup': kept.code, 'kept': 'yes'})}"
            answer = answer_once(request, session, path, done=kept_as(asked.on))
    except (DocumentError, ValueError) as problem:
        return refused(request, asked, sentence(str(problem)))
    return answer


def take_back(request: Request, sent: Sent, entry: Annotated[str, Form(max_length=12)] = "") -> Response:
    """Take back what was kept last: the sheet, and the setup that stands on it."""
    before = taken_back.take_back(bench_of(request).store, sent.model_dump()["setup"], entry)
    return go_to(f"{PATH}?{urlencode({'setup': before, 'kept': TAKEN_BACK})}")
