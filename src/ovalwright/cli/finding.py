"""Finding in the notebook: runs by a question, when a tire went away, what was changed when it was tight."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ovalwright.cli.door import Trouble
from ovalwright.cli.notes import opened
from ovalwright.cli.screen import Screen
from ovalwright.notebook.asked.clauses import read_question
from ovalwright.notebook.asked.find import Found, FoundRun, Thing, find_anything, find_runs
from ovalwright.notebook.asked.question import Clause, Felt, Question

if TYPE_CHECKING:
    from ovalwright.notebook.asked.changed_when import ChangedThen

EXAMPLE = '"here, air over 60 F, RR spring over 300, fall-off under 0.2"'
MOST_THINGS = 8
"""Other things shown below the runs."""
WIDEST_NAME, WIDEST_WORDS = 24, 70
"""Columns of a name in the table of runs, and of the words that matched."""
NARROW_NAME = 14
"""Columns of a name beside what a tire did."""


def find(screen: Screen, text: str, *, most: int, went_away: str, when: str, where: str) -> None:
    """One of the three questions; all runs, the newest first, where nothing is asked."""
    asked = [one for one in (text, went_away, when) if one.strip()]
    if len(asked) > 1:
        raise Trouble(f"Ask one thing at a time: find {EXAMPLE}, --went-away TIRE, or --when TEXT")
    if went_away:
        _went_away(screen, went_away, where)
    elif when:
        _changed(screen, when, most, where)
    else:
        _runs(screen, read_question(text), most, where)


# ---------------- runs


def _runs(screen: Screen, question: Question, most: int, where: str) -> None:
    with opened(screen, where) as store, store.reading() as session:
        found = find_runs(session, question, most=most)
        things = (
            find_anything(session, question.text, most=MOST_THINGS)
            if question.clauses and question.may_name_other_things
            else ()
        )
    others = [one for one in things if one.what != "run" or not found.runs]
    screen.title(f"Runs: {'; '.join(found.understood) or 'all of them, the newest first'}")
    if found.runs:
        screen.table(run_rows(screen, found.runs), head=RUN_HEAD, left=4)
        _said(screen, found)
    else:
        screen.say("None.")
    if found.more:
        screen.note(f"There are more; --most {2 * most} shows more of them.")
    if others:
        screen.say()
        screen.title("Besides")
        screen.table([_thing(one) for one in others], left=4)
    screen.end("find", {"question": question.text, "found": found, "besides": others})


RUN_HEAD = ("run", "day", "event, session", "setup", "laps", "best", "in ten")


def run_rows(screen: Screen, found: Sequence[FoundRun]) -> list[tuple[str, ...]]:
    """Runs that were found, a line each under RUN_HEAD."""
    return [
        (
            one.code,
            str(one.date),
            _event_and_session(one, WIDEST_NAME),
            one.setup,
            str(one.laps),
            "-" if one.best is None else screen.show(one.best, "lap_time"),
            "-" if one.fall_off is None else screen.step(one.fall_off, "lap_gain"),
        )
        for one in found
    ]


def _event_and_session(one: FoundRun, widest: int) -> str:
    """The event cut short before the session is, which tells two runs of one evening apart."""
    called = f", {_short(one.session, widest // 2)}" if one.session else ""
    return f"{_short(one.event, widest - len(called))}{called}"


def _short(name: str, widest: int = WIDEST_NAME) -> str:
    return name if len(name) <= widest else f"{name[: widest - 2]}.."


def _said(screen: Screen, found: Found) -> None:
    """The comment or the words that matched, run by run."""
    words = [(one.code, one.comment or one.snippet) for one in found.runs]
    told = [(code, _short(text, WIDEST_WORDS)) for code, text in words if text]
    if told:
        screen.say()
        screen.table(told, left=2)


def _thing(one: Thing) -> tuple[str, str, str, str]:
    return one.what, one.code, _short(one.name), str(one.date or "")


# ---------------- the two other questions


def _went_away(screen: Screen, tire: str, where: str) -> None:
    from ovalwright.notebook.asked.going_away import when_it_went_away

    with opened(screen, where) as store, store.reading() as session:
        told = when_it_went_away(session, tire)
    screen.say(f"{told.said[:1].upper()}{told.said[1:]}")
    if told.runs:
        screen.say()
        rows = run_rows(screen, [one.run for one in told.runs])
        on_it = [
            (
                *row[:2],
                _short(one.run.track or one.run.event, NARROW_NAME),
                one.place.split(" ")[0],
                str(one.laps_before),
                *row[5:],
                _here(row[0] == told.run),
            )
            for one, row in zip(told.runs, rows, strict=True)
        ]
        screen.table(on_it, head=("run", "day", "where", "at", "laps on it", "best", "in ten", ""), left=4)
    screen.end("find", {"went_away": told})


def _here(gone: bool) -> str:
    return "<- here" if gone else ""


def _changed(screen: Screen, text: str, most: int, where: str) -> None:
    from ovalwright.notebook.asked.changed_when import what_i_changed_when

    felt, also = _felt(text)
    with opened(screen, where) as store, store.reading() as session:
        told = what_i_changed_when(session, felt.feel, felt.phase, felt.when, also=also)
    understood = "; ".join(one.understood for one in (felt, *also))
    screen.title(f"When {understood}")
    screen.say(f"{told.said[:1].upper()}{told.said[1:]}")
    for one in told.changes[:most]:
        screen.say()
        _say_change(screen, one)
    screen.end("find", {"when": understood, "changed": told})


def _felt(text: str) -> tuple[Felt, tuple[Clause, ...]]:
    """One comment, and what else must hold of the run. Raises Trouble."""
    clauses = read_question(text).clauses
    felt = [one for one in clauses if isinstance(one, Felt)]
    if len(felt) != 1:
        raise Trouble(f'--when: "{text[:40]}" is nothing a driver says; write such as "tight in the middle"')
    return felt[0], tuple(one for one in clauses if one is not felt[0])


def _say_change(screen: Screen, one: ChangedThen) -> None:
    before, then = one.run, one.next
    screen.say(f"{before.code} -> {then.code}  {then.date}, {_short(then.track or then.event)}")
    screen.say(one.changed or "nothing that is said differs", indent=4)
    if one.reason:
        screen.say(f'because "{one.reason}"', indent=4)
    steps = [
        f"{name} {screen.step(by, 'lap_gain')}"
        for name, by in (("best", one.best), ("fall-off in ten", one.fall_off))
        if by is not None
    ]
    screen.say(", ".join((f"then: {one.then_said}", *steps)), indent=4)
