"""Every adjustment of a setup as a control: what it stands at, and what one step of the trade up or down
writes into the setup's document, or why there is none.

Steps are those of `adjustments` where it has them; what a racer turns by less than is worth comparing
(camber, pressure, brake share) has its smaller step here.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from ovalwright.documents import Assembly
from ovalwright.documents.rack import LeadPiece, OwnedTire
from ovalwright.documents.setup import Bar, Lead, LinkShift
from ovalwright.units import INCH, KINDS, PSI, Quantity, as_fraction, show, shown
from ovalwright.vehicle.record import CORNERS

from .adjustments import (
    ARM_STEP,
    BOLT,
    LINK_END,
    PACKER,
    PANHARD_END,
    PRELOAD,
    RATE_STEP,
    RATIO_STEP,
    REAR_LEAD,
    ROLL_OUT_STEP,
    RUBBER,
    SIZE_STEP,
    TOE,
    caster_of,
    link_end,
    link_names,
    next_bar,
    next_gear,
    next_spring,
    usable,
)
from .lead_car import bolted_in, names_of, spots_of

PRESSURE_STEP, CAMBER_STEP, CASTER_STEP, SHARE_STEP = 0.5 * PSI, math.radians(0.25), math.radians(0.5), 0.01
LEAD_MOVE = 6.0 * INCH
"""How far a piece of lead is moved at a time [m] (common practice, no source)."""


class NotPossible(ValueError):
    """A step that cannot be made; the message is one sentence for the racer."""


@dataclass(frozen=True)
class Step:
    """One step: `changes` for `Setup.changed`, what is `said` of it, and the `value` the control then has."""

    changes: Mapping[str, object]
    said: str
    value: str


@dataclass(frozen=True)
class Control:
    """One thing to turn. `key` names it, `group` is its part of the car, `value` as it stands now.

    `up` and `down` are a step, or the sentence that says why there is none.
    """

    key: str
    group: str
    name: str
    value: str
    up: Step | str
    down: Step | str


def controls(assembly: Assembly) -> tuple[Control, ...]:
    """Everything that can be turned on a car with this setup, with the parts of its rack."""
    families = (
        _jack_bolts,
        _coils,
        _rubbers,
        _stops,
        _tires,
        _bar,
        _links,
        _alignment,
        _lead,
        _rack_lead,
        _rest,
    )
    return tuple(control for family in families for control in family(assembly))


def step(assembly: Assembly, key: str, *, up: bool) -> Step:
    """One step of a control. Raises NotPossible, one sentence, at the end of the rack and for an unknown
    key.
    """
    found = next((control for control in controls(assembly) if control.key == key), None)
    if found is None:
        raise NotPossible(f'"{key[:60]}" is nothing to turn on this car.')
    made = found.up if up else found.down
    if isinstance(made, str):
        raise NotPossible(made)
    return made


# ---------------- writing


def written(si: float, kind: str) -> str:
    """An SI value as it is typed into a document: a fraction where the trade has one, never rounded further
    than six figures.
    """
    return f"{as_fraction(shown(si, KINDS[kind]))} {KINDS[kind].us}".strip()


def kept(held: Quantity, text: str) -> object:
    """A new value for a quantity, with what was said of how sure it is and where it comes from; what was
    left out because it is nothing for certain (a bolt not turned) is now known.
    """
    certain = held.evidence == "unstated" or (held.evidence == "typical" and held.give_or_take == 0.0)
    if certain and not held.give_text:
        return text
    evidence = {} if held.evidence == "unstated" else {"from": held.evidence}
    give = {"give_or_take": held.give_text} if held.give_text else {}
    return {"value": text, **give, **evidence}


def _turned(
    key: str,
    group: str,
    name: str,
    held: Quantity,
    size: float,
    kind: str,
    *,
    least: float = -math.inf,
    also: Mapping[str, Quantity] | None = None,
    end: str = "",
) -> Control:
    """A control that goes by even steps. `also` goes along; `end` is the sentence at `least` [SI]."""

    def one(by: float) -> Step | str:
        if held.si + by < least - 1e-9:
            return end
        text = written(held.si + by, kind)
        others = {k: kept(q, written(q.si + by, kind)) for k, q in (also or {}).items()}
        way = "+" if by > 0.0 else "\u2212"
        return Step({key: kept(held, text), **others}, f"{name} {way}{written(abs(by), kind)}", text)

    return Control(key, group, name, written(held.si, kind), one(size), one(-size))


# ---------------- jack bolts, coils, stops


def _jack_bolts(assembly: Assembly) -> Iterator[Control]:
    for corner in CORNERS:
        wheel = getattr(assembly.setup, corner)
        if wheel.coil is not None:
            yield _turned(
                f"{corner}.turned", "jack bolts", f"{corner} jack bolt", wheel.turned, BOLT, "rounds"
            )


def _coils(assembly: Assembly) -> Iterator[Control]:
    for corner in CORNERS:
        coil, key, name = getattr(assembly.setup, corner).coil, f"{corner}.coil", f"{corner} coil"
        if coil is None:
            yield _no_coil(assembly, corner)
        elif not _has_spares(assembly, corner):
            yield _turned(f"{key}.rate", "springs", name, coil.rate, RATE_STEP, "spring_rate",
                          least=RATE_STEP, end=f"{corner}: no spring is softer than 25 lb/in.")  # fmt: skip
        else:
            value = _spring_words(coil.rate, coil.spring)
            up, down = (_spring(assembly, corner, value, up=way) for way in (True, False))
            yield Control(f"{key}.spring", "springs", name, value, up, down)


def _has_spares(assembly: Assembly, corner: str) -> bool:
    """Whether more springs lie on the rack than may have come off that end for a rate that is only tried."""
    coils = [getattr(assembly.setup, c).coil for c in CORNERS if c[1] == corner[1]]
    tried = sum(coil is not None and coil.spring is None for coil in coils)
    return len(usable(assembly, corner)) > tried


def _spring(assembly: Assembly, corner: str, value: str, *, up: bool) -> Step | str:
    spring = next_spring(assembly, corner, up=up)
    if spring is None:
        end = "front" if corner in ("LF", "RF") else "rear"
        word = "stiffer" if up else "softer"
        return f"No {word} spring for the {end} is on the rack: {value} is the last one."
    words = _spring_words(spring.rate, spring.id)
    return Step({f"{corner}.coil.spring": spring.id}, f"{corner} coil {words}", words)


def _spring_words(rate: Quantity, name: str | None) -> str:
    text = show(rate.si, "spring_rate")
    return f"{text}, {name}" if name else text


def _no_coil(assembly: Assembly, corner: str) -> Control:
    """A corner without a spring: the softest of the rack can be put in."""
    softest = min(usable(assembly, corner), key=lambda spring: spring.rate.si, default=None)
    up: Step | str = f"{corner}: there is no spring for it on the rack; add one to the rack."
    if softest is not None:
        words = _spring_words(softest.rate, softest.id)
        up = Step({f"{corner}.coil": {"spring": softest.id}}, f"{corner} coil {words} put in", words)
    down = f"{corner} has no spring; nothing is softer."
    return Control(f"{corner}.coil.spring", "springs", f"{corner} coil", "no spring", up, down)


def _rubbers(assembly: Assembly) -> Iterator[Control]:
    for corner in CORNERS:
        coil, key, name = getattr(assembly.setup, corner).coil, f"{corner}.coil.rubber", f"{corner} rubber"
        if coil is None:
            continue
        if coil.rubber is None:
            put = {"value": RUBBER.text, "from": "typical"}
            up = Step({key: put}, f"{name} put in", RUBBER.text)
            yield Control(key, "springs", name, "none", up, f"{corner}: there is no rubber to take out.")
        else:
            bare = getattr(assembly.setup.changed({}), corner).coil.model_dump(exclude_unset=True)
            bare.pop("rubber", None)
            down = Step({f"{corner}.coil": bare}, f"{name} taken out", "none")
            value = written(coil.rubber.si, "stop_rate")
            yield Control(key, "springs", name, value, f"{corner}: a rubber is in already.", down)


def _stops(assembly: Assembly) -> Iterator[Control]:
    for corner in CORNERS:
        wheel = getattr(assembly.setup, corner)
        kind = "stop" if wheel.stop else "bump_spring"
        stop = getattr(wheel, kind)
        if stop is None:
            continue
        yield _turned(f"{corner}.{kind}.packers", "stops", f"{corner} packers", stop.packers, PACKER, "gap",
                      least=0.0, end=f"{corner}: no packer is left to take out.")  # fmt: skip
        yield _turned(f"{corner}.{kind}.gap", "stops", f"{corner} stop gap", stop.gap, PACKER, "gap",
                      least=0.0, end=f"{corner}: the stop touches already; pack it instead.")  # fmt: skip


# ---------------- tires


def _tires(assembly: Assembly) -> Iterator[Control]:
    for corner in CORNERS:
        tire = getattr(assembly.setup, corner).tire
        also = {} if tire.hot is None else {f"{corner}.tire.hot": tire.hot}
        yield _turned(f"{corner}.tire.cold", "tires", f"{corner} pressure, cold", tire.cold, PRESSURE_STEP,
                      "pressure", least=PRESSURE_STEP, also=also,
                      end=f"{corner}: a tire needs some pressure.")  # fmt: skip
    for corner in CORNERS:
        tire = getattr(assembly.setup, corner).tire
        if not assembly.rack.tires:
            yield _turned(f"{corner}.tire.roll_out", "tires", f"{corner} roll-out", tire.roll_out,
                          ROLL_OUT_STEP, "roll_out")  # fmt: skip
            continue
        value = _tire_words(tire.roll_out, tire.tire)
        up, down = (_another_tire(assembly, corner, value, up=way) for way in (True, False))
        yield Control(f"{corner}.tire.tire", "tires", f"{corner} tire", value, up, down)


def _another_tire(assembly: Assembly, corner: str, value: str, *, up: bool) -> Step | str:
    """The next larger or smaller tire of the rack for that side that is not on the car."""
    side, sign = ("left" if corner in ("LF", "LR") else "right"), (1.0 if up else -1.0)
    now = getattr(assembly.setup, corner).tire
    on_car = {getattr(assembly.setup, c).tire.tire for c in CORNERS}

    def beyond(tire: OwnedTire) -> tuple[float, str]:
        return sign * (tire.roll_out.si - now.roll_out.si), tire.id

    here = (0.0, now.tire or "")
    free = [tire for tire in assembly.rack.tires if tire.side == side and tire.id not in on_car]
    following = [tire for tire in free if beyond(tire) > here]
    if not following:
        return f"No {'larger' if up else 'smaller'} {side} tire is free on the rack: {value} is the last one."
    tire = min(following, key=beyond)
    words = _tire_words(tire.roll_out, tire.id)
    return Step({f"{corner}.tire.tire": tire.id}, f"{corner} tire {words}", words)


def _tire_words(roll_out: Quantity, name: str | None) -> str:
    text = written(roll_out.si, "roll_out")
    return f"{text}, {name}" if name else text


# ---------------- the bar


def _bar(assembly: Assembly) -> Iterator[Control]:
    bar = assembly.setup.bar
    if bar is None:
        return
    if assembly.rack.bars:
        up, down = (_another_bar(assembly, bar, up=way) for way in (True, False))
        yield Control("bar.bar", "bar", "sway bar", _bar_words(bar), up, down)
    elif bar.rate is not None:
        rate = bar.rate
        yield _turned("bar.rate", "bar", "sway bar", rate, RATE_STEP, "bar_rate", least=RATE_STEP,
                      end="No bar is softer; unhook it instead.")  # fmt: skip
    elif bar.diameter is not None:
        least = (bar.bore.si if bar.bore else 0.0) + 1e-6
        yield _turned("bar.diameter", "bar", "sway bar", bar.diameter, SIZE_STEP, "bar_size", least=least,
                      end="No bar is smaller; unhook it instead.")  # fmt: skip
    hook, loose = Step({"bar.hooked": True}, "bar hooked up", "hooked up"), "The bar is not hooked up."
    unhook, tight = Step({"bar.hooked": False}, "bar unhooked", "unhooked"), "The bar is hooked up already."
    yield Control("bar.hooked", "bar", "bar link", "hooked up" if bar.hooked else "unhooked",
                  tight if bar.hooked else hook, unhook if bar.hooked else loose)  # fmt: skip
    if bar.preload_torque is None:
        yield _turned("bar.preload", "bar", "bar preload, RF link", bar.preload, PRELOAD, "rounds")
    if bar.arm.known:
        yield _turned("bar.arm", "bar", "bar arms", bar.arm, ARM_STEP, "bar_length", least=ARM_STEP,
                      end="The bar needs some arm.")  # fmt: skip


def _another_bar(assembly: Assembly, bar: Bar, *, up: bool) -> Step | str:
    own = next_bar(assembly, up=up)
    if own is None:
        last = _bar_words(bar)
        return f"No {'stiffer' if up else 'softer'} bar is on the rack: {last} is the last one."
    return Step({"bar.bar": own.id}, f"bar {own.id}", own.id)


def _bar_words(bar: Bar) -> str:
    if bar.bar is not None:
        return bar.bar
    if bar.rate is not None:
        return written(bar.rate.si, "bar_rate")
    return "" if bar.diameter is None else written(bar.diameter.si, "bar_size")


# ---------------- links, alignment


def _links(assembly: Assembly) -> Iterator[Control]:
    for name in link_names(assembly):
        inches, ends = (PANHARD_END, ("frame", "axle")) if name == "panhard" else (LINK_END, ("frame",))
        for end in ends:
            key = next(iter(link_end(assembly, name, end, inches)))
            held = _held_end(assembly, name, end)
            kind = "height" if key.startswith("panhard") else "shift"
            yield _turned(key, "links", f"{name.replace('_', ' ')}, {end} end", held, inches * INCH, kind)


def _held_end(assembly: Assembly, name: str, end: str) -> Quantity:
    """Where one end of a link is: its height, or how far it was moved from the car's points."""
    if name == "panhard":
        height = getattr(assembly.setup.panhard, f"{end}_height")
        if height is not None:
            return height  # type: ignore[no-any-return]
    shift = assembly.setup.link_shift.get(name, LinkShift())
    return getattr(shift, f"{end}_up")  # type: ignore[no-any-return]


