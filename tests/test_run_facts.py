"""A fact of the trade about long races: what rear weight does to the rear tires."""

from __future__ import annotations

from functools import cache
from importlib import resources

from evidence import COMMON_PRACTICE

from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import build, rebuilt_reset, with_fuel
from ovalwright.pack.grooves import groove
from ovalwright.pack.track import ribbon_of
from ovalwright.study.run import Run, run
from ovalwright.study.state import loads_of

INCH = 0.0254
LAPS = 40


@cache
def moved(back: float) -> tuple[float, Run]:
    """Rear share and a run of the demo car with all its lead moved back [m], heights and cross as before."""
    with resources.as_file(resources.files("ovalwright") / "demo") as folder:
        assembly = assemble(folder / "setup_conventional.toml")
        track = load_track(folder / "track_three_eighths.toml")
    places = {
        f"setup.lead[{k}].place": [piece.place.si[0] - back, *piece.place.si[1:]]
        for k, piece in enumerate(assembly.setup.lead, start=1)
    }
    car = rebuilt_reset(build(assembly), assembly, values=places)
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
