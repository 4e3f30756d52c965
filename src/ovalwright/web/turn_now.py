"""The turn in words and drawings: one moment of it, and where the sliders stand."""

from __future__ import annotations

import math
from dataclasses import replace

from markupsafe import Markup

from ovalwright.pictures.car_shape import CarShape
from ovalwright.pictures.car_views import PHONE_END, PHONE_PLAN, from_behind, from_front, plan
from ovalwright.pictures.load_lengths import full_length, load_lengths
from ovalwright.pictures.said import POUND
from ovalwright.pictures.svg import Room
from ovalwright.study.bands import Band
from ovalwright.study.compare import LOOSER, TIGHTER
from ovalwright.study.state import racer_camber
from ovalwright.study.through import Place
from ovalwright.study.turn import Limited
from ovalwright.units import FOOT
from ovalwright.vehicle.record import CORNERS
from ovalwright.web import shares
from ovalwright.web.looking import Looking, View
from ovalwright.web.moment import Answer, Moment, capacity, pace_of
from ovalwright.web.sure_shown import half_of, sure_shown
from ovalwright.web.sure_turn import Sureness, SurePhase
from ovalwright.web.turn_page import CornerLine, Fact, Jump, Now, Pair, Picture, Slider
from ovalwright.web.turn_strip import fuel_strip_of, heaviest, phase_on_strip, strip_room, turn_strip
from ovalwright.web.words import AT_THE_LIMIT, amount, step

NOTHING_KNOWN = Sureness()
NO_BAND = "no band"
"""Said where so many draws have no steady state that none is stated."""
PLAN_OF_THREE, END_OF_THREE = Room(464.0, 500.0, False), Room(450.0, 248.0, False)
PLAN_ALONE, END_ALONE = Room(926.0, 500.0, False), Room(926.0, 412.0, False)
PLAN_BESIDE, END_BESIDE = Room(457.0, 470.0, False), Room(457.0, 330.0, False)
"""Paper on a laptop for each view where it shows all three, for one alone, for two side by side [px]."""
VIEWS: tuple[View, ...] = ("above", "behind", "front")
NOT_APPLICABLE = "not applicable: sets height or cross itself"


# ---------------- what moves with the thumb


def now_of(moment: Moment, looking: Looking, known: Sureness = NOTHING_KNOWN) -> Now:
    """One moment in words and drawings; so much is `known` of how sure its numbers are."""
    place, ghost = moment.now, looking.beside != "alone"
    feet = place.distance / FOOT
    at_said, fuel_said = f"{feet:.0f} ft", f"{moment.tank.gallons:g} gal"
    behind = moment.behind if ghost else None
    bands = known.of(place.phase)
    cross = bands.numbers["cross"] if bands else Band(math.nan)
    give = 0.5 * (cross.high - cross.low)
    common = {
        "sure": sure_shown(known, replace(looking, at=round(feet), fuel=moment.tank.gallons)),
        "strip": Markup(turn_strip(moment, ghost=ghost, phone=looking.narrow, give=give)),
        "fuel_lanes": Markup(fuel_strip_of(moment, phone=looking.narrow)),
        "phase": place.phase,
        "feet": round(feet),
        "gallons": moment.tank.gallons,
        "jumps": jumps(moment, looking),
        "strip_width": strip_room(phone=looking.narrow).width,
    }
    if place.carried is None:
        reason = place.reason or "The solver found no steady state here."
        return Now(
            facts=(Fact(f"Wedge, {place.phase}", "None"), *_limit_facts(moment, bands)),
            against=_against(moment, looking),
            pictures=(),
            loads=Markup(""),
            corners=(),
            body=(),
            clearances=(),
            warnings=(),
            pair=None,
            at_aloud=f"{at_said}, {place.phase}, no steady state",
            fuel_aloud=f"{fuel_said}, no steady state",
            reason=reason,
            **common,  # type: ignore[arg-type]
        )
    wedge = place.carried.loads.cross
    hanging = ", ".join(one.name for one in place.carried.corners if one.coil.state == "hanging")
    told = f"wedge {shares.percent(wedge)} percent" + (f", {hanging} coil off its seat" if hanging else "")
    return Now(
        facts=(_wedge_fact(place, bands), *_limit_facts(moment, bands)),
        against=_against(moment, looking),
        pictures=_pictures(moment, looking, bands),
        loads=_lengths(moment, looking, behind, bands),
        corners=_corners(place, behind),
        body=_body(place),
        clearances=_clearances(place),
        warnings=_warnings(place),
        pair=_pair(moment, None if known.is_before else bands),
        at_aloud=f"{at_said}, {place.phase}, {told}",
        fuel_aloud=f"{fuel_said}, {told}",
        **common,  # type: ignore[arg-type]
    )


