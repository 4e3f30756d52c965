"""Where to bolt which piece of lead: the search as long work, and its answer in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from ovalwright.documents import Assembly, DocumentError, Rules
from ovalwright.study import lead
from ovalwright.study.lead_car import bolted_in, lead_job
from ovalwright.web.lead_map import by_spot, lead_map
from ovalwright.web.long_work import Job, LongWork, Progress
from ovalwright.web.troubles import sentence
from ovalwright.web.weighed import Race
from ovalwright.web.words import amount

AIMS: dict[str, lead.Aim] = {"least": "least lead", "low": "lowest CG"}
CAUTION = "Lead is bolted, marked and secured as the rule book and the chassis builder ask."
NOTHING_TO_PLACE = (
    "the rack holds no lead on hand or no spots for it; write each piece's mass and each spot's x, y, z there"
)


@dataclass(frozen=True)
class AtSpot:
    """A spot and what is bolted there."""

    spot: str
    pieces: str
    weight: str


@dataclass(frozen=True)
class Placed:
    """A plan: its aim, the lead in it, what was in the car, spot by spot, what it brings; or the trouble."""

    aim: str = ""
    lead: str = ""
    was: str = ""
    rows: tuple[AtSpot, ...] = ()
    drawing: Markup | None = None
    moments: tuple[tuple[str, ...], ...] = ()
    lines: tuple[str, ...] = ()
    trouble: str = ""


@dataclass(frozen=True)
class Found:
    """The answer of the search for a car, and the lead [kg] that was in it."""

    assembly: Assembly
    plan: lead.LeadPlan
    was: float
    aim: str
    book: str


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
    was = sum(one.piece.mass for one in bolted_in(assembly))
    return Found(assembly, lead.plan_lead(job, AIMS[aim]), was, aim, book.name)


def placed(job: Job) -> Placed | None:
    """What became of a search; nothing of one that was stopped."""
    if job.state == "failed":
        return Placed(trouble=sentence(job.trouble))
    if job.state != "done":
        return None
    found: Found = job.answer
    outcome = found.plan.outcome
    return Placed(
        aim=f"{AIMS[found.aim]}, by the {found.book}",
        lead=amount(outcome.lead, "mass"),
        was=amount(found.was, "mass"),
        rows=tuple(_rows(outcome)),
        drawing=Markup(lead_map(found.assembly, outcome.bolted, _aloud(outcome))),
        moments=tuple(_moments(outcome)),
        lines=tuple(_lines(found)),
    )


def _rows(outcome: lead.Outcome) -> Iterator[AtSpot]:
    for there in by_spot(outcome.bolted):
        pieces = ", ".join(one.piece.id for one in there)
        yield AtSpot(there[0].spot.id, pieces, amount(sum(one.piece.mass for one in there), "mass"))


def _aloud(outcome: lead.Outcome) -> str:
    told = ", ".join(
        f"{number} {row.spot} {row.weight}" for number, row in enumerate(_rows(outcome), start=1)
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


def _lines(found: Found) -> Iterator[str]:
    outcome = found.plan.outcome
    yield from (sentence(one.sentence) for one in outcome.verdicts)
    yield from (f"Cannot be kept: {miss.sentence}" for miss in found.plan.misses)
    yield from (f"Not allowed: {complaint}" for complaint in outcome.complaints)
    if not found.plan.proven:
        yield "The search ran out of time; a slightly better plan may exist."
    yield "Cross is that of the car let settle on its coils with that fuel; weigh again after moving lead."
    yield CAUTION
