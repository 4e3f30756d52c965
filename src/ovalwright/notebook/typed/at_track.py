"""One entry made at the car, of whatever kind, from what was typed: a run, its laps, what was read and said.

An entry made on a phone out of reach bears a name that the phone gave it. Delivered under that name it is
kept once, however often it comes; an entry about a run that was made out of reach too names the run by the
name of its entry. Functions take an open session and never commit.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.corners import CORNERS
from ovalwright.notebook import remembered, runs, shelf
from ovalwright.notebook.garage.hits import to_inspect
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.runs import PHASES, THIRDS, Said
from ovalwright.notebook.tables import Run
from ovalwright.notebook.tables_work import Remembered
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed import entering
from ovalwright.notebook.typed.came_back import keep_set_down
from ovalwright.notebook.typed.entering import Form
from ovalwright.notebook.typed.lap_entry import read_lap_list
from ovalwright.notebook.typed.reading_order import Spot
from ovalwright.notebook.typed.sense import of_readings
from ovalwright.notebook.typed.set_down_line import EXAMPLE, read_set_down
from ovalwright.notebook.typed.tire_entry import put_cells, put_pressures, put_temperatures, unreadable

PRESSES = ("very tight", "tight", "good", "loose", "very loose")
"""What the driver says of a phase of the turn, in one press."""
RUN_FIELDS = (
    *("event", "session", "at", "driver", "setup", "track", "fuel", "fuel_left", "air", "surface", "stagger"),
    "note",
)
"""What is typed of a new run."""
DELIVERED = "delivered"
"""Under what the name of a delivered entry is remembered."""
NAME = re.compile(r"[0-9a-f]{32}")
MOST_ASIDE = 3
"""Lines of a lap list that are told one by one: of those set aside, and of those to look at."""


@dataclass(frozen=True)
class Kept:
    """What an entry came to, in words; the code of its `run` or of the `setup` it made; whether it had come
    before.
    """

    said: str
    run: str = ""
    setup: str = ""
    again: bool = False


def deliver(session: Session, kind: str, typed: Form, *, name: str = "") -> Kept:
    """Keep an entry, once under its name. Raises NotebookTrouble, DocumentError, one sentence."""
    if name and not NAME.fullmatch(name):
        raise NotebookTrouble("an entry bears a name of 32 digits, 0 to 9 and a to f; enter it again.")
    before = remembered.recall(session, DELIVERED, of=name) if name else None
    if before is not None:
        return Kept(**{**before, "again": True})
    kept = enter(session, kind, typed)
    entry_of(session).what = kept.said
    if name:
        _remember(session, name, kept)
    return kept


def enter(session: Session, kind: str, typed: Form) -> Kept:
    """One entry of a kind, from what was typed. Raises NotebookTrouble, DocumentError, one sentence."""
    if kind not in _KINDS:
        raise NotebookTrouble(f'"{kind[:30]}" is no entry; make one of {", ".join(_KINDS)}.')
    return _KINDS[kind](session, typed)


def _remember(session: Session, name: str, kept: Kept) -> None:
    """Past the journal: an entry that is taken back later has come all the same, and comes no second time."""
    row = {"what": DELIVERED, "of": name, "told": asdict(kept), "version": 1}
    session.execute(sa.insert(Remembered).values(entry_id=entry_of(session).id, **row))


def _run(session: Session, typed: Form) -> Run:
    """The run that an entry is about: by its code, by the name of the entry that made it, or the last."""
    which = typed.get("run", "").strip()
    if not NAME.fullmatch(which):
        return entering.run_named(session, which)
    made = remembered.recall(session, DELIVERED, of=which)
    if made is None or not made["run"]:
        raise NotebookTrouble("the run that this is about has not come yet; deliver that one first.")
    return entering.run_named(session, made["run"])


# ---------------- each kind


def _new_run(session: Session, typed: Form) -> Kept:
    form = {key: typed.get(key, "") for key in RUN_FIELDS}
    form["event"] = form["event"] or ("" if runs.events(session, 1) else entering.NO_EVENT)
    entered = entering.enter_run(session, form)
    new, chosen = entered.run, entered.chosen
    called = f", {new.session}" if new.session else ""
    why = f", {chosen.why}" if chosen else ""
    on = f"on {new.setup.document.name} {new.setup.code}{why}"
    other = _odd(entered.otherwise)
    of = f"{new.number} of {new.event.name}{_ahead(new.event.held_on)}"
    return Kept(f"run {new.code}, {of}{called}, {on}{other}", run=new.code)


def _ahead(day: dt.date) -> str:
    """How far ahead the day of an event is, where it is."""
    days = (day - dt.date.today()).days
    return f" ({day.isoformat()}, {days} {'day' if days == 1 else 'days'} ahead)" if days > 0 else ""


def _laps(session: Session, typed: Form) -> Kept:
    text = typed.get("laps", "")
    if not text.strip():
        raise NotebookTrouble('no lap is there; paste the list, a lap a line, such as "1 15.82".')
    run = _run(session, typed)
    columns, words, car = (typed.get(name, "") for name in ("columns", "flags", "car"))
    listed = read_lap_list(session, text, name="the lap list", columns=columns, words=words, car=car)
    runs.put_laps(session, run, listed.laps)
    aside = _first(tuple(f"line {one.line} set aside, {one.why}" for one in listed.aside), "set aside")
    count = f"{len(listed.laps)} laps of run {run.code}, {sum(listed.green)} at speed"
    return Kept(f"{count}{aside}{_first(listed.notes, 'to look at')}", run=run.code)


def _first(told: tuple[str, ...], called: str) -> str:
    """The first of what is told, and how many more there are."""
    more = len(told) - MOST_ASIDE
    return _odd(told[:MOST_ASIDE]) + (f"; {more} more {called}" if more > 0 else "")


def _temperatures(session: Session, typed: Form) -> Kept:
    run = _run(session, typed)
    if typed.get("temperatures", "").strip():
        put_temperatures(session, run, typed["temperatures"], typed.get("order", ""))
    else:
        put_cells(session, run, "temperature", cells(typed, THIRDS))
    odd = of_readings(runs.record(session, run).readings, "temperature")
    return Kept(f"temperatures of run {run.code}{_odd(odd)}", run=run.code)


def _pressures(session: Session, typed: Form) -> Kept:
    which = typed.get("cold_or_hot", "")
    if which not in ("cold", "hot"):
        raise NotebookTrouble("pressures are cold or hot; press one of them.")
    run = _run(session, typed)
    if typed.get("pressures", "").strip():
        put_pressures(session, run, typed["pressures"], which)
    else:
        put_cells(session, run, which, cells(typed, ("",)))
    odd = of_readings(runs.record(session, run).readings, which)
    return Kept(f"{which} pressures of run {run.code}{_odd(odd)}", run=run.code)


def _odd(sentences: tuple[str, ...]) -> str:
    """What wants a second look, behind what was kept."""
    return "".join(f"; {sentence.rstrip('.')}" for sentence in sentences)


def cells(typed: Form, thirds: tuple[str, ...]) -> Mapping[Spot, str]:
    """The cells of a form: `LF_inside`, or `LF_pressure` where a tire has one."""
    return {
        (corner, third): typed.get(f"{corner}_{third or 'pressure'}", "")
        for corner in CORNERS
        for third in thirds
    }


def wrong_cells(kind: str, typed: Form) -> tuple[str, ...]:
    """The fields of the form whose cells cannot be read; none where an entry has no cells."""
    if kind == "temperatures" and not typed.get("temperatures", "").strip():
        found = unreadable("temperature", cells(typed, THIRDS))
    elif kind == "pressures":
        found = unreadable("hot", cells(typed, ("",)))
    else:
        return ()
    return tuple(f"{corner}_{third or 'pressure'}" for corner, third in found)


def _words(session: Session, typed: Form) -> Kept:
    when = typed.get("when", "")
    said = [Said(phase, when, *_press(typed.get(phase, ""))) for phase in PHASES[1:] if typed.get(phase)]
    own = typed.get("words", "").strip()
    if own:
        said.append(Said(when=when, words=own))
    if not said:
        raise NotebookTrouble("nothing was said; press how it was on entry, in the middle or on exit.")
    run = _run(session, typed)
    for one in said:
        runs.say(session, run, one)
    told = "; ".join(" ".join(filter(None, (one.words or one.feel, one.phase, one.when))) for one in said)
    return Kept(f"driver's words on run {run.code}: {told}", run=run.code)


def _press(pressed: str) -> tuple[str, str]:
    """How it felt, and the words that say how much. Raises NotebookTrouble."""
    if pressed not in PRESSES:
        raise NotebookTrouble(f'"{pressed[:30]}" is no press; press one of {", ".join(PRESSES)}.')
    how, _, feel = pressed.rpartition(" ")
    return feel, pressed if how else ""


def _line(session: Session, typed: Form) -> Kept:
    text = typed.get("line", "")
    if not text.strip():
        raise NotebookTrouble('nothing was changed; write such as "RR +1/2, LR 12.5 psi".')
    line, base = entering.read_quick(session, text, typed.get("on", ""))
    if line.not_understood:
        told = "; ".join(one.sentence.rstrip(".") for one in line.not_understood)
        raise NotebookTrouble(f"{told}; nothing was kept.")
    made = entering.keep_quick(session, line, base.revision, reason=typed.get("reason", ""))
    told = f"{made.document.name}, {made.number} ({made.code}): {made.said}{_odd(line.odd)}"
    return Kept(told, setup=made.code)


def _measured(session: Session, typed: Form) -> Kept:
    text = typed.get("measured", "")
    if not text.strip():
        raise NotebookTrouble(f"nothing was measured; write such as {EXAMPLE}.")
    run = _run(session, typed)
    replaced = keep_set_down(session, run, read_set_down(text))
    instead = ", in place of the one before" if replaced else ""
    return Kept(f"set-down of run {run.code}{instead}", run=run.code)


def _decided(session: Session, typed: Form) -> Kept:
    told = {name: typed[name].strip() for name in ("decided", "hit") if typed.get(name, "").strip()}
    if not told:
        raise NotebookTrouble("nothing was decided; write what is to be done next, or where it was hit.")
    run = _run(session, typed)
    runs.change_run(session, run, told)
    said = f"{' and '.join(told)} of run {run.code}"
    if "hit" in told:
        asked = to_inspect(run.hit, runs.record(session, run).ridden)
        said += _odd(tuple(asked))
    return Kept(said, run=run.code)


_KINDS: Mapping[str, Callable[[Session, Form], Kept]] = {
    "temperatures": _temperatures,
    "pressures": _pressures,
    "words": _words,
    "laps": _laps,
    "line": _line,
    "measured": _measured,
    "decided": _decided,
    "run": _new_run,
}
KINDS = tuple(_KINDS)
"""The kinds of entry, in the order they are made after a run."""


def usual_setup_said(session: Session) -> str:
    """The setup that an entry without one is about, as it is told."""
    try:
        chosen = entering.usual_setup(session)
    except entering.Missing:
        return ""
    line = shelf.line(session, chosen.revision)
    return f"{line.name}, {line.number} ({line.code}), {chosen.why}"
