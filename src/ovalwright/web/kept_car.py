"""A kept setup stands on its scale sheet, the one in hand as its parts were bolted in: both, side by side."""

from __future__ import annotations

import numpy as np

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
    was, now = (_loads(here, car) for car in (bolted, kept))
    most = int(np.argmax(np.abs(np.subtract(now.corners, was.corners)))) if was and now else None
    told = _reads(bolted, was, most), _reads(kept, now, most)
    return "" if told[0] == told[1] else f"As bolted in: {told[0]}. As kept: {told[1]}."


def _reads(car: Packed, loads: Loads | None, corner: int | None) -> str:
    """Cross on the scales, wedge at the place, and the load of one corner there."""
    told = f"cross on the scales {shares.percent(loads_of(car.weighed.corners()).cross)} %"
    if loads is None or corner is None:
        return told
    load = amount(loads.corners[corner], "force")
    return f"{told}, wedge here {shares.percent(loads.cross)} %, {CORNERS[corner]} load {load}"


def _loads(here: Moment, car: Packed) -> Loads | None:
    """What the tires of a car carry at the place; None where there is no steady state."""
    found = along(here.tank.filled(car), pace_of(here.tank.joined), [here.distance], here.tank.passage)
    return loads_of(found.corners[0]) if found.solved[0] else None
