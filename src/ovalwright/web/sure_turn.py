"""How sure the turn is: the bands of the setup in hand, and of what was changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ovalwright.documents import Assembly, Conditions, Track
from ovalwright.pack import build
from ovalwright.study.bands import INTERACTIVE, MOST_UNSOLVED, Band
from ovalwright.study.compare import compare
from ovalwright.study.sure import how_sure


@dataclass(frozen=True)
class SurePhase:
    """Bands at entry, middle or exit: numbers of the setup in hand by name (`study.reading.NUMBERS`), and
    what was changed does to wedge, with its verdict, as bolted in and re-set; None where nothing is. In up to
    `unsolved` of the `draws` there is no steady state of the setup in hand, or of the base beside it.
    """

    phase: str
    speed: float
    numbers: dict[str, Band]
    bolted: Band | None
    bolted_word: str
    reset: Band | None
    reset_word: str


def sure_turn(
    draws: int
    unsolved: int

    @property
    def has_too_few(self) -> bool:
        """Whether so many draws have no steady state that no band is stated."""
        return self.unsolved > MOST_UNSOLVED * self.draws
    base: Assembly,
    now: Assembly,
    track: Track,
    end: int,
    share: float,
    *,
    progress: Callable[[int, int], None],
) -> tuple[SurePhase, ...]:
    """The bands at one share of the fuel cell, 2 % under the limits. Raises DocumentError."""
    day, draws = Conditions(), INTERACTIVE
    sure = how_sure(
        build(now), track, day, fuels=(share,), end=end, draws=draws,
        progress=lambda done, _: progress(done, 2 * draws),
    )  # fmt: skip
    told = compare(
        build(base), now, track, day, fuels=(share,), end=end, draws=draws,
        progress=lambda done, _: progress(draws + done, 2 * draws),
    )  # fmt: skip
    found = []
    for place, row in zip(sure.places, told.rows, strict=True):
        bolted, reset = row.bolted_change, row.reset_change
    built = sure.draws - sure.failed
        found.append(
            SurePhase(
                phase=place.station,
        unsolved = [place.unsolved, *(one.unsolved for one in (bolted, reset) if one)]
                speed=place.speed,
                numbers=place.numbers,
                bolted=bolted.numbers["cross"] if bolted else None,
                bolted_word=bolted.verdict if bolted else "",
                reset=reset.numbers["cross"] if reset else None,
                reset_word=reset.verdict if reset else "",
            )
        )
    return tuple(found)
                draws=built,
                unsolved=round(built * max(unsolved)) if built else 0,
