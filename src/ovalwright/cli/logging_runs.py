"""Entries of the run log: an event, a run, its laps, what was read off the car and what was said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from sqlalchemy.orm import Session

from ovalwright.cli import run_shown
from ovalwright.cli.door import Trouble
from ovalwright.cli.forms import NAME_OF_PASTE, PASTED, form, text_of, wanted
from ovalwright.cli.notes import opened, taken
from ovalwright.cli.screen import Screen
from ovalwright.documents import LapList, Sheet
from ovalwright.notebook import runs
from ovalwright.notebook.garage.cautions import STANDS
from ovalwright.notebook.garage.hits import to_inspect
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.runs import RunRecord
from ovalwright.notebook.tables import Run
from ovalwright.notebook.typed import entering
from ovalwright.notebook.typed.lap_entry import read_lap_list
from ovalwright.notebook.typed.sense import of_readings
from ovalwright.notebook.typed.tire_entry import put_pressures, put_temperatures

LAPS = "laps"
"""Field of a form that holds a whole lap list."""


def event(screen: Screen, given: Mapping[str, str], *, draft: str, where: str, by: str) -> None:
    """A day at a track."""
    with form(screen, "log event", given, draft=draft, where=where, by=by, whole=True) as (session, typed):
        wanted(typed, "name", 'log event "Opening night" --on 2026-04-25')
        new = entering.enter_event(session, typed, find=taken)
        entry_of(session).what = f"event {new.name} of {new.held_on}"
        track = run_shown.track_name(session, new)
        told = {"name": new.name, "held_on": new.held_on, "track": track, "note": new.note}
    at = f", at {track}" if track else ""
    screen.say(f"Event {told['name']}, {told['held_on']}{at}.")
    if not track:
        screen.note("Without --track its laps have no length, so parts gather no distance.")
    screen.end("log event", {"event": told})


def run(
    screen: Screen,
    given: Mapping[str, str],
    *,
    laps: str,
    columns: Sequence[str],
    words: Sequence[str],
    car: str,
    draft: str,
    where: str,
    by: str,
) -> None:
    """The next run of an event, with its laps where they are at hand."""
    given = {**given, **_list(laps, columns, words, car)}
    keep = LAPS if laps == PASTED else ""
    with form(screen, "log run", given, draft=draft, where=where, by=by, keep=keep, whole=True) as (
        session,
        typed,
    ):
        entered = entering.enter_run(session, typed, find=taken)
        new, chosen = entered.run, entered.chosen
        listed = _put_laps(session, new, typed) if typed.get(LAPS) else None
        entry_of(session).what = f"run {new.code}, {new.number} of {new.event.name}"
        told, is_last = runs.record(session, new), runs.last_run(session) is new
    screen.title(run_shown.headline(told))
    why = f": {chosen.why}" if chosen else ""
    screen.say(f"on setup {told.setup_name}, {told.setup_number} ({told.setup}){why}")
    for sentence in entered.otherwise:
        screen.say(sentence)
    _say_laps(screen, told, listed)
    which = f"{told.code}, or last" if is_last else told.code
    screen.note(f"Go on with `log said`, `log temps`, `log show` and its code {which}.")
    screen.end("log run", {"run": told, "otherwise": entered.otherwise, **_of_list(listed)})


def _list(source: str, columns: Sequence[str], words: Sequence[str], car: str) -> dict[str, str]:
    """The fields of a form that a lap list makes, its text among them."""
    told = {"columns": "\n".join(columns), "flags": "\n".join(words), "car": car}
    if not source:
        return told
    name = NAME_OF_PASTE if source == PASTED else Path(source).name
    return {LAPS: text_of(source), "laps_from": name, **told}


def _put_laps(session: Session, new: Run, typed: Mapping[str, str]) -> LapList:
    columns, words, car = (typed.get(name, "") for name in ("columns", "flags", "car"))
    listed = read_lap_list(
        session,
        typed[LAPS],
        name=typed.get("laps_from") or NAME_OF_PASTE,
        columns=columns,
        words=words,
        car=car,
    )
    runs.put_laps(session, new, listed.laps)
    return listed


def _say_laps(screen: Screen, told: RunRecord, listed: LapList | None) -> None:
    if listed is None:
        return
    screen.say(run_shown.laps_line(screen, told))
    for one in listed.aside[: run_shown.MOST_ASIDE]:
        screen.note(f"Line {one.line} was set aside: {one.why}.")
    if len(listed.aside) > run_shown.MOST_ASIDE:
        screen.note(f"{len(listed.aside) - run_shown.MOST_ASIDE} more lines were set aside.")
    screen.notes(listed.notes)
    if any(lap.flag == "other" and lap.said for lap in listed.laps):
        screen.note(f'Read them again with the word told once: `log laps {told.code} FILE --word "..."`.')


def _of_list(listed: LapList | None) -> dict[str, object]:
    return {} if listed is None else {"aside": listed.aside}


def laps(
    screen: Screen,
    run: str,
    source: str,
    *,
    columns: Sequence[str],
    words: Sequence[str],
    car: str,
    draft: str,
    where: str,
    by: str,
) -> None:
    """The laps of a run, all at once."""
    again = "" if draft and source == PASTED else source
    given = {"run": run, **_list(again, columns, words, car)}
    keep = LAPS if source == PASTED else ""
    with form(screen, "log laps", given, draft=draft, where=where, by=by, keep=keep) as (session, typed):
        wanted(typed, LAPS, "log laps last laps.csv")
        found = entering.run_named(session, typed.get("run", ""))
        listed = _put_laps(session, found, typed)
        entry_of(session).what = f"{len(listed.laps)} laps of run {found.code}"
        told = runs.record(session, found)
    screen.title(run_shown.headline(told))
    _say_laps(screen, told, listed)
    screen.end("log laps", {"run": told, **_of_list(listed)})


def temps(screen: Screen, given: Mapping[str, str], *, draft: str, where: str, by: str) -> None:
    """Temperatures in the order they are read off."""
    with form(screen, "log temps", given, draft=draft, where=where, by=by, keep="temperatures") as (
        session,
        typed,
    ):
        text = wanted(typed, "temperatures", 'log temps last "178 185 190 / 201 196 188 / ..."')
        found = entering.run_named(session, typed.get("run", ""))
        order = put_temperatures(session, found, text, typed.get("order", ""))
        entry_of(session).what = f"temperatures of run {found.code}"
        told = runs.record(session, found)
    screen.title(run_shown.headline(told))
    run_shown.tires(screen, told)
    for sentence in of_readings(told.readings, "temperature"):
        screen.say(sentence)
    screen.note(f"Read in the order {order}; another one with --order, once.")
    screen.end("log temps", {"run": told, "order": str(order)})


def pressures(
    screen: Screen, given: Mapping[str, str], *, both: bool, draft: str, where: str, by: str
) -> None:
    """Cold or hot pressures, a tire after the other."""
    if both:
        raise Trouble("--cold and --hot: are both given; enter one after the other")
    with form(screen, "log pressures", given, draft=draft, where=where, by=by, keep="pressures") as (
        session,
        typed,
    ):
        text = wanted(typed, "pressures", 'log pressures last "13 28 14 26" --hot')
        which = wanted(typed, "cold_or_hot", "--cold, or --hot")
        found = entering.run_named(session, typed.get("run", ""))
        order = put_pressures(session, found, text, which)
        entry_of(session).what = f"{which} pressures of run {found.code}"
        told = runs.record(session, found)
    screen.title(run_shown.headline(told))
    run_shown.tires(screen, told)
    for sentence in of_readings(told.readings, which):
        screen.say(sentence)
    screen.note(f"Read in the order {', '.join(order.corners)}.")
    screen.end("log pressures", {"run": told, "order": list(order.corners)})


def said(screen: Screen, given: Mapping[str, str], *, draft: str, where: str, by: str) -> None:
    """A comment of the driver."""
    with form(screen, "log said", given, draft=draft, where=where, by=by) as (session, typed):
        comment = runs.Said(*(typed.get(name, "") for name in ("phase", "when", "feel", "words")))
        if comment == runs.Said():
            raise Trouble(
                'nothing was said; write such as log said last --phase middle --feel tight "it pushes"'
            )
        found = entering.run_named(session, typed.get("run", ""))
        runs.say(session, found, comment)
        entry_of(session).what = f"comment on run {found.code}: {run_shown.said_line(comment)}"
        told = runs.record(session, found)
    screen.say(f"Run {told.code}: {run_shown.said_line(comment)}")
    screen.end("log said", {"run": told})


def mend(screen: Screen, given: Mapping[str, str], *, draft: str, where: str, by: str) -> None:
    """Mend what was told of a run."""
    with form(screen, "log mend", given, draft=draft, where=where, by=by) as (session, typed):
        found = entering.run_named(session, typed.get("run", ""))
        entering.mend_run(session, found, typed, find=taken)
        mended = [(name.replace("_", " "), text) for name, text in typed.items() if text and name != "run"]
        entry_of(session).what = f"run {found.code} mended: {', '.join(map(' '.join, mended))}"
        told = runs.record(session, found)
    screen.title(run_shown.headline(told))
    screen.table(mended, left=2)
    screen.end("log mend", {"run": told})


def filled(screen: Screen, field: str, given: Mapping[str, str], *, draft: str, where: str, by: str) -> None:
    """Fill in what was decided after a run, or where the car was hit."""
    command = f"log {field}"
    with form(screen, command, given, draft=draft, where=where, by=by) as (session, typed):
        text = wanted(typed, field, f'{command} last "{_EXAMPLES[field]}"')
        found = entering.run_named(session, typed.get("run", ""))
        runs.change_run(session, found, {field: text})
        entry_of(session).what = f"{field} of run {found.code}: {text}"
        told = runs.record(session, found)
    screen.say(f"Run {told.code}, {field}: {getattr(told, field)}")
    if field == "hit":
        for sentence in to_inspect(told.hit, told.ridden):
            screen.say(sentence)
        screen.note(STANDS)
    screen.end(command, {"run": told})


_EXAMPLES = {"decided": "softer right rear for the feature", "hit": "RF"}


def setdown(screen: Screen, given: Mapping[str, str], *, draft: str, where: str, by: str) -> None:
    """What the car measured as it came back, and what of it has moved."""
    from ovalwright.notebook.typed.came_back import keep_set_down
    from ovalwright.notebook.typed.set_down_line import EXAMPLE, of_sheet, read_set_down

    with opened(screen, where, by) as store:
        with form(screen, "log setdown", given, draft=draft, where=where, by=by, keep="measured") as (
            session,
            typed,
        ):
            text = wanted(typed, "measured", f'log setdown last "{EXAMPLE}"')
            found = entering.run_named(session, typed.get("run", ""))
            readings = of_sheet(Sheet.load(text)) if text.endswith(".toml") else read_set_down(text)
            replaced = keep_set_down(session, found, readings)
            entry_of(session).what = f"set-down of run {found.code}"
            code = found.code
        with store.reading() as session:
            found = entering.run_named(session, code)
            told = runs.record(session, found)
            screen.title(f"Set-down of run {told.code}, setup {told.setup_name}, {told.setup_number}")
            back = run_shown.set_down(screen, session, found)
    if replaced:
        screen.note("It stands in place of the set-down before, whole; `undo` brings that one back.")
    screen.end(
        "log setdown",
        {"run": told, "against_setup": back.lines, "signs": back.signs, "in_place_of": replaced},
    )
