"""What one step of every adjustment does, and how sure the answers are: effects, sure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from ovalwright.cli.changing import check_draws
from ovalwright.cli.contract import told
from ovalwright.cli.door import Trouble
from ovalwright.cli.options import InTurn
from ovalwright.cli.screen import Screen
from ovalwright.cli.turning import START_SLOW, guessed
from ovalwright.cli.typed import in_turn, quantity
from ovalwright.corners import CORNERS
from ovalwright.documents import STATIONS, Assembly, Conditions, Station, Track
from ovalwright.pack import Packed, build
from ovalwright.study.bands import Band, Measurement
from ovalwright.study.compare import WITHIN_BAND
from ovalwright.study.effects import Effect, Effects
from ovalwright.study.effects import effects as effects_study
from ovalwright.study.moved import Moved
from ovalwright.study.sure import Sureness, SurePlace, how_sure, what_to_measure
from ovalwright.study.turn import NO_TRANSIENT


def effects(screen: Screen, asked: InTurn, *, fuel: str, top: int, draws: int) -> None:
    """Every adjustment by one step of the trade, the strongest first, and why."""
    check_draws(draws)
    car = in_turn(screen, asked)
    assembly, packed = car.assembly, build(car.assembly)
    share = _share(assembly, fuel)
    answer = strongest(screen, packed, car.oval, car.day, share=share, top=top, draws=draws, end=car.end)
    screen.title(f"{assembly.setup.name} on {car.oval.name}: one step of each adjustment, strongest first")
    _bands_title(screen, answer)
    screen.table([_effect(one) for one in answer.rows], head=("step", "bolted in", "entry", "middle", "exit"))
    screen.say()
    for one in answer.rows[:5]:
        screen.say(one.why("middle"))
    screen.note(
        "Change of balance at the limit in percent of static weight x wheelbase: bolted in at the middle, "
        "then re-set to heights and cross where that applies (* does not). Entry and exit are with "
        f"{NO_TRANSIENT}."
    )
    screen.note(
        "A link goes up at its frame end, the panhard bar at both unless one is named; bar preload goes "
        "toward RF and LR."
    )
    screen.note(guessed(assembly))
    screen.note(START_SLOW)
    screen.notes([*answer.notes, *assembly.warnings])
    whys = {one.step.name: {name: one.why(name) for name in one.bolted} for one in answer.rows}
    screen.end("effects", {"answer": told(answer), "why": whys})


def _share(assembly: Assembly, fuel: str) -> float:
    """Share of the cell for a fuel; a full one when left out."""
    return quantity(fuel, "volume", "--fuel") / assembly.car.fuel_cell.capacity.si if fuel else 1.0


def strongest(
    screen: Screen,
    packed: Packed,
    track: Track,
    day: Conditions,
    *,
    share: float,
    top: int,
    draws: int,
    end: int,
    stations: Sequence[Station] = STATIONS,
) -> Effects:
    """All steps ranked, and the `top` of them again with bands where draws are asked for."""
    with screen.progress("trying every adjustment") as tell:
        answer = effects_study(
            packed, track, day, stations=stations, fuel_share=share, end=end, progress=tell
        )
        if not draws:
            return _first(answer, top)
        steps = [one.step for one in answer.rows[:top]]
        return effects_study(
            packed,
            track,
            day,
            stations=stations,
            fuel_share=share,
            end=end,
            steps=steps,
            draws=draws,
            progress=tell,
        )


def _first(answer: Effects, top: int) -> Effects:
    return Effects(answer.rows[:top], answer.speeds, answer.draws, answer.failed, answer.notes)


def _bands_title(screen: Screen, answer: Effects) -> None:
    if answer.draws:
        screen.say(f"With 95 % bands from {answer.draws - answer.failed} of {answer.draws} draws.")
    else:
        screen.say("Without bands: --draws 32 tells which of these are surely more than nothing.")


def _effect(one: Effect) -> tuple[str, ...]:
    """One step at the three places; `*` where only as bolted in applies."""
    name = f"{one.step.name}{'' if one.reset else ' *'}"
    if one.problem:
        return (name, "cannot be built", "", "", "")
    return (name, _moved(one.bolted.get("middle")), *(_moved(one.told(station)) for station in one.bolted))


def _moved(moved: Moved | None) -> str:
    """A change of balance in percent with its word."""
    if moved is None or not math.isfinite(moved.balance.value):
        return "-"
    word = "unsure" if moved.verdict == WITHIN_BAND else moved.verdict
    return f"{100 * moved.balance.value:+.2f} {word}"


def sure(screen: Screen, asked: InTurn, *, wanted: str, draws: int) -> None:
    """Bands of the answers in the turn, and the measurement that would narrow the wanted one most."""
    check_draws(draws)
    car = in_turn(screen, asked)
    assembly, packed = car.assembly, build(car.assembly)
    kinds = {"cross": "percent", "balance": "percent", "limit": "speed", "bite": "force"}
    kinds |= {f"{corner} load": "force" for corner in CORNERS}
    if wanted not in kinds:
        raise Trouble(f'--of: "{wanted[:20]}" is no answer here; write one of {", ".join(kinds)}')
    with screen.progress("drawing cars that fit your sheet") as tell:
        answer = how_sure(packed, car.oval, car.day, draws=draws, end=car.end, progress=tell)
        best = what_to_measure(packed, car.oval, car.day, wanted=wanted, progress=tell)
    screen.title(f"How sure: {assembly.setup.name} on {car.oval.name}")
    screen.say("Middle of 95 % of cars that fit your scale sheet and what you know of the rest.")
    for share in dict.fromkeys(place.fuel_share for place in answer.places):
        places = [place for place in answer.places if place.fuel_share == share]
        screen.say()
        cell = assembly.car.fuel_cell.capacity.si
        screen.table(
            [*_bands(screen, places, kinds), *_chances(places)],
            head=(screen.show(share * cell, "volume"), *(place.station for place in places)),
        )
    measure(screen, best, wanted, kinds[wanted])
    _count(screen, answer)
    screen.note(
        "Each drawn car runs 2 % under what its own tires allow; `turn` also holds it to engine and rev "
        "limit. Balance: minus is tight."
    )
    screen.note(guessed(assembly))
    screen.note("`measured NAME` says how a thing is measured, and keeps it.")
    screen.notes([*packed.notes, *assembly.warnings])
    screen.end("sure", {"answer": told(answer), "measure": told(best)})


def _bands(screen: Screen, places: Sequence[SurePlace], kinds: dict[str, str]) -> Iterator[tuple[str, ...]]:
    """Each answer with the ends of its band, its unit beside its name."""
    for name, kind in kinds.items():
        unit = screen.show(1.0, kind).split(" ")[1]
        yield (f"{name}, {unit}", *(_band(screen, place.numbers[name], kind) for place in places))


def _band(screen: Screen, band: Band, kind: str) -> str:
    if not math.isfinite(band.value):
        return "-"
    value, low, high = (screen.show(one, kind).split(" ")[0] for one in (band.value, band.low, band.high))
    return f"{value} ({low} to {high})".replace(",", "")


def _chances(places: Sequence[SurePlace]) -> Iterator[tuple[str, ...]]:
    """How likely each coil is off its seat, where any is."""
    for i, corner in enumerate(CORNERS):
        if any(place.hanging[i] > 0.0 for place in places):
            yield (
                f"{corner} coil hangs",
                *(f"in {100 * place.hanging[i]:.0f} % of cars" for place in places),
            )


def measure(screen: Screen, best: Sequence[Measurement], wanted: str, kind: str) -> None:
    """The measurements worth making, the first in a sentence."""
    if not best:
        return
    screen.say()
    screen.table(
        [
            (
                _named(one.what),
                f"+/-{_spread(screen, one.before, kind)}",
                f"+/-{_spread(screen, one.after, kind)}",
            )
            for one in best[:5]
        ],
        head=(f"measure next, for {wanted} in the middle", "now", "then"),
    )


def _named(what: str) -> str:
    """A thing to measure by its key and file, such as `sprung.height in the car file`."""
    document, _, key = what.partition(".")
    return f"{key} in the {document} file" if document in ("car", "setup", "sheet", "track") else what


def _spread(screen: Screen, sd: float, kind: str) -> str:
    return screen.show(2.0 * sd, kind)


def _count(screen: Screen, answer: Sureness) -> None:
    screen.note(f"{answer.draws - answer.failed} of {answer.draws} drawn cars could be built.")
