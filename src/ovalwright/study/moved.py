"""What a step does at a place, and why in one sentence from the solver's own numbers, in US units."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ovalwright.units import KINDS, LBF, show
from ovalwright.vehicle.record import CORNERS

from .at_limit import Parts
from .bands import Band
from .compare import NO_ANSWER

HARDLY = 5e-5
"""Change of cross share that rounds to nothing."""
UNSEEN = 5e-4
"""Change of balance that rounds to nothing where a balance is told to a tenth of a percent."""
ON_THE_FRAME = 40.0
"""Load lost by the four tires together [N] that must have gone onto the frame."""
LEANS = math.radians(0.01)
"""Change of lean that is told."""
AXLES = {"front": (0, 1), "rear": (2, 3)}


@dataclass(frozen=True)
class Moved:
    """What a step does at one station: changes of the four loads [N], of cross (share), of balance (share of
    weight x wheelbase, negative: tighter), its wedge equivalent (static cross share), the word for it, and
    what the change of balance is made of (None: not worked out, or not found).
    """

    loads: tuple[Band, Band, Band, Band]
    cross: Band
    balance: Band
    wedge: Band
    verdict: str
    parts: Parts | None = None

    @property
    def is_seen(self) -> bool:
        """Whether the balance changes by more than rounds to nothing, or is not known."""
        return not abs(self.balance.value) < UNSEEN


def why(moved: Moved) -> str:
    """What the loads do, what follows at the limit of the tires, and the word."""
    changes = [band.value for band in moved.loads]
    if not all(math.isfinite(change) for change in changes):
        return "no steady state at this speed."
    loads = _loads(changes, moved.cross.value)
    if not moved.is_seen:
        return f"{loads or 'no load moves by a pound'}, balance by less than 0.05 %."
    word = "balance not found at this limit" if moved.verdict == NO_ANSWER else moved.verdict
    follows, is_cause = _at_the_limit(moved.parts, max(map(abs, changes))) if moved.parts else ("", False)
    clauses = [clause for clause in ("" if is_cause else loads, follows) if clause]
    return f"{'; '.join(clauses) or 'the loads stay'}: {word}."


# ---------------- what the loads do


def _loads(changes: Sequence[float], cross: float) -> str:
    """Who carries more and less, and cross; nothing where none of it can be seen."""
    percent = f"cross {100.0 * cross:+.2f} %".replace("-0.00", "0.00").replace("+0.00", "0.00")
    if not any(map(_told, changes)):
        return "" if abs(cross) < HARDLY else percent
    up, down = int(np.argmax(changes)), int(np.argmin(changes))
    told = [f"{CORNERS[up]} carries {_pounds(changes[up])} more"] if _told(changes[up]) else []
    if _told(changes[down]):
        told.append(f"{CORNERS[down]} {'' if told else 'carries '}{_pounds(changes[down])} less")
    return f"{', '.join(told)}, {_on_the_frame(changes)}{percent}"


def _on_the_frame(changes: Sequence[float]) -> str:
    """What the tires lose together, a frame on the road takes."""
    lost = -sum(changes)
    return "" if lost < ON_THE_FRAME else f"the frame on the road takes {_pounds(lost)}, "


# ---------------- what follows at the limit


def _at_the_limit(found: Parts, load: float) -> tuple[str, bool]:
    """The part that made most of the change, in words, and whether it came of itself rather than of the
    loads, of which the greatest changes by `load` [N].
    """
    sense = math.copysign(1.0, found.balance)
    sizes = {name: sense * getattr(found, name) for name in ("front", "rear", "pull", "body")}
    name = max(sizes, key=lambda key: sizes[key])
    if name == "pull":
        return _pull(found, sense), bool(np.abs(found.pulled).max() > load)
    if name == "body":
        return f"where the weight sits {_turns(sense)}", False
    return _holds(found, name)


def _pull(found: Parts, sense: float) -> str:
    """Which two tires pull apart most, and where that turns the car."""
    ahead, back = int(np.argmax(found.pulled)), int(np.argmin(found.pulled))
    more, less = found.pulled[ahead], -found.pulled[back]
    pulls = [f"{CORNERS[ahead]} pulls {_pounds(more)} more ahead"] if _told(more) else []
    pulls += [f"{CORNERS[back]} {'' if pulls else 'pulls '}{_pounds(less)} less"] if _told(less) else []
    return f"{', '.join(pulls)}, which {_turns(sense)}" if pulls else f"the tires' pull {_turns(sense)}"


def _turns(sense: float) -> str:
    return "turns it in" if sense > 0.0 else "holds it out"


def _holds(found: Parts, axle: str) -> tuple[str, bool]:
    """The tires of an axle that together hold more or less, and why."""
    both = list(AXLES[axle])
    total, by_lean = float(found.held[both].sum()), float(found.by_lean[both].sum())
    much = _pounds(abs(total)) if _told(total) else "under a pound"
    holds = f"the {axle} tires hold {much} {'more' if total > 0.0 else 'less'}"
    corner = both[int(np.argmax(np.abs(found.by_lean[both])))]
    lean = float(found.lean[corner])
    if by_lean * total <= 0.0 or abs(by_lean) < 0.5 * abs(total) or abs(lean) < LEANS:
        return holds, False
    toward = "into" if lean > 0.0 else "out of"
    return f"{CORNERS[corner]} leans {math.degrees(abs(lean)):.2f} deg more {toward} the turn; {holds}", True


def _told(force: float) -> bool:
    return abs(force) >= 0.5 * LBF


def _pounds(force: float) -> str:
    return show(abs(force), KINDS["force"])
