"""Sheets for the trailer as PDF or PNG, from files or from the notebook: sheet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ovalwright.cli.ballast import held_by
from ovalwright.cli.door import Trouble, said_by
from ovalwright.cli.screen import Screen, quoted
from ovalwright.cli.sheet_data import card_of_tire, cards_of_setup, day_of, items_of, run_log_of
from ovalwright.cli.sheet_source import Found, Source, is_file, source
from ovalwright.cli.typed import quantity
from ovalwright.documents import Assembly, Rack, Rules
from ovalwright.notebook import runs, work
from ovalwright.notebook.difference import differences
from ovalwright.notebook.parts import find_part, part_of
from ovalwright.notebook.tables import Revision, Run
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.pack import build
from ovalwright.sheets import (
    PAPERS,
    SHEETS,
    Leaf,
    Paper,
    RaceDay,
    ScheduleLine,
    Side,
    Stamp,
    as_said,
    image,
    render,
)
from ovalwright.study.legal import Held
from ovalwright.study.rounds import plan_rounds

DOTS = 144.0
"""Dots per inch of a PNG."""


@dataclass(frozen=True)
class Wish:
    """What was asked for besides the sheet itself; each sheet takes what it can print."""

    which: tuple[str, ...] = ()
    rules: Path | None = None
    cross: str = ""
    event: str = ""
    lines: tuple[str, ...] = ()
    fuel: tuple[str, ...] = ()
    note: str = ""

    @property
    def one(self) -> str:
        """The one thing that is printed, or nothing. Raises Trouble for more."""
        if len(self.which) > 1:
            raise Trouble(f'"{self.which[1][:30]}" is one too many; put a name of several words in quotes')
        return self.which[0] if self.which else ""


def sheet(screen: Screen, kind: str, wish: Wish, *, to: Path, paper: str, where: str) -> None:
    """Make one sheet and write it."""
    if kind not in SHEETS:
        raise Trouble(f'"{kind[:30]}" is no sheet; write one of {", ".join(SHEETS)}')
    if paper not in PAPERS:
        raise Trouble(f'--paper: "{paper[:20]}" is none; write {" or ".join(PAPERS)}')
    if to.suffix.lower() not in (".pdf", ".png"):
        raise Trouble(f"--to: {to} names no PDF or PNG; end it with .pdf or .png")
    _refuse_spare(kind, wish)
    with source(screen, where) as found, said_by(ValueError):
        leaf = _MAKERS[kind](found, wish)
    written = _written(leaf, to, paper)
    code = f", code {leaf.stamp.code}" if leaf.stamp.code else ""
    screen.say(f"Written: {', '.join(quoted(path) for path in written)}{code}.")
    answer = {"sheet": kind, "stamp": leaf.stamp, "paper": paper, "written": [str(path) for path in written]}
    screen.end("sheet", answer)


def _refuse_spare(kind: str, wish: Wish) -> None:
    """Raises Trouble for an option that the sheet has no room for, so that none is passed over."""
    for name, kinds in _TAKEN_BY.items():
        if getattr(wish, name) and kind not in kinds:
            raise Trouble(f"--{_OPTIONS.get(name, name)} is for the sheet {' or '.join(kinds)}; leave it out")


_TAKEN_BY = {
    "rules": ("scales", "raceday"), "cross": ("scales",), "event": ("raceday",), "lines": ("raceday",),
    "fuel": ("raceday",), "note": ("raceday",),
}  # fmt: skip
_OPTIONS = {"lines": "line"}


def _written(leaf: Leaf, to: Path, paper: Paper) -> list[Path]:
    """The file of a leaf, or one for each of its pages as pictures."""
    with said_by(ValueError):
        if to.suffix.lower() == ".pdf":
            pages: tuple[bytes, ...] = (render(leaf, paper=paper),)
        else:
            pages = image(leaf, paper=paper, dots=DOTS)
    paths = [
        to if number == 1 else to.with_stem(f"{to.stem}-{number}") for number in range(1, len(pages) + 1)
    ]
    for path, page in zip(paths, pages, strict=True):
        path.write_bytes(page)
    return paths


# ---------------- each sheet


def _setup(found: Source, wish: Wish) -> Leaf:
    one, assembly = found.setup(wish.one)
    return SHEETS["setup"](one.stamp("Setup"), assembly, system=found.screen.system)


def _scales(found: Source, wish: Wish) -> Leaf:
    one, assembly = found.setup(wish.one)
    plan = None
    if wish.cross:
        plan = plan_rounds(build(assembly), cross=quantity(wish.cross, "share", "--cross"))
    held, book = _held(found, assembly, wish)
    return SHEETS["scales"](
        one.stamp("Scale sheet"), assembly, rounds=plan, held=held, book=book, system=found.screen.system
    )


def _held(found: Source, assembly: Assembly, wish: Wish) -> tuple[Sequence[Held], str]:
    """What a rule book says of the car, where one was named."""
    if wish.rules is None:
        return (), ""
    book = found.document(str(wish.rules), "rules").document
    assert isinstance(book, Rules)
    return held_by(assembly, book), book.name


def _tires(found: Source, wish: Wish) -> Leaf:
    if not wish.which:
        return SHEETS["tires"](_blank("Tires"))
    system, first = found.screen.system, wish.which[0]
    if is_file(first) or first.lower().endswith(".toml"):
        one, assembly = found.setup(wish.one)
        return SHEETS["tires"](one.stamp("Tires"), cards_of_setup(None, assembly, system=system))
    if all(find_part(found.session, "tire", mark) for mark in wish.which):
        cards = [card_of_tire(found.session, part_of(found.session, f"tire {mark}"), system=system)
                 for mark in wish.which]  # fmt: skip
        return SHEETS["tires"](_blank("Tires"), cards)
    run = _run(found, wish.one)
    one, assembly = found.setup(run.setup.code if run else wish.one)
    title = f"Tires of run {run.code}" if run else "Tires"
    return SHEETS["tires"](one.stamp(title), cards_of_setup(found.session, assembly, run, system=system))


def _blank(title: str) -> Stamp:
    return Stamp(title=title, made=dt.date.today())


def _run(found: Source, which: str) -> Run | None:
    """A run by its code, or None where it is none."""
    try:
        return runs.run_of(found.session, which)
    except NotebookTrouble:
        return None


def _run_log(found: Source, wish: Wish) -> Leaf:
    if not wish.one:
        return SHEETS["run"](_blank("Run log"))
    run = runs.run_of(found.session, wish.one)
    one, _ = found.setup(run.setup.code)
    stamp = Stamp(
        title="Run log",
        car=one.stamp("Run log").car,
        setup=f"{one.name}, {run.setup.number}, {run.setup.code}",
        code=run.code,
        made=run.event.held_on,
        by=run.driver,
    )
    return SHEETS["run"](stamp, run_log_of(found.session, run, system=found.screen.system))


def _bolts(found: Source, wish: Wish) -> Leaf:
    if not wish.one:
        return SHEETS["bolts"](_blank("Nut and bolt"))
    checklist = work.list_of(found.session, wish.one)
    return SHEETS["bolts"](_blank(checklist.name), tuple(items_of(work.list_lines(found.session, checklist))))


def _ballast(found: Source, wish: Wish) -> Leaf:
    one, assembly = found.setup(wish.one)
    return SHEETS["ballast"](one.stamp("Ballast"), assembly, system=found.screen.system)


def _rack(found: Source, wish: Wish) -> Leaf:
    one = found.document(wish.one) if wish.one else found.setup("")[0]
    rack = found.rack_of(one) if one.assembly else one
    if not isinstance(rack.document, Rack):
        raise Trouble(f"{wish.one}: is a {one.document.kind_name}; name a rack, or a setup that has one")
    return SHEETS["rack"](rack.stamp("Rack"), rack.document)


def _changes(found: Source, wish: Wish) -> Leaf:
    if len(wish.which) != 2:
        raise Trouble("name two setups, or two of any kind: sheet changes OLD NEW --to changes.pdf")
    old, new = (found.document(which) for which in wish.which)
    both = [one.assembly.setup if one.assembly else one.document for one in (old, new)]
    said = as_said(differences(both[0], both[1]))
    return SHEETS["changes"](new.stamp("What changed"), _side(old), _side(new), said)


def _side(one: Found) -> Side:
    kept = one.kept
    if kept is None:
        return Side(name=one.name)
    made = f"{kept.made_at:%Y-%m-%d}{f', {kept.made_by}' if kept.made_by else ''}"
    return Side(name=one.name, revision=str(kept.number), code=kept.code, made=made, reason=kept.reason)


def _raceday(found: Source, wish: Wish) -> Leaf:
    one, assembly = found.setup(wish.one)
    held, book = _held(found, assembly, wish)
    fuel = tuple(_pair(text, "fuel") for text in wish.fuel)
    event = runs.event_of(found.session, wish.event) if wish.event else None
    track = found.session.get(Revision, event.track_id) if event and event.track_id else None
    day = RaceDay(
        event=event.name if event else "Race day",
        track=track.document.name if track else "",
        date=day_of(event.held_on) if event else "",
        schedule=tuple(_schedule(text) for text in wish.lines),
        fuel=fuel,
        notes=wish.note or (event.note if event else ""),
    )
    return SHEETS["raceday"](
        one.stamp("Race day"), day, assembly, held=held, book=book, system=found.screen.system
    )


def _schedule(text: str) -> ScheduleLine:
    """`18:30, heat, cold pressures` as a line of the day."""
    time, _, rest = text.partition(",")
    what, _, before = rest.partition(",")
    if not what.strip():
        raise Trouble(f'--line: "{text[:40]}" does not say what; write such as "18:30, heat, cold pressures"')
    return ScheduleLine(time=time.strip(), what=what.strip(), before=before.strip())


def _pair(text: str, option: str) -> tuple[str, str]:
    """`heat=8 gal` as a label and a text."""
    label, sign, amount = text.partition("=")
    if not sign or not label.strip():
        raise Trouble(f'--{option}: "{text[:40]}" names nothing; write such as "feature=18 gal"')
    quantity(amount, "volume", f"--{option}")
    return label.strip(), amount.strip()


_MAKERS: Mapping[str, Callable[[Source, Wish], Leaf]] = {
    "setup": _setup,
    "scales": _scales,
    "tires": _tires,
    "run": _run_log,
    "bolts": _bolts,
    "ballast": _ballast,
    "rack": _rack,
    "changes": _changes,
    "raceday": _raceday,
}