def _wedge_fact(place: Place, bands: SurePhase | None) -> Fact:
    assert place.carried is not None
    more = "" if bands is None else shares.half_band(bands.numbers["cross"]) or NO_BAND
    return Fact(f"Wedge, {place.phase}", shares.percent(place.carried.loads.cross), "%", more, "wedge")


def _against(moment: Moment, looking: Looking) -> str:
    """What the setup that is drawn behind has at the same place, by its name."""
    behind, limit = moment.behind, moment.tank.behind_limit(moment.now.phase)
    if behind is None or limit is None:
        return "What you change is drawn over what it was before, in dashes."
    if looking.beside == "alone":
        return f"{moment.tank.joined.behind_is} is left out."
    wedge = "none" if behind.carried is None else f"{shares.percent(behind.carried.loads.cross)} %"
    how = "Dashed" if looking.beside == "ghost" else "Beside it"
    return f"{how} {moment.tank.joined.behind_is}: wedge {wedge}, {AT_THE_LIMIT} {_balance_words(limit)}."


def _limit_facts(moment: Moment, bands: SurePhase | None) -> tuple[Fact, Fact]:
    """Balance and speed at the limit; no verdict inside the band."""
    mine = moment.tank.limit(moment.now.phase)
    word, size = _balance_of(mine)
    half = "" if bands is None else shares.half_band(bands.numbers["balance"])
    more = "" if bands is None else half or NO_BAND
    if bands is not None and half and size and not bands.numbers["balance"].sure_of_sign:
        word, size, more = "Unsure", "", f"{word.lower()} {size} {half}"
    tight = Fact(AT_THE_LIMIT.capitalize(), word, size, more, "balance")
    if mine.limit.speed is None:
        return tight, Fact("Limit", "None", more=mine.limit.sets, what="limit")
    number, unit = amount(mine.limit.speed, "speed").split(" ", 1)
    give = "" if bands is None else half_of(bands.numbers["limit"], "speed")
    sets = ", ".join(filter(None, (give, mine.limit.sets)))
    return tight, Fact("Limit", number, unit, sets, "limit")


def _balance_of(at: Limited) -> tuple[str, str]:
    if at.balance is None:
        return "None", ""
    word, _, size = shares.balance(at.balance.share).partition(" ")
    return word, size


def _balance_words(at: Limited) -> str:
    return "none" if at.balance is None else shares.balance(at.balance.share).lower()


def _pictures(moment: Moment, looking: Looking, bands: SurePhase | None) -> tuple[Picture, ...]:
    view = looking.view
    shape, other = moment.shape(), moment.behind_shape() if looking.beside != "alone" else None
    if shape is None:
        return ()
    side = looking.beside == "side" and other is not None
    names = VIEWS if view == "all" and not side else ("behind",) if view == "all" else (view,)
    steepest = pace_of(moment.tank.joined).steepest
    full = full_length(heaviest(moment.tank.joined))
    give = _gives(bands)

    def drawn(name: View, car: CarShape, ghost: CarShape | None, called: str) -> Markup:
        room = _room(name, looking, len(names), side=side)
        if name == "above":
            gives = give if car is shape else ()
            return Markup(plan(car, room, ghost=ghost, full=full, gives=gives, name=called))
        draw = from_behind if name == "behind" else from_front
        return Markup(draw(car, room, ghost=ghost, steepest=steepest, name=called))

    found = []
    for name in names:
        second = drawn(name, other, None, f"{name}-other") if side and other is not None else Markup("")
        found.append(Picture(name, *TITLES[name], drawn(name, shape, None if side else other, name), second))
    return tuple(found)


