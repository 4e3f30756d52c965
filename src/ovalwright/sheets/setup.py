"""The setup sheet: what is bolted in and set, each value as it was typed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ovalwright.documents import Assembly, Setup
from ovalwright.notebook.garage.cautions import BOOK, COILS, STANDS, WHEELS
from ovalwright.sheets.page import Leaf, Stamp
from ovalwright.sheets.show import Pair, by_corner, pair, stagger, typed, weighed_facts, weighed_how, written
from ovalwright.sheets.since_weighed import weighed_before
from ovalwright.units import System


def setup_sheet(
    stamp: Stamp, assembly: Assembly, *, weighed: Setup | None = None, system: System = "us"
) -> Leaf:
    """A setup with its weighing, to be set from and checked against.

    weighed: the setup that was on the scales, where it is known. Raises ValueError as weighing does.
    """
    setup, sheet = assembly.setup, assembly.sheet
    return Leaf(
        template="setup",
        stamp=stamp,
        data={
            "corners": [_corner(sheet, corner, wheel) for corner, wheel in by_corner(setup)],
            "car": list(written(_whole_car(setup, system))),
            "scales": weighed_facts(sheet, assembly.car, system=system),
            "weighed": weighed_how(sheet),
            "since": weighed_before(weighed, assembly, system=system),
            "lead": [(piece.id, typed(piece, "mass"), piece.place.text) for piece in setup.lead],
            "notes": setup.notes,
            "cautions": [STANDS, COILS, WHEELS, BOOK],
        },
    )


def _corner(sheet: Any, corner: str, wheel: Any) -> dict[str, Any]:
    coil, tire, front = wheel.coil, wheel.tire, corner in ("LF", "RF")
    spring = ("spring", "none") if coil is None else pair("spring", coil, "rate")
    rows = [
        *_coil(coil),
        *_stop(wheel),
        ("shock", _joined(wheel.shock.shock, ("gas", wheel.shock, "gas_force"))),
        pair("droop to its limit", wheel.shock, "droop"),
        ("tire", _joined(tire.tire, ("hot", tire, "hot"))),
        pair("roll-out read at", tire, "roll_out_pressure"),
        pair("camber", wheel, "camber") if front or wheel.camber.known else ("", ""),
        pair("caster", wheel, "caster") if front else ("", ""),
        pair("height on the scales", getattr(sheet, corner), "height"),
        ("turned since weighed", typed(wheel, "turned") if wheel.turned.si else ""),
        pair("one round", wheel, "jack_bolt") if wheel.jack_bolt.known else ("", ""),
    ]
    label, cold = pair("cold", tire, "cold")
    keys = [spring, (label, _in_one_line(cold)), ("roll-out", typed(tire, "roll_out"))]
    return {"name": corner, "keys": keys, "rows": list(written(rows))}


def _in_one_line(pressure: str) -> str:
    """A pressure whose half is written as a decimal: its cell has no room for a fraction."""
    whole, half, unit = pressure.partition(" 1/2 ")
    return f"{whole}.5 {unit}" if half and whole.isdigit() else pressure


def _joined(mark: str | None, *more: tuple[str, Any, str]) -> str:
    """The mark of a part and what else is known of it, on one line."""
    known = [f"{label} {typed(part, name)}" for label, part, name in more if getattr(part, name) is not None]
    return ", ".join([*([mark] if mark else []), *known])


def _coil(coil: Any) -> Iterator[Pair]:
    if coil is not None:
        yield "spring mark", _joined(coil.spring, ("free length", coil, "free_length"))
        yield pair("rubber", coil, "rubber")
        yield pair("off its seat", coil, "gap")


def _stop(wheel: Any) -> Iterator[Pair]:
    for name, part, rate in (("bump stop", wheel.stop, "k0"), ("bump spring", wheel.bump_spring, "rate")):
        if part is not None:
            yield (
                name,
                _joined(None, ("rate", part, rate), ("gap", part, "gap"), ("packers", part, "packers")),
            )


def _whole_car(setup: Setup, system: System) -> Iterator[Pair]:
    yield pair("toe out, in all", setup, "toe_out")
    yield pair("RR ahead of square", setup, "rear_lead")
    yield "front stagger", stagger(setup.RF.tire.roll_out, setup.LF.tire.roll_out, system=system)
    yield "rear stagger", stagger(setup.RR.tire.roll_out, setup.LR.tire.roll_out, system=system)
    yield pair("final drive", setup, "final_drive")
    yield pair("front brakes", setup, "brake_front")
    yield from _bar(setup.bar)
    yield pair("panhard, frame end", setup.panhard, "frame_height")
    yield pair("panhard, axle end", setup.panhard, "axle_height")
    for name, shift in setup.link_shift.items():
        link = name.replace("_", " ")
        yield pair(f"{link}, frame up", shift, "frame_up")
        yield pair(f"{link}, axle up", shift, "axle_up")


def _bar(bar: Any) -> Iterator[Pair]:
    if bar is None:
        yield "sway bar", "none"
        return
    yield "sway bar", bar.bar or ""
    yield pair("bar size", bar, "diameter")
    yield pair("bar bore", bar, "bore")
    yield pair("bar rate", bar, "rate")
    yield pair("bar preload", bar, "preload" if bar.preload_torque is None else "preload_torque")
    yield "bar in the race", "hooked up" if bar.hooked else "unhooked"
