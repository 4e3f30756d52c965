"""Every adjustment of a setup as data: one step of the trade each, as a changed assembly or as jack bolts
turned.

A step that itself sets height, cross or preload (jack bolts, packers, preload of the bar) is read as bolted
in only: re-setting the car would undo it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from ovalwright.documents import Assembly
from ovalwright.documents.rack import Gear, OwnedBar, OwnedTire, Spring
from ovalwright.documents.setup import Coil, Lead, LinkShift
from ovalwright.pack import Packed, rebuilt_as_bolted, rebuilt_reset, turn_jack_bolts
from ovalwright.units import INCH, KINDS, LB, PSI, Place, Quantity, as_fraction, show
from ovalwright.vehicle.record import CORNERS

RATE = 175.12683524647636
"""One lb/in [N/m]."""
ANOTHER_SPRING = 0.04
"""Springs of the rack closer in rate than this share are the same choice."""
PER_LENGTH = 50.0 * RATE / INCH
"""One inch of free length counts as much as so much rate when the nearest spring is sought."""
BOLT, PRELOAD = 0.25, 0.5
"""Rounds of a jack bolt, of the bar's link."""
PACKER, TOE, REAR_LEAD = INCH / 16, INCH / 32, INCH / 16
PANHARD_END, LINK_END = 0.25, 0.5
"""Another hole for one end of the panhard bar, of another link [in]."""
RATE_STEP = 25.0 * RATE
SIZE_STEP, ARM_STEP, ROLL_OUT_STEP, RATIO_STEP = INCH / 8, INCH / 2, INCH / 2, 0.1
RUBBER = Quantity("25 lb/in", RATE_STEP, 10.0 * RATE, "typical")
LEAD_STEP = 10.0 * LB
LEAD_ALONG, LEAD_UP = 30.0 * INCH, 8.0 * INCH
Where = Literal["at the track", "in the shop", "to buy"]
AT_TRACK: Where = "at the track"
IN_SHOP: Where = "in the shop"
TO_BUY: Where = "to buy"


@dataclass(frozen=True)
class Adjustment:
    """One step: `name` in the trade's words, `part` it belongs to; a `changed` assembly, or `rounds` of jack
    bolts by corner. `resets` False: it sets height, cross or preload itself. `where` it can be done: between
    two runs without scales, in the shop, or not before a part is bought (common practice, no source).
    """

    name: str
    part: str
    changed: Assembly | None
    rounds: Mapping[str, float]
    resets: bool
    where: Where = IN_SHOP

    def as_bolted(self, base: Packed, *, values: Any = None) -> Packed:
        """The base car with this step, nothing else touched. `values`: drawn numbers for the changed car."""
        if self.changed is None:
            return turn_jack_bolts(base, self.rounds)
        return rebuilt_as_bolted(base, self.changed, values=values)

    def reset(self, base: Packed, *, values: Any = None) -> Packed | None:
        """The base car with this step, re-set to its heights and cross; None where that does not apply."""
        return rebuilt_reset(base, self.changed, values=values) if self.resets and self.changed else None


def adjustments(assembly: Assembly, *, rounds: Sequence[float] = (BOLT,)) -> tuple[Adjustment, ...]:
    """All single steps that this setup allows, with the parts of its rack that are not in the car; jack bolts
    by each of the `rounds`.
    """
    steps = (
        *(
            _jack_bolts(assembly, rounds),
            _springs(assembly),
            _rubbers(assembly),
            _packers(assembly),
            _bar(assembly),
        ),
        *(_links(assembly), _lead(assembly), _tires(assembly), _alignment(assembly), _rest(assembly)),
    )
    return tuple(step for family in steps for step in family)


# ---------------- writing a step into a setup


def put(assembly: Assembly, changes: Mapping[str, object]) -> Assembly:
    """The assembly with parts of its setup replaced, by dotted key (``LR.coil.rate``)."""
    setup: Any = assembly.setup
    for key, value in changes.items():
        setup = _put(setup, key.split("."), value)
    return replace(assembly, setup=setup)


