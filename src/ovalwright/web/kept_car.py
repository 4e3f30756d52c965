"""A kept setup stands on its scale sheet, the one in hand as its parts were bolted in: both, side by side."""

from __future__ import annotations

from ovalwright.pack import Packed, build, rebuilt_as_bolted
from ovalwright.study.state import Loads, loads_of
from ovalwright.study.through import along
from ovalwright.vehicle.record import CORNERS
from ovalwright.web import shares
from ovalwright.web.moment import Moment, pace_of
from ovalwright.web.words import amount


def before_keeping(here: Moment) -> str:
    """What keeping the setup in hand would change."""
    joined = here.tank.joined
    return _told(here, joined.trial.bolted, build(joined.now)) or "Here that is the car as it is bolted in."


def after_keeping(here: Moment) -> str:
    """What keeping changed; the setup in hand was just kept, and the one it came from is behind it."""
    joined = here.tank.joined
    if joined.other is None:
        return ""
    bolted = rebuilt_as_bolted(build(joined.other), joined.base)
    return _told(here, bolted, joined.trial.base) or "It is the car as it was bolted in."


def _told(here: Moment, bolted: Packed, kept: Packed) -> str:
    """Two cars in words, as bolted in and as kept; nothing where they read the same."""
    on_scales = [shares.percent(loads_of(car.weighed.corners()).cross) for car in (bolted, kept)]
    told = [("cross on the scales", *(f"{one} %" for one in on_scales))]
    was, now = (_loads(here, car) for car in (bolted, kept))
    if was is not None and now is not None:
        told.append(("wedge here", *(f"{shares.percent(one.cross)} %" for one in (was, now))))
        most = max(range(4), key=lambda i: abs(now.corners[i] - was.corners[i]))
        told.append(
            (f"{CORNERS[most]} load here", *(amount(one.corners[most], "force") for one in (was, now)))
        )
    if all(before == after for _, before, after in told):
        return ""
    return f"As bolted in, then kept: {'; '.join(f'{what} {a}, then {b}' for what, a, b in told)}."


def _loads(here: Moment, car: Packed) -> Loads | None:
    """What the tires of a car carry at the place; None where there is no steady state."""
    found = along(here.tank.filled(car), pace_of(here.tank.joined), [here.distance], here.tank.passage)
    return loads_of(found.corners[0]) if found.solved[0] else None