TITLES: dict[View, tuple[str, str]] = {
    "above": ("From above", "a tick is 100 lb"),
    "behind": ("From behind", ""),
    "front": ("From the front", "left is on the right"),
}


def _room(name: View, looking: Looking, count: int, *, side: bool) -> Room:
    """Paper for one of so many views."""
    if looking.narrow:
        return PHONE_PLAN if name == "above" else PHONE_END
    above, end = (PLAN_BESIDE, END_BESIDE) if side else (PLAN_ALONE, END_ALONE)
    if count > 1:
        above, end = PLAN_OF_THREE, END_OF_THREE
    return above if name == "above" else end


def _gives(bands: SurePhase | None) -> tuple[str, ...]:
    """Half the band of each load in words; nothing where they are not known."""
    loads = [] if bands is None else [bands.numbers[f"{corner} load"] for corner in CORNERS]
    return tuple(shares.half_band(load, 1.0 / POUND, places=0) for load in loads)


def _lengths(moment: Moment, looking: Looking, behind: Place | None, bands: SurePhase | None) -> Markup:
    assert moment.now.carried is not None
    other = behind.carried.loads.corners if behind is not None and behind.carried is not None else None
    loads = moment.now.carried.loads.corners
    full = full_length(heaviest(moment.tank.joined))
    mirrored = looking.view == "front"
    return Markup(load_lengths(loads, ghost=other, gives=_gives(bands), mirrored=mirrored, full=full))


def _corners(place: Place, behind: Place | None) -> tuple[CornerLine, ...]:
    assert place.carried is not None
    others = behind.carried.corners if behind is not None and behind.carried is not None else None
    lines = []
    for i, one in enumerate(place.carried.corners):
        stop = one.stop
        lines.append(
            CornerLine(
                corner=CORNERS[i],
                load="Lifted" if one.lifted else amount(one.load, "force"),
                other="" if others is None else amount(others[i].load, "force"),
                coil=coil_words(one.coil.state, one.coil.gap),
                stop="none" if stop is None else _stop_words(stop.engaged, stop.force, stop.gap),
                camber=amount(racer_camber(one), "camber"),
                travel=step(one.shock_travel, "coil_length"),
                used=f"{shares.percent(one.used, 0)} %",
            )
        )
    return tuple(lines)


def coil_words(state: str, gap: float) -> str:
    """A coil's state: how far it is squeezed, or how far it hangs off its seat."""
    if state == "none":
        return "no coil"
    if state == "hanging":
        return f"off its seat by {amount(gap, 'coil_length')}"
    return f"{'bound' if state == 'bound' else 'squeezed'} {amount(-gap, 'coil_length')}"


def _stop_words(engaged: bool, force: float, gap: float) -> str:
    return f"in, {amount(force, 'force')}" if engaged else f"{amount(gap, 'gap')} off"


def _body(place: Place) -> tuple[Fact, ...]:
    assert place.carried is not None
    body, demand = place.carried.body, place.carried.demand
    return (
        Fact("Speed", amount(float(place.motion["speed"]), "speed")),
        Fact("Sideways", f"{abs(place.lateral):.2f} g"),
        Fact("Body roll", amount(body.roll, "camber"), what="roll"),
        Fact("Nose down", amount(body.pitch, "camber")),
        Fact("Drive or brake", amount(demand.force, "force")),
    )


def _clearances(place: Place) -> tuple[Fact, ...]:
    assert place.carried is not None
    return tuple(Fact(one.name, amount(one.gap, "height")) for one in place.carried.clearances)