def _alignment(assembly: Assembly) -> Iterator[Control]:
    setup, group = assembly.setup, "alignment"
    for corner in ("LF", "RF"):
        camber = getattr(setup, corner).camber
        yield _turned(f"{corner}.camber", group, f"{corner} camber", camber, CAMBER_STEP, "camber")
    for corner in ("LF", "RF"):
        caster = caster_of(assembly, corner)
        if getattr(setup, corner).caster is None:
            caster = replace(caster, si=math.radians(round(math.degrees(caster.si), 2)))
        yield _turned(f"{corner}.caster", group, f"{corner} caster", caster, CASTER_STEP, "caster")
    yield _turned("toe_out", group, "toe-out", setup.toe_out, TOE, "toe")
    yield _turned("rear_lead", group, "RR wheel ahead", setup.rear_lead, REAR_LEAD, "shift")


# ---------------- lead, gear, brakes


def _lead(assembly: Assembly) -> Iterator[Control]:
    for i, piece in enumerate(assembly.setup.lead, start=1):
        key, name = f"lead[{i}]", f"lead {piece.id}, {written(piece.mass.si, 'mass')}"
        x, y, z = piece.place.si
        for axis, at, ways in (("x", x, ("ahead", "back")), ("y", y, ("left", "right"))):
            ends = [
                _moved(key, piece, (x + by, y, z) if axis == "x" else (x, y + by, z), way)
                for by, way in zip((LEAD_MOVE, -LEAD_MOVE), ways, strict=True)
            ]
            value = _lead_words(axis, at)
            yield Control(f"{key}.{axis}", "lead", f"{name}, {'fore and aft' if axis == 'x' else 'across'}",
                          value, ends[0], ends[1])  # fmt: skip
        yield Control(f"{key}.in", "lead", name, "bolted in", f"{piece.id} is in the car already.",
                      _out(assembly, i))  # fmt: skip


