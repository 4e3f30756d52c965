"""A sheet by its name, from what was asked for and where its documents come from: files, or the notebook."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from sqlalchemy.orm import Session

from ovalwright.documents import Assembly, Document, Rack, Rules, Setup
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.garage.checklists import NUT_AND_BOLT
from ovalwright.notebook.garage.findings import findings
from ovalwright.notebook.garage.parts import find_part, part_of
from ovalwright.notebook.garage.standing import as_it_stands
from ovalwright.notebook.garage.weighed import weighed_revision
from ovalwright.notebook.place import person
from ovalwright.notebook.tables import Entry, Revision, Run
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.difference import differences
from ovalwright.notebook.typed.entering import usual_setup
from ovalwright.pack import build
from ovalwright.sheets import SHEETS, Leaf, NoSheet, RaceDay, ScheduleLine, Side, Stamp, as_said
from ovalwright.sheets.bolts import items_of
from ovalwright.sheets.records import card_of_tire, cards_of_setup, day_of, run_log_of
from ovalwright.study.legal import Held, held_by
from ovalwright.study.rounds import plan_rounds
from ovalwright.units import KINDS, System, UnitError, read_quantity

TAKEN_BY: Mapping[str, tuple[str, ...]] = {
    "rules": ("scales", "raceday"), "cross": ("scales",), "event": ("raceday",), "lines": ("raceday",),
    "fuel": ("raceday",), "note": ("raceday",),
}  # fmt: skip
"""What may be asked for besides, and the sheets that have room for it."""


@dataclass(frozen=True)
class Wish:
    """What was asked for: `which` documents, by what the source finds them by, and what TAKEN_BY names.

    `cross` is the share that the jack bolts are to be turned to; `fuel` pairs a session with its amount.
    """

    which: tuple[str, ...] = ()
    rules: str = ""
    cross: float | None = None
    event: str = ""
    lines: tuple[ScheduleLine, ...] = ()
    fuel: tuple[tuple[str, str], ...] = ()
    note: str = ""

    @property
    def one(self) -> str:
        """The one thing that is printed, or nothing. Raises NoSheet for more."""
        if len(self.which) > 1:
            raise NoSheet(f'"{self.which[1][:30]}" is one too many; put a name of several words in quotes')
        return self.which[0] if self.which else ""


@dataclass(frozen=True)
class Found:
    """A document, with a setup joined to its car, the revision it is, and the setup that was weighed."""

    document: Document
    assembly: Assembly | None = None
    kept: Revision | None = None
    weighed: Setup | None = None

    @property
    def name(self) -> str:
        """What it is called."""
        return self.kept.document.name if self.kept else shelf.named(self.document)

    def stamp(self, title: str) -> Stamp:
        """The stamp of a sheet of it; of a file the day is today's."""
        car = self.assembly.car.name if self.assembly else ""
        if self.kept is None:
            return Stamp(title=title, car=car, setup=self.name, made=dt.date.today())
        return Stamp(
            title=title,
            car=car,
            setup=self.name,
            revision=self.kept.number,
            code=self.kept.code,
            made=self.kept.made_at.date(),
            by=person(self.kept.made_by),
        )


class Source(Protocol):
    """Where the documents of a sheet come from."""

    @property
    def session(self) -> Session:
        """The notebook, opened for reading."""

    @property
    def system(self) -> System:
        """Units that the sheet is printed in."""

    @property
    def has_notebook(self) -> bool:
        """Whether there is one; to ask for its session makes one."""

    def setup(self, which: str) -> tuple[Found, Assembly]:
        """A setup, the one in use when left out."""

    def document(self, which: str, kind: str = "") -> Found:
        """A document, of a kind where it matters."""

    def is_file(self, which: str) -> bool:
        """Whether a file is meant rather than something of the notebook."""


