"""Documents into the compiled car: it stands as on its sheet, at every moment, and with another setup in
it.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from evidence import COMMON_PRACTICE, DERIVED, FROM_MEMORY
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.constants import degree, inch, pound

import ovalwright
from ovalwright.documents import (
    STATIONS,
    Conditions,
    DocumentError,
    assemble,
    load_conditions,
    load_setup,
    load_state,
    load_track,
)
from ovalwright.mechanics.handbook import GRAVITY, standard_air
from ovalwright.pack import (
    Moment,
    at_moment,
    build,
    motion,
    rebuilt_as_bolted,
    rebuilt_reset,
    turn_jack_bolts,
    with_fuel,
)
from ovalwright.pack.parts import drooped_shocks
from ovalwright.pack.road import station_pressure
from ovalwright.solve.newton import CONVERGED
from ovalwright.solve.settle import standing
from ovalwright.solve.trim import trim
from ovalwright.study.uncertain import Draw, terms
from ovalwright.vehicle.answer import bar_angle, read_corners
from ovalwright.vehicle.record import CORNER, CORNERS

DEMO = Path(ovalwright.__file__).parent / "demo"
SETUPS = ("conventional", "soft_front", "hanging_rr", "no_rr", "giant_bar", "light")
SEATED = tuple(name for name in SETUPS if name != "no_rr")
LB = pound * GRAVITY


def demo(name="conventional", changes=None, **documents):
    """A demo assembly, with some keys of its setup written anew."""
    setup = load_setup(DEMO / f"setup_{name}.toml")
    return assemble(setup.changed(changes) if changes else setup, **documents)


@pytest.fixture(scope="module")
def base():
    return build(demo())


def cross(standing_car):
    load = standing_car.corners()["load"]
    return (load[1] + load[2]) / load.sum()


@pytest.mark.parametrize("name", SEATED)
def test_a_car_stands_as_its_sheet_says(name):
    assembly = demo(name)
    packed = build(assembly)
    corners = packed.weighed.corners()
    for i, corner in enumerate(CORNERS):
        read = getattr(assembly.sheet, corner)
        assert abs(corners["load"][i] / GRAVITY - read.weight.si) < 0.01 * pound
        assert abs(corners["height"][i] - read.height.si) < 1e-6
    assert packed.fit.disagreements == ()
    sprung = packed.weighed.record["front_mass"] + packed.weighed.record["rear_mass"]
    assert packed.weighed.record["weight"] == pytest.approx(corners["load"].sum(), rel=1e-9)
    assert sprung > 0.0


def test_without_a_coil_heights_come_first_and_cross_is_predicted():
    packed = build(demo("no_rr"))
    corners = packed.weighed.corners()
    assert corners["load"].sum() == pytest.approx(packed.fit.loads_read.sum(), rel=1e-9)
    assert np.abs(packed.fit.heights - packed.fit.heights_read).max() < 1e-6
    assert packed.record["coil_rate"][3] == 0.0
    assert corners["coil_force"][3] == 0.0
    assert packed.fit.cross != pytest.approx(packed.fit.cross_read, abs=1e-6)


def test_a_coil_that_would_have_to_pull_just_touches_and_cross_is_predicted():
    assembly = demo()
    wedge = {"LF.weight": "560 lb", "RF.weight": "853 lb", "LR.weight": "1102 lb", "RR.weight": "321 lb"}
    packed = build(replace(assembly, sheet=assembly.sheet.changed(wedge)))
    corners = packed.weighed.corners()
    assert abs(corners["coil_gap"][3]) < 1e-6
    assert corners["height"] == pytest.approx(packed.fit.heights_read, abs=1e-6)
    assert packed.fit.cross < packed.fit.cross_read - 0.01
    assert [one.what for one in packed.fit.disagreements] == ["cross weight"]
    assert any(note.startswith("RR: ") and "just touching" in note for note in packed.notes)


def test_a_sheet_that_cannot_be_is_measured_in_measuring_errors():
    assembly = demo("no_rr")
    wedge = {"LF.weight": "560 lb", "RF.weight": "853 lb", "LR.weight": "1102 lb", "RR.weight": "321 lb"}
    packed = build(replace(assembly, sheet=assembly.sheet.changed(wedge)))
    (found,) = packed.fit.disagreements
    assert found.what == "cross weight"
    assert found.read == pytest.approx((853 + 1102) / 2836)
    assert found.measuring_errors == pytest.approx(abs(found.predicted - found.read) / 0.0025)
    assert found.measuring_errors > 10.0


@pytest.mark.parametrize("name", SETUPS)
def test_alignment_is_set_on_the_standing_car(name):
    assembly = demo(name)
    packed = build(assembly)
    corners, setup = packed.weighed.corners(), assembly.setup
    assert corners["inclination"][0] == pytest.approx(setup.LF.camber.si, abs=0.001 * degree)
    assert corners["inclination"][1] == pytest.approx(-setup.RF.camber.si, abs=0.001 * degree)
    out = setup.toe_gauge.si * (np.sin(corners["steer"][0]) - np.sin(corners["steer"][1]))
    assert out == pytest.approx(setup.toe_out.si, abs=0.001 * inch)
    tread = assembly.car.tread.rear.si
    assert tread * np.sin(corners["steer"][2:].mean()) == pytest.approx(setup.rear_lead.si, abs=0.001 * inch)
    treads = corners["patch_y"][0] - corners["patch_y"][1], corners["patch_y"][2] - corners["patch_y"][3]
    assert treads == pytest.approx((assembly.car.tread.front.si, tread), abs=0.05 * inch)


@pytest.mark.parametrize("name", SETUPS)
@pytest.mark.parametrize("share", [1.0, 0.09])
def test_every_demo_setup_settles_and_trims_on_every_demo_track(name, share):
    packed = with_fuel(build(demo(name)), share=share)
    evening = load_conditions(DEMO / "conditions_evening.toml")
    assert packed.standing.corners()["load"].sum() == pytest.approx(packed.record["weight"], rel=1e-9)
    for track, speed in (("flat_quarter", 17.0), ("three_eighths", 25.0), ("steep_half", 38.0)):
        turn = motion(load_track(DEMO / f"track_{track}.toml"), evening, speed=speed)
        state, corners = np.zeros(14), np.zeros(4, CORNER)
        status, size, *_ = trim(packed.settled, packed.record, turn, state, np.zeros((40, 14)))
        assert status == CONVERGED
        assert size < 1e-9
        read_corners(state, packed.record, turn, corners)
        assert corners["load"].min() > 0.0


def test_masses_add_up_to_the_car_on_the_scales(base, check):
    record, assembly = base.weighed.record, base.assembly
    parts = [
        (record["front_mass"], record["front_cg"], record["front_inertia"]),
        (record["rear_mass"], record["rear_cg"], record["rear_inertia"]),
        (record["fuel_mass"], record["fuel_cg"], np.zeros(3)),
        (record["axle_mass"], base.drawing.axle_cg, np.zeros(3)),
        *[(record["unsprung_mass"][i], base.drawing.wheels[i], np.zeros(3)) for i in (0, 1)],
    ]
    total = sum(mass for mass, _, _ in parts)
    cg = sum(mass * place for mass, place, _ in parts) / total
    square = sum(
        inertia + mass * np.array([a[1] ** 2 + a[2] ** 2, a[0] ** 2 + a[2] ** 2, a[0] ** 2 + a[1] ** 2])
        for mass, place, inertia in parts
        for a in [place - cg]
    )
    sprung = assembly.car.sprung
    wanted = [sprung.roll_gyration.si, sprung.pitch_gyration.si, sprung.yaw_gyration.si]
    check(
        ours=np.sqrt(square / total) / inch,
        expected=np.array(wanted) / inch,
        rel=0.01,
        unit="in",
        of="roll, pitch and yaw gyration of the parts of the demo car put together again",
        source="Steiner's parallel-axis theorem, any mechanics text",
        kind=DERIVED,
        area="settle",
    )
    heights = [place[2] for mass, place, _ in parts[:3]]
    masses = [mass for mass, _, _ in parts[:3]]
    assert np.average(heights, weights=masses) == pytest.approx(sprung.height.si, abs=1e-4)


def test_a_whole_car_height_is_met_too():
    text = demo().car.text.replace("[sprung]\nheight", "[sprung]\nwhole_car_height")
    car = type(demo().car).from_text(text).changed({"sprung.whole_car_height": "15.2 in"})
    packed = build(demo(car=car), hot=False)
    record = packed.weighed.record
    lump = sum(record[f"{half}_mass"] * record[f"{half}_cg"][2] for half in ("front", "rear", "fuel"))
    lump += record["axle_mass"] * packed.drawing.axle_cg[2]
    lump += record["unsprung_mass"] @ packed.drawing.wheels[:2, 2]
    assert lump / (record["weight"] / GRAVITY) == pytest.approx(15.2 * inch, abs=1e-4)


def test_stops_and_droop_are_placed_at_ride_height():
    assembly = demo("soft_front")
    packed = build(assembly)
    corners = packed.weighed.corners()
    for i, corner in enumerate(("LF", "RF")):
        stop = getattr(assembly.setup, corner).stop
        assert corners["stop_gap"][i] == pytest.approx(stop.gap.si - stop.packers.si, abs=1e-6)
    hung, droop = packed.weighed.settled.copy(), assembly.car.droop.rear.si
    hung[9] -= droop
    after = np.zeros(4, CORNER)
    read_corners(hung, packed.weighed.record, standing(), after)
    assert after["shock_length"][2:] == pytest.approx(packed.record["droop_length"][2:], abs=1e-6)
    assert after["hub_z"][2:] == pytest.approx(corners["hub_z"][2:] - droop, abs=1e-4)
    ratio = (packed.record["droop_length"] - corners["shock_length"])[:2] / assembly.car.droop.front.si
    assert np.all((ratio > 0.5) & (ratio < 0.8))


def test_a_wheel_hangs_as_far_as_its_shock_lets_it_whatever_the_other_one_does():
    packed = build(demo())
    standing_at = packed.weighed.corners()["shock_length"]
    held, hung, beyond = (
        drooped_shocks(packed.record, packed.weighed.settled, np.array([0.0, drop, 0.1, 0.1]))
        for drop in (0.0, 0.1, 0.4)
    )
    assert held[:2] == pytest.approx(standing_at[:2], abs=1e-5)
    assert hung[0] == pytest.approx(standing_at[0], abs=1e-5) and hung[1] > standing_at[1] + 0.05
    assert beyond[0] == pytest.approx(standing_at[0], abs=1e-5) and np.isnan(beyond[1])


def test_a_coil_that_binds_on_the_scales_carries_its_corner_beside_one_without_a_coil():
    free = build(demo("no_rr")).weighed.corners()
    bound = build(demo("no_rr", {"LR.coil.free_length": "12 in", "LR.coil.bind_height": "11 in"}))
    assert free["coil_gap"][2] < -1.5 * inch
    assert bound.weighed.corners()["load"] == pytest.approx(free["load"], abs=0.01 * LB)


def test_a_stop_that_carries_at_ride_height_takes_its_share_from_the_coil():
    packed = build(demo("soft_front", {"RF.stop.gap": "0 in"}))
    corners = packed.weighed.corners()
    assert corners["stop_gap"][1] == pytest.approx(-0.25 * inch, abs=1e-6)
    assert corners["stop_force"][1] > 90.0 * LB
    assert packed.fit.disagreements == ()
    assert np.abs(corners["load"] - packed.fit.loads_read).max() < 0.01 * LB


def test_the_bar_link_carries_nothing_on_the_scales(base):
    no_preload = build(demo(changes={"bar.preload": "0 round"}))
    for packed, twist in ((no_preload, 0.0), (base, 0.25 * inch / 14 / (13 * inch))):
        angle = bar_angle(packed.weighed.settled, packed.weighed.record, standing())
        free = packed.record["bar_slack"]
        put_in = angle + packed.record["bar_preload"]
        assert abs(put_in) == pytest.approx(twist + (free if twist else 0.0), rel=2e-3, abs=1e-9)
    assert build(demo(changes={"bar": "none"})).record["bar_rate"] == 0.0
    assert cross(base.standing) > cross(no_preload.standing)


def test_preload_torque_is_what_the_bar_carries():
    packed = build(demo(changes={"bar.preload_torque": "30 lb-ft"}), hot=False)
    record = packed.record
    angle = bar_angle(packed.weighed.settled, packed.weighed.record, standing()) + record["bar_preload"]
    torque = record["bar_rate"] * (abs(angle) - record["bar_slack"])
    assert torque == pytest.approx(30 * LB * 12 * inch, rel=1e-6)
    assert angle < 0.0


def test_a_bar_hooked_up_on_the_scales_keeps_the_sheet():
    assembly = demo(changes={"bar.preload": "1 round"})
    sheet = assembly.sheet.changed({"bar_hooked": True})
    packed = build(replace(assembly, sheet=sheet), hot=False)
    assert np.abs(packed.weighed.corners()["load"] - packed.fit.loads_read).max() < 0.01 * LB
    assert packed.standing.corners()["load"] == pytest.approx(packed.fit.loads_read, abs=0.02 * LB)
    assert packed.weighed.record["bar_rate"] > 0.0


def test_the_moment_changes_fuel_driver_and_tires(base, check):
    flag = build(demo(), state=load_state(DEMO / "state_flag.toml"))
    gallon = base.assembly.car.fuel_cell.density.si
    assert flag.record["fuel_mass"] == pytest.approx(2 * 3.785411784e-3 * gallon)
    full = base.weighed.record["fuel_mass"]
    assert base.record["weight"] - flag.record["weight"] == pytest.approx(
        GRAVITY * (full - flag.record["fuel_mass"])
    )
    assert flag.record["fuel_cg"][2] < base.record["fuel_cg"][2]
    shift = with_fuel(base, share=0.5, lateral_g=1.0).record["fuel_cg"][1] - base.record["fuel_cg"][1]
    check(shift, -base.assembly.car.fuel_cell.slosh.si * GRAVITY, rel=1e-6, unit="m", kind=DERIVED,
          of="fuel in a cell half full, 1 g to the left", source="a free liquid runs outward",
          area="load transfer")  # fmt: skip
    wear = flag.record["tire"]["free_radius"][1]
    worn = build(demo(), state=load_state(DEMO / "state_flag.toml").changed({"RF.wear": "0 in"}))
    assert worn.record["tire"]["free_radius"][1] - wear == pytest.approx(0.045 * inch)


def test_a_driver_who_gets_out_leaves_his_weight_and_place(base):
    out = at_moment(base, Moment(driver=False, hot=False))
    back = at_moment(base, Moment(driver=True, hot=False))
    driver = base.assembly.car.driver
    load = back.standing.corners()["load"] - out.standing.corners()["load"]
    assert load.sum() == pytest.approx(GRAVITY * driver.mass.si, rel=1e-9)
    x, y, _ = driver.place.si
    wheelbase = base.assembly.car.wheelbase.si
    assert load[2:].sum() / load.sum() == pytest.approx(-x / wheelbase, abs=0.01)
    tread = 0.5 * (base.assembly.car.tread.front.si + base.assembly.car.tread.rear.si)
    assert (load[0] + load[2]) / load.sum() == pytest.approx(0.5 + y / tread, abs=0.01)


def test_hot_tires_grow_by_their_pressure(base):
    cold = at_moment(base, replace(base.moment, hot=False))
    for i, corner in enumerate(CORNERS):
        tire = getattr(base.assembly.setup, corner).tire
        gain = tire.hot.si - getattr(base.assembly.sheet, corner).pressure.si
        grown = base.record["tire"]["free_radius"][i] - cold.record["tire"]["free_radius"][i]
        assert grown * 2 * np.pi == pytest.approx(tire.growth.si * gain)
        stiffer = base.record["tire"]["rate"][i] - cold.record["tire"]["rate"][i]
        assert stiffer == pytest.approx(tire.rate_gain.si * gain)


def test_a_drawn_value_is_the_same_as_a_written_one():
    written = demo(changes={"RF.camber": "-4.5 deg", "toe_out": "1/4 in", "lead[2].mass": "31 lb"})
    drawn = {
        "setup.RF.camber": -4.5 * degree,
        "setup.toe_out": 0.25 * inch,
        "setup.lead[2].mass": written.setup.lead[1].mass.si,
    }
    one, other = build(written), build(demo(), values=drawn)
    for field in one.record.dtype.names:
        assert np.array_equal(one.record[field], other.record[field]), field


def stiffer_lr(packed, step=25):
    """The same car with the LR spring stiffer by lb/in, of the same free length."""
    coil = packed.assembly.setup.LR.coil
    rate = coil.rate.si / LB * inch + step
    return demo(changes={"LR.coil.rate": f"{rate} lb/in"}, car=packed.assembly.car)


def test_a_stiffer_lr_spring_as_bolted_adds_cross_and_reset_none(base, check):
    changed = stiffer_lr(base)
    bolted, again = rebuilt_as_bolted(base, changed), rebuilt_reset(base, changed)
    check.between(
        ours=100.0 * (cross(bolted.weighed) - cross(base.weighed)),
        low=1.0,
        high=2.5,
        unit="%",
        of="cross added by an LR spring 25 lb/in stiffer that is not re-set",
        source="rule of thumb of the trade: about one to two percent",
        kind=COMMON_PRACTICE,
        area="settle",
    )
    assert cross(again.weighed) == pytest.approx(cross(base.weighed), abs=1e-9)
    heights = again.weighed.corners()["height"] - base.weighed.corners()["height"]
    assert np.abs(heights[:3]).max() < 1e-8
    assert again.record["coil_rate"][2] > base.record["coil_rate"][2]
    assert again.record["coil_free"][2] < bolted.record["coil_free"][2]


def test_nothing_changed_is_nothing_changed(base):
    for again in (rebuilt_as_bolted(base, base.assembly), rebuilt_reset(base, base.assembly)):
        off = again.standing.corners()["load"] - base.standing.corners()["load"]
        assert np.abs(off).max() < 1e-3 * LB
        assert again.settled == pytest.approx(base.settled, abs=1e-6)


def test_drawn_values_carry_over_unless_changed(base):
    drawn = {"car.sprung.height": 0.45, "setup.LR.coil.rate": 39000.0}
    first = build(demo(), values=drawn)
    changed = rebuilt_as_bolted(first, stiffer_lr(base))
    assert dict(changed.drawn) == {"car.sprung.height": 0.45}
    assert changed.record["coil_rate"][2] == pytest.approx(changed.assembly.setup.LR.coil.rate.si)
    assert changed.record["front_cg"][2] == pytest.approx(first.record["front_cg"][2])


@pytest.mark.parametrize("name", ["hanging_rr", "no_rr", "giant_bar", "soft_front"])
def test_reset_keeps_heights_and_cross_whatever_the_springs(base, name):
    changed = demo(name)
    again = rebuilt_reset(base, changed)
    was, now = base.weighed.corners(), again.weighed.corners()
    assert np.abs(now["height"] - was["height"])[:3].max() < 1e-7
    if changed.setup.RR.coil is not None:
        assert cross(again.weighed) == pytest.approx(cross(base.weighed), abs=1e-9)
    assert now["steer"][:2] == pytest.approx(was["steer"][:2], abs=1e-4)


def test_a_coil_where_none_was_just_touches():
    base = build(demo("no_rr"))
    put_in = rebuilt_as_bolted(base, demo("no_rr", {"RR.coil": {"rate": "150 lb/in"}}))
    assert abs(put_in.weighed.corners()["coil_gap"][3]) < 1e-3
    assert put_in.record["coil_rate"][3] == pytest.approx(150 * LB / inch)


def test_a_longer_spring_on_the_same_collar_lifts_its_corner(base):
    free = base.assembly.setup.RF.coil.free_length.si / inch
    longer = rebuilt_as_bolted(base, demo(changes={"RF.coil.free_length": f"{free + 0.5} in"}))
    shift = longer.record["coil_free"] - base.record["coil_free"]
    assert shift == pytest.approx([0.0, 0.5 * inch, 0.0, 0.0], abs=1e-12)
    assert longer.weighed.corners()["height"][1] > base.weighed.corners()["height"][1] + 0.2 * inch


def test_packers_and_panhard_and_lead_as_bolted(base):
    stops = build(demo("soft_front"))
    packed = rebuilt_as_bolted(stops, demo("soft_front", {"RF.stop.packers": "1/2 in"}))
    assert packed.record["stop_length"] - stops.record["stop_length"] == pytest.approx(
        [0.0, 0.25 * inch, 0.0, 0.0], abs=1e-9
    )
    high = rebuilt_as_bolted(base, demo(changes={"panhard.frame_height": "12 in"}))
    assert high.record["link_length"] == pytest.approx(base.record["link_length"])
    assert high.record["link_frame"][3][2] == pytest.approx(12 * inch)
    lead = rebuilt_as_bolted(base, demo(changes={"lead[1].place": "-48, -26, 6.5 in"}))
    moved = lead.weighed.corners()["load"] - base.weighed.corners()["load"]
    tread = 0.5 * (base.assembly.car.tread.front.si + base.assembly.car.tread.rear.si)
    assert moved.sum() == pytest.approx(0.0, abs=1e-3)
    # The car leans over the lead that was moved: a little more than the lever alone.
    assert 1.0 < (moved[0] + moved[2]) / (-49.5 * LB * 52 * inch / tread) < 1.12


def test_rounds_in_at_lr_add_cross_and_come_back_out(base):
    wedged = turn_jack_bolts(base, {"LR": 1.0})
    assert 0.002 < cross(wedged.weighed) - cross(base.weighed) < 0.005
    assert wedged.record["coil_free"][2] - base.record["coil_free"][2] == pytest.approx(0.125 * inch)
    back = turn_jack_bolts(wedged, {"LR": -1.0})
    assert cross(back.weighed) == pytest.approx(cross(base.weighed), abs=1e-9)


TURNED = {"LR.turned": "1/2 round", "RF.turned": "-1/4 round", "LR.jack_bolt": "1/10 in"}


def test_bolts_turned_since_the_sheet_are_bolts_turned():
    """Written into the setup or turned on the car built: one car, while the fit still tells of the sheet."""
    turned = build(demo(changes=TURNED))
    sheet = build(demo(changes={"LR.jack_bolt": "1/10 in"}))
    by_hand = turn_jack_bolts(sheet, {"LR": 0.5, "RF": -0.25})
    for mine, other in ((turned.weighed, by_hand.weighed), (turned.standing, by_hand.standing)):
        assert mine.settled == pytest.approx(other.settled, abs=1e-9)
        assert mine.record["coil_free"] == pytest.approx(other.record["coil_free"], abs=1e-12)
    assert turned.weighed.record["coil_free"] - sheet.weighed.record["coil_free"] == pytest.approx(
        [0.0, -0.25 / 8 * inch, 0.05 * inch, 0.0], abs=1e-12
    )
    assert np.array_equal(turned.fit.loads, sheet.fit.loads)
    assert cross(turned.weighed) > turned.fit.cross + 0.0003


@pytest.mark.parametrize("name", ["conventional", "soft_front"])
def test_a_turned_car_bolted_in_differs_by_its_rounds_only(name):
    """From either side: rounds put in, taken back out, and the same rounds still in."""
    plain, turned = build(demo(name)), build(demo(name, TURNED))
    put_in = rebuilt_as_bolted(plain, turned.assembly)
    taken_out = rebuilt_as_bolted(turned, plain.assembly)
    for mine, other in (
        (put_in, turned),
        (taken_out, plain),
        (rebuilt_as_bolted(turned, turned.assembly), turned),
    ):
        for at, as_ in ((mine.weighed, other.weighed), (mine.standing, other.standing)):
            assert at.corners()["load"] == pytest.approx(as_.corners()["load"], abs=1e-3 * LB)
            assert at.record["stop_length"] == pytest.approx(as_.record["stop_length"], abs=1e-8)
            assert at.record["droop_length"] == pytest.approx(as_.record["droop_length"], abs=1e-8)


def test_reset_undoes_the_rounds(base):
    again = rebuilt_reset(base, demo(changes=TURNED))
    assert cross(again.weighed) == pytest.approx(cross(base.weighed), abs=1e-9)
    heights = again.weighed.corners()["height"] - base.weighed.corners()["height"]
    assert np.abs(heights[:3]).max() < 1e-8


def test_rounds_are_drawn_where_they_are_not_exactly_known():
    turned = demo(changes={"LR.turned": {"value": "1/2 round", "give_or_take": "1/4 round"}})
    assert "setup.LR.turned" in [term.path for term in terms(turned)]
    assert not [term for term in terms(demo()) if term.path.endswith(".turned")]
    drawn = Draw({"setup.LR.turned": 1.96}).values(turned)
    assert drawn["setup.LR.turned"] == pytest.approx(0.75)
    more, less = (build(turned, values={"setup.LR.turned": rounds}) for rounds in (0.75, 0.5))
    assert 0.0005 < cross(more.weighed) - cross(less.weighed) < 0.00125


def test_steering_box_engine_rotation_and_missing_heights():
    box = {
        "steering.form": "box",
        "steering.arm_pivot_behind_tie_rod": "-5 in",
        "engine.rotation": "counterclockwise",
    }
    packed = build(demo(car=demo().car.changed(box)))
    assert packed.record["pitman"] == pytest.approx(5.5 * inch)
    assert packed.record["shaft_ratio"] == pytest.approx(-5.67)
    sheet = demo().sheet
    bare = type(sheet).from_text("\n".join(line for line in sheet.text.splitlines() if "height" not in line))
    drawn = build(replace(demo(), sheet=bare))
    assert drawn.fit.heights == pytest.approx(drawn.weighed.record["height_point"][:, 2], abs=1e-7)


@pytest.mark.parametrize("corner", CORNERS)
def test_three_heights_are_enough(corner, base):
    sheet = base.assembly.sheet
    lines, here = [], ""
    for line in sheet.text.splitlines():
        here = line if line.startswith("[") else here
        if not (here == f"[{corner}]" and line.startswith("height")):
            lines.append(line)
    packed = build(replace(base.assembly, sheet=type(sheet).from_text("\n".join(lines))))
    assert packed.weighed.corners()["load"] == pytest.approx(base.weighed.corners()["load"], rel=1e-6)
    assert packed.weighed.corners()["height"] == pytest.approx(
        base.weighed.corners()["height"], abs=0.03 * inch
    )


def test_altimeter_setting_and_altitude_give_the_pressure_of_the_day(check):
    day = Conditions.from_text('barometer = "29.92 inHg"\naltitude = "5000 ft"')
    check(
        ours=station_pressure(day) / 3386.389,
        expected=24.896,
        rel=1e-3,
        unit="inHg",
        of="station pressure at 5,000 ft under a standard altimeter setting",
        source="US Standard Atmosphere 1976, table of pressure in inches of mercury",
        kind=FROM_MEMORY,
        area="trim",
    )
    low = Conditions.from_text('barometer = "29.42 inHg"\naltitude = "0 ft"')
    assert station_pressure(low) == pytest.approx(low.barometer.si)
    assert standard_air(0.0).pressure > station_pressure(low)


def test_a_right_turn_mirrors_the_road_and_a_station_scales_it():
    track = load_track(DEMO / "track_three_eighths.toml")
    evening = load_conditions(DEMO / "conditions_evening.toml")
    left = motion(track, evening, speed=25.0)
    right = motion(track.changed({"turns": "right"}), evening, speed=25.0)
    assert (right["curvature"], right["bank"]) == (-left["curvature"], -left["bank"])
    assert left["bank"] == pytest.approx(12 * degree)
    entry = motion(track, evening, speed=25.0, station=STATIONS[0])
    assert entry["acceleration"] == pytest.approx(-0.35 * GRAVITY)
    assert entry["curvature"] == pytest.approx(0.6 * left["curvature"])
    assert entry["bank_rate"] == pytest.approx(9 * degree / track.ends[0].bank_change.si)
    assert motion(track, evening, speed=25.0, end=1)["curvature"] > left["curvature"]


@pytest.mark.parametrize(
    ("car", "setup", "sheet", "message"),
    [
        (
            {"front.points.LF.tie_rod_outer": "0.215, 27.45, 8.75 in"},
            {},
            {},
            r"front\.points\.LF: the outer tie rod end",
        ),
        (
            {"front.points.RF.upper_pivot_rear": "3.30, -15.75, 14.80 in"},
            {},
            {},
            r"front\.points\.RF: two ends",
        ),
        (
            {
                "rear.points.links.panhard.frame": "-80.25, -20.60, 9.20 in",
                "rear.points.links.panhard.axle": "-104.00, -22.75, 8.90 in",
            },
            {},
            {},
            r"rear\.points: the four links do not hold the axle",
        ),
        ({}, {"link_shift.watts.frame_up": "1 in"}, {}, r"link_shift\.watts: the car has no such link"),
        ({}, {}, {"RR.height": "45 in"}, r"RR\.height: the links cannot close"),
    ],
)
def test_what_cannot_be_is_told_in_one_sentence(car, setup, sheet, message):
    assembly = demo(changes=setup or None)
    assembly = replace(
        assembly,
        car=assembly.car.changed(car) if car else assembly.car,
        sheet=assembly.sheet.changed(sheet) if sheet else assembly.sheet,
    )
    with pytest.raises(DocumentError, match=message) as told:
        build(assembly)
    assert str(told.value).endswith(".")
    assert "\n" not in str(told.value)


RANDOM = st.fixed_dictionaries(
    {
        "setup.LF.coil.rate": st.floats(100, 900).map(lambda x: x * LB / inch),
        "setup.RF.coil.rate": st.floats(100, 900).map(lambda x: x * LB / inch),
        "setup.LR.coil.rate": st.floats(100, 700).map(lambda x: x * LB / inch),
        "setup.RR.coil.rate": st.floats(60, 700).map(lambda x: x * LB / inch),
        "sheet.LF.weight": st.floats(550, 850).map(lambda x: x * pound),
        "sheet.RF.weight": st.floats(550, 850).map(lambda x: x * pound),
        "sheet.LR.weight": st.floats(550, 900).map(lambda x: x * pound),
        "sheet.RR.weight": st.floats(450, 800).map(lambda x: x * pound),
        "sheet.LF.height": st.floats(4.0, 5.5).map(lambda x: x * inch),
        "sheet.RF.height": st.floats(4.0, 5.5).map(lambda x: x * inch),
        "car.sprung.height": st.floats(13, 20).map(lambda x: x * inch),
        "car.chassis.twist_rate": st.floats(2000, 20000).map(lambda x: x * LB * 12 * inch / degree),
        "setup.LF.camber": st.floats(-3, 8).map(lambda x: x * degree),
        "setup.toe_out": st.floats(-0.3, 0.3).map(lambda x: x * inch),
    }
)


@settings(max_examples=25)
@given(values=RANDOM)
def test_any_sane_sheet_is_met_exactly(values):
    packed = build(demo(), values=values)
    corners = packed.weighed.corners()
    read = GRAVITY * np.array([values[f"sheet.{corner}.weight"] for corner in CORNERS])
    assert np.abs(corners["load"] - read).max() < 0.01 * LB
    assert corners["height"][:2] == pytest.approx(
        [values["sheet.LF.height"], values["sheet.RF.height"]], abs=1e-6
    )
    assert corners["inclination"][0] == pytest.approx(values["setup.LF.camber"], abs=0.001 * degree)
    assert packed.record["front_inertia"].min() >= 0.0
    assert packed.record["rear_inertia"].min() >= 0.0