def _rack_lead(assembly: Assembly) -> Iterator[Control]:
    """Lead of each kind on hand: one piece more bolted in, or the last one out."""
    pieces = assembly.setup.lead
    for entry in assembly.rack.lead:
        names = names_of(entry)
        inside = [i for i, piece in enumerate(pieces, start=1) if piece.id in names]
        count = len(inside)
        up = _one_more(assembly, entry, f"{count + 1} of {len(names)} in the car")
        down: Step | str = "None of them is in the car."
        if inside:
            down = replace(_out(assembly, inside[-1]), value=f"{count - 1} of {len(names)} in the car")
        name = f"lead {entry.id} from the rack, {written(entry.mass.si, 'mass')}"
        yield Control(f"lead.{entry.id}", "lead", name, f"{count} of {len(names)} in the car", up, down)


def _one_more(assembly: Assembly, entry: LeadPiece, value: str) -> Step | str:
    """The next piece of a kind, at the spot nearest to the middle of the car that has room for it."""
    inside = {piece.id for piece in assembly.setup.lead}
    carried: defaultdict[str, float] = defaultdict(float)
    free = [name for name in names_of(entry) if name not in inside]
    if not free:
        return "All of them are in the car."
    for one in bolted_in(assembly):
        carried[one.spot.id] += one.piece.mass
    mass, middle = entry.mass.si, -0.5 * assembly.car.wheelbase.si
    roomy = [one for one in spots_of(assembly.rack, assembly.car) if carried[one.id] + mass <= one.most]
    if not roomy:
        return "No spot for lead on the rack has room for it."
    spot = min(roomy, key=lambda one: math.hypot(one.x - middle, one.y))
    inches = ", ".join(as_fraction(round(at / INCH, 4)) for at in (spot.x, spot.y, spot.z))
    piece = {"id": free[0], "mass": kept(entry.mass, entry.mass.text), "place": f"{inches} in"}
    held = [one.model_dump(exclude_unset=True) for one in assembly.setup.lead]
    return Step({"lead": [*held, piece]}, f"{free[0]} bolted in at {spot.id}", value)