@dataclass(frozen=True)
class FromNotebook:
    """Documents of the notebook alone, by their codes and names."""

    session: Session
    system: System = "us"
    has_notebook: bool = True

    def setup(self, which: str) -> tuple[Found, Assembly]:
        """A setup, the one in use when left out. Raises NotebookTrouble, DocumentError."""
        found = self.document(which or usual_setup(self.session).revision.code, "setup")
        assert found.assembly is not None
        return found, found.assembly

    def document(self, which: str, kind: str = "") -> Found:
        """A document by its code or name. Raises as `setup` does."""
        return kept_document(self.session, which, kind)

    def is_file(self, which: str) -> bool:
        """Never: no name is looked up beyond the notebook."""
        return False


def kept_document(session: Session, which: str, kind: str) -> Found:
    """A document of the notebook. Raises NotebookTrouble, DocumentError."""
    kept = shelf.revision(session, which, kind=kind)
    if kept.document.kind != "setup":
        return Found(shelf.document_of(kept), kept=kept)
    weighed = shelf.assembly_of(session, weighed_revision(session, kept)).setup
    return Found(shelf.document_of(kept), shelf.assembly_of(session, kept), kept, weighed)


def leaf_of(kind: str, source: Source, wish: Wish) -> Leaf:
    """A sheet ready to be laid out. Raises NoSheet, NotebookTrouble, DocumentError, ValueError."""
    return _MAKERS[kind](source, wish)


# ---------------- what is typed


def schedule_line(text: str) -> ScheduleLine:
    """`18:30, heat, cold pressures` as a line of the day. Raises NoSheet."""
    time, _, rest = text.partition(",")
    what, _, before = rest.partition(",")
    if not what.strip():
        raise NoSheet(f'"{text[:40]}" does not say what; write such as "18:30, heat, cold pressures"')
    return ScheduleLine(time=time.strip(), what=what.strip(), before=before.strip())


def fuel_line(text: str) -> tuple[str, str]:
    """`heat=8 gal` as a label and an amount. Raises NoSheet."""
    label, sign, amount = text.partition("=")
    if not sign or not label.strip():
        raise NoSheet(f'"{text[:40]}" names nothing; write such as "feature=18 gal"')
    try:
        read_quantity(amount, KINDS["volume"])
    except UnitError as problem:
        raise NoSheet(str(problem)) from None
    return label.strip(), amount.strip()


# ---------------- each sheet


def _setup(source: Source, wish: Wish) -> Leaf:
    one, assembly = source.setup(wish.one)
    return SHEETS["setup"](one.stamp("Setup"), assembly, weighed=one.weighed, system=source.system)


def _scales(source: Source, wish: Wish) -> Leaf:
    one, assembly = source.setup(wish.one)
    plan = plan_rounds(build(assembly), cross=wish.cross) if wish.cross is not None else None
    held, book = _held(source, assembly, wish)
    return SHEETS["scales"](
        one.stamp("Scale sheet"),
        assembly,
        weighed=one.weighed,
        rounds=plan,
        held=held,
        book=book,
        system=source.system,
    )


def _held(source: Source, assembly: Assembly, wish: Wish) -> tuple[Sequence[Held], str]:
    """What a rule book says of the car, where one was named."""
    if not wish.rules:
        return (), ""
    book = source.document(wish.rules, "rules").document
    assert isinstance(book, Rules)
    return held_by(assembly, book), book.name


def _tires(source: Source, wish: Wish) -> Leaf:
    if not wish.which:
        return SHEETS["tires"](_blank("Tires"))
    system = source.system
    if source.is_file(wish.which[0]):
        one, assembly = source.setup(wish.one)
        return SHEETS["tires"](one.stamp("Tires"), cards_of_setup(None, assembly, system=system))
    if all(find_part(source.session, "tire", mark) for mark in wish.which):
        marked = [part_of(source.session, f"tire {mark}") for mark in wish.which]
        cards = [card_of_tire(source.session, part, system=system) for part in marked]
        return SHEETS["tires"](_blank("Tires"), cards)
    run = _run(source, wish.one)
    one, assembly = source.setup(run.setup.code if run else wish.one)
    title = f"Tires of run {run.code}" if run else "Tires"
    return SHEETS["tires"](one.stamp(title), cards_of_setup(source.session, assembly, run, system=system))