def _warnings(place: Place) -> tuple[str, ...]:
    assert place.carried is not None
    dragging = [f"{one.name} {amount(one.load, 'force')}" for one in place.carried.drags]
    told = {
        "Lifted": place.carried.lifted,
        "Beyond any tire data": place.carried.extrapolated,
        "Dragging": dragging,
    }
    return tuple(f"{word}: {', '.join(names)}." for word, names in told.items() if names)


def _pair(moment: Moment, bands: SurePhase | None) -> Pair | None:
    if not moment.tank.joined.hand.changes:
        return None
    bolted, reset = moment.answer("now"), moment.answer("reset")
    assert bolted is not None
    place = moment.now.carried
    hanging = ", ".join(one.name for one in place.corners if one.coil.state == "hanging") if place else ""
    why = moment.why("now", bolted) if reset is None else moment.why("reset", reset)
    return Pair(
        of=f"Your change, against {moment.tank.joined.hand.base} without it",
        wedge_bolted=_change(bolted.wedge),
        bolted_give=_give(bands.bolted if bands else None),
        wedge_reset=NOT_APPLICABLE if reset is None else _change(reset.wedge),
        reset_give=_give(bands.reset if bands else None),
        balance_bolted=_sure_word(bands.bolted_word) if bands else _toward(bolted),
        balance_reset="" if reset is None else _sure_word(bands.reset_word) if bands else _toward(reset),
        why=shares.true_minus(f"{_of_what(moment, reset)}: {why}"),
        hanging=f"{hanging} coil off its seat has no say" if hanging else "",
    )


def _of_what(moment: Moment, reset: Answer | None) -> str:
    """What a reason speaks of; re-setting to heights and cross turns the jack bolts back."""
    if reset is None:
        return "As bolted in"
    keys = {key for one in moment.tank.joined.hand.changes for key in one.value}
    return "Re-set, which turns the bolts back" if any(key.endswith(".turned") for key in keys) else "Re-set"


def _change(share: float) -> str:
    return f"{shares.change_percent(share, 2)} %" if math.isfinite(share) else "none"


def _give(band: Band | None) -> str:
    return "" if band is None else shares.half_band(band, places=2)


def _sure_word(verdict: str) -> str:
    """The verdict on a change, where its band lies on one side of nothing."""
    return verdict if verdict in (TIGHTER, LOOSER) else "unsure"


def _toward(answer: Answer) -> str:
    """A change of balance: how much tighter or looser."""
    if not math.isfinite(answer.balance):
        return "balance: none"
    size = f"{abs(100.0 * answer.balance):.2f} %"
    if float(size.split()[0]) == 0.0:
        return "balance same"
    return f"{TIGHTER if answer.balance < 0.0 else LOOSER} {size}"


# ---------------- where it stands


def sliders(moment: Moment) -> tuple[Slider, Slider]:
    """The place along the turn [ft] and the fuel [gal]."""
    joined = moment.tank.joined
    length = math.floor(pace_of(joined).length / FOOT)
    return (
        Slider("at", "Turn", round(moment.distance / FOOT), length, 1),
        Slider("fuel", "Fuel", moment.tank.gallons, round(capacity(joined), 2), 0.25),
    )


def jumps(moment: Moment, looking: Looking) -> tuple[Jump, ...]:
    """Entry, middle and exit, to be gone to at once."""
    joined, there = moment.tank.joined, replace(looking, fuel=moment.tank.gallons)
    pace, found = pace_of(joined), []
    for key, (name, begin, end) in enumerate(pace.phases, start=1):
        feet = round(0.5 * (begin + end) / FOOT)
        left, right = phase_on_strip(begin / pace.length, end / pace.length, strip_room(phone=looking.narrow))
        found.append(
            Jump(
                name=name.capitalize(),
                path=replace(there, at=feet).path,
                key=str(key),
                feet=feet,
                left=round(left, 1),
                width=round(right - left, 1),
                is_here=moment.now.phase == name,
            )
        )
    return tuple(found)