def _moved(key: str, piece: Lead, place: tuple[float, float, float], way: str) -> Step:
    inches = ", ".join(as_fraction(round(at / INCH, 4)) for at in place)
    text = f"{inches} in"
    held = piece.place
    new: object = text
    if held.give_text or held.evidence != "unstated":
        told = Quantity(held.text, 0.0, 0.0, held.evidence, give_text=held.give_text)
        new = kept(told, text)
    axis = "x" if way in ("ahead", "back") else "y"
    value = _lead_words(axis, place[0] if axis == "x" else place[1])
    return Step({f"{key}.place": new}, f"{piece.id} {written(LEAD_MOVE, 'point')} {way}", value)


def _lead_words(axis: str, at: float) -> str:
    inches = f"{as_fraction(round(abs(at) / INCH, 2))} in"
    if axis == "x":
        return f"{inches} {'ahead of' if at > 0.0 else 'behind'} the front axle"
    return "on the centerline" if at == 0.0 else f"{inches} {'left' if at > 0.0 else 'right'}"


def _out(assembly: Assembly, number: int) -> Step:
    """One piece of lead taken out of the car."""
    pieces = assembly.setup.lead
    rest = [piece.model_dump(exclude_unset=True) for i, piece in enumerate(pieces, start=1) if i != number]
    return Step({"lead": rest}, f"{pieces[number - 1].id} taken out", "out")