def _put(part: Any, keys: Sequence[str], value: object) -> Any:
    if not keys:
        return value
    if isinstance(part, dict):
        return {**part, keys[0]: _put(part.get(keys[0]), keys[1:], value)}
    return part.model_copy(update={keys[0]: _put(getattr(part, keys[0]), keys[1:], value)})


def stepped(held: Quantity, step: float, kind: str) -> Quantity:
    """The same quantity, turned by a step [SI]; what is not known of it stays."""
    si = held.si + step
    return replace(held, si=si, text=show(si, KINDS[kind]))


def _step(
    assembly: Assembly,
    name: str,
    part: str,
    changes: Mapping[str, object],
    *,
    resets: bool = True,
    where: Where = IN_SHOP,
) -> Adjustment:
    return Adjustment(name, part, put(assembly, changes), {}, resets, where)


# ---------------- coils, stops, bar


def _jack_bolts(assembly: Assembly, rounds: Sequence[float]) -> Iterator[Adjustment]:
    for turned in rounds:
        for corner in CORNERS:
            if getattr(assembly.setup, corner).coil is not None:
                name = bolt_step(corner, turned)
                yield Adjustment(name, "jack bolts", None, {corner: turned}, False, AT_TRACK)


def bolt_step(corner: str, turned: float) -> str:
    """What so many rounds of a jack bolt are called."""
    return f"{corner} {as_fraction(turned)} round in"


def _springs(assembly: Assembly) -> Iterator[Adjustment]:
    for corner in CORNERS:
        coil = getattr(assembly.setup, corner).coil
        if coil is None:
            continue
        if not usable(assembly, corner):
            rate = stepped(coil.rate, RATE_STEP, "spring_rate")
            other = coil.model_copy(update={"rate": rate, "spring": None})
            yield _step(
                assembly, f"{corner} coil +25 lb/in", "springs", {f"{corner}.coil": other}, where=TO_BUY
            )
        for sign, up in (("+", True), ("", False)):
            spring = next_spring(assembly, corner, up=up)
            if spring is not None:
                by = show(spring.rate.si - coil.rate.si, KINDS["spring_rate"])
                name = f"{corner} {sign}{by}, {spring.id}"
                yield _step(assembly, name, "springs", {f"{corner}.coil": _of_rack(coil, spring)})


def next_spring(assembly: Assembly, corner: str, *, up: bool) -> Spring | None:
    """The next stiffer or softer spring of the rack that fits the corner and is not in the car.

    Of springs equally near in rate the one nearer in free length comes first: it goes on the collars as they
    stand.
    """
    coil = getattr(assembly.setup, corner).coil
    sign, rate = (1.0 if up else -1.0), coil.rate.si
    further = [s for s in usable(assembly, corner) if sign * (s.rate.si - rate) > ANOTHER_SPRING * rate]
    return min(further, key=lambda s: abs(s.rate.si - rate) + PER_LENGTH * _longer(s, coil), default=None)


def usable(assembly: Assembly, corner: str) -> list[Spring]:
    """Springs of the rack that fit a corner and are not in the car."""
    end = "front" if corner in ("LF", "RF") else "rear"
    coils = [getattr(assembly.setup, c).coil for c in CORNERS]
    used = {coil.spring for coil in coils if coil is not None}
    return [s for s in assembly.rack.springs if s.fits in (end, "both") and s.id not in used]


def _longer(spring: Spring, coil: Coil) -> float:
    """By how much the free lengths differ [m]; nothing where one is not known."""
    if spring.free_length is None or coil.free_length is None:
        return 0.0
    return abs(spring.free_length.si - coil.free_length.si)


def _of_rack(coil: Coil, spring: Spring) -> Any:
    own = {"rate": spring.rate, "free_length": spring.free_length, "bind_height": spring.bind_height}
    return coil.model_copy(update={"spring": spring.id, **own})


