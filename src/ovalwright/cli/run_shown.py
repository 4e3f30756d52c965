"""A run log on the screen: what was in the car, laps, what was read, what was said and decided."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from sqlalchemy.orm import Session

from ovalwright.cli.notes import counted, opened
from ovalwright.cli.screen import Screen
from ovalwright.corners import CORNERS
from ovalwright.documents import DocumentError
from ovalwright.notebook import runs
from ovalwright.notebook.runs import THIRDS, Read, RunRecord, Said
from ovalwright.notebook.tables import Event, Run
from ovalwright.notebook.typed import entering
from ovalwright.notebook.typed.came_back import CameBack, set_down_of, sign_said, stands_said
from ovalwright.pictures.run import RunTrace, run_chart
from ovalwright.pictures.save import lines

MOST_ASIDE = 5
"""Lines set aside that are shown one by one."""
FEWEST_CHARTED = 4
"""Laps at speed that are worth a chart."""
MOST_CHARTED = 1000
"""Highest number of a lap that is drawn at its own place."""
FIRST_EVENT = 'log event "Opening night" --on 2026-04-25 --track "THE TRACK"'
FIRST_RUN = 'log run --session practice --fuel "18 gal" --laps laps.csv'
HALF = 38
"""Columns of the screen for one side of the car."""


def overview(screen: Screen, *, where: str) -> None:
    """The last events, and the runs of the very last."""
    with opened(screen, where) as store, store.reading() as session:
        found = [
            (event.name, event.held_on, track_name(session, event), count, event)
            for event, count in runs.events(session, 10)
        ]
        records = [runs.record(session, run) for run in runs.runs_of(session, found[0][4])] if found else []
    if not found:
        screen.say("No event is in the notebook yet. A day at a track, then its runs:")
        screen.command(FIRST_EVENT)
        screen.command(FIRST_RUN)
    else:
        rows = [(str(day), name, track, str(count)) for name, day, track, count, _ in found]
        screen.table(rows, head=("day", "event", "track", "runs"), left=3)
        screen.say()
        if records:
            screen.title(f"Runs of {found[0][0]}")
            runs_table(screen, records)
        else:
            screen.say(f"No run of {found[0][0]} yet:")
            screen.command(FIRST_RUN)
    screen.end(
        "log",
        {
            "events": [dict(zip(("name", "held_on", "track", "runs"), one, strict=False)) for one in found],
            "runs": records,
        },
    )


def runs_table(screen: Screen, records: Sequence[RunRecord]) -> None:
    """Runs of one event, a line each."""
    show = screen.show
    rows = [
        (
            one.code,
            one.session,
            f"{one.setup_name}, {one.setup_number}",
            str(len(one.laps)),
            show(_or_nan(one.best), "lap_time"),
            screen.step(one.fall_off, "lap_gain") if one.fall_off is not None else "-",
        )
        for one in records
    ]
    screen.table(rows, head=("run", "session", "setup", "laps", "best", "fades in ten"), left=3)


def track_name(session: Session, event: Event) -> str:
    """Name of the track of an event, or nothing."""
    from ovalwright.notebook.tables import Revision

    track = session.get(Revision, event.track_id) if event.track_id is not None else None
    return track.document.name if track else ""


def headline(told: RunRecord) -> str:
    """A run in one line."""
    called = f", {told.session}" if told.session else ""
    return f"Run {told.code}: {told.event}, {told.held_on}, run {told.number}{called}"


def laps_line(screen: Screen, told: RunRecord) -> str:
    """What the laps come to."""
    text = counted(len(told.laps), "lap")
    if told.best is not None and told.middle is not None:
        text += f", best {screen.show(told.best, 'lap_time')}, median {screen.show(told.middle, 'lap_time')}"
    elif told.laps:
        text += ", none of them counted as green"
    if told.fall_off is not None:
        text += f", fades {screen.step(told.fall_off, 'lap_gain')} in ten laps"
    return text


def said_line(said: Said) -> str:
    """What the driver said, in one line."""
    where = ", ".join(word for word in (said.phase, said.when) if word)
    told = ": ".join(word for word in (where, said.feel) if word)
    return ", ".join(word for word in (told, f'"{said.words}"' if said.words else "") if word)


# ---------------- one run in full


def show(screen: Screen, which: str, *, where: str) -> None:
    """A run in full."""
    with opened(screen, where) as store, store.reading() as session:
        run = runs.run_of(session, which or "last")
        told, before = runs.record(session, run), entering.changed_before(session, run)
        screen.title(headline(told))
        screen.table(_facts(screen, told, before, run.setup.reason), left=2)
        _laps(screen, told)
        tires(screen, told)
        _others(screen, told)
        _words(screen, told)
        down = set_down(screen, session, run, title="Set-down against the setup")
    screen.end(
        "log show",
        {"run": told, "changed_before": before, "set_down": down.lines, "signs": down.signs},
    )


def _facts(screen: Screen, told: RunRecord, before: str, reason: str) -> list[tuple[str, str]]:
    kinds = (("air", "temperature"), ("surface", "temperature"), ("fuel", "volume"), ("fuel_left", "volume"),
             ("stagger", "growth"))  # fmt: skip
    amounts = [
        f"{name.replace('_', ' ')} {screen.show(getattr(told, name), kind)}"
        for name, kind in kinds
        if getattr(told, name) is not None
    ]
    rows = [
        ("setup", f"{told.setup_name}, {told.setup_number} ({told.setup})"),
        ("changed before", before),
        ("because", reason if before else ""),
        ("track", told.track),
        ("driver", told.driver),
        ("with", ", ".join(amounts)),
        ("tires", ", ".join(" ".join((place[:2], mark)) for place, mark in told.ridden if "tire" in place)),
        ("note", told.note),
        ("hit", told.hit),
    ]  # fmt: skip
    return [(name, text) for name, text in rows if text]


def _laps(screen: Screen, told: RunRecord) -> None:
    if not told.laps:
        screen.say("no laps yet")
        return
    screen.say(laps_line(screen, told))
    numbers = [lap.number for lap in told.laps]
    places = numbers if max(numbers) <= MOST_CHARTED else list(range(1, len(numbers) + 1))
    times, yellow = np.full(max(places), np.nan), [False] * max(places)
    for place, lap in zip(places, told.laps, strict=True):
        times[place - 1] = lap.time if lap.flag == "green" else np.nan
        yellow[place - 1] = lap.flag == "yellow"
    if np.isfinite(times).sum() < FEWEST_CHARTED:
        return
    chart = run_chart([RunTrace("laps at speed", times, yellow=yellow)], system=screen.system, title="")
    screen.say()
    for line in lines(chart, screen.out.width):
        screen.say(line)


def tires(screen: Screen, told: RunRecord) -> None:
    """Temperatures and pressures of the last reading, where they stand on the car."""
    last = _last(told.readings)
    cells: dict[str, list[str]] = {corner: list(_corner(screen, corner, last)) for corner in CORNERS}
    if not any(cells.values()):
        return
    screen.say()
    screen.title("Tires: inside, middle, outside; inside is toward the infield")
    for left, right in (("LF", "RF"), ("LR", "RR")):
        height = max(len(cells[left]), len(cells[right]))
        rows = [[*cells[corner], *[""] * (height - len(cells[corner]))] for corner in (left, right)]
        for ours, theirs in zip(*rows, strict=True):
            screen.say(f"{ours:<{HALF}}  {theirs}".rstrip())


Last = Mapping[tuple[str, str, str], Read]


def _last(readings: Sequence[Read]) -> Last:
    return {(one.what, one.place, one.part): one for one in readings if one.taken != "set_down"}


def _corner(screen: Screen, corner: str, last: Last) -> Iterator[str]:
    thirds = [last.get(("temperature", corner, third)) for third in THIRDS]
    pressures = [
        f"{what} {screen.show(last[what, corner, ''].si, 'pressure')}"
        for what in ("cold", "hot")
        if (what, corner, "") in last
    ]
    if any(thirds):
        shown = [screen.show(one.si, "temperature") if one else "-" for one in thirds]
        unit = shown[0].partition(" ")[2] or "F"
        yield f"{corner}  {'  '.join(text.partition(' ')[0] for text in shown)} {unit}"
    if pressures:
        yield f"{corner if not any(thirds) else '  '}  {', '.join(pressures)}"


def _others(screen: Screen, told: RunRecord) -> None:
    """What else was read."""
    last = [one for key, one in _last(told.readings).items() if key[0] not in ("temperature", "cold", "hot")]
    if last:
        screen.say()
        screen.table([(f"{one.place} {one.what}".strip(), _shown(screen, one)) for one in last], left=2)


def _shown(screen: Screen, one: Read) -> str:
    from ovalwright.study.set_down import KIND_OF

    kind = {**KIND_OF, "travel": "travel"}.get(one.what)
    return screen.show(one.si, kind) if kind else one.typed


def _words(screen: Screen, told: RunRecord) -> None:
    if told.comments or told.decided:
        screen.say()
    for said in told.comments:
        screen.say(f"said: {said_line(said)}")
    if told.decided:
        screen.say(f"decided: {told.decided}")


def set_down(screen: Screen, session: Session, run: Run, *, title: str = "") -> CameBack:
    """What was measured against what the setup makes expect; what has moved is marked and judged."""
    try:
        back = set_down_of(session, run)
    except DocumentError as problem:
        screen.note(f"The set-down is kept, but not compared: {problem}")
        return CameBack()
    if not back.lines:
        return back
    from ovalwright.study.set_down import KIND_OF

    if title:
        screen.say()
        screen.title(title)
    rows = [
        (
            f"{one.place} {one.what.replace('_', ' ')}".strip(),
            screen.show(one.expected, KIND_OF[one.what]),
            screen.show(one.measured, KIND_OF[one.what]),
            screen.step(one.by, KIND_OF[one.what]),
            "<- moved" if one.flagged else "",
        )
        for one in back.lines
    ]
    screen.table(rows, head=("", "setup says", "measured", "by", ""))
    for said in (*stands_said(back), *(sign_said(sign, screen.show) for sign in back.signs)):
        screen.say()
        screen.say(said)
    if any(one.flagged for one in back.lines):
        screen.note("Moved: by more than two careful readings differ.")
    return back


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else value
