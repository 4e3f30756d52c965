"""Lead and the rule book: lead, legal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ovalwright.cli.door import Trouble, said_by
from ovalwright.cli.screen import Screen
from ovalwright.cli.typed import joined, quantity, read
from ovalwright.documents import Assembly, Rules, State
from ovalwright.notebook.garage.cautions import BOOK, LEAD
from ovalwright.sheets.show import nearest
from ovalwright.study import lead as lead_study
from ovalwright.study.lead_car import FLAG, START, bolted_in, lead_job
from ovalwright.study.lead_plan import plan_lead
from ovalwright.study.legal import Held, held_by
from ovalwright.study.weigh import PERCENTS


def lead(
    screen: Screen,
    setup: Path,
    rules: Path,
    *,
    sheet: Path | None,
    aim: str,
    wants: Sequence[str],
    start: str,
    flag: Path | None,
    flag_fuel: str,
    laps: int,
    keep: str,
    keep_percent: str,
    most: str,
    moves: Sequence[str],
) -> None:
    """Which piece to bolt where, legal at the start and at the flag; or what one move by hand does."""
    assembly, book = joined(setup, sheet=sheet), read(Rules, rules)
    state = State.load(flag) if flag else None
    job = _job(assembly, book, start, state, flag_fuel, laps, keep, keep_percent)
    if moves:
        _moved(screen, assembly, job, moves, book.name)
        return
    if not job.pieces or not job.spots:
        raise Trouble(
            f"{assembly.rack.file_name}: a lead plan needs [[lead]] on hand and [[lead_spots]] for it; "
            "write each piece's mass and each spot's x, y, z"
        )
    wanted = [_want(text) for text in wants]
    with said_by(ValueError), screen.progress("placing lead"):
        plan = plan_lead(
            job,
            _aim(aim),
            wants=wanted,
            most_lead=quantity(most, "mass", "--most") if most else None,
        )
    screen.title(f"Lead plan by the {book.name}: {_aim(aim)}")
    _lead_rows(screen, plan.outcome.bolted)
    was = sum(bolted.piece.mass for bolted in bolted_in(assembly))
    screen.say(
        f"{screen.show(plan.outcome.lead, 'mass')} of lead; in the car now: {screen.show(was, 'mass')}."
    )
    screen.say()
    _percents(screen, plan.outcome)
    if aim == "percents":
        _wanted(screen, plan.outcome, wanted)
    _verdicts(screen, plan.outcome)
    for miss in plan.misses:
        screen.say(f"Cannot be kept: {miss.sentence}")
    for complaint in plan.outcome.complaints:
        screen.say(f"Not allowed: {complaint}")
    if aim != "least" and not most and not plan.misses:
        screen.note(
            "At most one piece over the least lead that keeps the book was tried; --most 200lb allows more."
        )
    if not plan.proven:
        screen.note("The search ran out of time; a slightly better plan may exist.")
    _lead_notes(screen, assembly, job)
    screen.end("lead", {"plan": plan, "mass_unit": "kg"})


def _job(
    assembly: Assembly,
    book: Rules,
    start: str,
    flag: State | None,
    flag_fuel: str,
    laps: int,
    keep: str,
    keep_percent: str,
) -> lead_study.LeadJob:
    density = assembly.car.fuel_cell.density.si
    with said_by(ValueError):
        return lead_job(
            assembly,
            book,
            start_fuel=quantity(start, "volume", "--start-fuel") * density if start else None,
            flag=flag,
            flag_fuel=quantity(flag_fuel, "volume", "--flag-fuel") * density if flag_fuel else None,
            laps=laps,
            margin=lead_study.Margin(
                weight=quantity(keep, "mass", "--keep"),
                percent=quantity(keep_percent, "share", "--keep-percent"),
            ),
        )


def _aim(text: str) -> Any:
    aims = {"least": "least lead", "low": "lowest CG", "percents": "wanted percents"}
    if text not in aims:
        raise Trouble(f'--aim: "{text[:30]}" is not known; write least, low or percents')
    return aims[text]


def _want(text: str) -> lead_study.Want:
    name, sign, amount = text.partition("=")
    of = f"{name.strip()}_percent"
    if not sign or of not in PERCENTS:
        raise Trouble(f'--want: "{text[:40]}" is no percent of the car; write such as rear=50.5%')
    return lead_study.Want(of=of, value=quantity(amount.strip(), "share", "--want"))


def _wanted(screen: Screen, outcome: lead_study.Outcome, wants: Sequence[lead_study.Want]) -> None:
    for want in wants:
        had = outcome.weights[want.state].get(want.of)
        screen.say(
            f"Wanted at the {want.state}: {want.of.replace('_', ' ')} {screen.show(want.value, 'percent')}; "
            f"this plan makes {screen.show(had, 'percent')}."
        )


def _lead_rows(screen: Screen, bolted: Sequence[lead_study.Bolted]) -> None:
    by_spot: dict[str, list[lead_study.Bolted]] = {}
    for one in sorted(bolted, key=lambda b: (-b.spot.x, -b.spot.y)):
        by_spot.setdefault(one.spot.id, []).append(one)
    rows = [
        (spot, ", ".join(b.piece.id for b in there), screen.show(sum(b.piece.mass for b in there), "mass"))
        for spot, there in by_spot.items()
    ]
    screen.table(rows or [("no lead at all", "", "")], head=("spot", "pieces", "weight"), left=2)


def _percents(screen: Screen, outcome: lead_study.Outcome) -> None:
    rows = [
        (
            state,
            screen.show(weights.total, "total_weight"),
            *(screen.show(weights.get(f"{part}_percent"), "percent") for part in ("left", "rear", "cross")),
            screen.show(outcome.cg[state].z, "height"),
        )
        for state, weights in outcome.weights.items()
    ]
    screen.table(rows, head=("at the", "total", "left", "rear", "cross", "CG height"))


def _verdicts(screen: Screen, outcome: lead_study.Outcome) -> None:
    for verdict in outcome.verdicts:
        screen.say(f"{'  ' if verdict.legal else '! '}{verdict.sentence}")


def _lead_notes(screen: Screen, assembly: Assembly, job: lead_study.LeadJob) -> None:
    flag = next(state for state in job.states if state.name == FLAG)
    gone = sum(lump.mass for lump in flag.gone)
    screen.note(
        f"At the {FLAG}, {screen.show(gone, 'mass')} of fuel and rubber are gone from where they were."
    )
    if job.margin == lead_study.Margin():
        screen.note(
            "Nothing is kept in hand for the track's scale: --keep 10lb and --keep-percent 0.2% do that."
        )
    screen.note(
        "Cross is that of the car let settle on its coils with that fuel; weigh again after moving lead."
    )
    screen.note(LEAD)
    screen.note(BOOK)
    screen.notes(assembly.warnings)


def _moved(
    screen: Screen, assembly: Assembly, job: lead_study.LeadJob, moves: Sequence[str], book: str
) -> None:
    """Lead moved by hand: before and after, at the start and at the flag."""
    bolted = bolted_in(assembly)
    before = outcome = lead_study.with_lead(job, bolted)
    for text in moves:
        piece, sign, spot = text.partition("=")
        if not sign:
            raise Trouble(
                f'--move: "{text[:40]}" names no spot; write such as "L50-1=left rail rear" or L50-1=off'
            )
        to = None if spot.strip() == "off" else spot.strip()
        with said_by(ValueError):
            outcome = lead_study.what_if_moved(job, outcome.bolted, piece=piece.strip(), to=to)
    screen.title(f"Lead moved by hand, by the {book}")
    for state in (START, FLAG):
        was, now = before.weights[state], outcome.weights[state]
        screen.table(
            [
                (
                    part,
                    screen.show(was.get(f"{part}_percent"), "percent"),
                    screen.show(now.get(f"{part}_percent"), "percent"),
                )
                for part in ("left", "rear")
            ]
            + [("total", screen.show(was.total, "total_weight"), screen.show(now.total, "total_weight"))],
            head=(f"at the {state}", "was", "is"),
        )
    _verdicts(screen, outcome)
    for complaint in outcome.complaints:
        screen.say(f"Not allowed: {complaint}")
    _lead_notes(screen, assembly, job)
    screen.end("lead", {"before": before, "after": outcome, "mass_unit": "kg"})


def legal(
    screen: Screen, setup: Path, books: Sequence[Path], *, sheet: Path | None, flag: Path | None, laps: int
) -> None:
    """The car as it stands against each book; ends with 1 when a book says no."""
    assembly, state = joined(setup, sheet=sheet), State.load(flag) if flag else None
    answers = {}
    for path in books:
        book = read(Rules, path)
        screen.title(f"{book.name}{f', {book.date}' if book.date else ''}")
        answers[book.name] = against_book(screen, assembly, book, flag=state, laps=laps)
    screen.notes(assembly.warnings)
    screen.end("legal", {"books": answers})


def against_book(
    screen: Screen,
    assembly: Assembly,
    book: Rules,
    *,
    flag: State | None,
    laps: int,
    start_fuel: float | None = None,
) -> tuple[Held, ...]:
    """A car held against one book, from a start with so much fuel [kg] to a state at the flag."""
    with said_by(ValueError):
        held = held_by(assembly, book, flag=flag, laps=laps, start_fuel=start_fuel)
    screen.table(
        [
            (one.rule, one.says, one.where, screen.show(one.value, one.kind) if one.kind else "", one.call)
            for one in nearest(held)
        ],
        head=("rule", "it says", "at", "the car", "call"),
        left=3,
    )
    screen.notes(book.warnings)
    screen.note(
        "The book and its officials decide; this only holds your numbers against the numbers typed from it."
    )
    return held