def _rubbers(assembly: Assembly) -> Iterator[Adjustment]:
    for corner in CORNERS:
        coil = getattr(assembly.setup, corner).coil
        if coil is not None and coil.rubber is None:
            name = f"{corner} rubber +25 lb/in"
            yield _step(assembly, name, "springs", {f"{corner}.coil.rubber": RUBBER}, where=TO_BUY)
        elif coil is not None:
            out = {f"{corner}.coil.rubber": None}
            yield _step(assembly, f"{corner} rubber out", "springs", out, where=AT_TRACK)


def _packers(assembly: Assembly) -> Iterator[Adjustment]:
    for corner in CORNERS:
        for kind in ("stop", "bump_spring"):
            stop = getattr(getattr(assembly.setup, corner), kind)
            if stop is None:
                continue
            more = {f"{corner}.{kind}.packers": stepped(stop.packers, PACKER, "gap")}
            yield _step(assembly, f"{corner} packer +1/16 in", "stops", more, resets=False, where=AT_TRACK)
            wider = {f"{corner}.{kind}.gap": stepped(stop.gap, PACKER, "gap")}
            yield _step(assembly, f"{corner} gap +1/16 in", "stops", wider, resets=False, where=AT_TRACK)


def _bar(assembly: Assembly) -> Iterator[Adjustment]:
    bar = assembly.setup.bar
    if bar is None:
        return
    for word, up in (("bigger", True), ("smaller", False)):
        own = next_bar(assembly, up=up)
        if own is not None:
            sizes = {key: getattr(own, key) for key in ("diameter", "bore", "length", "arm", "rate")}
            other = bar.model_copy(update={"bar": own.id, **sizes})
            yield _step(assembly, f"{word} bar: {own.id}", "bar", {"bar": other})
        elif bar.rate is None and bar.diameter is not None:
            size = stepped(bar.diameter, (1 if up else -1) * SIZE_STEP, "bar_size")
            wall = bar.bore is None or size.si > bar.bore.si
            if size.si > 0.0 and wall:
                sized = {"bar.diameter": size, "bar.bar": None}
                yield _step(assembly, f"bar 1/8 in {word}", "bar", sized, where=TO_BUY)
        elif bar.rate is not None:
            rate = stepped(bar.rate, (0.25 if up else -0.2) * bar.rate.si, "bar_rate")
            name = f"bar {'25' if up else '20'} % {'stiffer' if up else 'softer'}"
            yield _step(assembly, name, "bar", {"bar.rate": rate, "bar.bar": None}, where=TO_BUY)
    if bar.arm.known:
        arm = stepped(bar.arm, -ARM_STEP, "bar_length")
        yield _step(assembly, "bar arms -1/2 in", "bar", {"bar.arm": arm})
    if bar.preload_torque is None:
        more = {"bar.preload": stepped(bar.preload, PRELOAD, "rounds")}
        yield _step(assembly, "preload +1/2 round", "bar", more, resets=False, where=AT_TRACK)


def next_bar(assembly: Assembly, *, up: bool) -> OwnedBar | None:
    """The next stiffer or softer bar of the rack."""
    bar = assembly.setup.bar
    sign = 1.0 if up else -1.0
    now = stiffness(bar)
    others = [own for own in assembly.rack.bars if sign * (stiffness(own) - now) > ANOTHER_SPRING * now]
    return min(others, key=lambda own: abs(stiffness(own) - now), default=None)


def stiffness(bar: Any) -> float:
    """Torque per angle of a bar [N m/rad], up to a common factor: measured rate x arm^2, else d^4 / L."""
    if bar.rate is not None:
        return float(bar.rate.si * bar.arm.si**2)
    bore = bar.bore.si if bar.bore else 0.0
    shear = bar.modulus.si if hasattr(bar, "modulus") else 79.3e9
    return float(math.pi / 32.0 * shear * (bar.diameter.si**4 - bore**4) / bar.length.si)


# ---------------- links, lead


