"""The free line of the real car: what its envelope rests on, and what its lap must not do."""

from dataclasses import replace

import numpy as np
import pytest
from evidence import COMMON_PRACTICE, DERIVED
from fuzz_documents import DEMO
from scipy.constants import g as GRAVITY

from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import build, with_fuel
from ovalwright.pack.grooves import HALF_CAR
from ovalwright.pack.track import ribbon_of
from ovalwright.road import Ribbon
from ovalwright.road.profile import constant, spline
from ovalwright.study import envelope, free
from ovalwright.study.envelope import BRAKE, DRIVE, ENGINE, FASTER, SLOWER, TURN, Answer, sampled
from ovalwright.study.free import FREE, eased, free_lap
from ovalwright.study.lap import Driver, NoLap
from ovalwright.study.speed import limit
from ovalwright.study.state import engine_of
from ovalwright.vehicle.record import MOTION

DAY = Conditions()
THREE_EIGHTHS, FLAT = DEMO / "track_three_eighths.toml", DEMO / "track_flat_quarter.toml"
SPEEDS = (27.0, 40.0)


@pytest.fixture(scope="module")
def car():
    return with_fuel(build(assemble(DEMO / "setup_conventional.toml")), share=0.8)


@pytest.fixture(scope="module")
def banked(car):
    return free_lap(car, load_track(THREE_EIGHTHS), DAY)


@pytest.fixture(scope="module")
def flat(car):
    return free_lap(car, load_track(FLAT), DAY)


@pytest.fixture(scope="module")
def asked(car):
    return sampled(car, ribbon_of(load_track(THREE_EIGHTHS)), DAY, Driver(use=0.9), SPEEDS)


# ---------------- the envelope


def test_limits_at_held_speed_against_a_path_of_trims(car, check):
    """Steady limits along the branch of trims from low speed, which a search by steps does not follow."""
    asked = envelope._Car(car, DAY, Driver(use=0.95), 1.0, SPEEDS)
    ours, theirs = [], []
    for bank, limit_speed in ((0.0, 25.0), (0.1, 30.0), (0.2, 35.0)):
        asked.go_to(bank, 0.0, 1, limit_speed)
        ours.append(asked._limit())
        motion = np.zeros(1, MOTION)[0]
        for name in ("bank", "curvature", "gravity", "air_density", "grip"):
            motion[name] = asked.motion[name]
        moved = car.record.copy()
        lateral = ours[-1] ** 2 * motion["curvature"] * np.cos(bank) - GRAVITY * np.sin(bank)
        moved["fuel_cg"][1] = asked.tie[envelope.FUEL_SIDE] - asked.tie[envelope.SLOSH] * lateral
        theirs.append(limit(replace(car, record=moved), motion).speed)
    check(ours, theirs, rel=2e-4, unit="m/s", of="limit speeds that the envelope rests on",
          source="pseudo-arclength continuation to the fold (Keller 1977, from memory)", kind=DERIVED,
          area="limit")  # fmt: skip


def rolling_radius(car):
    """Of the rear tires under their static load [m]."""
    tire, load = car.record["tire"][2:], 0.25 * float(car.record["weight"])
    return float((tire["free_radius"] - tire["radius_share"] * load / tire["rate"]).mean())


def test_engine_pushes_what_its_torque_gives(asked, car, check):
    """Newton's law on a level straight, where the torque is near its peak and slip hardly changes it."""
    engine, record, radius = engine_of(car), car.record, rolling_radius(car)
    speed = np.linspace(25.0, 30.0, 5)
    torque = np.interp(speed / radius * engine.gear, engine.speeds, engine.torques)
    spinning = float(record["spin_inertia"].sum() + record["driveline_inertia"]) / radius**2
    mass = float(record["weight"]) / GRAVITY
    rolling = float(record["tire"]["rolling_resistance"].mean()) * GRAVITY * mass
    force = torque * engine.gear * engine.efficiency / radius - rolling
    check(asked.fit.envelope.push(speed), force / (mass + spinning), rel=0.025, unit="m/s^2",
          of="full throttle on a level straight", source="torque, gear and Newton's law, nothing slipping",
          kind=DERIVED, area="gearing")  # fmt: skip


