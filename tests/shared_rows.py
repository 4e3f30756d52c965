"""A notebook with something in every table that travels, and SECRET in every private field of it."""

from __future__ import annotations

import datetime as dt
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import sqlalchemy as sa
from sqlalchemy.orm import Session

import ovalwright.demo
from ovalwright.documents import Setup, TimedLap, load_conditions, load_laps, load_track
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.garage import parts
from ovalwright.notebook.runs import Read, Said
from ovalwright.notebook.sharing.box import read_box
from ovalwright.notebook.sharing.bundle import Bundle, bundle_of, whole_bundle
from ovalwright.notebook.sharing.clashes import Line
from ovalwright.notebook.sharing.private import ALL
from ovalwright.notebook.sharing.taking_in import look, take
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Document, Event, Interval, Measurement, Part, Run, Serviced
from ovalwright.notebook.tables_work import Checklist, CheckRound, Done, Item, PutRight

DEMO = Path(ovalwright.demo.__path__[0])
NIGHT = dt.date(2026, 5, 2)
AFTERNOON = dt.datetime(2026, 5, 2, 16)
SECRET, PRICE = "SECRET", 98765.25
LAPS = (
    TimedLap(1, 15.62, "green", 1, SECRET),
    TimedLap(2, 15.48, "traffic", 2),
    TimedLap(3, 21.7, "yellow", 3),
)


def opened(path: Path, by: str) -> Store:
    """A new notebook, its tables made once for all of a session."""
    path.write_bytes(_empty())
    return Store.open(path, by=by)


@cache
def _empty() -> bytes:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "empty.sqlite"
        Store.open(path).close()
        return path.read_bytes()


def fill(store: Store) -> None:
    """An evening with two runs: setups, track, weather, parts and their service, a checklist gone through."""
    with store.entry("an evening") as session:
        first = shelf.keep_setup(session, DEMO / "setup_conventional.toml", reason=SECRET)
        second = shelf.child(session, first, {"LR.turned": "1/2 round", "notes": SECRET}, reason=SECRET)
        shelf.child(session, second, {"RR.tire.cold": "18.5 psi"}, reason=SECRET)
        car = session.scalars(sa.select(Document).where(Document.kind == "car")).one()
        track = shelf.keep(session, load_track(DEMO / "track_three_eighths.toml"))
        weather = shelf.keep(session, load_conditions(DEMO / "conditions_evening.toml"))
        tire, _ = _parts(session, car)
        event = runs.new_event(session, "Opening night", NIGHT, track=track, note=SECRET, spent=PRICE)
        heat = runs.new_run(
            session, event, first, called="heat", driver=SECRET, conditions=weather, fuel=0.04, note=SECRET
        )
        runs.put_laps(session, heat, LAPS)
        feature = runs.new_run(session, event, second, called="feature", decided=SECRET, hit="RF", air=295.15)
        runs.put_laps(session, feature, load_laps(DEMO / "laps_feature.csv").laps)
        runs.say(session, feature, Said("middle", "late", "tight", f"pushes, says {SECRET}"))
        runs.say(session, feature, Said(words=f"=new tires\n{SECRET}"))
        hot = Read("temperature", 361.483, "RF", "inside", 20, "191")
        runs.add_readings(session, feature, [hot, Read("weight", 336.5, "LR", taken="set_down")])
        _service(session, tire, heat)
        _work(session, event)


def fill_little(store: Store) -> None:
    """One run of three laps on a setup that names no rack."""
    with store.entry("a run") as session:
        light = shelf.keep_setup(session, Setup.load(DEMO / "setup_light.toml"))
        car = session.scalars(sa.select(Document).where(Document.kind == "car")).one()
        parts.put(session, parts.new_part(session, "tire", "T8"), car, "RF", when=AFTERNOON)
        event = runs.new_event(session, "Practice", NIGHT)
        run = runs.new_run(session, event, light, called="practice")
        runs.put_laps(session, run, LAPS)
        runs.say(session, run, Said("entry", "", "loose", "-1/2 in, he says"))
        runs.add_readings(session, run, [Read("hot", 2.0e5, "RF", typed="29 psi")])


def _parts(session: Session, car: Document) -> tuple[Part, Part]:
    tire = parts.new_part(
        session, "tire", "T8", compound="35", bought_on=NIGHT, paid=PRICE, bought_from=SECRET, note=SECRET
    )
    spring = parts.new_part(session, "spring", "B12", rated=40000.0)
    spare = parts.new_part(session, "spring", "B13", rated=43000.0, laps_before=120)
    parts.put(session, tire, car, "RF", when=AFTERNOON)
    parts.put(session, spring, car, "RR", when=AFTERNOON)
    parts.lend(session, spare, SECRET, when=AFTERNOON)
    session.add(
        Measurement(part_id=tire.id, measured_on=NIGHT, what="roll_out", si=2.205, at=1.5e5, typed="86 13/16")
    )
    session.flush()
    return tire, spring


def _service(session: Session, tire: Part, heat: Run) -> None:
    session.add_all(
        [
            Interval(part_id=tire.id, job="turn", laps=50, source="own"),
            Interval(kind="spring", job="rate", days=365, source="typical"),
            Serviced(
                part_id=tire.id, job="turn", done_on=NIGHT, done_by=SECRET, laps=3, after_run_id=heat.id,
                note=SECRET,
            ),
        ]
    )  # fmt: skip
    session.flush()


def _work(session: Session, event: Event) -> None:
    checklist = Checklist(name="Nut and bolt", note=SECRET)
    session.add(checklist)
    session.flush()
    items = [
        Item(checklist_id=checklist.id, number=1, words="Lug nuts", caution="Stands under the car."),
        Item(
            checklist_id=checklist.id, number=2, words="Belts", good_until=dt.date(2028, 5, 1), dropped=True
        ),
    ]
    going = CheckRound(checklist_id=checklist.id, event_id=event.id)
    session.add_all([*items, going])
    session.flush()
    session.add(Done(round_id=going.id, item_id=items[0].id, done_by=SECRET, seconds=90.5, found=SECRET))
    session.add(PutRight(round_id=going.id, item_id=items[0].id, right_by=SECRET, how=SECRET))
    session.flush()


# ---------------- sending


def whole(store: Store, *, private: bool = True) -> Bundle:
    """Everything, as it is sent."""
    with store.reading() as session:
        return whole_bundle(session, private=ALL if private else ())


def shared(store: Store, code: str = "last", *, private: bool = False) -> Bundle:
    """A run, as it is sent."""
    with store.reading() as session:
        return bundle_of(session, runs.run_of(session, code), private=ALL if private else ())


def taken(store: Store, bundle: Bundle) -> tuple[Line, ...]:
    """Take a bundle in and give its lines."""
    box = read_box(bundle.to_bytes(), name="sent.ovalbox")
    with store.reading() as session:
        plan = look(box, session)
    with store.entry("taken in") as session:
        take(plan, session)
    return plan.lines
