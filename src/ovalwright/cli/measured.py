"""What was measured: how a number is taken, kept where it is written, and what that narrowed."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from ovalwright.cli.knowing import measure
from ovalwright.cli.notes import opened, taken
from ovalwright.cli.screen import Screen, quoted
from ovalwright.cli.typed import track_of
from ovalwright.documents import Assembly, Conditions
from ovalwright.notebook import shelf
from ovalwright.notebook.garage.cautions import BOOK
from ovalwright.notebook.garage.how_measured import to_measure
from ovalwright.notebook.known import SAID, Held, Number, give_of, number, numbers
from ovalwright.notebook.measured import keep_measured
from ovalwright.notebook.tables import Revision
from ovalwright.notebook.typed.entering import usual_setup
from ovalwright.notebook.typed.measured import Reading
from ovalwright.notebook.typed.measured_form import EVERY, MeasuredForm, read_form, tools_of
from ovalwright.pack import build
from ovalwright.study.bands import Band
from ovalwright.study.narrowed import narrowed, verdict
from ovalwright.study.sure import what_to_measure
from ovalwright.web import hand as hands

KINDS = {"cross": "percent", "balance": "percent", "limit": "speed"}
CALLED = {"cross": "wedge in the turn", "balance": "balance at the limit", "limit": "most speed there"}
"""The three numbers by their names in the study."""
_AT_CORNER = re.compile(r"(LF|RF|LR|RR)=(.*)", re.IGNORECASE | re.DOTALL)


# ---------------- looking


def listed(screen: Screen, *, on: str, everything: bool, where: str) -> None:
    """The numbers of a setup by their names: those that are typical, or all of them."""
    with opened(screen, where) as store, store.reading() as session:
        setup = _setup(session, on)
        found = [one for one in numbers(session, setup).values() if everything or not one.first.value.known]
        name = f"{setup.document.name}, {setup.number} ({setup.code})"
    screen.title(f"{'Every number' if everything else 'Typical numbers'} of {name}")
    rows = [
        (one.name, one.first.value.text, _give(one.held[0]), SAID[one.first.value.evidence]) for one in found
    ]
    screen.table(rows, head=("name", "value", "", ""), left=4)
    if not everything:
        screen.note("Those that are measured or told are listed with --all.")
    screen.note(
        "`measured NAME` says how one is measured; `sure` which of them would narrow the answers most."
    )
    screen.end("measured", {"setup": setup.code, "numbers": [_told(one) for one in found]})


def how(screen: Screen, name: str, *, on: str, where: str) -> None:
    """How one number is measured, with what care, and what stands there."""
    with opened(screen, where) as store, store.reading() as session:
        what = number(session, _setup(session, on), name)
    thing = to_measure(what.name)
    screen.title(thing.what)
    screen.say(thing.how)
    for caution in thing.cautions:
        screen.say(f"Careful: {caution}")
    screen.say()
    screen.table([_stands(one) for one in what.held], head=("stands there now", "", "", "written as"), left=4)
    screen.table([(one.name, f"+/-{one.give}") for one in tools_of(what)], head=("measured with", ""), left=2)
    screen.say()
    screen.command(f"measured {quoted(Path(what.name))} {_example(what)}")
    screen.note(f"How it is taken and what a tool is good for are common practice. {BOOK}")
    screen.end("measured", {"number": _told(what), "how": thing, "tools": tools_of(what)})


def _example(what: Number) -> str:
    told = f'"{what.first.value.text}"'
    return f"RR={told}" if len(what.held) > 1 else told


def _stands(one: Held) -> tuple[str, ...]:
    value = one.entry.value
    return f"{one.corner} {value.text}".strip(), _give(one), SAID[value.evidence], one.lives.said


def _give(one: Held) -> str:
    give = give_of(one.entry)
    return f"+/-{give}" if give else ""


def _told(what: Number) -> dict[str, Any]:
    return {
        "name": what.name,
        "what": to_measure(what.name).what,
        "held": [_as_json(one) for one in what.held],
    }


def _as_json(one: Held) -> dict[str, Any]:
    value = one.entry.value
    told = {"path": one.path, "written_as": one.lives.said, "text": value.text, "si": value.si}
    return {**told, "give_or_take": value.give_or_take, "from": value.evidence}


# ---------------- keeping


def readings_of(words: Sequence[str]) -> dict[str, str]:
    """What was typed by place: `RR="0.11 in/psi"` at a corner, anything else at every one."""
    found: dict[str, str] = {}
    plain = []
    for word in words:
        if match := _AT_CORNER.fullmatch(word):
            found[match[1].upper()] = match[2]
        else:
            plain.append(word)
    return {**found, EVERY: " ".join(plain)}


def keep(
    screen: Screen, name: str, form: MeasuredForm, *, on: str, track: Path | None, where: str, by: str
) -> None:
    """Keep what was measured of one number; with a track, say what it narrowed and what to measure next."""
    with opened(screen, where, by) as store, store.entry("measured") as session:
        setup = _setup(session, on)
        what = number(session, setup, name)
        read = read_form(what, form)
        kept = keep_measured(session, setup, what, read.readings, reason=read.reason, on=dt.date.today())
        hands.follow(session, kept.moved, by=store.by)
        line, others = shelf.line(session, kept.now), [shelf.line(session, now) for _, now in kept.others]
        before, after = (shelf.assembly_of(session, one) for one in (kept.was, kept.now))
    screen.title(kept.said)
    rows = [_row(what.at(place), one) for place, one in read.readings.items()]
    screen.table(rows, head=("before", "", "now", ""), left=4)
    for sentence in (*read.odd, *kept.left):
        screen.say(sentence)
    screen.say()
    screen.say(f"{line.code}  setup {line.name}, revision {line.number}: kept.")
    for other in others:
        screen.say(f"{other.code}  setup {other.name}, revision {other.number}: goes along.")
    told = {"kept": line, "others": others, "left": kept.left, "odd": read.odd, "reason": read.reason}
    told["readings"] = {place or EVERY: one.written for place, one in read.readings.items()}
    if track is not None:
        told |= _narrowed(screen, before, after, track)
    else:
        screen.note("With --track it says what that narrowed, and what to measure next.")
    screen.note("`undo` takes it back.")
    screen.end("measured", told)


def _row(held: Held, reading: Reading) -> tuple[str, ...]:
    new = held.entry._replace(value=reading.value)
    value, _, was, _ = _stands(held)
    give = f"+/-{give_of(new)}" if give_of(new) else ""
    return (
        f"{value} {_give(held)}".strip(),
        was,
        f"{reading.value.text} {give}".strip(),
        reading.value.evidence,
    )


def _narrowed(screen: Screen, before: Assembly, after: Assembly, track: Path) -> dict[str, Any]:
    """The bands of the three numbers before and after, and the measurements worth making next."""
    oval = track_of(screen, track)
    was, now = build(before), build(after)
    with screen.progress("drawing cars as known before and now") as tell:
        found = narrowed(was, now, oval, Conditions(), progress=tell)
        best = what_to_measure(now, oval, Conditions(), progress=tell)
    screen.say()
    rows = []
    for name, kind in KINDS.items():
        halves = [_half(screen, one[name], kind) for one in (found.before, found.after)]
        rows.append((CALLED[name], *halves, verdict(found.before[name], found.after[name])))
    screen.table(rows, head=("half of a 95 % band", "before", "now", ""), left=1)
    measure(screen, best, "cross", "percent")
    screen.note(
        f"{found.draws - found.failed} of {found.draws} drawn cars could be built, before and now alike."
    )
    return {"narrowed": found, "measure": best}


def _half(screen: Screen, band: Band, kind: str) -> str:
    half = 0.5 * (band.high - band.low)
    return f"+/-{screen.show(half, kind)}" if math.isfinite(half) else "-"


def _setup(session: Session, on: str) -> Revision:
    """The setup that is named, else the one in the car. Raises Missing."""
    return taken(session, on, "setup") if on else usual_setup(session).revision