def test_revs_end_at_the_speed_of_the_gear(asked, car, check):
    engine = engine_of(car)
    check(asked.fit.envelope.top, engine.rev_limit / engine.gear * rolling_radius(car), rel=0.015, unit="m/s",
          of="speed of the rev limit", source="revs through the gear times the rolling radius, no slip",
          kind=DERIVED, area="gearing")  # fmt: skip


def test_answers_lie_among_the_laps_and_close_to_the_fit(asked):
    speed, _, _, across, rule = asked.answers.T
    assert speed.min() >= SLOWER * SPEEDS[0] * (1.0 - 1e-12)
    assert speed.max() <= FASTER * SPEEDS[1]
    assert {TURN, DRIVE, ENGINE, BRAKE} == set(rule.astype(int))
    assert (across < 0.0).any()
    assert asked.fit.rms < 0.025
    assert asked.engine_miss < 0.2
    assert len(Answer._fields) == asked.answers.shape[1]


def test_more_grip_used_is_more_push(car, asked):
    wilder = sampled(car, ribbon_of(load_track(THREE_EIGHTHS)), DAY, Driver(use=0.98), SPEEDS)
    speed, gravity = np.full(3, 32.0), np.array([9.0, 12.0, 15.0])
    ratio = wilder.fit.envelope.left(speed, gravity) / asked.fit.envelope.left(speed, gravity)
    assert (ratio > 1.04).all()
    assert (ratio < 0.98 / 0.9).all(), "what turns harder leans harder on its outer tires"


def test_too_few_answers_are_told(car, monkeypatch):
    monkeypatch.setattr(envelope, "ROADS", 9)
    with pytest.raises(
        ValueError, match=r"setup_conventional.toml: on 9 roads like this track's only \d+ limits"
    ):
        sampled(car, ribbon_of(load_track(FLAT)), DAY, Driver(), SPEEDS)


# ---------------- the line


@pytest.mark.parametrize("track", ["banked", "flat"])
def test_never_slower_than_the_grooves_and_inside_the_road(track, request):
    ours = request.getfixturevalue(track)
    assert set(ours.grooves) == {"low", "middle", "high"}
    assert ours.name == FREE
    assert ours.lap.time < min(one.time for one in ours.grooves.values())
    line, ribbon = ours.lap.line, ours.lap.line.ribbon
    assert (ribbon.left(line.spine) - line.offset).min() > 0.99 * HALF_CAR
    assert (ribbon.right(line.spine) + line.offset).min() > 0.99 * HALF_CAR
    assert ours.plan.converged
    assert ours.plan.sweep.gravity.min() > 0.95 * ours.lightest * GRAVITY
    assert "bound" in ours.warning
    assert f"{ours.worth:.2f} s" in ours.warning
    assert "fixed line" in ours.warning


def test_what_the_line_is_worth(banked, flat, check):
    for ours, track in ((banked, "three-eighths at 12 degrees"), (flat, "flat quarter")):
        check.between(ours.worth / ours.grooves["middle"].time, 0.06, 0.11,
            of=f"share of the lap that the free line is worth against the middle, {track}",
            source="point mass on three ovals by collocation: 8.4, 8.5 and 9.6 % against the center line",
            kind=DERIVED, area="lap")  # fmt: skip


def test_free_line_runs_as_drivers_say(banked, flat, check):
    """Out to the wall on the straights, down to the inside in the middle of the turns."""
    for ours, track in ((banked, "three-eighths"), (flat, "flat quarter")):
        ribbon, line = ours.lap.line.ribbon, ours.lap.line
        turning = np.array([section.turning for section in ribbon.sections])
        middles = [
            (s.start + 0.5 * ((s.end - s.start) % ribbon.length)) % ribbon.length for s in ribbon.sections
        ]
        offset = np.interp(middles, line.spine, line.offset, period=ribbon.length) * ribbon.hand
        check.fact(bool((offset[turning] > 0.0).all() and (offset[~turning] < 0.0).all()),
                   of=f"wide on the straights, low in the turns: {track}",
                   source="what every driver is told", kind=COMMON_PRACTICE, area="lap")  # fmt: skip


