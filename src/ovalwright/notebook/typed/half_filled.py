"""Forms that wait half filled: what each of them asks, and how it becomes an entry, whichever face began it.

A form bears the name of the command that asks the same. Functions take an open session and never commit.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from sqlalchemy.orm import Session

from ovalwright.notebook import drafts, runs
from ovalwright.notebook.drafts import DraftChanged
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.runs import FEELS, PHASES, WHENS, Said
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed import at_track, entering
from ovalwright.notebook.typed.at_track import Kept
from ovalwright.notebook.typed.entering import Form
from ovalwright.notebook.typed.set_down_line import EXAMPLE


@dataclass(frozen=True)
class Blank:
    """One thing that a form asks: its field, what it is, an example; `rows` where long, `choices` if any."""

    name: str
    label: str
    example: str = ""
    rows: int = 1
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class HalfForm:
    """A form: what it is called, what it asks, how what was typed is kept."""

    called: str
    blanks: tuple[Blank, ...]
    keep: Callable[[Session, Form], Kept]


def form_of(name: str) -> HalfForm:
    """A form by its name. Raises NotebookTrouble for one that is gone on with elsewhere."""
    if name not in FORMS:
        raise NotebookTrouble(
            f'"{name[:40]}" is gone on with where it was begun; throw it away, or go there.'
        )
    return FORMS[name]


def finish(session: Session, uid: str, typed: Form, *, version: int) -> Kept:
    """The entry that a draft, last seen in a `version`, becomes with what is typed now; the draft goes.

    Raises DraftChanged when another hand was quicker, NotebookTrouble, DocumentError.
    """
    before = drafts.draft(session, uid)
    if before.version != version:
        raise DraftChanged(before, typed)
    kept = form_of(before.form).keep(session, typed)
    entry_of(session).what = kept.said
    drafts.drop(session, uid)
    return kept


def save(session: Session, uid: str, typed: Form, *, version: int, by: str = "") -> None:
    """Save what is typed of a draft, last seen in a `version`; what its form does not ask stays as it was.

    Raises DraftChanged, NotebookTrouble.
    """
    before = drafts.draft(session, uid)
    asked = {blank.name for blank in form_of(before.form).blanks}
    rest = {name: text for name, text in before.typed.items() if name not in asked}
    drafts.save(session, uid, {**rest, **typed}, version=version, by=by)


# ---------------- how each is kept


def _as(kind: str) -> Callable[[Session, Form], Kept]:
    return lambda session, typed: at_track.enter(session, kind, typed)


def _event(session: Session, typed: Form) -> Kept:
    if not typed.get("name", "").strip():
        raise NotebookTrouble("the event has no name; write such as Opening night.")
    new = entering.enter_event(session, typed)
    return Kept(f"event {new.name} of {new.held_on}")


def _run(session: Session, typed: Form) -> Kept:
    kept = at_track.enter(session, "run", typed)
    if not typed.get("laps", "").strip():
        return kept
    listed = at_track.enter(session, "laps", {**typed, "run": kept.run})
    return Kept(f"{kept.said}; {listed.said}", run=kept.run)


def _said(session: Session, typed: Form) -> Kept:
    told = Said(*(typed.get(name, "").strip() for name in ("phase", "when", "feel", "words")))
    if told == Said():
        raise NotebookTrouble("nothing was said; write how it was, or choose where it was tight or loose.")
    run = entering.run_named(session, typed.get("run", ""))
    runs.say(session, run, told)
    return Kept(f"comment on run {run.code}", run=run.code)


def _mend(session: Session, typed: Form) -> Kept:
    run = entering.run_named(session, typed.get("run", ""))
    entering.mend_run(session, run, typed)
    return Kept(f"run {run.code} mended", run=run.code)


# ---------------- what each asks

_RUN = Blank("run", "Run, by its code; the last when left out", "last")
_OF_RUN = (
    Blank("session", "Session", "practice"),
    Blank("at", "Began at", "19:30"),
    Blank("driver", "Driver"),
    Blank("fuel", "Fuel at the start", "18 gal"),
    Blank("fuel_left", "Fuel left", "6 gal"),
    Blank("air", "Air, or conditions by code or name", "68 F"),
    Blank("surface", "Surface", "85 F"),
    Blank("stagger", "Rear stagger", "2 1/4 in"),
    Blank("note", "Note", rows=2),
)
_LAPS = (
    Blank("laps", "Its laps, the list as it is", "1 17.92\n2 17.71", rows=8),
    Blank("columns", "What a heading holds, one a line", "Zeit=time", rows=2),
    Blank("flags", "What a word of yours for a flag means, one a line", "gelb=yellow", rows=2),
    Blank("car", "Own number, where the list holds several cars", "14"),
)

FORMS: Mapping[str, HalfForm] = {
    "log event": HalfForm(
        "An event",
        (
            Blank("name", "What it is called", "Opening night"),
            Blank("on", "Day; today when left out", "2026-04-25"),
            Blank("track", "Track, by code or name"),
            Blank("note", "Note", rows=2),
            Blank("spent", "What it cost; private", "120"),
        ),
        _event,
    ),
    "log run": HalfForm(
        "A run",
        (
            Blank("event", "Its event; the last when left out", "last"),
            Blank("setup", "Its setup, by code or name; the one in the car when left out"),
            Blank("track", "Track, where it is not that of the event"),
            *_OF_RUN,
            *_LAPS,
        ),
        _run,
    ),
    "log laps": HalfForm("Laps", (_RUN, *_LAPS), _as("laps")),
    "log temps": HalfForm(
        "Tire temperatures",
        (
            _RUN,
            Blank("temperatures", "In the order you read them", "178 185 190 / 201 196 188 / ...", rows=2),
            Blank("order", "Another order than the usual", "LF out mid in, RF in mid out, ..."),
        ),
        _as("temperatures"),
    ),
    "log pressures": HalfForm(
        "Tire pressures",
        (
            _RUN,
            Blank("pressures", "psi, in your usual order", "13 28 14 26"),
            Blank("cold_or_hot", "Read", choices=("cold", "hot")),
        ),
        _as("pressures"),
    ),
    "log said": HalfForm(
        "What the driver said",
        (
            _RUN,
            Blank("phase", "Where in the turn", choices=PHASES[1:]),
            Blank("when", "When in the run", choices=WHENS[1:]),
            Blank("feel", "How it felt", choices=FEELS[1:]),
            Blank("words", "In his own words", rows=2),
        ),
        _said,
    ),
    "log decided": HalfForm(
        "What was decided",
        (_RUN, Blank("decided", "What to do next", "softer right rear for the feature", rows=2)),
        _as("decided"),
    ),
    "log hit": HalfForm("Where it was hit", (_RUN, Blank("hit", "Where", "RF")), _as("decided")),
    "log mend": HalfForm("A run mended", (_RUN, *_OF_RUN), _mend),
    "log setdown": HalfForm(
        "As it came back", (_RUN, Blank("measured", "What was measured", EXAMPLE, rows=2)), _as("measured")
    ),
    "quick": HalfForm(
        "A change of the setup",
        (
            Blank("line", "As you would shout it", "RR +1/2, LR 12.5 psi"),
            Blank("on", "On which setup, by code or name; the one in the car when left out"),
            Blank("reason", "Why", "tight in the middle late"),
        ),
        _as("line"),
    ),
}
"""Every form that may wait, by the command that asks the same."""
