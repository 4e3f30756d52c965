"""One run of the notebook: what was in the car, its laps, what was read off it, what was said and decided."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from markupsafe import Markup
from sqlalchemy.orm import Session

from ovalwright.corners import CORNERS
from ovalwright.documents import DocumentError, TimedLap
from ovalwright.notebook import runs
from ovalwright.notebook.asked.words_against import words_against
from ovalwright.notebook.garage.parts import time_told
from ovalwright.notebook.runs import THIRDS, Read, RunRecord, Said
from ovalwright.notebook.tables import Run
from ovalwright.notebook.typed import entering
from ovalwright.notebook.typed.came_back import set_down_of, sign_said, stands_said
from ovalwright.notebook.typed.set_down_line import DRIVER, FUEL
from ovalwright.pictures.svg import Sheet
from ovalwright.web.shares import balance
from ovalwright.web.troubles import sentence
from ovalwright.web.words import amount, counted, step

FEWEST_DRAWN, MOST_DRAWN = 4, 400
"""Laps that are worth a drawing, and that fit in one."""
MOST_TOLD = 4
"""Laps above the drawing that are told one by one."""
WIDE, HIGH, EDGE, LEFT = 360.0, 120.0, 24.0, 66.0
"""Size of the drawing of the laps, and what is left free around them and at their left [px]."""


@dataclass(frozen=True)
class Fact:
    """Something known of a run."""

    name: str
    said: str


@dataclass(frozen=True)
class LapCell:
    """One lap: its number, its time, and what was said of it, such as its flag where it was not green."""

    number: int
    time: str
    flag: str
    is_best: bool


@dataclass(frozen=True)
class TireCell:
    """What was read off one tire: from the inside out, pressures, its mark."""

    corner: str
    mark: str
    temperatures: tuple[str, ...]
    pressures: str


@dataclass(frozen=True)
class MovedRow:
    """One thing that was measured when the car came back, against what its setup makes expect."""

    name: str
    expected: str
    measured: str
    by: str
    has_moved: bool


@dataclass(frozen=True)
class SetDown:
    """What was measured when the car came back; `rows` None until they are asked for, `reason` if never."""

    read: tuple[Fact, ...]
    rows: tuple[MovedRow, ...] | None = None
    signs: tuple[str, ...] = ()
    reason: str = ""


@dataclass(frozen=True)
class Computed:
    """One thing that he said, what was computed for it, and whether they agree, or nothing."""

    said: str
    computed: str
    verdict: str


@dataclass(frozen=True, kw_only=True)
class RunView:
    """A run in full."""

    code: str
    name: str
    said: str
    facts: tuple[Fact, ...]
    laps: tuple[LapCell, ...]
    laps_said: str
    drawing: Markup
    tires: tuple[TireCell, ...]
    others: tuple[Fact, ...]
    comments: tuple[str, ...]
    decided: str
    setup: str
    set_down: SetDown | None
    may_compute: bool
    computed: tuple[Computed, ...]
    not_computed: str


def run_view(session: Session, code: str, *, against: bool = False, computed: bool = False) -> RunView:
    """One run by its code, or the last one; with `against` its set-down held against its setup, with
    `computed` what the driver said against what was computed. Raises NotebookTrouble.
    """
    found = runs.run_of(session, code)
    told = runs.record(session, found)
    words, why = _computed(session, found) if computed else ((), "")
    return RunView(
        code=told.code,
        name=f"Run {told.number}{f', {told.session}' if told.session else ''}",
        said=_headline(told),
        facts=tuple(_facts(session, found, told)),
        laps=tuple(
            LapCell(
                one.number,
                f"{one.time:.3f}",
                _said_of_lap(one),
                one.time == told.best,
            )
            for one in told.laps
        ),
        laps_said=_laps_said(told),
        drawing=_drawing(told.laps),
        tires=_tires(told),
        others=tuple(_others(told)),
        comments=tuple(_comment(one) for one in told.comments),
        decided=told.decided,
        setup=told.setup,
        set_down=_set_down(session, found, told, against=against),
        may_compute=not computed and any(one.phase and one.feel for one in told.comments),
        computed=words,
        not_computed=why,
    )


def _headline(told: RunRecord) -> str:
    time = f" at {told.started:%H:%M}" if time_told(told.started) else ""
    return f"{told.event}, {told.held_on}{time}"


def _facts(session: Session, found: Run, told: RunRecord) -> Iterator[Fact]:
    changed = entering.changed_before(session, found)
    kinds = (
        ("air", told.air, "temperature"),
        ("surface", told.surface, "temperature"),
        ("fuel", told.fuel, "volume"),
        ("fuel left", told.fuel_left, "volume"),
        ("stagger", told.stagger, "growth"),
    )
    rows = (
        ("Setup", f"{told.setup_name}, {told.setup_number} ({told.setup})"),
        ("Changed before", changed),
        ("Because", found.setup.reason if changed else ""),
        ("Track", told.track),
        ("Driver", told.driver),
        ("With", ", ".join(f"{name} {amount(si, kind)}" for name, si, kind in kinds if si is not None)),
        ("Note", told.note),
        ("Hit", told.hit),
    )
    yield from (Fact(name, said) for name, said in rows if said)


# ---------------- laps


def _laps_said(told: RunRecord) -> str:
    if not told.laps:
        return ""
    said = counted(len(told.laps), "lap")
    if told.best is not None and told.middle is not None:
        said += f", best {amount(told.best, 'lap_time')}, median {amount(told.middle, 'lap_time')}"
    if told.fall_off is not None:
        said += f", {step(told.fall_off, 'lap_gain')} in ten laps"
    return f"{said}."


def _said_of_lap(lap: TimedLap) -> str:
    """Its flag and what was typed beside its time, each once; of a plain green lap nothing."""
    flag = "" if lap.flag in ("green", lap.said) else lap.flag
    return ", ".join(word for word in (flag, lap.said) if word)


def _drawing(laps: Sequence[TimedLap]) -> Markup:
    """Laps at speed as a line over their numbers; a lap under another flag is a gap, and the picture says how
    many lie above it.
    """
    green = [(one.number, one.time) for one in laps if one.flag == "green"]
    if not FEWEST_DRAWN <= len(green) <= MOST_DRAWN:
        return Markup()
    first, last = laps[0].number, max(laps[-1].number, laps[0].number + 1)
    low, high = _lowest_and_highest(sorted(time for _, time in green))
    sheet = Sheet("laps", WIDE, HIGH)

    def at(number: int, time: float) -> tuple[float, float]:
        across = LEFT + (WIDE - LEFT - EDGE) * (number - first) / (last - first)
        share = min(max((time - low) / (high - low), 0.0), 1.0)
        return across, HIGH - EDGE - (HIGH - 2 * EDGE) * share

    for time in (low, high):
        sheet.line("hatch", [(LEFT, at(first, time)[1]), (WIDE - EDGE, at(first, time)[1])])
        sheet.text("label end", (LEFT - 6.0, at(first, time)[1] + 4.0), amount(time, "lap_time"))
    for piece in _unbroken(laps):
        places = [at(one.number, one.time) for one in piece]
        sheet.line("frame", places if len(places) > 1 else [places[0], places[0]])
    sheet.text("label", (LEFT, HIGH - 6.0), f"lap {first}")
    sheet.text("label end", (WIDE - EDGE, HIGH - 6.0), f"lap {last}")
    over = [number for number, time in green if time > high]
    if over:
        told = ", ".join(map(str, over[:MOST_TOLD])) + (" and more" if over[MOST_TOLD:] else "")
        sheet.text("label end", (WIDE - EDGE, EDGE - 8.0), f"above it: lap {told}")
    said = f"Lap times from lap {first} to {last}: {amount(low, 'lap_time')} to {amount(high, 'lap_time')}."
    return Markup(sheet.svg(said))


def _lowest_and_highest(times: Sequence[float]) -> tuple[float, float]:
    """Ends of the drawing for sorted times: all of them, but not the few slowest where they would flatten the
    rest to less than half.
    """
    usual = times[max(int(0.95 * len(times)), FEWEST_DRAWN) - 1]
    high = max(time for time in times if time - times[0] <= 2.0 * (usual - times[0]))
    return times[0], max(high, times[0] + 0.1)


def _unbroken(laps: Sequence[TimedLap]) -> Iterator[list[TimedLap]]:
    """Green laps that follow each other."""
    piece: list[TimedLap] = []
    for one in laps:
        if one.flag == "green":
            piece.append(one)
        elif piece:
            yield piece
            piece = []
    if piece:
        yield piece


# ---------------- what was read


def _last(readings: Sequence[Read]) -> dict[tuple[str, str, str], Read]:
    """The last reading of everything but the set-down."""
    return {(one.what, one.place, one.part): one for one in readings if one.taken != "set_down"}


def _tires(told: RunRecord) -> tuple[TireCell, ...]:
    """The four tires as they lie on the car; nothing where nothing is known of any."""
    last, rode = _last(told.readings), dict(told.ridden)
    cells = tuple(_tire(corner, rode.get(f"{corner} tire", ""), last) for corner in CORNERS)
    return cells if any(one.mark or one.pressures or one.temperatures for one in cells) else ()


def _tire(corner: str, mark: str, last: dict[tuple[str, str, str], Read]) -> TireCell:
    thirds = [last.get(("temperature", corner, third)) for third in THIRDS]
    read = [amount(one.si, "temperature") if one else "not read" for one in thirds]
    pressures = [
        f"{what} {amount(last[what, corner, ''].si, 'pressure')}"
        for what in ("cold", "hot")
        if (what, corner, "") in last
    ]
    return TireCell(corner, mark, tuple(read) if any(thirds) else (), ", ".join(pressures))


def _others(told: RunRecord) -> Iterator[Fact]:
    for (what, place, part), one in _last(told.readings).items():
        if what not in ("temperature", "cold", "hot"):
            yield Fact(_called(" ".join(filter(None, (place, what, part)))), _shown(one))


def _called(text: str) -> str:
    return text.replace("_", " ").strip()


def _shown(one: Read) -> str:
    from ovalwright.study.set_down import KIND_OF

    kind = {**KIND_OF, "travel": "travel", FUEL: "volume"}.get(one.what)
    return amount(one.si, kind) if kind else one.typed


def _comment(said: Said) -> str:
    """`Middle, late: tight. "It pushes."`"""
    where = ", ".join(
        word for word in (said.phase or ("all of the turn" if said.feel else ""), said.when) if word
    )
    told = ": ".join(word for word in (where, said.feel) if word)
    quoted = f'"{said.words}"' if said.words else ""
    return ", ".join(word for word in (told, quoted) if word)


def _computed(session: Session, found: Run) -> tuple[tuple[Computed, ...], str]:
    """What he said against what is computed for the setup, or why that cannot be."""
    try:
        told = words_against(session, found)
    except (DocumentError, ValueError) as problem:
        return (), sentence(str(problem))
    return tuple(
        Computed(
            said=f"{one.phase}{f', {one.when}' if one.when else ''}: {one.feel}",
            computed=sentence(one.reason) if one.balance is None else balance(one.balance),
            verdict={True: "agrees", False: "does not agree", None: ""}[one.agrees],
        )
        for one in told
    ), ""


def _set_down(session: Session, found: Run, told: RunRecord, *, against: bool) -> SetDown | None:
    read = tuple(
        Fact(_called(f"{one.place} {one.what}"), _shown(one))
        for one in told.readings
        if one.taken == "set_down" and one.what != DRIVER
    )
    if not read:
        return None
    if not against:
        return SetDown(read)
    try:
        back = set_down_of(session, found)
    except DocumentError as problem:
        return SetDown(read, reason=sentence(str(problem)))
    from ovalwright.study.set_down import KIND_OF

    return SetDown(
        read,
        tuple(
            MovedRow(
                name=_called(f"{one.place} {one.what}"),
                expected=amount(one.expected, KIND_OF[one.what]),
                measured=amount(one.measured, KIND_OF[one.what]),
                by=step(one.by, KIND_OF[one.what]),
                has_moved=one.flagged,
            )
            for one in back.lines
        ),
        (*stands_said(back), *(sign_said(one, amount) for one in back.signs)),
    )
