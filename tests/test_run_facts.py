"""Facts of the trade about long races: what rear weight does to the tires, a cool evening to the car."""

from __future__ import annotations

from functools import cache
from importlib import resources

from evidence import COMMON_PRACTICE

from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import build, rebuilt_reset, turn_jack_bolts, with_fuel
from ovalwright.pack.grooves import groove
from ovalwright.pack.track import ribbon_of
from ovalwright.study.run import Run, run
from ovalwright.study.state import loads_of

INCH = 0.0254
LAPS = 40


@cache
def moved(back: float, loose: bool = False) -> tuple[float, Run]:
    """Rear share and a run of the demo car with all its lead moved back [m], heights and cross as before.

    `loose`: with a stiffer RR coil, more rear stagger and less cross, so that its rear gives up first.
    """
    with resources.as_file(resources.files("ovalwright") / "demo") as folder:
        assembly = assemble(folder / "setup_conventional.toml")
        track = load_track(folder / "track_three_eighths.toml")
    places = {
        f"setup.lead[{k}].place": [piece.place.si[0] - back, *piece.place.si[1:]]
        for k, piece in enumerate(assembly.setup.lead, start=1)
    }
    if loose:
        places["setup.RR.coil.rate"] = 1.6 * assembly.setup.RR.coil.rate.si
        places["setup.RR.tire.roll_out"] = assembly.setup.RR.tire.roll_out.si + 1.5 * INCH
    car = rebuilt_reset(build(assembly), assembly, values=places)
    if loose:
        car = turn_jack_bolts(car, {"LF": 2.1, "RF": -2.1, "LR": -3.0, "RR": 3.0})
    ribbon = ribbon_of(track)
    line = ribbon.line(groove(track, ribbon, "middle"))
    rear = loads_of(car.weighed.corners()).rear
    return rear, run(with_fuel(car, share=0.9), line, Conditions(), LAPS)


def test_rear_weight_works_the_rear_tires_of_a_long_run(check) -> None:
    (front_heavy, one), (rear_heavy, other) = moved(-20.0 * INCH), moved(20.0 * INCH)
    assert front_heavy < 0.491 < 0.505 < rear_heavy
    source = "51 % rear weight used up its rear tires in long races, 51 % front weight stayed on them"
    plain = {"source": source, "kind": COMMON_PRACTICE, "area": "run"}
    work = other.of("slid").sum(axis=0) / one.of("slid").sum(axis=0)
    worn = other.laps[-1].wear / one.laps[-1].wear
    check.between(
        100.0 * (work[3] - 1.0), 1.0, 20.0, unit="%", of="work slid away by RR, 2 % more rear", **plain
    )
    check.between(
        100.0 * (work[1] - 1.0), -20.0, -1.0, unit="%", of="work slid away by RF, 2 % more rear", **plain
    )
    check.between(100.0 * (worn[3] - 1.0), 3.0, 50.0, unit="%", of="tread lost by RR, 2 % more rear", **plain)
    drift = [100.0 * (made.laps[-1].balance - made.laps[4].balance) for made in (one, other)]
    check.between(
        drift[1] - drift[0],
        0.2,
        5.0,
        unit="% of grip",
        of=f"how much more the rear-heavy car loosens from lap 5 to {LAPS}",
        **plain,
    )


def test_rear_weight_ends_the_run_of_a_car_that_gives_up_at_the_rear(check) -> None:
    (_, one), (_, other) = moved(-0.5, loose=True), moved(0.5, loose=True)
    source = "51 % rear weight used up its rear tires in long races, 51 % front weight stayed on them"
    plain = {"source": source, "kind": COMMON_PRACTICE, "area": "run", "unit": "s"}
    early = float(other.times[4] - one.times[4])
    late = float(other.times[-1] - one.times[-1])
    check.between(early, -0.05, 0.05, of="2 % more rear on a rear-limited car: lap 5", **plain)
    check.between(late, 0.02, 0.3, of=f"2 % more rear on a rear-limited car: lap {LAPS}", **plain)
    check.between(
        float((other.times - other.times.min())[-1] - (one.times - one.times.min())[-1]),
        0.005,
        0.2,
        of=f"how much more it has fallen off its best by lap {LAPS}",
        **plain,
    )


def test_tires_come_in_within_ten_laps(check) -> None:
    _, made = moved(0.0)
    times = [told.time for told in made.laps]
    check.between(
        times[9] / min(times) - 1.0,
        0.0,
        0.005,
        of="lap 10 of a run on cold tires against its best lap",
        source="crews look for the best lap within the first ten",
        kind=COMMON_PRACTICE,
        area="run",
    )


# ---------------- the evening


@cache
def evening(air: str, surface: str) -> Run:
    """Thirty laps of the demo car in some air on a surface whose grip was left out."""
    with resources.as_file(resources.files("ovalwright") / "demo") as folder:
        car = build(assemble(folder / "setup_conventional.toml"), values={"setup.final_drive": 5.14})
        track = load_track(folder / "track_three_eighths.toml")
    ribbon = ribbon_of(track)
    day = Conditions.model_validate({"document": "conditions", "air": air, "surface": surface})
    return run(with_fuel(car, share=0.75), ribbon.line(groove(track, ribbon, "middle")), day, 30)


def test_grip_comes_back_in_the_evening_and_the_car_tightens(check) -> None:
    hot, cool = evening("90 F", "135 F"), evening("66 F", "80 F")
    plain = {"kind": COMMON_PRACTICE, "area": "run"}
    check.between(
        float(cool.times.min() - hot.times.min()), -0.6, -0.05, unit="s",
        of="best lap of a cool evening less that of a hot afternoon",
        source="a hot surface is slick; grip returns in the evening", **plain,
    )  # fmt: skip
    check.between(
        100.0 * float(cool.laps[4].balance - hot.laps[4].balance), -5.0, -0.2, unit="%",
        of="balance on lap 5, cool evening less hot afternoon, minus is tighter",
        source="the car tightens in the evening", **plain,
    )  # fmt: skip
    assert (cool.laps[-1].tread < hot.laps[-1].tread).all()
