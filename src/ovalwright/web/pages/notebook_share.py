"""Sharing: a setup, a run, an event or everything as one file; what comes in is looked at, then taken in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, ClassVar

from fastapi import File, Form, HTTPException, Query, UploadFile
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.notebook import runs, shelf
from ovalwright.notebook.sharing.box import SUFFIX
from ovalwright.notebook.sharing.bundle import WHATS, named_bundle
from ovalwright.notebook.sharing.private import KINDS, chosen
from ovalwright.notebook.sharing.taking_in import FATES, Plan, look, take
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.undo import last_entries
from ovalwright.web.bench import bench_of
from ovalwright.web.form_entry import refused_as
from ovalwright.web.notebook_page import NotebookPage, undoing
from ovalwright.web.page import Notice, go_to, show
from ovalwright.web.troubles import sentence

SHOWN = 40
"""Things of a bundle that are shown one by one."""
CHOICES = 30


@dataclass(frozen=True)
class Coming:
    """A thing of a bundle that is not here yet: what and which, and what becomes of it."""

    kind: str
    name: str
    fate: str


@dataclass(frozen=True)
class Looked:
    """A bundle that was looked at; `digest` is how it is taken in."""

    digest: str
    name: str
    what: str
    counts: tuple[tuple[str, str], ...]
    coming: tuple[Coming, ...]
    more: int
    adds: bool


@dataclass(frozen=True, kw_only=True)
class SharePage(NotebookPage):
    """What may be shared, and a bundle that came in; `wrong` is what is wrong with it."""

    template: ClassVar[str] = "notebook_share.html"
    what: str
    which: str
    choices: tuple[tuple[str, str], ...]
    looked: Looked | None
    wrong: str
    whats: tuple[str, ...] = WHATS
    suffix: str = SUFFIX
    private: Mapping[str, str] = field(default_factory=lambda: KINDS)


def share(
    request: Request,
    what: Annotated[str, Query(max_length=20)] = "",
    which: Annotated[str, Query(max_length=120)] = "",
    taken: Annotated[bool, Query()] = False,
) -> Response:
    """What may be shared, one thing of it chosen."""
    return _shown(request, what=what, which=which, taken=taken)


def bundle(
    request: Request,
    what: Annotated[str, Query(max_length=20)] = "",
    which: Annotated[str, Query(max_length=120)] = "",
    private: Annotated[list[str], Query(max_length=20)] = [],  # noqa: B006
) -> Response:
    """A bundle as a file. Raises HTTPException."""
    try:
        with bench_of(request).store.reading() as session:
            made = named_bundle(session, what, which.strip(), private=chosen(private)).to_bytes()
    except NotebookTrouble as problem:
        raise HTTPException(422, sentence(str(problem))) from None
    stem = "".join(c if c.isascii() and c.isalnum() else "_" for c in f"{what}_{which.strip()}").strip("_")
    told = {"Content-Disposition": f'attachment; filename="{stem or "notebook"}{SUFFIX}"'}
    return Response(made, media_type="application/octet-stream", headers=told)


def receive(request: Request, file: Annotated[UploadFile, File()]) -> Response:
    """Look at a bundle that came in; nothing is added yet."""
    bench = bench_of(request)
    with refused_as(lambda wrong: _shown(request, wrong=wrong)), bench.store.reading() as session:
        digest, box = bench.received.keep((file.filename or "the bundle")[:80], file.file.read())
        plan = look(box, session)
    return _shown(request, looked=_looked(digest, plan))


def take_in(request: Request, digest: Annotated[str, Form(max_length=64)] = "") -> Response:
    """Take in a bundle that was looked at, whole or not at all."""
    bench = bench_of(request)
    with refused_as(lambda wrong: _shown(request, wrong=wrong)):
        box = bench.received.of(digest)
        with bench.store.reading() as session:
            plan = look(box, session)
        if not plan.adds:
            raise NotebookTrouble(f"{plan.name}: all of it is in the notebook already; nothing was added.")
        with bench.store.entry(f"taken in: {box.name}") as session:
            take(plan, session)
    return go_to("/notebook/share?taken=1")


def _looked(digest: str, plan: Plan) -> Looked:
    return Looked(
        digest=digest,
        name=plan.name,
        what=str(plan.about.get("what", "a bundle")),
        counts=plan.counts,
        coming=tuple(
            Coming(one.kind, one.name, f"{FATES[one.fate]}{f': {one.why}' if one.why else ''}")
            for one in plan.coming[:SHOWN]
        ),
        more=max(len(plan.coming) - SHOWN, 0),
        adds=plan.adds,
    )


def _shown(
    request: Request,
    *,
    what: str = "",
    which: str = "",
    taken: bool = False,
    looked: Looked | None = None,
    wrong: str = "",
) -> Response:
    with bench_of(request).store.reading() as session:
        setups = shelf.revisions(session, kind="setup", most=CHOICES)
        events = runs.events(session, CHOICES)
        page = SharePage(
            title="Share",
            tab="/notebook/share",
            undoing=undoing(request, session),
            notices=tuple(Notice(sentence(one.what)) for one in last_entries(session, 1)) if taken else (),
            what=what if what in WHATS else WHATS[0],
            which=which,
            choices=(
                *((one.code, f"{one.name}, {one.number}") for one in setups),
                *((event.name, event.held_on.isoformat()) for event, _ in events),
            ),
            looked=looked,
            wrong=wrong,
        )
    return show(request, page, status=422 if wrong else 200)
