"""How a page is shown: its context is a frozen dataclass of texts, its template is named by it.

A fragment is a block of the page's own template: htmx names the element it wants, and the block of that name
is all that is sent. Without JavaScript the same function sends the whole page.
"""

from __future__ import annotations

import contextlib
import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, ClassVar, Literal

from jinja2 import Environment, FileSystemBytecodeCache, PackageLoader, StrictUndefined, Template
from jinja2.bccache import Bucket
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse

from ovalwright.kept import closed_folder
from ovalwright.notebook import drafts
from ovalwright.web import words
from ovalwright.web.bench import bench_of
from ovalwright.web.door import is_here
from ovalwright.web.hand import HAND
from ovalwright.web.joined import CarInHand, car_in_hand
from ovalwright.web.places import OF_THE_CAR, ON_THE_PHONE, PLACES, Place
from ovalwright.web.static_files import address

THEME_COOKIE, THUMB_COOKIE, DONE_COOKIE = "theme", "thumb", "ovalwright-done"
THEMES, THUMBS = ("day", "night"), ("left", "right")


@dataclass(frozen=True)
class Notice:
    """One sentence at the top of a page; `trouble` when a rule or an error is why."""

    said: str
    trouble: bool = False


@dataclass(frozen=True, kw_only=True)
class Page:
    """What every page has: the file of its template, its title, its path in the navigation, its notices."""

    template: ClassVar[str]
    title: str
    here: str
    notices: tuple[Notice, ...] = ()


@dataclass(frozen=True)
class InNav:
    """A page in the navigation."""

    place: Place
    is_here: bool
    waiting: int


@dataclass(frozen=True)
class Frame:
    """What stands around every page; `theme` is nothing where the device decides, `is_left` where the left
    thumb presses; `sent` names its forms that make something new; `car` is the one in hand.
    """

    theme: Literal["day", "night", ""]
    is_left: bool
    csrf: str
    sent: str
    nav: tuple[InNav, ...]
    on_the_phone: tuple[InNav, ...]
    more: tuple[InNav, ...]
    drafts: int
    car: CarInHand
    at: str
    may_leave: bool

    @property
    def stands_in(self) -> str:
        """What of the car is computed as something else, on pages with its numbers."""
        return self.car.stands_in if self.at in OF_THE_CAR else ""


def show(request: Request, page: Page, *, status: int = 200, block: str = "") -> HTMLResponse:
    """A page, or the block of it that was asked for, or the one named here."""
    template = templates().get_template(page.template)
    part = template.blocks[block] if block else _block(request, template)
    waiting, car = _kept(request) if page.here and not part else (0, CarInHand())
    told = {"page": page, "frame": _frame(request, page, waiting=waiting, car=car)}
    text = "".join(part(template.new_context(told))) if part else template.render(told)
    return HTMLResponse(text, status, headers={"Vary": "HX-Request, HX-Target, Cookie"})


def go_to(path: str, *, done: str = "") -> RedirectResponse:
    """After a change: on to a page of ours, whose address is never taken from a request.

    `done` names the form (its `data-keep`) that is kept now, so that the device drops its own copy.
    """
    answer = RedirectResponse(path, status_code=303)
    if done:
        answer.set_cookie(DONE_COOKIE, done, max_age=60, samesite="strict")
    return answer


class _CompiledTemplates(FileSystemBytecodeCache):
    """Compiled templates, kept beside the compiled physics; where that cannot be, compiled at every start."""

    def load_bytecode(self, bucket: Bucket) -> None:
        """What was kept, if it can be read; what is cut off or damaged is compiled and kept anew."""
        try:
            super().load_bytecode(bucket)
        except Exception:
            bucket.reset()

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what was compiled, if it can be."""
        with contextlib.suppress(OSError):
            Path(self.directory).mkdir(exist_ok=True)
            super().dump_bytecode(bucket)


def _kept_templates() -> _CompiledTemplates | None:
    """Those of this very Jinja and the options given to it here; none where others could put theirs."""
    shaped_by = version("jinja2").encode() + Path(__file__).read_bytes()
    try:
        folder = closed_folder() / f"pages-{hashlib.sha256(shaped_by).hexdigest()[:16]}"
    except OSError:
        return None
    return _CompiledTemplates(str(folder))


@cache
def templates() -> Environment:
    """The templates, every value escaped unless it is marked safe; all know the parts of `parts.html`."""
    found = Environment(
        loader=PackageLoader("ovalwright.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
        bytecode_cache=_kept_templates(),
    )
    found.globals["static"] = address
    found.globals["two_scales"] = words.TWO_SCALES
    shared = found.get_template("parts.html").module
    found.globals.update({name: part for name, part in vars(shared).items() if not name.startswith("_")})
    return found


def load_templates(*names: str) -> None:
    """Read templates before anyone asks for their pages."""
    for name in names:
        templates().get_template(name)


def _block(request: Request, template: Template) -> Callable[..., Any] | None:
    if "hx-request" not in request.headers or "hx-boosted" in request.headers:
        return None
    return template.blocks.get(request.headers.get("hx-target", "").replace("-", "_"))


def _frame(request: Request, page: Page, *, waiting: int, car: CarInHand) -> Frame:
    bench = bench_of(request)
    nav = tuple(
        InNav(place, place.path == page.here, waiting if place.path == "/notebook" else 0)
        for place in PLACES
        if place.path in bench.paths
    )
    theme = request.cookies.get(THEME_COOKIE, "")
    return Frame(
        is_left=request.cookies.get(THUMB_COOKIE) == "left",
        theme="day" if theme == "day" else "night" if theme == "night" else "",
        csrf=bench.door.token(request),
        sent=secrets.token_hex(16),
        nav=nav,
        on_the_phone=tuple(one for one in nav if one.place.path in ON_THE_PHONE),
        more=tuple(one for one in nav if one.place.path not in ON_THE_PHONE),
        drafts=waiting,
        car=car,
        at=page.here,
        may_leave=not is_here(request),
    )


def _kept(request: Request) -> tuple[int, CarInHand]:
    """How many forms are half filled, and the car in hand; nothing for who stands before the door."""
    bench = bench_of(request)
    if not bench.door.is_open_to(request):
        return 0, CarInHand()
    with bench.store.reading() as session:
        half = sum(one.form != HAND for one in drafts.drafts(session))
        return half, car_in_hand(request, session)
