"""Every control: a step that the setup's document takes, the trade's own size, and why not at the end."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib import resources
from operator import attrgetter
from pathlib import Path

import numpy as np
import pytest
from evidence import COMMON_PRACTICE, Check

from ovalwright.documents import QUESTIONS, Assembly, assemble, write_new
from ovalwright.documents.rack import Rack
from ovalwright.pack import build, rebuilt_as_bolted, turn_jack_bolts
from ovalwright.study.adjustments import adjustments
from ovalwright.study.controls import Control, NotPossible, Step, controls, step

DEMO = Path(str(resources.files("ovalwright") / "demo"))
SETUPS = ("conventional", "hanging_rr", "giant_bar", "soft_front", "no_rr", "light")
GROUPS = {"jack bolts", "springs", "stops", "tires", "bar", "links", "alignment", "lead", "gear", "brakes"}


@cache
def demo(name: str) -> Assembly:
    return assemble(DEMO / f"setup_{name}.toml")


def stepped(assembly: Assembly, made: Step) -> Assembly:
    """The assembly with the step written into its setup's document, read again."""
    setup = assembly.setup.changed(made.changes)
    return assemble(setup, car=assembly.car, sheet=assembly.sheet, rack=assembly.rack)


def control(assembly: Assembly, key: str) -> Control:
    return next(one for one in controls(assembly) if one.key == key)


def steps_of(one: Control) -> list[Step]:
    return [made for made in (one.up, one.down) if isinstance(made, Step)]


@pytest.mark.parametrize("name", SETUPS)
def test_every_step_is_taken_by_the_document_and_shows_what_it_said(name: str) -> None:
    assembly = demo(name)
    turned = controls(assembly)
    assert len({one.key for one in turned}) == len(turned) > 30
    assert {one.group for one in turned} <= GROUPS
    for one in turned:
        for made in steps_of(one):
            after = stepped(assembly, made)
            assert after.setup != assembly.setup and made.said
            if made.value not in ("out",):
                assert control(after, one.key).value == made.value, one.key
        for why in (one.up, one.down):
            assert isinstance(why, Step) or why.endswith(".")


@pytest.mark.parametrize("name", ("soft_front", "light"))
def test_up_and_down_again_is_where_it_was_for_all_that_goes_by_even_steps(name: str) -> None:
    assembly = demo(name)
    for one in controls(assembly):
        if one.key.endswith((".spring", ".tire", ".in", "bar.bar", ".rubber")):
            continue
        for made, back in ((one.up, "down"), (one.down, "up")):
            if isinstance(made, Step):
                there = control(stepped(assembly, made), one.key)
                returned = getattr(there, back)
                assert isinstance(returned, Step) and returned.value == one.value, one.key


def test_steps_are_those_of_the_trade(check: Check) -> None:
    assembly = demo("soft_front")
    sizes = {
        "LR.turned": "+1/4 round", "RF.stop.packers": "+1/16 in", "RR.tire.cold": "+1/2 psi",
        "RF.camber": "+1/4 deg", "toe_out": "+1/32 in", "link_shift.panhard.frame_up": "+1/4 in",
        "brake_front": "+1 %",
    }  # fmt: skip
    for key, size in sizes.items():
        made = control(assembly, key).up
        check.fact(
            isinstance(made, Step) and made.said.endswith(size),
            of=f"one step of {key} is {size[1:]}", source=COMMON_PRACTICE, kind=COMMON_PRACTICE, area="units",
        )  # fmt: skip


def test_a_step_is_the_one_that_effects_tries() -> None:
    assembly = demo("soft_front")
    tried = {one.name: one.changed for one in adjustments(assembly) if one.changed is not None}
    pairs = {
        "RF.stop.packers": "RF packer +1/16 in", "toe_out": "toe out +1/32 in",
        "rear_lead": "RR ahead +1/16 in", "bar.preload": "preload +1/2 round",
        "link_shift.panhard.frame_up": "panhard frame +1/4 in",
    }  # fmt: skip
    for key, name in pairs.items():
        made = control(assembly, key).up
        assert isinstance(made, Step)
        ours, theirs = stepped(assembly, made).setup, tried[name].setup
        for path in ("RF.stop.packers", "toe_out", "rear_lead", "bar.preload"):
            mine, other = (attrgetter(path)(setup).si for setup in (ours, theirs))
            assert mine == pytest.approx(other, abs=1e-12), (key, path)
        assert ours.link_shift.keys() == theirs.link_shift.keys()


