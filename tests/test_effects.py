"""Every adjustment by one step of the trade, both ways, ranked, with the why."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from evidence import COMMON_PRACTICE, DERIVED

import ovalwright
from ovalwright.documents import ENTRY, MIDDLE, Assembly, Rack, assemble, load_conditions, load_track
from ovalwright.pack import Packed, build
from ovalwright.study.adjustments import Adjustment, adjustments, caster_of, next_spring
from ovalwright.study.at_limit import at_limit, parts
from ovalwright.study.bands import Band
from ovalwright.study.effects import Effect, Effects, effects
from ovalwright.study.moved import Moved, why
from ovalwright.study.reading import Spot, fueled, tire_limit
from ovalwright.study.state import loads_of

DEMO = Path(ovalwright.__file__).parent / "demo"
TRACK = load_track(DEMO / "track_three_eighths.toml")
CONDITIONS = load_conditions(DEMO / "conditions_evening.toml")


@pytest.fixture(scope="module")
def assembly() -> Assembly:
    return assemble(DEMO / "setup_conventional.toml")


@pytest.fixture(scope="module")
def base(assembly: Assembly) -> Packed:
    return build(assembly)


@pytest.fixture(scope="module")
def table(base: Packed) -> Effects:
    return effects(base, TRACK, CONDITIONS)


def named(assembly: Assembly, start: str) -> Adjustment:
    return next(step for step in adjustments(assembly) if step.name.startswith(start))


def test_every_family_of_adjustments_is_there_once(assembly: Assembly) -> None:
    steps = adjustments(assembly)
    assert len({step.name for step in steps}) == len(steps)
    families = {"jack bolts", "springs", "bar", "links", "lead", "tires", "alignment", "brakes", "gear"}
    assert {step.part for step in steps} == families
    soft = {step.part for step in adjustments(assemble(DEMO / "setup_soft_front.toml"))}
    assert "stops" in soft


def test_a_jack_bolt_loads_its_corner_and_its_diagonal(check, base: Packed, assembly: Assembly) -> None:
    was = base.weighed.corners()["load"]
    for corner, pair in (("LF", (0, 3)), ("RF", (1, 2)), ("LR", (1, 2)), ("RR", (0, 3))):
        moved = named(assembly, f"{corner} 1/4 round").as_bolted(base).weighed.corners()["load"] - was
        check.fact(
            bool(all(moved[i] > 0.0 for i in pair) and abs(moved.sum()) < 1e-3),
            of=f"{corner} jack bolt in: it and its diagonal gain, the others lose",
            source="scaling procedure of the shops",
            kind=COMMON_PRACTICE,
            area="settle",
        )


def test_re_set_restores_three_heights_and_cross(base: Packed, assembly: Assembly) -> None:
    was = base.weighed.corners()
    for step in adjustments(assembly):
        car = step.reset(base)
        if car is None:
            assert not step.resets
            continue
        now = car.weighed.corners()
        assert now["height"][:3] == pytest.approx(was["height"][:3], abs=1e-7), step.name
        assert loads_of(now).cross == pytest.approx(loads_of(was).cross, abs=1e-9), step.name


def test_what_sets_cross_or_preload_has_no_second_reading(assembly: Assembly) -> None:
    none = {step.name for step in adjustments(assembly) if not step.resets}
    assert any("1/4 round" in name for name in none)
    assert any("preload" in name for name in none)
    assert not {step.part for step in adjustments(assembly) if not step.resets} & {"springs", "tires"}
    soft = [step for step in adjustments(assemble(DEMO / "setup_soft_front.toml")) if step.part == "stops"]
    assert soft
    assert not any(step.resets for step in soft)


def test_the_next_spring_is_on_the_rack_and_not_in_the_car(assembly: Assembly) -> None:
    used = {getattr(assembly.setup, c).coil.spring for c in ("LF", "RF", "LR", "RR")}
    now = assembly.setup.LR.coil
    assert now is not None
    assert now.rate is not None
    up, down = next_spring(assembly, "LR", up=True), next_spring(assembly, "LR", up=False)
    assert up is not None
    assert down is not None
    assert down.rate.si < now.rate.si < up.rate.si
    assert not {up.id, down.id} & used


def test_an_empty_rack_gives_25_pounds_per_inch(assembly: Assembly) -> None:
    bare = replace(assembly, rack=Rack())
    step = named(bare, "LR coil +25")
    assert step.changed is not None
    was, now = assembly.setup.LR.coil, step.changed.setup.LR.coil
    assert was is not None
    assert now is not None
    assert now.rate.si - was.rate.si == pytest.approx(25.0 * 175.12683524647636)


def test_a_corner_without_a_spring_has_no_spring_to_step() -> None:
    bare = assemble(DEMO / "setup_no_rr.toml")
    sprung = [step.name for step in adjustments(bare) if step.part in ("springs", "jack bolts")]
    assert any(name.startswith("LR ") for name in sprung)
    assert not any(name.startswith("RR ") for name in sprung)


def test_moved_lead_keeps_the_total_weight(base: Packed, assembly: Assembly) -> None:
    total = base.weighed.corners()["load"].sum()
    for step in adjustments(assembly):
        if step.part == "lead":
            assert step.as_bolted(base).weighed.corners()["load"].sum() == pytest.approx(total, rel=1e-9)


def test_lead_moved_across_takes_left_weight_by_its_moment(check, base: Packed, assembly: Assembly) -> None:
    was = loads_of(base.weighed.corners())
    step = next(s for s in adjustments(assembly) if "lead to" in s.name)
    car = step.reset(base)
    assert car is not None
    now = loads_of(car.weighed.corners())
    place = max(assembly.setup.lead, key=lambda piece: piece.mass.si).place.si
    arm = 2.0 * place[1] / assembly.car.tread.front.si
    check(
        ours=100.0 * (now.left - was.left),
        expected=-100.0 * 10.0 * 0.45359237 * 9.80665 * arm / was.total,
        rel=0.01,
        unit="%",
        of="left percent lost by 10 lb moved from rail to rail, car re-set level",
        source="moments about the centerline (statics)",
        kind=COMMON_PRACTICE,
        area="weighing",
    )


def test_caster_comes_from_the_points_when_the_setup_states_none(assembly: Assembly) -> None:
    low = assembly.car.front.points.RF.lower_ball_joint.si  # type: ignore[union-attr]
    high = assembly.car.front.points.RF.upper_ball_joint.si  # type: ignore[union-attr]
    angle = np.arctan((low[0] - high[0]) / (high[2] - low[2]))
    assert caster_of(assembly, "RF").si == pytest.approx(angle)


SIGNS = {
    "LR 1/4 round": ("tighter", "cross up tightens"),
    "RF +": ("tighter", "stiffer RF coil, re-set, tightens the middle"),
    "RR -": ("tighter", "softer RR coil, re-set, tightens the middle"),
    "bigger bar": ("tighter", "a bigger bar tightens"),
    "panhard +1/2 in": ("looser", "panhard bar up loosens"),
    "RR roll-out": ("looser", "more rear stagger loosens"),
    "LR roll-out": ("tighter", "less rear stagger tightens"),
    "RR ahead": ("tighter", "RR lead tightens"),
}


@pytest.mark.parametrize("start", SIGNS)
def test_near_universal_signs_of_the_trade(check, table: Effects, start: str) -> None:
    word, what = SIGNS[start]
    row = next(row for row in table.rows if row.step.name.startswith(start))
    moved = row.told("middle")
    check.fact(
        moved is not None and moved.verdict == word,
        of=what,
        source="standard chart of adjustments, near-universal rows",
        kind=COMMON_PRACTICE,
        area="balance",
    )


def test_front_brakes_tighten_a_hard_braked_entry(check, base: Packed, assembly: Assembly) -> None:
    along = replace(ENTRY.along, si=-0.7 * 9.80665, text="-0.7 g")
    hard = ENTRY.model_copy(update={"along": along})
    step = [step for step in adjustments(assembly) if step.part == "brakes"]
    (row,) = effects(base, TRACK, CONDITIONS, stations=(hard, MIDDLE), steps=step).rows
    entry, middle = row.told("entry"), row.told("middle")
    assert entry is not None
    assert middle is not None
    check.fact(
        entry.verdict == "tighter" and middle.verdict == "too close to call",
        of="more front brake share tightens a hard-braked entry and does nothing in the middle",
        source="standard chart of adjustments, near-universal rows",
        kind=COMMON_PRACTICE,
        area="balance",
    )


def test_the_strongest_comes_first(table: Effects) -> None:
    sizes = [row.size() for row in table.rows]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] > 20.0 * max(sizes[-1], 1e-9)


def test_the_why_says_what_the_loads_and_the_word_say(table: Effects) -> None:
    row = next(row for row in table.rows if row.step.name.startswith("RR -"))
    told, text = row.told("middle"), row.why("middle")
    assert told is not None
    assert told.loads[2].value > 0.0 > told.loads[3].value
    assert "LR carries" in text
    assert "RR" in text
    assert text.endswith(": tighter.")
    assert f"{100.0 * told.cross.value:+.2f} %" in text
    assert "the front tires hold" in text


def _moved(load: float, cross: float, balance: float) -> Moved:
    band = Band(load)
    return Moved((band, band, band, band), Band(cross), Band(balance), Band(0.0), "looser")


def test_what_rounds_to_nothing_has_no_verdict() -> None:
    assert why(_moved(-0.1, -1e-6, 3e-4)) == "no load moves by a pound, balance by less than 0.05 %."
    assert why(_moved(-0.1, -1e-6, 8e-3)) == "the loads stay: looser."
    assert why(_moved(-0.1, -1e-4, 3e-4)) == "cross -0.01 %, balance by less than 0.05 %."


SENSES = {
    "front tires hold .* more": 1,
    "front tires hold .* less": -1,
    "rear tires hold .* more": -1,
    "rear tires hold .* less": 1,
    "turns it in": 1,
    "holds it out": -1,
}
"""What each thing that happens at the limit does to the balance: looser is positive."""


def contradictions(row: Effect) -> list[str]:
    """Sentences of a step that say another thing than the number beside them."""
    found = []
    for station in row.bolted:
        moved, text = row.told(station), row.why(station)
        assert moved is not None
        number = round(100.0 * moved.balance.value, 2)
        word = re.search(r": (looser|tighter|too close to call)\.$", text)
        wanted = None if not moved.is_seen else "looser" if number > 0.0 else "tighter"
        senses = [sense for pattern, sense in SENSES.items() if re.search(pattern, text)]
        if (word and word[1]) != wanted or (wanted and not all(sense * number > 0.0 for sense in senses)):
            found.append(f"{number:+.2f} {text}")
    return found


@pytest.mark.parametrize("name", ["conventional", "soft_front", "hanging_rr", "light"])
def test_no_sentence_contradicts_its_number(name: str) -> None:
    flat = load_track(DEMO / "track_flat_quarter.toml")
    found = effects(build(assemble(DEMO / f"setup_{name}.toml")), flat, CONDITIONS, stations=(MIDDLE,))
    assert [text for row in found.rows for text in contradictions(row)] == []
    said = " ".join(row.why("middle") for row in found.rows)
    assert sum(bool(re.search(pattern, said)) for pattern in SENSES) >= 4


def test_no_sentence_contradicts_its_number_at_entry_and_exit_either(table: Effects) -> None:
    assert [text for row in table.rows for text in contradictions(row)] == []


def test_the_parts_of_a_balance_make_up_the_whole(check, base: Packed, assembly: Assembly) -> None:
    spot = Spot(track=TRACK, conditions=CONDITIONS, station=MIDDLE)
    car = fueled(base, 0.5, spot)
    limit = tire_limit(car, spot)
    assert limit is not None
    was = at_limit(car, limit.state)
    step = named(assembly, "RR roll-out").reset(base)
    assert step is not None
    now = at_limit(fueled(step, 0.5, spot), limit.state)
    assert was is not None
    assert now is not None
    found = parts(was, now)
    tread = 0.5 * (was.corners["patch_y"][2] - was.corners["patch_y"][3])
    check(
        ours=100.0 * found.pull,
        expected=100.0 * (found.pulled[3] - found.pulled[2]) * tread / was.whole,
        rel=0.05,
        unit="%",
        of="share of the stagger's pull in the balance, from what the rear tires pull at half the tread",
        source="moments about the middle of the car (statics)",
        kind=DERIVED,
        area="balance",
    )
    forces = was.corners["force_y"].sum(), now.corners["force_y"].sum()
    assert abs(found.held.sum() - (forces[1] - forces[0])) < 0.02 * np.abs(found.held).sum()
    assert found.pull > 0.5 * found.balance
    assert abs(found.body) < 0.05 * found.balance, "no weight moved: tires make up the rest"


def test_loads_move_but_their_sum_hardly_does(table: Effects) -> None:
    for row in table.rows:
        moved = row.told("middle")
        if moved is not None and row.step.part in ("springs", "bar", "jack bolts"):
            assert abs(sum(band.value for band in moved.loads)) < 10.0, row.step.name


def test_loads_are_told_where_no_balance_is_found() -> None:
    flat = load_track(DEMO / "track_flat_quarter.toml")
    bare = assemble(DEMO / "setup_no_rr.toml")
    (row,) = effects(
        build(bare), flat, CONDITIONS, stations=(MIDDLE,), steps=[named(bare, "LR 1/4 round")]
    ).rows
    assert "no steady state" not in row.why("middle")
    assert "cross" in row.why("middle")


def test_bands_and_verdicts_of_a_few_steps(base: Packed, assembly: Assembly) -> None:
    steps = [named(assembly, "RR roll-out"), named(assembly, "LF caster")]
    told = effects(base, TRACK, CONDITIONS, stations=(MIDDLE,), steps=steps, draws=16)
    assert told.draws == 16
    stagger, caster = told.rows
    assert stagger.told("middle").verdict == "looser"  # type: ignore[union-attr]
    assert stagger.told("middle").balance.low > 0.0  # type: ignore[union-attr]
    assert caster.told("middle").verdict == "too close to call"  # type: ignore[union-attr]


def test_effects_at_another_fuel(base: Packed, assembly: Assembly) -> None:
    step = [named(assembly, "LR 1/4 round")]
    full = effects(base, TRACK, CONDITIONS, stations=(MIDDLE,), steps=step, fuel_share=1.0)
    empty = effects(base, TRACK, CONDITIONS, stations=(MIDDLE,), steps=step, fuel_share=0.1)
    assert full.speeds["middle"] != empty.speeds["middle"]


def test_every_step_and_then_every_draw_is_told_so_that_a_study_can_be_stopped(
    base: Packed, assembly: Assembly
) -> None:
    steps, heard = adjustments(assembly)[:2], []
    effects(
        base, TRACK, CONDITIONS, stations=(MIDDLE,), steps=steps, progress=lambda *told: heard.append(told)
    )
    assert heard == [(1, 2), (2, 2)]
    heard.clear()
    effects(
        base,
        TRACK,
        CONDITIONS,
        stations=(MIDDLE,),
        steps=steps,
        draws=2,
        progress=lambda *told: heard.append(told),
    )
    assert heard == [(1, 4), (2, 4), (3, 4), (4, 4)]
