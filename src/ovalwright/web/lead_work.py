"""Which piece of lead is bolted where: now, as a search places it (long work), as it is moved by hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from ovalwright.documents import Assembly, DocumentError, Rules
from ovalwright.notebook.garage.cautions import BOOK, LEAD
from ovalwright.study import lead, lead_plan
from ovalwright.study.lead import Bolted
from ovalwright.study.lead_car import bolted_in, lead_job, pieces_of, spots_of
from ovalwright.web.lead_map import by_spot, lead_map
from ovalwright.web.long_work import Job, LongWork, Progress
from ovalwright.web.troubles import sentence
from ovalwright.web.weighed import Race
from ovalwright.web.words import amount

AIMS: dict[str, lead_plan.Aim] = {"least": "least lead", "low": "lowest CG"}
BY_HAND = "moved by hand"
OFF = "off"
"""Stands for no spot: the piece is not in the car."""
NOTHING_TO_PLACE = (
    "the rack holds no lead on hand or no spots for it; write each piece's mass and each spot's x, y, z there"
)


@dataclass(frozen=True)
class AtSpot:
    """A spot, what is bolted there, and what is there now, where that is something else."""

    spot: str
    pieces: str
    weight: str
    was: str = ""


@dataclass(frozen=True)
class Placed:
    """The lead of a car, spot by spot and from above; where it is a plan, its aim, what was in the car, and
    what it brings: `wrong` where it breaks a rule, rule by rule in `lines`; or the trouble.
    """

    lead: str = ""
    rows: tuple[AtSpot, ...] = ()
    drawing: Markup | None = None
    is_plan: bool = False
    aim: str = ""
    was: str = ""
    moments: tuple[tuple[str, ...], ...] = ()
    wrong: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    trouble: str = ""


@dataclass(frozen=True)
class Found:
    """A plan for a car: where the lead goes, by what aim and whose book."""

    assembly: Assembly
    plan: lead_plan.LeadPlan
    aim: str
    book: str


# ---------------- searching


def begin(work: LongWork, assembly: Assembly, book: Rules, race: Race, aim: str, *, of: str) -> Job:
    """Begin the search for a setup, told by its code `of`. Raises TooBusy."""
    aim = aim if aim in AIMS else "least"
    before = look(work, of)
    if before is not None and not before.is_over:
        work.stop(before.id)
    number = 1 + sum(isinstance(job.key, tuple) and job.key[:2] == ("lead", of) for job in work.jobs())
    return work.submit(
        ("lead", of, number, assembly.sheet.text), search, assembly, book, race, aim, told="Placing lead"
    )


def look(work: LongWork, of: str) -> Job | None:
    """The last search for a setup."""
    found = [job for job in work.jobs() if isinstance(job.key, tuple) and job.key[:2] == ("lead", of)]
    return found[-1] if found else None


def search(assembly: Assembly, book: Rules, race: Race, aim: str, progress: Progress) -> Found:
    """Which piece to bolt where. Raises DocumentError, ValueError."""
    progress(0, 2)
    job = lead_job(assembly, book, start_fuel=race.start, flag_fuel=race.flag, laps=race.laps)
    if not job.pieces or not job.spots:
        raise DocumentError(NOTHING_TO_PLACE)
    progress(1, 2)
    return Found(assembly, lead_plan.plan_lead(job, AIMS[aim]), AIMS[aim], book.name)


# ---------------- by hand


def by_hand(assembly: Assembly, book: Rules, race: Race, moves: str) -> Found:
    """The lead of the car after moves such as "L50-1=tail; L40-2=off". Raises DocumentError, ValueError."""
    job = lead_job(assembly, book, start_fuel=race.start, flag_fuel=race.flag, laps=race.laps)
    outcome = lead.with_lead(job, bolted_in(assembly))
    for piece, to in _moves(moves):
        outcome = lead.what_if_moved(job, outcome.bolted, piece=piece, to=None if to == OFF else to)
    return Found(assembly, lead_plan.LeadPlan(outcome=outcome, misses=(), proven=True), BY_HAND, book.name)


def moved(moves: str, piece: str, to: str) -> str:
    """The moves with one more; an earlier one of the same piece is forgotten."""
    others = [(one, where) for one, where in _moves(moves) if one != piece]
    return "; ".join(f"{one}={where}" for one, where in (*others, (piece, to)))


def _moves(text: str) -> Iterator[tuple[str, str]]:
    for move in filter(None, map(str.strip, text.split(";"))):
        piece, _, to = move.partition("=")
        yield piece.strip(), to.strip()


def pieces_to_move(assembly: Assembly) -> Iterator[tuple[str, str]]:
    """Pieces by their names, with what to call them: those in the car, the next of every kind on hand."""
    inside = bolted_in(assembly)
    for one in inside:
        yield one.piece.id, f"{one.piece.id}, {amount(one.piece.mass, 'mass')}, at {one.spot.id}"
    used, told = {one.piece.id for one in inside}, set()
    for piece in pieces_of(assembly.rack):
        kind = piece.id.rpartition("-")[0]
        if piece.id not in used and kind not in told:
            told.add(kind)
            yield piece.id, f"{piece.id}, {amount(piece.mass, 'mass')}, from the rack"


def spots_to_use(assembly: Assembly) -> tuple[str, ...]:
    """Where lead may be bolted, from the front to the rear."""
    spots = sorted(spots_of(assembly.rack, assembly.car), key=lambda one: (-one.x, -one.y))
    return tuple(one.id for one in spots)


# ---------------- in words


def as_it_is(assembly: Assembly) -> Placed:
    """The lead that is bolted in now."""
    bolted = bolted_in(assembly)
    rows = tuple(_rows(bolted))
    return Placed(amount(_weight(bolted), "mass"), rows, Markup(lead_map(assembly, bolted, _aloud(rows))))


def placed(job: Job) -> Placed | None:
    """What became of a search; nothing of one that was stopped."""
    if job.state == "failed":
        return Placed(trouble=sentence(job.trouble))
    return planned(job.answer) if job.state == "done" else None


def planned(found: Found) -> Placed:
    """A plan, beside the lead that is in the car now."""
    outcome, inside = found.plan.outcome, bolted_in(found.assembly)
    rows = tuple(_rows(outcome.bolted, inside))
    return Placed(
        lead=amount(outcome.lead, "mass"),
        rows=rows,
        drawing=Markup(lead_map(found.assembly, outcome.bolted, _aloud(rows))),
        is_plan=True,
        aim=f"{found.aim}, by the {found.book}",
        was=amount(_weight(inside), "mass"),
        moments=tuple(_moments(outcome)),
        wrong=tuple(_wrong(found)),
        lines=tuple(sentence(one.sentence) for one in outcome.verdicts),
        notes=tuple(_notes(found)),
    )


def _weight(bolted: Sequence[Bolted]) -> float:
    return sum(one.piece.mass for one in bolted)


def _rows(bolted: Sequence[Bolted], before: Sequence[Bolted] | None = None) -> Iterator[AtSpot]:
    """Spot by spot as the map numbers them, then those that were emptied."""
    were = {there[0].spot.id: _weight(there) for there in by_spot(before or ())}
    for there in by_spot(bolted):
        spot, weight = there[0].spot.id, _weight(there)
        was = were.pop(spot, 0.0)
        is_same = before is None or abs(was - weight) < 1e-6
        pieces = ", ".join(one.piece.id for one in there)
        yield AtSpot(spot, pieces, amount(weight, "mass"), "" if is_same else amount(was, "mass"))
    for spot, was in were.items():
        yield AtSpot(spot, "", amount(0.0, "mass"), amount(was, "mass"))


def _aloud(rows: Sequence[AtSpot]) -> str:
    told = ", ".join(
        f"{number} {row.spot} {row.weight}" for number, row in enumerate(rows, start=1) if row.pieces
    )
    return f"The car from above, front up; lead: {told or 'none'}."


def _moments(outcome: lead.Outcome) -> Iterator[tuple[str, ...]]:
    for at, weights in outcome.weights.items():
        percents: list[Any] = [weights.get(f"{part}_percent") for part in ("left", "rear", "cross")]
        yield (
            at,
            amount(weights.total, "total_weight"),
            *(amount(one, "percent") for one in percents),
            amount(outcome.cg[at].z, "height"),
        )


def _wrong(found: Found) -> Iterator[str]:
    outcome, missed = found.plan.outcome, {miss.verdict for miss in found.plan.misses}
    yield from (f"Cannot be kept: {miss.sentence}" for miss in found.plan.misses)
    yield from (sentence(one.sentence) for one in outcome.verdicts if not one.legal and one not in missed)
    yield from (f"Not allowed: {complaint}" for complaint in outcome.complaints)


def _notes(found: Found) -> Iterator[str]:
    if not found.plan.proven:
        yield "The search ran out of time; a slightly better plan may exist."
    yield "Cross is that of the car let settle on its coils with that fuel; weigh again after moving lead."
    yield f"{LEAD} {BOOK}"
