"""What a weighing says, in words and rulers: percents, a rule book at start and flag, jack bolts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly, DocumentError, Rules
from ovalwright.notebook.garage.cautions import COILS, STANDS
from ovalwright.pack import build
from ovalwright.pictures.meter import Bound, Meter, meter, quarter_clock
from ovalwright.sheets.show import nearest, rounds_said
from ovalwright.study import lead
from ovalwright.study.lead_car import FLAG, START, bolted_in, lead_job
from ovalwright.study.legal import held_against
from ovalwright.study.rounds import HEIGHT_CLOSE, RoundsPlan, plan_rounds
from ovalwright.study.verdicts import Verdict
from ovalwright.study.weigh import Estimate, Weighed
from ovalwright.units import KINDS, LB
from ovalwright.units import show as shown
from ovalwright.web.troubles import sentence
from ovalwright.web.words import amount, minus


@dataclass(frozen=True)
class Scale:
    """How a ruler is drawn: its name, the quantity, width of the ruler in the unit shown."""

    name: str
    of: str
    width: float
    grid: float


SCALES = (
    Scale("Total", "total_weight", 300.0, 100.0),
    Scale("Left side", "left_percent", 6.0, 1.0),
    Scale("Rear", "rear_percent", 10.0, 1.0),
    Scale("Cross", "cross_percent", 16.0, 2.0),
    Scale("Bite", "bite", 600.0, 100.0),
)


@dataclass(frozen=True)
class Gauge:
    """A number with half of its band and its ruler."""

    name: str
    value: str
    band: str
    drawing: Markup


@dataclass(frozen=True)
class Judged:
    """A book at one moment: `word` the verdict, `by` how far, `about` what, each limit in one sentence."""

    at: str
    word: str
    is_legal: bool
    by: str
    about: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Ruled:
    """A rule of the book that is not weighed: what it says, what the car shows, the call."""

    rule: str
    says: str
    at: str
    car: str
    call: str


@dataclass(frozen=True)
class Book:
    """A rule book held against the car, or why it could not be."""

    name: str
    moments: tuple[Judged, ...] = ()
    others: tuple[Ruled, ...] = ()
    trouble: str = ""


@dataclass(frozen=True)
class Bolt:
    """A jack bolt: its rounds, longer or shorter, its clock; height and load of its corner then."""

    corner: str
    rounds: str
    way: str
    clock: Markup
    height: str
    load: str


@dataclass(frozen=True)
class Bolts:
    """A plan of rounds in the layout of the car: what is wanted, what it brings, what one must know."""

    wanted: str
    now: str
    then: str
    gain: str
    bite: str
    bolts: tuple[Bolt, ...]
    notes: tuple[str, ...]
    per_round: str


# ---------------- what the race makes of it


@dataclass(frozen=True)
class Race:
    """From which fuel to which, in how many laps; fuel in kilograms, None: a full cell, a tenth of it."""

    start: float | None = None
    flag: float | None = None
    laps: int = 0


def carried(assembly: Assembly, book: Rules, race: Race) -> lead.Outcome:
    """The car with its lead, at the start and at the flag. Raises DocumentError, ValueError."""
    job = lead_job(assembly, book, start_fuel=race.start, flag_fuel=race.flag, laps=race.laps)
    return lead.with_lead(job, bolted_in(assembly))


# ---------------- rulers


def gauges(weighed: Weighed, outcome: lead.Outcome | None) -> tuple[Gauge, ...]:
    """The five numbers of four pads; their pointers at the start and at the flag where those are known."""
    return tuple(_gauge(one, weighed, outcome) for one in SCALES)


def _gauge(scale: Scale, weighed: Weighed, outcome: lead.Outcome | None) -> Gauge:
    is_percent = scale.of.endswith("_percent")
    name = {"total_weight": "total"}.get(scale.of, scale.of)
    told: Estimate = getattr(weighed, name)
    per = 0.01 if is_percent else LB
    kind = "percent" if is_percent else "total_weight"
    moments = {at: one.get(scale.of) / per for at, one in outcome.weights.items()} if outcome else {}
    shown = [told.value / per, *(one for one in moments.values() if one is not None)]
    center = scale.grid * round(0.5 * (min(shown) + max(shown)) / scale.grid)
    low, high = center - 0.5 * scale.width, center + 0.5 * scale.width
    bound = _bound(scale.of, outcome, per)
    points = {"start": moments.get(START), "flag": moments.get(FLAG)}
    said = "; ".join(
        f"{amount(value * per, kind)} at the {at}" for at, value in points.items() if value is not None
    )
    unit = "%" if is_percent else "lb"
    ends = (minus(f"{low:,.0f} {unit}"), minus(f"{high:,.0f} {unit}"))
    ruler = Meter(low, high, ends, points["start"], points["flag"], bound)
    aloud = f"{scale.name}: {amount(told.value, kind)} on the pads; {said or 'no race is told'}"
    aloud += f"; the book: {bound.words}." if bound else "."
    half = amount(told.give_or_take, kind).split(" ")[0]
    drawing = Markup(meter(f"meter-{name.replace('_', '-')}", ruler, aloud))
    return Gauge(scale.name, amount(told.value, kind), f"\N{PLUS-MINUS SIGN}{half}", drawing)


def _bound(of: str, outcome: lead.Outcome | None, per: float) -> Bound | None:
    """The limit of the book on a quantity that is nearest to being broken."""
    found = [one for one in outcome.verdicts if one.limit.of == of and one.value] if outcome else []
    if not found:
        return None
    worst = min(found, key=lambda one: one.in_hand)
    is_most = worst.limit.sense < 0.0
    digits = 1 if per == 0.01 else 0
    words = f"{worst.bound / per:,.{digits}f} {'most' if is_most else 'least'}"
    return Bound(
        worst.bound / per, is_most, words if worst.limit.moment == "always" else f"{words}, {worst.state}"
    )


# ---------------- the book


def by_the_book(assembly: Assembly, book: Rules, outcome: lead.Outcome) -> Book:
    """A book at every moment it weighs the car, and the rest of its rules."""
    moments: dict[str, list[Verdict]] = {START: [], FLAG: []}
    for verdict in outcome.verdicts:
        moments.setdefault(verdict.state, []).append(verdict)
    weighed = {(one.asked, one.state) for one in outcome.verdicts}
    others = [
        Ruled(
            one.rule,
            one.says,
            one.where,
            amount(one.value, one.kind) if one.kind and math.isfinite(one.value) else "",
            one.call,
        )
        for one in nearest(held_against(assembly, book, outcome))
        if (one.says, one.where) not in weighed
    ]
    return Book(
        book.name,
        tuple(_judged(at, found) for at, found in moments.items()),
        tuple(sorted(others, key=lambda one: one.call == "inside")),
    )


def _judged(at: str, verdicts: Sequence[Verdict]) -> Judged:
    where = at.capitalize()
    known = [one for one in verdicts if one.value is not None]
    lines = tuple(sentence(one.sentence) for one in verdicts)
    if not known:
        return Judged(where, "No rule", True, "weighs it then", "", lines)
    broken = [one for one in known if not one.legal]
    if broken:
        worst = max(broken, key=_share_off)
        return Judged(where, _off(worst), False, "", _about(worst), lines)
    nearest_one = min(known, key=lambda one: one.in_hand / one.bound if one.bound else math.inf)
    return Judged(
        where,
        "Legal",
        True,
        f"by {nearest_one.limit.show(nearest_one.in_hand)}",
        _about(nearest_one),
        lines,
    )


def _share_off(one: Verdict) -> float:
    return -one.in_hand / one.bound if one.bound else math.inf


def _off(one: Verdict) -> str:
    return f"{one.limit.show(abs(one.in_hand))} {'short' if one.limit.sense > 0.0 else 'over'}"


def _about(one: Verdict) -> str:
    return one.limit.of.replace("_", " ")


# ---------------- jack bolts


def rounds(
    assembly: Assembly, cross: float | None, heights: Mapping[str, float], hooked: bool, spread: float
) -> Bolts | str:
    """Rounds to a wanted cross and heights [m], or in one sentence why there are none.

    `spread` is half of the band of the cross that was weighed.
    """
    try:
        packed = build(assembly)
        plan = plan_rounds(packed, cross=cross, heights=heights, hooked=hooked)
    except (DocumentError, ValueError) as problem:
        return sentence(str(problem))
    before, after = plan.before, plan.after
    return Bolts(
        wanted=amount(plan.cross, "percent"),
        now=amount(before.cross, "percent"),
        then=f"{amount(after.cross, 'percent')} \N{PLUS-MINUS SIGN}{100 * spread:.1f}",
        gain=minus(f"{100 * (after.cross - before.cross):+.1f} %"),
        bite=f"{amount(before.bite, 'force')} now, {amount(after.bite, 'force')} then",
        bolts=tuple(_bolt(plan, i, corner) for i, corner in enumerate(CORNERS)),
        notes=tuple(_of_the_plan(plan)),
        per_round=", ".join(
            f"{corner} {minus(f'{100 * plan.per_round[corner].cross:+.2f} %')}" for corner in CORNERS
        ),
    )


def _bolt(plan: RoundsPlan, i: int, corner: str) -> Bolt:
    turned = plan.rounds[corner]
    way = "longer" if turned > 0.0 else "shorter" if turned < 0.0 else "leave it"
    if corner in plan.idle:
        way = "does nothing here"
    said = rounds_said(turned) if turned else "0"
    clock = quarter_clock(f"clock-{corner.lower()}", turned, f"{corner}: {said} round, {way}")
    return Bolt(
        corner,
        minus(said),
        way,
        Markup(clock),
        amount(float(plan.after.heights[i]), "height"),
        amount(float(plan.after.loads[i]), "force"),
    )


def _of_the_plan(plan: RoundsPlan) -> Iterator[str]:
    if not plan.reached:
        worst = max(range(4), key=lambda i: abs(plan.height_miss[i]))
        far = shown(abs(float(plan.height_miss[worst])), KINDS["height"])
        stays = f"{CORNERS[worst]} stays {far} off its height"
        close = abs(plan.height_miss[worst]) <= HEIGHT_CLOSE
        yield (
            f"Bolts alone do not bring both: cross misses by {minus(f'{100 * plan.cross_miss:+.1f} %')}, "
            f"{'the heights come close' if close else stays}. Give up a height, or move lead."
        )
    for i, gap in enumerate(plan.before.gaps):
        if gap > 0.0:
            hangs = amount(float(gap), "gap")
            yield f"The {CORNERS[i]} coil hangs off its seat by {hangs} on the pads; set it last."
    yield "Turn in small steps, roll the car or bounce it, read again; toe and stop gaps move with heights."
    yield f"{STANDS} {COILS}"
