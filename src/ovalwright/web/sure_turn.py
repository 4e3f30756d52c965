"""How sure the turn is: the bands of the setup in hand, and of what was changed, found as long work."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ovalwright.documents import Assembly, Conditions, Track
from ovalwright.pack import build
from ovalwright.study.bands import INTERACTIVE, MOST_UNSOLVED, Band
from ovalwright.study.compare import compare
from ovalwright.study.sure import how_sure
from ovalwright.web.joined import Joined
from ovalwright.web.long_work import Job, LongWork
from ovalwright.web.moment import FEWEST_GALLONS, capacity


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
    draws: int
    unsolved: int

    @property
    def has_too_few(self) -> bool:
        """Whether so many draws have no steady state that no band is stated."""
        return self.unsolved > MOST_UNSOLVED * self.draws


def sure_turn(
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
    built = sure.draws - sure.failed
    found = []
    for place, row in zip(sure.places, told.rows, strict=True):
        bolted, reset = row.bolted_change, row.reset_change
        unsolved = [place.unsolved, *(one.unsolved for one in (bolted, reset) if one)]
        found.append(
            SurePhase(
                phase=place.station,
                speed=place.speed,
                numbers=place.numbers,
                bolted=bolted.numbers["cross"] if bolted else None,
                bolted_word=bolted.verdict if bolted else "",
                reset=reset.numbers["cross"] if reset else None,
                reset_word=reset.verdict if reset else "",
                draws=built,
                unsolved=round(built * max(unsolved)) if built else 0,
            )
        )
    return tuple(found)


# ---------------- what is known of it by now

WHAT = "turn, how sure"
LOOKED_BACK = 40
"""So many versions of a hand are looked through for bands that were found before a change."""


@dataclass(frozen=True)
class Sureness:
    """Bands of the phases, none where none were found, with so many `gallons`; `is_before` when they are of
    the hand as it was before it was changed last. `job` is under way for the hand as it is, or None.
    """

    phases: tuple[SurePhase, ...] = ()
    gallons: float = 0.0
    is_before: bool = False
    job: Job | None = None

    def of(self, phase: str) -> SurePhase | None:
        """The bands of a phase, where they were found."""
        return next((one for one in self.phases if one.phase == phase), None)


def begin(work: LongWork, joined: Joined, gallons: float) -> Job:
    """Begin to find the bands, or find who does. Raises TooBusy."""
    share = min(gallons / capacity(joined), 1.0)
    documents = (joined.base, joined.now, joined.track, joined.end, share)
    return work.submit(key_of(joined, gallons), sure_turn, *documents, told="Bands of the turn")


def key_of(joined: Joined, gallons: float) -> tuple[object, ...]:
    """What the bands of a hand are kept under."""
    return (*_key(joined, joined.hand.version), gallons)


def evenly(joined: Joined, gallons: float) -> float:
    """A load of fuel as the slider has it [gal]."""
    return min(round(gallons / FEWEST_GALLONS) * FEWEST_GALLONS, capacity(joined))


def sureness(work: LongWork, joined: Joined, gallons: float) -> Sureness:
    """What is known by now of the hand as it is, else as it was last when the bands were found; of several
    loads of fuel the nearest.
    """
    found: dict[object, list[Job]] = {}
    for job in work.jobs():
        if isinstance(job.key, tuple) and job.key[0] == WHAT:
            found.setdefault(job.key[:-1], []).append(job)
    if not found:
        return Sureness()
    hand = joined.hand
    now = _key(joined, hand.version)
    under_way = next((job for job in found.get(now, ()) if not job.is_over), None)
    for version in range(hand.version, max(hand.version - LOOKED_BACK, -1), -1):
        key = _key(joined, version)
        done = [job for job in found.get(key, ()) if job.state == "done"]
        if done:
            nearest = min(done, key=lambda job: abs(_gallons(job) - gallons))
            return Sureness(nearest.answer, _gallons(nearest), key != now, under_way)
    return Sureness(job=under_way)


def _key(joined: Joined, version: int) -> tuple[object, ...]:
    return (WHAT, *joined.key_at(version), joined.end)


def _gallons(job: Job) -> float:
    assert isinstance(job.key, tuple)
    return float(job.key[-1])
