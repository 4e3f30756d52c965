"""A lap list read: what the run tells, how the racer's own laps scatter, what a test of a change can see."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from ovalwright.cli.door import Trouble
from ovalwright.cli.screen import Screen, plus
from ovalwright.cli.typed import quantity
from ovalwright.documents import LapList, load_laps
from ovalwright.study.bands import Band
from ovalwright.study.falloff import EARLY, FEWEST, LATE, WARM_UP, Fade, RunSummary, crossover, summary
from ovalwright.study.repeats import Scatter, Trial, best_of_normal, laps_needed, own_scatter

FEWEST_AT_SPEED = 3
"""Laps at speed below which a list is not worth a table."""
LEGS = (3, 5, 10, 20)
"""Laps a leg for which it is said what a test can see."""
MOST_LINES = 8
"""Lines set aside that are shown one by one."""


def laps(
    screen: Screen,
    times: Path,
    *,
    against: Path | None,
    see: str,
    words: Sequence[str],
    setup: Path | None,
    track: Path | None,
    **of_the_car: Any,
) -> None:
    """One lap list, or two to compare: the summary, the scatter, and what an A-B-A test could see; matched to
    the run of a car where there is one.
    """
    meant = _words(words)
    sought = quantity(see, "lap_gain", "--see")
    listed = load_laps(times, words=meant)
    told = _summary(listed)
    screen.title(f"{listed.name}: {told.laps} laps, {told.at_speed} at speed")
    screen.table(_rows(screen, told), left=2)
    scatter = _scatter(screen, told, sought)
    other = _against(screen, told, load_laps(against, words=meant)) if against else None
    match = _matched(screen, listed, setup, track, **of_the_car) if setup or track else None
    _set_aside(screen, listed)
    screen.notes(listed.notes)
    screen.note("At speed: green and within a fifth of the median.")
    if told.fade is not None:
        screen.note(
            "Fall-off: median slope of all pairs of laps, from where tires that come in no longer count, "
            "with its 95 % band. It goes away only where a steeper fade from one lap on fits clearly better "
            "than an even or a growing one; of a hundred even runs one or two are said to have such a lap."
        )
    screen.end(
        "laps",
        {
            "laps": listed.laps,
            "aside": listed.aside,
            "summary": told,
            "scatter": scatter,
            "sees": _sees(scatter) if scatter else None,
            "against": other,
            "match": match,
        },
    )


def _matched(screen: Screen, listed: LapList, *files: Path | None, **of_the_car: Any) -> dict[str, Any]:
    """Matched to the run of a car; a list alone does not wait for the car to be loaded."""
    from ovalwright.cli.lap_match import matched

    return matched(screen, listed, *files, **of_the_car)


def _words(typed: Sequence[str]) -> dict[str, str]:
    """`wreck=yellow` and its like. Raises Trouble."""
    found = {}
    for text in typed:
        word, sign, flag = text.partition("=")
        if not (sign and word.strip() and flag.strip()):
            raise Trouble(f'--word: "{text[:40]}" maps no word to a flag; write such as wreck=yellow')
        found[word.strip()] = flag.strip().lower()
    return found


def _summary(listed: LapList) -> RunSummary:
    """The summary of a list that holds enough laps. Raises Trouble."""
    try:
        told = summary(listed.numbers, listed.times, listed.green)
    except ValueError as problem:
        raise Trouble(f"{listed.name}: {problem}") from None
    if told.at_speed < FEWEST_AT_SPEED:
        raise Trouble(
            f"{listed.name}: has too few laps at speed, {told.at_speed}; a pace needs {FEWEST_AT_SPEED}, a "
            f"fall-off {FEWEST} from lap {WARM_UP + 1} on"
        )
    return told


def _rows(screen: Screen, told: RunSummary) -> list[tuple[str, str]]:
    show = screen.show
    rows = [
        ("best", f"{show(told.best, 'lap_time')}, lap {told.best_lap}"),
        (f"laps {EARLY[0]} to {EARLY[1]}", show(told.early, "lap_time")),
        (f"laps {LATE[0]} to {LATE[1]}", show(told.late, "lap_time")),
        ("all laps listed", show(told.total, "lap_time")),
    ]
    if told.fade is None:
        return [*rows, ("fall-off", told.why.removeprefix("a fall-off "))]
    return [
        *rows,
        ("fall-off read from", f"lap {told.fade.first} on"),
        ("fall-off in ten laps", _change(screen, told.fade.per_ten)),
        ("goes away", _goes_away(screen, told.fade)),
    ]


def _change(screen: Screen, band: Band) -> str:
    value, low, high = (plus(screen.show(one, "lap_time")) for one in (band.value, band.low, band.high))
    return f"{value} ({low.removesuffix(' s')} to {high})"


def _goes_away(screen: Screen, fade: Fade) -> str:
    if fade.goes_away is None:
        return "no, the fade is even" if fade.shape == "even" else "at no one lap, the fade grows all along"
    before, after = (
        plus(screen.show(one, "lap_time")) for one in (fade.goes_away.before, fade.goes_away.after)
    )
    return f"after lap {fade.goes_away.lap}: {before} a lap before, {after} a lap after"


def _scatter(screen: Screen, told: RunSummary, sought: float) -> Scatter | None:
    """The scatter of the racer's own laps and what a test could see at that; None where laps are too few."""
    if told.fade is None:
        return None
    scatter = own_scatter(told.fade)
    show = screen.show
    screen.say()
    alike = f", each like the one before by {scatter.correlation:.1f}" if scatter.correlation >= 0.1 else ""
    screen.title(f"Your laps scatter by {show(scatter.sigma, 'lap_time')} about the fade{alike}")
    screen.table(
        [(str(n), show(a, "lap_time"), show(b, "lap_time")) for n, (a, b) in _sees(scatter).items()],
        head=("laps a leg", "A-B-A sees", "A-B-B-A sees"),
    )
    needed = laps_needed(sought, scatter.sigma, correlation=scatter.correlation)
    amount = show(sought, "lap_time")
    screen.say(
        f"To see {amount} takes {needed} laps at speed in each leg of A-B-A."
        if needed
        else f"No A-B-A that can be run shows {amount} at this scatter."
    )
    lucky = -best_of_normal(told.at_speed)[0] * scatter.sigma
    screen.note(
        "Sees: found four times of five, and a difference that is not there one time of twenty. The best of "
        f"{told.at_speed} such laps is {show(lucky, 'lap_time')} quicker than a usual one by chance alone: "
        "compare means, not best laps."
    )
    return scatter


