"""The notebook in the demo: a season entered beside its files, and three questions answered from it."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy.orm import Session

from ovalwright.cli.finding import RUN_HEAD, run_rows
from ovalwright.cli.screen import Screen, quoted
from ovalwright.notebook import runs, season, shelf
from ovalwright.notebook.asked.changed_when import ChangedThen, what_i_changed_when
from ovalwright.notebook.asked.find import find_runs
from ovalwright.notebook.asked.going_away import when_it_went_away
from ovalwright.notebook.overview import overview
from ovalwright.notebook.store import Store
from ovalwright.sheets import NoSheet, Stamp, render, setup_sheet

SEASON = "season.sqlite"
SHOWN = 5
"""Most lines of an answer."""
QUESTION = "here, air over 60 F, RR spring over 300, fall-off under 0.2"
TIRE = "T8"
FEEL, PHASE = "tight", "middle"
THEN = {"gone": "gone", "still": "still tight", "turned": "loose"}


def remembered(screen: Screen, folder: Path) -> None:
    """A season in a notebook of the demo's own, and what it answers."""
    screen.say()
    screen.title("9. A season in the notebook")
    with Store.open(_entered(screen, folder), by=season.OWNER) as store, store.reading() as session:
        told = overview(session)
        screen.say(
            f"{told.events} events, {told.runs} runs, {told.laps} laps on five sets of tires, one crash, one "
            "good day. (Invented, lap times too: they are not computed.)"
        )
        where = f"--notebook {quoted(folder / SEASON)}"
        _runs_like_that(screen, session, where)
        _went_away(screen, session, where)
        _what_i_changed(screen, session, where)
        _on_paper(screen, session, folder)


def _entered(screen: Screen, folder: Path) -> Path:
    """The notebook of the demo; entered under another name first, so that a broken off one is never taken."""
    path, beside = folder / SEASON, folder / f"{SEASON}.writing"
    if not path.exists():
        for left in folder.glob(f"{beside.name}*"):
            left.unlink()
        with screen.progress("entering a season"), Store.open(beside, by=season.OWNER) as store:
            season.enter(store)
        beside.rename(path)
    return path


def _runs_like_that(screen: Screen, session: Session, where: str) -> None:
    found = find_runs(session, QUESTION)
    screen.say("Where did it hold on here, on a warm day with a stiff right rear?")
    screen.command(f'find "{QUESTION}" {where}')
    screen.table(run_rows(screen, found.runs[:SHOWN]), head=RUN_HEAD, left=4)
    if len(found.runs) > SHOWN:
        screen.say(f"and {len(found.runs) - SHOWN} more.")


def _went_away(screen: Screen, session: Session, where: str) -> None:
    screen.say("When did this right front go away?")
    screen.command(f"find --went-away {TIRE} {where}")
    screen.say(sentence(when_it_went_away(session, TIRE).said))


def _what_i_changed(screen: Screen, session: Session, where: str) -> None:
    found = what_i_changed_when(session, FEEL, PHASE)
    there = [one for one in found.changes if one.best is not None and one.after != "unsaid"]
    screen.say("What did I change when it was tight in the middle, and did it help?")
    screen.command(f'find --when "{FEEL} in the {PHASE}" {where}')
    screen.say(sentence(found.said))
    screen.table(
        [_changed(screen, one) for one in there[:SHOWN]], head=("", "changed", "then", "best by"), left=3
    )


def _changed(screen: Screen, one: ChangedThen) -> tuple[str, ...]:
    assert one.best is not None
    return (str(one.run.date), one.changed, THEN[one.after], screen.step(one.best, "lap_time"))


def _on_paper(screen: Screen, session: Session, folder: Path) -> None:
    """The setup sheet of the good day."""
    setup = runs.run_of(session, "last").setup
    stamp = Stamp(
        title="Setup",
        car=shelf.assembly_of(session, setup).car.name,
        setup=setup.document.name,
        revision=setup.number,
        code=setup.code,
        made=setup.made_at.date(),
        by=setup.made_by,
    )
    path = folder / f"setup_{setup.code}.pdf"
    try:
        path.write_bytes(render(setup_sheet(stamp, shelf.assembly_of(session, setup))))
    except NoSheet as why:
        screen.note(sentence(f"{why}."))
        return
    screen.say(f"The setup of the good day on paper: {path}.")


def sentence(said: str) -> str:
    """With a capital at its beginning."""
    return said[:1].upper() + said[1:]
