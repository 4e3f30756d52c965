"""Parts from what was typed into a form, whichever face the form has: entered, measured, moved, serviced.

Functions take an open session and never commit; they raise NotebookTrouble for what cannot be read.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import re
from collections.abc import Mapping

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook import shelf
from ovalwright.notebook.garage.parts import LENT, SCRAPPED, SHELF, kind_named, lend, new_part, scrap, shelve
from ovalwright.notebook.garage.parts_measured import Measured, measurable, measure
from ovalwright.notebook.garage.service import drop_interval, tell_interval
from ovalwright.notebook.tables import Document, Interval, Part, Revision, Stay
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.entering import Missing, read_day, usual_setup
from ovalwright.notebook.typed.shouted import clauses
from ovalwright.units import KINDS, UnitError, read_quantity

RATED = {
    "spring": "spring_rate", "stop": "stop_rate", "bar": "bar_rate", "gear": "ratio", "lead": "mass",
}  # fmt: skip
"""By kind of part, what the tag on it says."""
MILE = KINDS["track_length"].to_si(1.0)
BEGINS, ENDS = dt.time(0, 0), dt.time(23, 59)
"""When something is put on, or taken off, of which only the day is told: before and after its runs."""


# ---------------- which car


def car_named(session: Session, which: str = "") -> Document:
    """A car by its name, its code or that of a setup of it; the car of the setup in use when left out."""
    if which.strip():
        return _car_of(session, shelf.revision(session, which.strip().removeprefix("@")))
    with contextlib.suppress(Missing):
        return _car_of(session, usual_setup(session).revision)
    found = session.scalars(
        sa.select(Document).where(Document.kind == "car").order_by(Document.id.desc()).limit(1)
    ).first()
    if found is None:
        raise NotebookTrouble("no car is in the notebook yet; keep a setup, which brings its car along.")
    return found


def _car_of(session: Session, found: Revision) -> Document:
    car = shelf.refers_to(session, found).get("car", found)
    if car.document.kind != "car":
        raise NotebookTrouble(f"{found.code} is a {found.document.kind}; name a car or a setup of it.")
    return car.document


# ---------------- entering and measuring


def enter_part(session: Session, form: Mapping[str, str]) -> Part:
    """A part: `kind`, `mark`, `name`, `compound`, `date_code`, `bought` (a date), `paid`, `bought_from`,
    `rated`, `laps`, `miles`, `runs` (what it had before), `note`.
    """
    kind = kind_named(form["kind"])
    rated = form.get("rated", "")
    if rated and kind not in RATED:
        raise NotebookTrouble(f"a {kind} has no rate of its own; only {', '.join(RATED)} have.")
    return new_part(
        session,
        kind,
        form["mark"],
        name=form.get("name", ""),
        compound=form.get("compound", ""),
        date_code=form.get("date_code", ""),
        bought_on=read_day(form["bought"]) if form.get("bought") else None,
        paid=_number("paid", form["paid"]) if form.get("paid") else None,
        bought_from=form.get("bought_from", ""),
        rated=_quantity(rated, RATED[kind]) if rated else None,
        laps_before=int(_number("laps", form.get("laps", "") or "0")),
        distance_before=_number("miles", form.get("miles", "") or "0") * MILE,
        cycles_before=int(_number("runs", form.get("runs", "") or "0")),
        note=form.get("note", ""),
    )


def measure_line(session: Session, part: Part, text: str, *, on: dt.date) -> tuple[Measured, ...]:
    """Everything of a line such as ``roll-out 86 1/4 in at 12 psi, durometer 62``, or nothing of it."""
    found = []
    for clause in clauses(text):
        what, amount = _parted(clause, part)
        one = measure(session, part, what, amount, on=on)
        found.append(Measured(one.measured_on, one.what, one.si, one.at, one.typed))
    if not found:
        raise NotebookTrouble(f"nothing was measured; write such as {_example(part)}.")
    return tuple(found)


def _parted(clause: str, part: Part) -> tuple[str, str]:
    """What was measured, by the longest name that begins the clause, and how much."""
    plain = clause.lower().replace("-", " ").replace("_", " ")
    for name in sorted(measurable(part.kind), key=len, reverse=True):
        word = name.replace("_", " ")
        if plain == word or plain.startswith(f"{word} "):
            return name, clause[len(word) :].strip()
    names = ", ".join(name.replace("_", " ") for name in measurable(part.kind))
    raise NotebookTrouble(f'"{clause[:60]}": begin with what was measured on a {part.kind}: {names}.')


def _example(part: Part) -> str:
    name, what = next(iter(measurable(part.kind).items()))
    at = f" at {KINDS[what.at].example}" if what.at else ""
    return f'"{name.replace("_", " ")} {KINDS[what.quantity].example}{at}"'


# ---------------- moving and servicing


def take_off(session: Session, part: Part, to: str, *, when: dt.datetime) -> Stay:
    """Take a part off the car to the `shelf` (when left out), `lent to` somebody, or `scrapped`."""
    told = " ".join(to.split())
    word = told.lower()
    if word in ("", SHELF):
        return shelve(session, part, when=when)
    if word in (SCRAPPED, "scrap"):
        return scrap(session, part, when=when)
    if word.split()[0] in ("lent", "lend"):
        return lend(session, part, told.split(maxsplit=1)[-1].removeprefix("to ") if " " in told else "",
                    when=when)  # fmt: skip
    raise NotebookTrouble(f'"{told[:40]}" is no place for a part; write shelf, "{LENT}Name" or scrapped.')


def tell_due(session: Session, part: Part, job: str, every: str, *, source: str) -> Interval:
    """How often a job is due on a part from one line: ``500 laps``, ``300 miles or 90 days``."""
    found = dict.fromkeys(("laps", "miles", "runs", "days"), 0.0)
    for piece in re.split(r"\s+or\s+|,\s+", every.strip()):
        match = re.fullmatch(r"(?:every )?(?P<number>\S+) (?P<what>lap|mile|run|day)s?", piece.strip(), re.I)
        if match is None:
            raise NotebookTrouble(
                f'"{piece[:40]}" says not how often; write 500 laps, 300 miles, 6 runs or 90 days.'
            )
        found[f"{match['what'].lower()}s"] = _number("how often", match["number"])
    return tell_interval(
        session,
        job,
        source=source,
        part=part,
        laps=round(found["laps"]) or None,
        distance=found["miles"] * MILE or None,
        days=round(found["days"]) or None,
        cycles=round(found["runs"]) or None,
    )


def forget_interval(session: Session, job: str, *, source: str, part: Part | None, kind: str) -> None:
    """Forget how often a job was said to be due."""
    query = sa.select(Interval).where(sa.func.lower(Interval.job) == " ".join(job.lower().split()))
    query = query.where(
        Interval.source == source,
        Interval.part_id == (part.id if part else None),
        Interval.kind == (part.kind if part else kind),
    )
    found = session.scalars(query).first()
    if found is None:
        raise NotebookTrouble(f'no figure of that source was told for "{job[:60]}"; there is none to forget.')
    drop_interval(session, found)


# ---------------- fields


def read_moment(text: str, *, at: dt.time) -> dt.datetime:
    """A day, with its time or at a usual one; now when left out."""
    told = text.strip()
    if not told:
        return dt.datetime.now().replace(microsecond=0)
    try:
        if len(told) > len("2026-04-25"):
            return dt.datetime.fromisoformat(told).replace(tzinfo=None)
        return dt.datetime.combine(dt.date.fromisoformat(told), at)
    except ValueError:
        raise NotebookTrouble(
            f'"{text[:40]}" is no day; write such as 2026-04-25, or "2026-04-25 18:30".'
        ) from None


def _number(name: str, text: str) -> float:
    try:
        return read_quantity(text, KINDS["plain"]).si
    except UnitError as problem:
        raise NotebookTrouble(f"{name}: {problem}.") from None


def _quantity(text: str, kind: str) -> float:
    try:
        return read_quantity(text, KINDS[kind]).si
    except UnitError as problem:
        raise NotebookTrouble(f"rated: {problem}.") from None
