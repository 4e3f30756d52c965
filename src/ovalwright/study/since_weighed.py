"""Where the car stands since it was changed after its weighing: computed, and never as good as the scales."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ovalwright.documents import Assembly, Setup
from ovalwright.pack import build, rebuilt_as_bolted
from ovalwright.study.rounds import Stance, stance_now
from ovalwright.vehicle.record import CORNERS


@dataclass(frozen=True)
class SinceWeighed:
    """The car on the scales as it would read now.

    as_bolted: everything stays where it was bolted, the collars too; only what was changed is changed.
    reset: the collars brought back to the weighed heights and cross, then the bolts turned as the setup says.
    """

    as_bolted: Stance
    reset: Stance


def weighed_with(setup: Setup) -> Setup:
    """A setup with its jack bolts as they stood on the scales."""
    none = {"turned": type(setup.LF).model_fields["turned"].get_default(call_default_factory=True)}
    return setup.model_copy(
        update={corner: getattr(setup, corner).model_copy(update=none) for corner in CORNERS}
    )


def since_weighed(weighed: Setup, now: Assembly) -> SinceWeighed:
    """A car that was weighed with one setup on its sheet and has another now.

    Raises DocumentError when it cannot stand so.
    """
    base = build(replace(now, setup=weighed_with(weighed)))
    return SinceWeighed(stance_now(rebuilt_as_bolted(base, now)), stance_now(build(now)))
