"""What the page of the turn holds: texts ready to show, and drawings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from markupsafe import Markup

from ovalwright.web.controls_shown import Group, Shown
from ovalwright.web.kept_car import Keeping
from ovalwright.web.looking import Looking, View
from ovalwright.web.page import Page

USUAL = Looking()


@dataclass(frozen=True)
class Fact:
    """A number with its label: `said` with its unit, `more` below it in small, `what` to ask where from."""

    label: str
    said: str
    unit: str = ""
    more: str = ""
    what: str = ""


@dataclass(frozen=True)
class Picture:
    """A view of the car, with a `hint` on how to read it; `other` is the second setup beside it. Empty where
    nothing was solved.
    """

    name: View
    title: str
    hint: str
    svg: Markup
    other: Markup


@dataclass(frozen=True)
class CornerLine:
    """One corner in the table for a reader, and below the fold."""

    corner: str
    load: str
    other: str
    coil: str
    stop: str
    camber: str
    travel: str
    used: str


@dataclass(frozen=True)
class Pair:
    """What was changed does to wedge and balance, as bolted in and re-set, and why; `of` what, and half the
    bands of the wedges where they are known.
    """

    of: str
    wedge_bolted: str
    bolted_give: str
    wedge_reset: str
    reset_give: str
    balance_bolted: str
    balance_reset: str
    why: str
    hanging: str


@dataclass(frozen=True)
class Jump:
    """A link to a phase of the turn over its part of the strip [px], with its key and its place [ft]."""

    name: str
    path: str
    key: str
    feet: int
    left: float
    width: float
    is_here: bool


@dataclass(frozen=True)
class SureShown:
    """How sure it is, or how to find out: what stands on the `button` that asks for bands, or else on a link
    to the page about them; `is_working` while they are found.
    """

    button: str = ""
    link: str = ""
    path: str = ""
    is_working: bool = False


@dataclass(frozen=True)
class Now:
    """All that moves with the thumb; `against` says what the setup drawn behind has. `reason` says why there
    is no state, and then there are no numbers.
    """

    facts: tuple[Fact, ...]
    sure: SureShown
    against: str
    pictures: tuple[Picture, ...]
    loads: Markup
    strip: Markup
    fuel_lanes: Markup
    corners: tuple[CornerLine, ...]
    body: tuple[Fact, ...]
    clearances: tuple[Fact, ...]
    warnings: tuple[str, ...]
    pair: Pair | None
    at_aloud: str
    fuel_aloud: str
    phase: str
    feet: float
    gallons: float
    jumps: tuple[Jump, ...]
    strip_width: float
    reason: str = ""


@dataclass(frozen=True)
class Slider:
    """A slider: name, label, where it stands and between what, in steps."""

    name: str
    label: str
    value: float
    most: float
    step: float


@dataclass(frozen=True)
class Choice:
    """A setup or a track to take: its code, its name, whether it is taken."""

    code: str
    name: str
    taken: bool


@dataclass(frozen=True)
class Pressed:
    """One change that stands: how it is said and by whom."""

    said: str
    by: str


@dataclass(frozen=True)
class ClashShown:
    """Another phone was quicker: what it did, and what was pressed here, perhaps on another setup."""

    theirs: str
    mine: str
    press: str
    seen: int
    is_other_setup: bool


@dataclass(frozen=True, kw_only=True)
class TurnPage(Page):
    """The turn with a setup in hand; `empty` says what is missing when there is none."""

    template: ClassVar[str] = "turn.html"
    empty: str = ""
    trouble: str = ""
    uid: str = ""
    version: int = 0
    base: str = ""
    hand: str = ""
    hands: tuple[Choice, ...] = ()
    setup: str = ""
    newer: str = ""
    """Setups of the same car that were kept since the base in hand, by their codes."""
    behind: str = ""
    track: str = ""
    looking: Looking = USUAL
    now: Now | None = None
    at: Slider | None = None
    fuel: Slider | None = None
    first: tuple[Shown, ...] = ()
    under_keys: str = ""
    groups: tuple[Group, ...] = ()
    control_count: int = 0
    changed: tuple[str, ...] = ()
    keeping: Keeping | None = None
    undoes: str = ""
    presses: tuple[Pressed, ...] = ()
    setups: tuple[Choice, ...] = ()
    others: tuple[Choice, ...] = ()
    tracks: tuple[Choice, ...] = ()
    ends: tuple[Choice, ...] = ()
    clash: ClashShown | None = None
    reason_typed: str = ""
    name_typed: str = ""
    stands: str = ""
    mistake: str = ""
    is_fragment: bool = False

    @property
    def looking_now(self) -> Looking:
        """How it is looked at, for what comes back to the same place."""
        if self.now is None:
            return self.looking
        return replace(self.looking, at=self.now.feet, fuel=self.now.gallons)