def _rest(assembly: Assembly) -> Iterator[Control]:
    drive, rack = assembly.setup.final_drive, assembly.rack.gears
    if rack:
        up, down = (_another_gear(assembly, up=way) for way in (True, False))
        yield Control("final_drive", "gear", "final drive", written(drive.si, "ratio"), up, down)
    else:
        yield _turned("final_drive", "gear", "final drive", drive, RATIO_STEP, "ratio", least=RATIO_STEP,
                      end="No gear is taller.")  # fmt: skip
    share = assembly.setup.brake_front
    front = _turned("brake_front", "brakes", "front brake share", share, SHARE_STEP, "share", least=0.0,
                    end="All of the brake is at the rear.")  # fmt: skip
    if share.si + SHARE_STEP > 1.0 + 1e-9:
        front = Control(front.key, front.group, front.name, front.value, "All of the brake is at the front.",
                        front.down)  # fmt: skip
    yield front


def _another_gear(assembly: Assembly, *, up: bool) -> Step | str:
    drive = assembly.setup.final_drive
    gear = next_gear(assembly.rack.gears, drive.si, 1.0 if up else -1.0)
    if gear is None:
        last = written(drive.si, "ratio")
        return f"No {'shorter' if up else 'taller'} gear is on the rack: {last} is the last one."
    text = written(gear.ratio.si, "ratio")
    return Step({"final_drive": kept(gear.ratio, text)}, f"final drive {text}", text)
