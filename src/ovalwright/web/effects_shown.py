"""Every step in words and on its axes: tight to the left, loose to the right, one scale for all."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from ovalwright.study.adjustments import TO_BUY
from ovalwright.study.bands import Band
from ovalwright.study.compare import WITHIN_BAND
from ovalwright.study.moved import Moved
from ovalwright.units import KINDS, show
from ovalwright.web import shares
from ovalwright.web.effects_table import PLACES, EffectsTable, OneStep
from ovalwright.web.effects_timed import LAPS, NO_BAND
from ovalwright.web.words import NOTHING

Sort = Literal["entry", "middle", "exit", "lap", "run", "name"]
WIDE = 176.0
"""Width of an axis [px]."""
EDGE = 14.0
"""What of it is left free at each end [px]."""
LINES = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
"""Steps of the axis [% of weight x wheelbase]."""
LINES_A_SIDE = 3
MOST_BEYOND = 0.03
"""Share of the marks that may lie beyond the ends of the axis, where their number stands."""
TO_A_LAP, TO_A_RUN = 0.005, 0.2
"""Changes of a lap and of a run [s] that are nothing: a run is as many laps."""
AT = {"entry": "On entry", "middle": "In the middle", "exit": "On exit"}
SETS_ITSELF = "sets height or cross itself: not re-set"


@dataclass(frozen=True)
class Mark:
    """One reading on an axis: `at` and the ends of its band [px], its words, or why there is none; `beyond`
    -1 or +1 where it lies off that end of the axis.
    """

    at: float
    low: float
    high: float
    said: str
    missing: str = ""
    beyond: int = 0


@dataclass(frozen=True)
class Axis:
    """One station of one step: as bolted in over re-set, and the word that counts."""

    place: str
    bolted: Mark
    reset: Mark
    word: str


@dataclass(frozen=True)
class Time:
    """A change of time: the one that counts, half its band, and as bolted in where that is another; `is_sure`
    unless its band reaches over nought.
    """

    said: str
    bolted: str
    band: str = ""
    is_sure: bool = True


@dataclass(frozen=True)
class Row:
    """One adjustment in words; `word` is what it is sorted by, else the verdict in the middle."""

    name: str
    part: str
    to_buy: bool
    axes: tuple[Axis, ...]
    middle: Axis
    word: str
    loads: tuple[str, str, str, str]
    lap: Time
    run: Time
    why: str
    problem: str


@dataclass(frozen=True)
class Tick:
    """A line of the axis [px], and its figure."""

    at: float
    said: str


@dataclass(frozen=True)
class Scale:
    """The axis of all rows: a line each `line` percent."""

    line: float

    def across(self, percent: float) -> float:
        """Where a change of balance [%] stands [px], held to the ends."""
        half = WIDE / 2 - EDGE
        place = WIDE / 2 + half * percent / (LINES_A_SIDE * self.line)
        return round(min(max(place, EDGE), WIDE - EDGE), 1)

    def beyond(self, percent: float) -> int:
        """Off which end it lies, 0 off none."""
        most = LINES_A_SIDE * self.line * 1.001
        return (percent > most) - (percent < -most)

    @property
    def ticks(self) -> tuple[Tick, ...]:
        """The lines, the two outer ones with their figures."""
        found = []
        for k in range(-LINES_A_SIDE, LINES_A_SIDE + 1):
            said = shares.signed(f"{k * self.line:g}") if abs(k) == LINES_A_SIDE else ""
            found.append(Tick(self.across(k * self.line), said))
        return tuple(found)


def scale_of(table: EffectsTable) -> Scale:
    """The finest axis that holds nearly all marks."""
    ways = [way for row in table.rows for way in (row.bolted, row.reset or {})]
    sizes = [100.0 * abs(moved.balance.value) for way in ways for moved in way.values()]
    seen = sorted(size for size in sizes if math.isfinite(size))
    if not seen:
        return Scale(LINES[0])
    most = seen[min(int((1.0 - MOST_BEYOND) * len(seen)), len(seen) - 1)]
    return Scale(next((step for step in LINES if LINES_A_SIDE * step >= most), LINES[-1]))


def is_seen(row: OneStep) -> bool:
    """Whether a step does anything that does not round to nothing, anywhere, either way; a jack bolt is
    always shown.
    """
    if row.turned:
        return True
    moved = [one for way in (row.bolted, row.reset or {}) for one in way.values()]
    times = [(time, TO_A_LAP) for time in row.lap] + [(time, TO_A_RUN) for time in row.run]
    return bool(row.problem) or any(one.is_seen for one in moved) or any(abs(t) >= nil for t, nil in times)


def makes(row: OneStep, sort: Sort) -> str:
    """`looser` or `tighter` at the station that is sorted by, else in the middle; nothing where neither."""
    moved = row.told(sort if sort in PLACES else "middle")
    return moved.verdict if moved is not None and moved.is_seen else ""


def rank(row: OneStep, sort: Sort) -> tuple[float, str]:
    """Where a step stands: the strongest first, times by what they win, names by the alphabet."""
    if sort == "name":
        return 0.0, row.name
    if sort in ("lap", "run"):
        change = row.counts(row.lap if sort == "lap" else row.run)
        return (change if math.isfinite(change) else math.inf), row.name
    moved = row.told(sort)
    value = moved.balance.value if moved else math.nan
    return (-abs(value) if math.isfinite(value) else math.inf), row.name


def rows_of(table: Sequence[OneStep], scale: Scale, sort: Sort) -> Iterator[Row]:
    """Steps in words, in their order."""
    for row in sorted(table, key=lambda one: rank(one, sort)):
        axes = tuple(_axis(row, place, scale) for place in PLACES)
        yield Row(
            name=shares.true_minus(row.name),
            part=row.part,
            to_buy=row.where == TO_BUY,
            axes=axes,
            middle=axes[PLACES.index("middle")],
            word=_sorted_by(row, axes, sort),
            loads=_loads(row.told("middle")),
            lap=_time(row, row.lap, 2, row.lap_band),
            run=_time(row, row.run, 1),
            why=_why(row, sort),
            problem=row.problem,
        )


def _sorted_by(row: OneStep, axes: Sequence[Axis], sort: Sort) -> str:
    if sort == "lap" and math.isfinite(row.counts(row.lap)):
        return f"a lap {shares.seconds(row.counts(row.lap))} s"
    if sort == "run" and math.isfinite(row.counts(row.run)):
        return f"{LAPS} laps {shares.seconds(row.counts(row.run), 1)} s"
    return axes[PLACES.index(sort if sort in PLACES else "middle")].word


def _why(row: OneStep, sort: Sort) -> str:
    """Why, at the station it is sorted by or else in the middle; where nothing is seen there, at the station
    where it does most; and where re-setting leaves nothing at all, as bolted in.
    """
    wanted = sort if sort in PLACES else "middle"
    place = _tells(row.reset or row.bolted, wanted)
    if place:
        said, begins = row.why[place], "" if place == wanted else f"{AT[place]}: "
    elif row.reset and (place := _tells(row.bolted, wanted)):
        at = "" if place == wanted else f" {AT[place].lower()}"
        said, begins = row.why_bolted[place], f"Re-set, hardly anything; as bolted in{at}: "
    else:
        said, begins = row.why[wanted], ""
    said = shares.true_minus(f"{begins}{said}").replace(" %", "\N{NO-BREAK SPACE}%")
    name, change = row.section
    if abs(change) >= TO_A_LAP and not place:
        said += f" Of the lap: {shares.seconds(change)} s in {name}."
    return said[:1].upper() + said[1:]


def _tells(way: Mapping[str, Moved], wanted: str) -> str:
    """The station to tell of: the wanted one, else where most happens; nothing where nothing is seen."""
    sizes = {name: abs(moved.balance.value) for name, moved in way.items() if moved.is_seen}
    return wanted if wanted in sizes else max(sizes, key=lambda name: sizes[name], default="")


def _loads(moved: Moved | None) -> tuple[str, str, str, str]:
    if moved is None:
        return ("", "", "", "")
    lf, rf, lr, rr = (_pounds(band) for band in moved.loads)
    return lf, rf, lr, rr


def _pounds(band: Band) -> str:
    if not math.isfinite(band.value):
        return NOTHING
    return shares.signed(show(band.value, KINDS["force"]).removesuffix(" lb"))


def _time(row: OneStep, ways: tuple[float, float], places: int, band: Band = NO_BAND) -> Time:
    counts, bolted = (shares.seconds(time, places) for time in (row.counts(ways), ways[0]))
    has_band = math.isfinite(band.low)
    half = shares.half_band(band, 1.0, places) if has_band else ""
    return Time(counts, "" if bolted == counts else bolted, half, band.sure_of_sign or not has_band)


def _axis(row: OneStep, place: str, scale: Scale) -> Axis:
    return Axis(
        place=place,
        bolted=_mark(row.bolted.get(place), scale, row.problem),
        reset=_mark(row.reset.get(place), scale, row.problem)
        if row.reset is not None
        else Mark(0.0, 0.0, 0.0, "", row.problem or SETS_ITSELF),
        word=_word(row.told(place)),
    )


def _word(moved: Moved | None) -> str:
    """The verdict with its size: `looser 0.41 %`."""
    if moved is None or not math.isfinite(moved.balance.value):
        return "no answer"
    if moved.verdict == WITHIN_BAND:
        return WITHIN_BAND
    return f"{moved.verdict} {abs(100.0 * moved.balance.value):.2f} %" if moved.is_seen else "hardly anything"


def _mark(moved: Moved | None, scale: Scale, problem: str) -> Mark:
    if moved is None or not math.isfinite(moved.cross.value):
        return Mark(0.0, 0.0, 0.0, "", problem or "no steady state here")
    band = moved.balance
    if not math.isfinite(band.value):
        return Mark(0.0, 0.0, 0.0, "", "no balance found here")
    percent = 100.0 * band.value
    at = scale.across(percent)
    has_band = math.isfinite(band.low)
    low, high = (scale.across(100.0 * end) if has_band else at for end in (band.low, band.high))
    half = shares.half_band(band, places=2)
    said = f"{shares.change_percent(band.value, 2)} % {half}".strip()
    return Mark(at, low, high, said, beyond=scale.beyond(percent))
