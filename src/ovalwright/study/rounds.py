"""Jack bolts: how many rounds at each corner bring the car to a wanted cross weight and wanted ride heights.

The car is let settle with its bolts turned; nothing is taken from a rule of thumb. Bolts are turned in
quarter rounds. Positive rounds load the coil: they raise that corner and put weight on it.

Heights in meters, loads in newtons, cross as a fraction of one, corners LF RF LR RR.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import numpy.typing as npt

from ovalwright.corners import CORNERS
from ovalwright.pack import Moment, Packed, Standing, at_moment, turn_jack_bolts

Array = npt.NDArray[np.float64]
QUARTER = 0.25
"""Bolts are turned in quarter rounds."""
CROSS_CLOSE = 0.001
"""Cross is wanted as near as this (a tenth of a percent; judgement, no source)."""
HEIGHT_CLOSE = 0.0254 / 16.0
"""Heights are wanted as near as this [m] (1/16 in, common practice, no source)."""
TURNING = 1e-3
"""What a whole round costs beside a miss of one of these: the plan that turns less is taken of two alike."""
MOST_ROUNDS = 12.0
_PASSES = 4


@dataclass(frozen=True, kw_only=True)
class Stance:
    """A standing car: loads [N], heights [m], both LF RF LR RR, and how far each coil hangs [m], 0 seated."""

    loads: Array
    heights: Array
    gaps: Array

    @property
    def cross(self) -> float:
        """Cross weight, share of the total."""
        return float((self.loads[1] + self.loads[2]) / self.loads.sum())

    @property
    def bite(self) -> float:
        """LR less RR [N]."""
        return float(self.loads[2] - self.loads[3])


@dataclass(frozen=True, kw_only=True)
class Round:
    """What one round at a corner does: change of cross (fraction of one) and of the four heights [m]."""

    cross: float
    heights: Array


@dataclass(frozen=True, kw_only=True)
class RoundsPlan:
    """Rounds by corner, the car before and after, what one round at each corner does, bolts that do nothing.

    `cross` and `heights` are what was wanted; `hooked` whether the sway bar is hooked up meanwhile.
    """

    rounds: Mapping[str, float]
    before: Stance
    after: Stance
    cross: float
    heights: Array
    per_round: Mapping[str, Round]
    idle: tuple[str, ...]
    hooked: bool

    @property
    def cross_miss(self) -> float:
        """Cross reached less cross wanted."""
        return self.after.cross - self.cross

    @property
    def height_miss(self) -> Array:
        """Heights reached less heights wanted [m]."""
        return self.after.heights - self.heights

    @property
    def reached(self) -> bool:
        """Whether cross and heights come as near as quarter rounds are asked to bring them."""
        near = abs(self.cross_miss) <= 2.0 * CROSS_CLOSE
        return near and bool(np.all(np.abs(self.height_miss) <= 2.0 * HEIGHT_CLOSE))


def plan_rounds(
    packed: Packed,
    *,
    cross: float | None = None,
    heights: Mapping[str, float] | None = None,
    hooked: bool | None = None,
) -> RoundsPlan:
    """Quarter rounds at each corner for a wanted `cross` and wanted `heights` [m]; what is not named stays.

    `hooked` says whether the bar is hooked up while the bolts are turned; left out, as it was on the sheet.
    The settled car is solved again for every plan weighed, its answer to one round found on the way. Raises
    DocumentError when the car cannot stand so, or when no bolt carries anything.
    """
    sheet = packed.assembly.sheet
    hooked = sheet.bar_hooked if hooked is None else hooked
    base = _hooked(packed, hooked)
    start = _stance(base.standing)
    want_cross = start.cross if cross is None else cross
    want_heights = start.heights.copy()
    for corner, height in (heights or {}).items():
        want_heights[CORNERS.index(corner)] = height
    goal = np.array([want_cross / CROSS_CLOSE, *(want_heights / HEIGHT_CLOSE)])
    can = [i for i, corner in enumerate(CORNERS) if getattr(packed.assembly.setup, corner).coil is not None]
    turns = _search(base, goal, can)
    after = _stance(_turned(base, turns))
    effects = _per_round(base, turns, can)
    idle = tuple(CORNERS[i] for i in range(4) if i not in can or abs(effects[CORNERS[i]].cross) < 1e-6)
    return RoundsPlan(
        rounds=dict(zip(CORNERS, turns.tolist(), strict=True)),
        before=start,
        after=after,
        cross=want_cross,
        heights=want_heights,
        per_round=effects,
        idle=idle,
        hooked=hooked,
    )


def stance_now(packed: Packed) -> Stance:
    """The car on its scales with its jack bolts as they are now."""
    return _stance(packed.weighed)


def _hooked(packed: Packed, hooked: bool) -> Packed:
    """The car on its scales, tires as weighed, with the bar hooked up or not."""
    setup = packed.assembly.setup
    if setup.bar is not None and setup.bar.hooked != hooked:
        bar = setup.bar.model_copy(update={"hooked": hooked})
        setup = setup.model_copy(update={"bar": bar})
    assembly = replace(packed.assembly, setup=setup)
    moment = Moment(driver=packed.assembly.sheet.driver, hot=False)
    return at_moment(replace(packed, assembly=assembly), moment)


def _turned(base: Packed, turns: Array) -> Standing:
    return turn_jack_bolts(base, dict(zip(CORNERS, turns.tolist(), strict=True))).standing


def _stance(standing: Standing) -> Stance:
    corners = standing.corners()
    hung = np.where(standing.record["coil_rate"] > 0.0, np.maximum(corners["coil_gap"], 0.0), 0.0)
    return Stance(loads=corners["load"].copy(), heights=corners["height"].copy(), gaps=hung)


def _measured(base: Packed, turns: Array) -> Array:
    """Cross and the four heights in units of what is near enough."""
    stance = _stance(_turned(base, turns))
    return np.array([stance.cross / CROSS_CLOSE, *(stance.heights / HEIGHT_CLOSE)])


def _slopes(base: Packed, turns: Array, can: list[int]) -> Array:
    """Change of the five measures per round of each bolt, by half a round either way."""
    columns = np.zeros((5, 4))
    for i in can:
        step = np.zeros(4)
        step[i] = 0.5
        columns[:, i] = _measured(base, turns + step) - _measured(base, turns - step)
    return columns


def _per_round(base: Packed, turns: Array, can: list[int]) -> dict[str, Round]:
    slopes = _slopes(base, turns, can)
    return {
        corner: Round(cross=float(slopes[0, i]) * CROSS_CLOSE, heights=slopes[1:, i] * HEIGHT_CLOSE)
        for i, corner in enumerate(CORNERS)
    }


def _search(base: Packed, goal: Array, can: list[int]) -> Array:
    """The quarter rounds that come nearest: Gauss-Newton on the settled car, then its whole neighborhood."""
    turns = np.zeros(4)
    for _ in range(_PASSES):
        slopes = _slopes(base, turns, can)
        miss = goal - _measured(base, turns)
        step = np.linalg.lstsq(slopes[:, can], miss, rcond=1e-9)[0] if can else np.zeros(0)
        turns[can] = np.clip(turns[can] + step, -MOST_ROUNDS, MOST_ROUNDS)
        if len(can) == 0 or np.max(np.abs(step)) < 0.02:
            break
    return _nearest_quarters(base, turns, goal, can)


def _nearest_quarters(base: Packed, turns: Array, goal: Array, can: list[int]) -> Array:
    """Of the quarters around the exact rounds, the best by the settled car's own slopes, then by settling."""
    slopes, here = _slopes(base, turns, can), _measured(base, turns)
    low = np.floor(turns / QUARTER)
    around = []
    for offset in product((-1, 0, 1, 2), repeat=len(can)):
        quarters = np.zeros(4)
        quarters[can] = (low[can] + np.array(offset)) * QUARTER
        miss = here + slopes @ (quarters - turns) - goal
        around.append((float(miss @ miss + TURNING * np.abs(quarters).sum()), tuple(quarters)))
    best = sorted(around)[:6]

    def settled_miss(quarters: tuple[float, ...]) -> float:
        miss = _measured(base, np.array(quarters)) - goal
        return float(miss @ miss + TURNING * np.abs(quarters).sum())

    return np.array(min((quarters for _, quarters in best), key=settled_miss))
