"""The work on the car: checklists, lists under way, what is left to do, hours: work."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy.orm import Session

from ovalwright.cli.notes import at_home, counted, opened
from ovalwright.cli.screen import Screen
from ovalwright.notebook.garage import work
from ovalwright.notebook.garage.checklists import READY
from ovalwright.notebook.garage.findings import HEADING, Finding, findings, put_right, wrong_item
from ovalwright.notebook.garage.standing import as_it_stands
from ovalwright.notebook.garage.work import Line, RoundSheet
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.runs import event_of
from ovalwright.notebook.tables import Event
from ovalwright.notebook.tables_work import CheckRound
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.entering import read_day

MINUTE = 60.0
MOST_LEFT = 5
"""Things left open that are named when a list is closed."""


def overview(screen: Screen, *, where: str) -> None:
    """The checklists, and those under way."""
    with opened(screen, where) as store, store.reading() as session:
        names = work.lists(session)
        told = {name: len(work.list_lines(session, work.list_of(session, name))) for name in names}
        going = [work.round_sheet(session, one) for one in work.open_rounds(session)]
        wrong = findings(session)
    if not told:
        told = {ready.name: len(ready.things) for ready in READY}
        screen.say("No list was begun yet. Checklists to begin with, to be changed as you like:")
    screen.table([(name, counted(number, "thing")) for name, number in told.items()], head=("list", ""))
    if going:
        screen.say()
        screen.title("Under way")
        screen.table(
            [(_called(one), f"{len(one.left_open)} of {len(one.lines)} left") for one in going], left=2
        )
    else:
        screen.say()
        screen.command(f'work begin "{next(iter(told))}"')
    say_wrong(screen, wrong)
    screen.end("work", {"lists": told, "open": going, "found": wrong})


def _called(one: RoundSheet) -> str:
    return one.checklist + (f", {one.event}" if one.event else "")


def listed(screen: Screen, name: str, *, where: str) -> None:
    """One checklist, thing by thing, as far as it is done where it is under way."""
    with opened(screen, where) as store, store.reading() as session:
        told = as_it_stands(session, name)
    screen.title(told.name)
    if told.note:
        screen.say(told.note)
    things(screen, told.lines)
    say_wrong(screen, told.wrong)
    answer = {"list": told.name, "note": told.note, "lines": told.lines, "found": told.wrong}
    screen.end("work list", answer)


def things(screen: Screen, lines: Sequence[Line]) -> None:
    """Things to do with a box; what hurts is said once, below."""
    rows = []
    for line in lines:
        until = f", good until {line.good_until}" if line.good_until else ""
        who = "" if line.is_open else f"{line.done_by}{_took(line.seconds)}"
        found = f": {line.found}{'' if line.is_wrong else ', put right'}" if line.found else ""
        box = "[ ]" if line.is_open else "[!]" if line.is_wrong else "[x]"
        rows.append((str(line.number), box, f"{line.words}{until}{found}", who))
        if line.caution:
            screen.note(line.caution)
    screen.table(rows, left=4)


def say_wrong(screen: Screen, wrong: Sequence[Finding]) -> None:
    """What was found and is not put right, whatever became of the list; nothing where there is nothing."""
    if not wrong:
        return
    screen.say()
    screen.title(HEADING)
    screen.table([(str(one.number), one.said) for one in wrong], left=2)
    name = f' --list "{wrong[0].checklist}"' if len({one.checklist for one in wrong}) > 1 else ""
    screen.command(f'work right {wrong[0].number}{name} --how "new cotter pin"')


def _took(seconds: float | None) -> str:
    return "" if seconds is None else f", {seconds / MINUTE:.0f} min"


def begin(screen: Screen, name: str, *, event: str, where: str, by: str) -> None:
    """Begin a list; one that is under way is gone on with."""
    with opened(screen, where, by) as store, store.entry("begin") as session:
        work.ready_lists(session)
        found = work.list_of(session, name)
        day = _event(session, event)
        was_open = work.open_round(session, found, event=day) is not None
        told = work.round_sheet(session, work.begin_round(session, found, event=day))
        entry_of(session).what = f"list {_called(told)} begun"
        if was_open:
            session.rollback()
    screen.title(f"{_called(told)}, begun {at_home(told.begun_at)}{', gone on with' if was_open else ''}")
    things(screen, told.lines)
    screen.command("work tick 1 2 3 --minutes 15")
    screen.end("work begin", {"under_way": told, "was_open": was_open})


def _event(session: Session, name: str) -> Event | None:
    return event_of(session, name) if name else None


def tick(
    screen: Screen,
    items: Sequence[str],
    *,
    name: str,
    minutes: str,
    found: str,
    done_by: str,
    where: str,
    by: str,
) -> None:
    """Things done on the list under way; the minutes are those of all of them together."""
    with opened(screen, where, by) as store, store.entry("tick") as session:
        going = _going(session, name)
        ours = work.tick_all(session, going, items, by=done_by, took=minutes, found=found)
        told = work.round_sheet(session, going)
        numbers = ", ".join(str(item.number) for item in ours)
        entry_of(session).what = f"{_called(told)}: {numbers} done"
    done = [line for line in told.lines if line.number in {item.number for item in ours}]
    screen.title(_called(told))
    things(screen, done)
    screen.say(_left(told))
    if not told.left_open:
        screen.command(f'work close "{told.checklist}"')
    screen.end("work tick", {"under_way": told, "ticked": done})


def _going(session: Session, name: str) -> CheckRound:
    """A list under way, or the latest of them. Raises NotebookTrouble."""
    checklist = work.list_of(session, name) if name else None
    found = work.open_rounds(session, checklist)
    if not found:
        none = f"{checklist.name} is not" if checklist else "no list is"
        begun = checklist.name if checklist else READY[0].name
        raise NotebookTrouble(f'{none} under way; begin it with work begin "{begun}".')
    return found[0]


def _left(told: RoundSheet) -> str:
    left = told.left_open
    if not left:
        return "All of it is done."
    return f"{len(left)} of {len(told.lines)} left, next {left[0].number}: {left[0].words}"


def still_open(screen: Screen, *, where: str) -> None:
    """What is left to do on the lists under way."""
    with opened(screen, where) as store, store.reading() as session:
        going = [work.round_sheet(session, one) for one in work.open_rounds(session)]
        wrong = findings(session)
    if not going:
        screen.say("No list is under way.")
        screen.command(f'work begin "{READY[0].name}"')
    for one in going:
        screen.title(f"{_called(one)}: {len(one.left_open)} of {len(one.lines)} left")
        things(screen, one.left_open)
    say_wrong(screen, wrong)
    screen.end("work open", {"open": going, "found": wrong})


def right(screen: Screen, which: str, *, name: str, how: str, done_by: str, where: str, by: str) -> None:
    """What was found at a thing is put right."""
    with opened(screen, where, by) as store, store.entry("put right") as session:
        item = wrong_item(session, which, work.list_of(session, name) if name else None)
        told = put_right(session, item, how=how, by=done_by)
        entry_of(session).what = f"{item.checklist.name}, {item.number} put right: {told[0].found}"[:200]
        wrong = findings(session)
    for one in told:
        how_said = f", {one.how}" if one.how else ""
        screen.say(f"Put right by {one.right_by}{how_said}: {one.said}")
    say_wrong(screen, wrong)
    screen.end("work right", {"right": told, "found": wrong})


def close(screen: Screen, name: str, *, where: str, by: str) -> None:
    """Close a list, and say what was left open."""
    with opened(screen, where, by) as store, store.entry("close") as session:
        going = _going(session, name)
        told = work.close_round(session, going)
        wrong = findings(session, going.checklist)
        entry_of(session).what = f"list {_called(told)} closed"
    screen.title(f"{_called(told)}: closed")
    if told.left_open:
        screen.say("Left open:")
        first, more = told.left_open[:MOST_LEFT], len(told.left_open) - MOST_LEFT
        screen.table([(str(one.number), one.words) for one in first], left=2)
        if more > 0:
            screen.say(f"and {counted(more, 'more thing')}.")
    else:
        screen.say("All of it was done.")
    say_wrong(screen, wrong)
    screen.end("work close", {"closed": told, "found": wrong})


def hours(screen: Screen, *, event: str, where: str) -> None:
    """Who worked how long, by event."""
    with opened(screen, where) as store, store.reading() as session:
        told = work.hours(session, event=_event(session, event))
    if told:
        rows = [
            (
                one.event or "in the shop",
                one.person,
                str(one.things),
                _long(one.seconds) if one.untimed < one.things else "-",
                str(one.untimed or ""),
            )
            for one in told
        ]
        screen.table(rows, head=("event", "who", "things", "time", "without a time"), left=2)
    else:
        screen.say("Nothing was ticked off yet; time is told with it: work tick 1 2 --minutes 15.")
    screen.end("work hours", {"hours": told})


def _long(seconds: float) -> str:
    whole, rest = divmod(round(seconds / MINUTE), 60)
    return f"{whole} h {rest:02d} min" if whole else f"{rest} min"


def add(screen: Screen, name: str, words: str, *, caution: str, good_until: str, where: str, by: str) -> None:
    """A thing onto a checklist, which is made where there is none of that name."""
    with opened(screen, where, by) as store, store.entry("list") as session:
        work.ready_lists(session)
        known = {one.lower() for one in work.lists(session)}
        is_new = " ".join(name.lower().split()) not in known
        found = work.new_list(session, name) if is_new else work.list_of(session, name)
        day = read_day(good_until) if good_until else None
        item = work.add_item(session, found, words, caution=caution, good_until=day)
        entry_of(session).what = f"{found.name}: {item.words}"
    until = f", good until {item.good_until}" if item.good_until else ""
    screen.say(f"{found.name}, {item.number}: {item.words}{until}")
    if is_new:
        screen.note(f'"{found.name}" is a new list; `undo` takes it away again.')
    screen.end("work add", {"list": found.name, "number": item.number, "words": item.words, "new": is_new})