def _links(assembly: Assembly) -> Iterator[Adjustment]:
    names = link_names(assembly)
    if "panhard" in names:
        both = {**link_end(assembly, "panhard", "frame", 0.5), **link_end(assembly, "panhard", "axle", 0.5)}
        yield _step(assembly, "panhard +1/2 in", "links", _merged(assembly, both), where=AT_TRACK)
        for end in ("frame", "axle"):
            one = link_end(assembly, "panhard", end, PANHARD_END)
            name = f"panhard {end} +1/4 in"
            yield _step(assembly, name, "links", _merged(assembly, one), where=AT_TRACK)
    for name in names:
        if name != "panhard":
            up = _merged(assembly, link_end(assembly, name, "frame", LINK_END))
            yield _step(assembly, f"{name.replace('_', ' ')} +1/2 in", "links", up, where=AT_TRACK)


def link_names(assembly: Assembly) -> tuple[str, ...]:
    """Rear links that a racer can move: of a short-form rear the panhard bar only."""
    points = assembly.car.rear.points
    return tuple(points.links) if points else ("panhard",)


def link_end(assembly: Assembly, name: str, end: str, inches: float) -> dict[str, Quantity]:
    """The key and new value that raise one end of a link."""
    held = getattr(assembly.setup.panhard, f"{end}_height") if name == "panhard" else None
    if held is not None:
        return {f"panhard.{end}_height": stepped(held, inches * INCH, "height")}
    shift = getattr(assembly.setup.link_shift.get(name, LinkShift()), f"{end}_up")
    return {f"link_shift.{name}.{end}_up": stepped(shift, inches * INCH, "shift")}


def _merged(assembly: Assembly, ends: Mapping[str, Quantity]) -> dict[str, object]:
    """Ends of links as changes of the setup; a link without a shift so far gets one."""
    changes: dict[str, object] = {}
    for key, value in ends.items():
        table, name, *rest = key.split(".")
        if table == "panhard":
            changes[key] = value
            continue
        shift = changes.get(f"{table}.{name}", assembly.setup.link_shift.get(name, LinkShift()))
        assert isinstance(shift, LinkShift)
        changes[f"{table}.{name}"] = shift.model_copy(update={rest[0]: value})
    return changes


def _lead(assembly: Assembly) -> Iterator[Adjustment]:
    pieces = assembly.setup.lead
    if not pieces:
        return
    heaviest = max(pieces, key=lambda piece: piece.mass.si)
    mass = min(LEAD_STEP, heaviest.mass.si)
    x, y, z = heaviest.place.si
    pounds = f"{mass / LB:.0f} lb lead"
    across = "right" if y > 0.0 else "left"
    moves = (
        (f"{pounds} to {across}", (x, -y, z)),
        (f"{pounds} 30 in back", (x - LEAD_ALONG, y, z)),
        (f"{pounds} 30 in ahead", (x + LEAD_ALONG, y, z)),
        (f"{pounds} 8 in up", (x, y, z + LEAD_UP)),
    )
    for name, place in moves:
        yield _step(assembly, name, "lead", {"lead": _moved_lead(pieces, heaviest, mass, place)})


def _moved_lead(
    pieces: Sequence[Lead], heaviest: Lead, mass: float, place: tuple[float, float, float]
) -> tuple[Lead, ...]:
    """The pieces with a part of the heaviest one bolted in elsewhere."""
    rest = heaviest.mass.si - mass
    there = Place("moved", place, heaviest.place.give_or_take, heaviest.place.evidence)
    moved = heaviest.model_copy(
        update={"id": f"{heaviest.id}, moved", "mass": replace(heaviest.mass, si=mass), "place": there}
    )
    kept = heaviest.model_copy(update={"mass": replace(heaviest.mass, si=rest)})
    return (*(kept if piece is heaviest else piece for piece in pieces), moved)


# ---------------- tires, alignment, gear and brakes