def _sees(scatter: Scatter) -> dict[int, tuple[float, float]]:
    """By laps a leg, the smallest difference [s] that A-B-A and A-B-B-A see."""

    def smallest(laps: int) -> tuple[float, float]:
        a, b = (Trial(scatter.sigma, laps, plan, 1, scatter.correlation) for plan in ("A-B-A", "A-B-B-A"))
        return a.smallest, b.smallest

    return {laps: smallest(laps) for laps in LEGS}


def _against(screen: Screen, told: RunSummary, other: LapList) -> dict[str, object]:
    """When the other run overtakes this one, both smoothed, over the laps that both ran."""
    theirs = _summary(other)
    if told.fade is None or theirs.fade is None:
        raise Trouble(f"{other.name}: two runs are compared by their fades; {told.why or theirs.why}")
    last = int(min(told.fade.numbers[-1], theirs.fade.numbers[-1]))
    laps = np.arange(1.0, last + 1)
    ours, its = (np.interp(laps, one.numbers, one.smooth) for one in (told.fade, theirs.fade))
    meets = crossover(ours, its)
    screen.say()
    screen.title(f"Against {other.name}, over {last} laps, both smoothed")
    screen.table(
        [
            ("it is quicker", f"from lap {meets.quicker} on" if meets.quicker else "not at the end"),
            ("it is ahead on total", f"from lap {meets.ahead} on" if meets.ahead else "not at the end"),
            ("its lead at the end", plus(screen.show(meets.lead, "lap_time"))),
        ],
        left=2,
    )
    return {"name": other.name, "summary": theirs, "laps": last, "crossover": meets}


def _set_aside(screen: Screen, listed: LapList) -> None:
    if not listed.aside:
        return
    screen.say()
    screen.title("Set aside, and not counted")
    for one in listed.aside[:MOST_LINES]:
        screen.say(f"line {one.line}: {one.why}.")
    if len(listed.aside) > MOST_LINES:
        screen.say(f"and {len(listed.aside) - MOST_LINES} more lines.")