def test_envelope_and_car_agree_on_the_line(banked, flat):
    """Two computations of one lap: the reduced car swept, the full car solved at every station."""
    assert abs(banked.envelope_miss) < 0.004
    assert abs(flat.envelope_miss) < 0.004


def test_planned_time_is_a_bound(banked, flat):
    for ours in (banked, flat):
        assert ours.plan.planned < ours.lap.time


def test_right_hand_track(car, flat, tmp_path):
    """The car is set up for left turns: the line is mirrored all the same, and the lap is slower."""
    right = tmp_path / "right.toml"
    right.write_text(FLAT.read_text().replace('document = "track"', 'document = "track"\nturns = "right"'))
    ours = free_lap(car, load_track(right), DAY)
    assert ours.lap.line.ribbon.hand == -1
    assert ours.name == FREE
    assert ours.lap.time > flat.lap.time
    turn = int(np.argmax(np.abs(ours.lap.line.curvature)))
    assert ours.lap.line.curvature[turn] < 0.0
    assert ours.lap.line.offset[turn] < 0.0


def test_groove_is_kept_when_no_free_line_is_quicker(car, monkeypatch):
    def no_lap(*_, **__):
        raise NoLap("setup.toml: the car does not get round.")

    monkeypatch.setattr(free, "TRIES", ((1.0, 4.0),))
    monkeypatch.setattr(free, "eased", lambda ribbon, offset, ease: np.full(len(offset), -4.0))
    ours = free_lap(car, load_track(FLAT), DAY)
    assert ours.name == "low"
    assert ours.lap is ours.grooves["low"]
    assert "low groove" in ours.warning
    monkeypatch.setattr(free, "lap", no_lap)
    with pytest.raises(NoLap, match="does not get round"):
        free_lap(car, load_track(FLAT), DAY)


def test_easing_flattens_a_wave_by_its_length(check):
    """The Fourier transform of a bell: a wave keeps exp(-(2 pi ease / length)^2 / 2) of its height."""
    length, waves, ease = 600.0, 12, 9.0
    ribbon = _ring(length, left=constant(5.0, length))
    s = np.linspace(0.0, length, 600, endpoint=False)
    wave = np.cos(2.0 * np.pi * waves * s / length)
    check(np.ptp(eased(ribbon, 3.0 * wave, ease)) / np.ptp(3.0 * wave),
          np.exp(-0.5 * (2.0 * np.pi * waves * ease / length) ** 2), rel=2e-3,
          of="what easing leaves of a wave", source="Fourier transform of the normal density", kind=DERIVED,
          area="lap")  # fmt: skip


def test_eased_line_stays_on_a_road_of_changing_width():
    length = 600.0
    s = np.linspace(0.0, length, 300, endpoint=False)
    ribbon = _ring(length, left=spline(5.0 + 2.0 * np.cos(2.0 * np.pi * s / length), length))
    dice = np.random.default_rng(7)
    for ease in (2.0, 10.0, 40.0):
        share = dice.choice([0.0, 1.0], len(s))
        offset = share * (ribbon.left(s) + ribbon.right(s)) - ribbon.right(s)
        smooth = eased(ribbon, offset, ease)
        assert (smooth <= ribbon.left(s) + 1e-9).all()
        assert (smooth >= -ribbon.right(s) - 1e-9).all()


def _ring(length, left):
    return Ribbon(
        curvature=constant(2.0 * np.pi / length, length),
        bank=constant(0.1, length),
        height=constant(0.0, length),
        left=left,
        right=constant(5.0, length),
        sections=(),
    )