def test_the_next_spring_is_the_one_that_effects_tries() -> None:
    assembly = demo("conventional")
    names = {one.name for one in adjustments(assembly) if one.part == "springs"}
    for corner in ("LF", "RF", "LR", "RR"):
        for made in steps_of(control(assembly, f"{corner}.coil.spring")):
            spring = made.changes[f"{corner}.coil.spring"]
            assert any(name.startswith(corner) and name.endswith(f", {spring}") for name in names)


def test_a_jack_bolt_turned_in_the_document_is_the_bolt_turned_on_the_car() -> None:
    assembly = demo("conventional")
    made = control(assembly, "LR.turned").up
    assert isinstance(made, Step)
    base = build(assembly)
    ours = rebuilt_as_bolted(base, stepped(assembly, made)).weighed.corners()["load"]
    theirs = turn_jack_bolts(base, {"LR": 0.25}).weighed.corners()["load"]
    assert np.abs(ours - theirs).max() < 0.01
    assert ours[2] > base.weighed.corners()["load"][2] + 2.0


def test_at_the_end_of_the_rack_it_says_why_not() -> None:
    assembly = demo("no_rr")
    with pytest.raises(NotPossible, match=r"No stiffer spring for the rear is on the rack: .*B20.* last one"):
        step(assembly, "LR.coil.spring", up=True)
    with pytest.raises(NotPossible, match="RR has no spring; nothing is softer"):
        step(assembly, "RR.coil.spring", up=False)
    put_in = step(assembly, "RR.coil.spring", up=True)
    assert stepped(assembly, put_in).setup.RR.coil is not None
    with pytest.raises(NotPossible, match="nothing to turn"):
        step(assembly, "LR.coil.color", up=True)
    with pytest.raises(NotPossible, match="hooked up already"):
        step(assembly, "bar.hooked", up=True)


def test_the_rack_can_be_walked_from_end_to_end() -> None:
    assembly, seen = demo("conventional"), set()
    for key, most in (("RR.coil.spring", 40), ("final_drive", 20), ("RF.tire.tire", 20), ("bar.bar", 20)):
        now, count = assembly, 0
        while isinstance(made := control(now, key).up, Step):
            now, count = stepped(now, made), count + 1
            assert made.value not in seen and count < most
            seen.add(made.value)
        assert count > 1 and "is the last one" in str(control(now, key).up)


def test_without_a_rack_a_coil_goes_by_25_lb_in_and_a_typed_pressure_keeps_its_doubt() -> None:
    assembly = demo("conventional")
    typed = assembly.setup.changed(
        {
            "LR.coil": {"rate": "200 lb/in", "free_length": "13 in"},
            "LR.tire.cold": {"value": "11 psi", "give_or_take": "1 psi", "from": "measured"},
            **{f"{corner}.coil": {"rate": "200 lb/in"} for corner in ("LF", "RF", "RR")},
            **{f"{corner}.shock": {} for corner in ("LF", "RF", "LR", "RR")},
            "bar": {"diameter": "1 1/4 in"},
            **{f"{corner}.tire": {"cold": "12 psi", "roll_out": "86 in"} for corner in ("LF", "RF", "RR")},
            "LR.tire.roll_out": "85 in",
            "LR.tire.tire": "T5",
        }
    )
    bare = assemble(typed, car=assembly.car, sheet=assembly.sheet, rack=assembly.rack)
    bare = Assembly(bare.car, bare.setup, bare.sheet, Rack())
    made = control(bare, "LR.coil.rate").up
    assert isinstance(made, Step) and made.changes == {"LR.coil.rate": "225 lb/in"}
    pressed = control(bare, "LR.tire.cold").up
    assert isinstance(pressed, Step)
    told = {"value": "11 1/2 psi", "give_or_take": "1 psi", "from": "measured"}
    assert pressed.changes["LR.tire.cold"] == told
    geared = control(bare, "final_drive").up
    assert isinstance(geared, Step) and geared.value == "5.77"
    assert control(bare, "bar.diameter").value == "1 1/4 in"