def _blank(title: str) -> Stamp:
    return Stamp(title=title, made=dt.date.today())


def _run(source: Source, which: str) -> Run | None:
    """A run by its code, or None where it is none."""
    try:
        return runs.run_of(source.session, which)
    except NotebookTrouble:
        return None


def _run_log(source: Source, wish: Wish) -> Leaf:
    if not wish.one:
        return SHEETS["run"](_blank("Run log"))
    run = runs.run_of(source.session, wish.one)
    one, _ = source.setup(run.setup.code)
    entered = source.session.get_one(Entry, run.entry_id)
    stamp = Stamp(
        title="Run log",
        car=one.stamp("Run log").car,
        setup=f"{one.name}, {run.setup.number}, {run.setup.code}",
        code=run.code,
        made=entered.at.date(),
        by=person(entered.by),
    )
    return SHEETS["run"](stamp, run_log_of(source.session, run, system=source.system))


def _bolts(source: Source, wish: Wish) -> Leaf:
    session = source.session if wish.one or source.has_notebook else None
    told = as_it_stands(session, wish.one or NUT_AND_BOLT.name)
    title = f"{told.name}, {told.event}" if told.event else told.name
    wrong = [one.said for one in told.wrong]
    return SHEETS["bolts"](_blank(title), tuple(items_of(told.lines)), how=told.note, wrong=wrong)


def _ballast(source: Source, wish: Wish) -> Leaf:
    one, assembly = source.setup(wish.one)
    return SHEETS["ballast"](one.stamp("Ballast"), assembly, system=source.system)


def _rack(source: Source, wish: Wish) -> Leaf:
    one = source.document(wish.one) if wish.one else source.setup("")[0]
    rack = _rack_of(source, one) if one.assembly else one
    if not isinstance(rack.document, Rack):
        raise NoSheet(f"{wish.one}: is a {one.document.kind_name}; name a rack, or a setup that has one")
    return SHEETS["rack"](rack.stamp("Rack"), rack.document)


def _rack_of(source: Source, setup: Found) -> Found:
    """The rack of a setup, in the revision that it was kept with."""
    assert setup.assembly is not None
    kept = shelf.refers_to(source.session, setup.kept).get("rack") if setup.kept else None
    return Found(setup.assembly.rack, kept=kept)


def _changes(source: Source, wish: Wish) -> Leaf:
    if len(wish.which) != 2:
        raise NoSheet("name two setups, or two of any kind, the older one first")
    old, new = (source.document(which) for which in wish.which)
    both = [one.assembly.setup if one.assembly else one.document for one in (old, new)]
    said = as_said(differences(both[0], both[1]))
    return SHEETS["changes"](new.stamp("What changed"), _side(old), _side(new), said)


def _side(one: Found) -> Side:
    kept = one.kept
    if kept is None:
        return Side(name=one.name)
    made = ", ".join(filter(None, (f"{kept.made_at:%Y-%m-%d}", person(kept.made_by))))
    return Side(name=one.name, revision=str(kept.number), code=kept.code, made=made, reason=kept.reason)


def _raceday(source: Source, wish: Wish) -> Leaf:
    one, assembly = source.setup(wish.one)
    held, book = _held(source, assembly, wish)
    event = runs.event_of(source.session, wish.event) if wish.event else None
    track = source.session.get(Revision, event.track_id) if event and event.track_id else None
    day = RaceDay(
        event=event.name if event else "",
        track=track.document.name if track else "",
        date=day_of(event.held_on) if event else "",
        schedule=wish.lines,
        fuel=wish.fuel,
        notes=wish.note or (event.note if event else ""),
        wrong=tuple(one.said for one in findings(source.session)) if source.has_notebook else (),
    )
    return SHEETS["raceday"](
        one.stamp("Race day"),
        day,
        assembly,
        weighed=one.weighed,
        held=held,
        book=book,
        system=source.system,
    )


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