def _tires(assembly: Assembly) -> Iterator[Adjustment]:
    for corner in CORNERS:
        tire = getattr(assembly.setup, corner).tire
        more = {f"{corner}.tire.cold": stepped(tire.cold, PSI, "pressure")}
        if tire.hot is not None:
            more[f"{corner}.tire.hot"] = stepped(tire.hot, PSI, "pressure")
        yield _step(assembly, f"{corner} tire +1 psi", "tires", more, where=AT_TRACK)
    for corner in CORNERS:
        roll_out = getattr(assembly.setup, corner).tire.roll_out
        more = {f"{corner}.tire.roll_out": stepped(roll_out, ROLL_OUT_STEP, "roll_out")}
        bigger = _bigger_tires(assembly, corner, roll_out)
        where = AT_TRACK if bigger else TO_BUY
        yield _step(assembly, f"{corner} roll-out +1/2 in", "tires", more, where=where)


def _bigger_tires(assembly: Assembly, corner: str, roll_out: Quantity) -> list[OwnedTire]:
    """Tires of the rack for that side of the car with more roll-out."""
    side = "left" if corner[0] == "L" else "right"
    return [one for one in assembly.rack.tires if one.side == side and one.roll_out.si > roll_out.si]


def _alignment(assembly: Assembly) -> Iterator[Adjustment]:
    setup = assembly.setup
    degree = math.radians(1.0)
    for corner in ("LF", "RF"):
        camber = getattr(setup, corner).camber
        step, sign = (0.5, "+") if camber.si > 0.0 else (-0.5, "-")
        more = {f"{corner}.camber": stepped(camber, step * degree, "camber")}
        yield _step(assembly, f"{corner} camber {sign}1/2 deg", "alignment", more)
        caster = caster_of(assembly, corner)
        more = {f"{corner}.caster": stepped(caster, 0.5 * degree, "caster")}
        yield _step(assembly, f"{corner} caster +1/2 deg", "alignment", more)
    yield _step(assembly, "toe out +1/32 in", "alignment", {"toe_out": stepped(setup.toe_out, TOE, "toe")})
    lead = {"rear_lead": stepped(setup.rear_lead, REAR_LEAD, "shift")}
    yield _step(assembly, "RR ahead +1/16 in", "alignment", lead)


def caster_of(assembly: Assembly, corner: str) -> Quantity:
    """The caster a front corner has: the setup's, else that of the car's points or short form."""
    own = getattr(assembly.setup, corner).caster
    if own is not None:
        return own  # type: ignore[no-any-return]
    if assembly.car.front.points is None:
        return getattr(assembly.car.front.short_form, corner).caster  # type: ignore[no-any-return]
    points = getattr(assembly.car.front.points, corner)
    low, high = points.lower_ball_joint.si, points.upper_ball_joint.si
    angle = math.atan2(low[0] - high[0], high[2] - low[2])
    return Quantity(show(angle, KINDS["caster"]), angle, 0.0)


def _rest(assembly: Assembly) -> Iterator[Adjustment]:
    share = stepped(assembly.setup.brake_front, 0.02, "share")
    yield _step(assembly, "front brake +2 %", "brakes", {"brake_front": share}, where=AT_TRACK)
    drive = assembly.setup.final_drive
    for word, sign in (("shorter", 1.0), ("taller", -1.0)):
        gear = next_gear(assembly.rack.gears, drive.si, sign)
        ratio = gear.ratio if gear else stepped(drive, RATIO_STEP * sign, "ratio")
        where = AT_TRACK if gear else TO_BUY
        yield _step(assembly, f"gear {word}: {ratio.text}", "gear", {"final_drive": ratio}, where=where)


def next_gear(gears: Sequence[Gear], ratio: float, sign: float) -> Gear | None:
    """The next gear of the rack, shorter for a positive sign."""
    further = [gear for gear in gears if sign * (gear.ratio.si - ratio) > 0.005]
    return min(further, key=lambda gear: abs(gear.ratio.si - ratio), default=None)