def test_a_new_car_steps_every_spring_by_rate_and_is_offered_none_of_its_own(tmp_path: Path) -> None:
    answers = {one.key: one.example for one in QUESTIONS} | {"springs": "400, 450, 200, 175 lb/in"}
    write_new(tmp_path / "car", answers)
    assembly = assemble(tmp_path / "car" / "setup.toml")
    assert [one.fits for one in assembly.rack.springs] == ["front", "front", "rear", "rear"]
    for key in ("RF.coil.rate", "RR.coil.rate", "LF.coil.rate"):
        made = control(assembly, key).down
        assert isinstance(made, Step)
        assembly = stepped(assembly, made)
        coils = [one for one in controls(assembly) if one.name.endswith(" coil")]
        assert [one.key for one in coils] == [f"{corner}.coil.rate" for corner in ("LF", "RF", "LR", "RR")]
    assert control(assembly, "RR.coil.rate").value == "150 lb/in"


def test_a_rubber_goes_in_and_comes_out_again() -> None:
    assembly = demo("conventional")
    rubbered = stepped(assembly, step(assembly, "RR.coil.rubber", up=True))
    assert rubbered.setup.RR.coil is not None and rubbered.setup.RR.coil.rubber is not None
    bare = stepped(rubbered, step(rubbered, "RR.coil.rubber", up=False))
    assert bare.setup.RR.coil is not None and bare.setup.RR.coil.rubber is None
    assert bare.setup.RR.coil.spring == "B12"


def test_lead_is_moved_by_half_a_foot_and_taken_out() -> None:
    assembly = demo("conventional")
    back = stepped(assembly, step(assembly, "lead[2].x", up=False))
    assert back.setup.lead[1].place.si[0] == pytest.approx(assembly.setup.lead[1].place.si[0] - 0.1524)
    assert back.setup.lead[1].place.si[1:] == pytest.approx(assembly.setup.lead[1].place.si[1:])
    without = stepped(assembly, step(assembly, "lead[2].in", up=False))
    assert [piece.id for piece in without.setup.lead] == ["L50-1", "L40-1", "L12-1"]


def test_lead_of_the_rack_is_bolted_in_where_there_is_room_and_put_back() -> None:
    assembly = demo("conventional")
    spots = {spot.id: spot for spot in assembly.rack.lead_spots}
    for count in (5, 6):
        made = step(assembly, "lead.L50", up=True)
        before, assembly = assembly, stepped(assembly, made)
        piece, spot = assembly.setup.lead[-1], spots[made.said.partition(" bolted in at ")[2]]
        assert len({one.id for one in assembly.setup.lead}) == count
        assert piece.place.si == pytest.approx((spot.x.si, spot.y.si, spot.z.si), abs=2e-6)
        there = [one for one in assembly.setup.lead if np.allclose(one.place.si, piece.place.si, atol=1e-3)]
        assert sum(one.mass.si for one in there) <= spot.most.si
    assert isinstance(control(assembly, "lead.L50").up, str)
    again = stepped(assembly, step(assembly, "lead.L50", up=False))
    assert [one.id for one in again.setup.lead] == [one.id for one in before.setup.lead]


def test_lead_is_bolted_nowhere_that_carries_its_most() -> None:
    assembly = demo("conventional")
    full = [spot.model_copy(update={"most": replace(spot.most, si=1.0)}) for spot in assembly.rack.lead_spots]
    rack = assembly.rack.model_copy(update={"lead_spots": tuple(full)})
    why = control(replace(assembly, rack=rack), "lead.L50").up
    assert isinstance(why, str) and "room" in why
