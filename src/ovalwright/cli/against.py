"""Two setups over a run: against."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from ovalwright.cli.changing import check_draws
from ovalwright.cli.contract import told
from ovalwright.cli.door import Trouble, said_by
from ovalwright.cli.lapping import NOT_IN_IT, Job, job_of, lap_time
from ovalwright.cli.options import ToDrive
from ovalwright.cli.running import balance, chart_of, how_sure, told_run
from ovalwright.cli.screen import Screen, plus, quoted
from ovalwright.cli.turning import START_SLOW, guessed
from ovalwright.cli.typed import on_its_own_sheet, quantity
from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly
from ovalwright.pictures.save import lines, save
from ovalwright.study.against import QUALIFYING, Against, has_own_sheet, only_pressures
from ovalwright.study.against import against as against_study
from ovalwright.study.bands import Band
from ovalwright.study.lap import Driver, NoLap
from ovalwright.study.run_match import matching_run
from ovalwright.study.run_reading import RunDiffers, differs

MOST_NAMED = 4
"""Keys named that an impound rule forbids to change."""


def against(
    screen: Screen,
    asked: ToDrive,
    other: Path,
    *,
    laps: int,
    draws: int,
    scatter: str,
    impound: bool,
    pictures: Sequence[Path],
) -> None:
    """Two setups on one line, day and driver: the times, when B gets ahead, how sure, and why."""
    check_draws(draws)
    sought = lap_time(asked.time) if asked.time else None
    sigma = quantity(scatter, "lap_gain", "--scatter")
    job = job_of(screen, asked)
    rival = on_its_own_sheet(job.assembly, other)
    if impound:
        _check_impound(job.assembly, rival)
    with said_by(NoLap), screen.progress("driving") as tell:
        driver = job.driver
        if sought is not None:
            driver = matching_run(job.packed, job.line, job.day, laps, sought, driver, progress=tell).driver

        def raced(count: int, best: float | None) -> Against:
            return against_study(
                job.packed, rival, job.line, job.oval, job.day, count, driver,
                draws=draws, scatter=sigma, impound=impound, best=best, progress=tell,
            )  # fmt: skip

        qualifying = raced(QUALIFYING, None) if impound else None
        answer = raced(laps, sought)
    names = (job.assembly.setup.name, rival.setup.name)
    runs = list(zip(names, (answer.a, answer.b), strict=True))
    chart = chart_of(screen, runs, job.where)
    with said_by(ValueError):
        for path in pictures:
            save(chart, path)
    screen.title(f"{names[0]} (A) against {names[1]} (B), {laps} laps")
    screen.say(job.where)
    screen.say(how_sure(driver, sought))
    screen.say(answer.b_stands)
    if qualifying is not None:
        screen.say()
        figures(screen, qualifying, f"Qualifying, the first {QUALIFYING} laps", ("best lap",))
    screen.say()
    figures(screen, answer, f"The run, {laps} laps", tuple(answer.figures))
    screen.say()
    for sentence in (*when_ahead(answer, laps), to_see(screen, answer, scatter)):
        screen.say(sentence)
    screen.say()
    _why(screen, answer)
    screen.say()
    for line in lines(chart, screen.out.width):
        screen.say(line)
    for path in pictures:
        screen.say(f"Written: {quoted(path)}")
    _notes(screen, job, answer)
    screen.end("against", {"answer": _told(answer, driver, sought, qualifying)})


def _check_impound(base: Assembly, other: Assembly) -> None:
    """Raises Trouble, which names what differs, where more than pressures do."""
    changed = [path.removeprefix("setup.") for path in only_pressures(base, other)]
    if not changed and has_own_sheet(base, other):
        changed = ["the sheet"]
    if changed:
        more = f" and {len(changed) - MOST_NAMED} more" if len(changed) > MOST_NAMED else ""
        raise Trouble(
            f"--impound: only pressures may differ, and {other.setup.file_name} differs in "
            f"{', '.join(changed[:MOST_NAMED])}{more}; change nothing else, or leave out --impound"
        )


# ---------------- the times


def figures(screen: Screen, answer: Against, title: str, names: Sequence[str]) -> None:
    """Times of A, of B, and B less A, with their bands."""
    rows = []
    for name in names:
        a, b, change = answer.figures[name]
        if math.isnan(change.value):
            continue
        rows.append(
            (name, *(screen.show(one.value, "lap_time") for one in (a, b)), _signed(screen, change.value))
        )
        if math.isfinite(change.low):
            ends = [
                f"{screen.show(one.low, 'lap_time')[:-2]} to {screen.show(one.high, 'lap_time')}"
                for one in (a, b)
            ]
            low, high = (_signed(screen, one) for one in (change.low, change.high))
            rows.append(("  95 % band", *ends, f"{low[:-2]} to {high}"))
    screen.table(rows, head=("", "A", "B", "B less A"), title=title)


def _signed(screen: Screen, seconds: float) -> str:
    return plus(screen.show(seconds, "lap_time"))


def when_ahead(answer: Against, laps: int) -> list[str]:
    """From which lap B is quicker, and the later one from which it is ahead, in how many of the draws."""
    crossed, said = answer.crossover, []
    for word, never, lap, band in (
        ("is the quicker one", "is not the quicker one on the last laps", crossed.quicker, answer.quicker),
        ("is ahead on total time", f"is not ahead after {laps} laps", crossed.ahead, answer.ahead),
    ):
        known = math.isfinite(band.low)
        spread = f" (95 % band, where it is: {band.low:.0f} to {band.high:.0f})" if known else ""
        said.append(f"B {never}." if lap is None else f"B {word} from lap {lap} on{spread}.")
    if answer.draws and math.isfinite(answer.figures["total"][2].low):
        said.append(f"B is ahead at the end in {100 * answer.gets_ahead:.0f} % of draws: {_sure(answer)}.")
    return said


def _sure(answer: Against) -> str:
    total = answer.figures["total"][2]
    if not total.sure_of_sign:
        return "too close to call"
    return "B is the quicker one over the run" if total.value < 0.0 else "A is the quicker one over the run"


def to_see(screen: Screen, answer: Against, scatter: str) -> str:
    """How many laps a test on the track needs to see the difference."""
    early = answer.figures["laps 3 to 7"][2].value
    if math.isnan(early):
        return "The run is too short to say how many laps a test needs."
    amount = f"a difference of {screen.show(abs(early), 'lap_time')} in laps 3 to 7"
    if answer.laps_to_see is None:
        return f"No A-B-A test that can be run shows {amount} at a scatter of {scatter} a lap."
    return (
        f"An A-B-A test needs {answer.laps_to_see} laps at speed in each leg to see {amount} at a scatter of "
        f"{scatter} a lap."
    )


# ---------------- why


def _why(screen: Screen, answer: Against) -> None:
    """What differs most between the two runs."""
    found = differs(answer.a, answer.b)
    spans = {"tread": "temperature_span", "pressure": "pressure", "wear": "wear"}
    names = {"tread": "tread at the end", "pressure": "hot pressure at the end", "wear": "worn off"}
    rows = [("work slid away", *(plus(f"{100 * one:.1f} %") for one in found.work))]
    rows += [
        (names[name], *(plus(screen.show(float(one), kind)) for one in getattr(found, name)))
        for name, kind in spans.items()
    ]
    rows.append(("grip at the end", *(plus(f"{100 * one:.1f} %") for one in found.grip)))
    screen.table(rows, head=("B less A", *CORNERS))
    ends = [
        next(lap.balance for lap in reversed(one.laps) if lap.flag == "green") for one in (answer.a, answer.b)
    ]
    screen.say(f"Balance at the end: A {balance(ends[0])}, B {balance(ends[1])}.")
    screen.say(most(screen, found))


def most(screen: Screen, found: RunDiffers) -> str:
    """The tire whose work differs most, and the change of balance."""
    i = int(np.argmax(np.abs(found.slid)))
    tread = float(found.tread[i])
    more, hotter = "more" if found.work[i] > 0.0 else "less", "hotter" if tread > 0.0 else "cooler"
    side = "looser" if found.balance > 0.0 else "tighter"
    degrees = screen.show(abs(tread), "temperature_span")
    return (
        f"Most changes at {CORNERS[i]}: B slides it {100 * abs(found.work[i]):.1f} % {more}, its tread ends "
        f"{degrees} {hotter}; B is {100 * abs(found.balance):.1f} % {side} at the end."
    )


def _notes(screen: Screen, job: Job, answer: Against) -> None:
    screen.notes(f"A: {note}" for note in answer.a.notes)
    screen.notes(f"B: {note}" for note in answer.b.notes)
    if answer.draws:
        screen.note(
            f"Bands are 95 %, from {answer.draws - answer.failed} of {answer.draws} draws of what is "
            "not exactly known, the same for A and B; the rest could not be built or did not get round."
        )
    else:
        screen.note("No bands were asked for (--draws 64): a small difference may be no difference.")
    screen.note(
        "Both run one line, on one day, with one driver: freeing the line is worth more than most setups."
    )
    screen.note(NOT_IN_IT)
    screen.note(guessed(job.assembly))
    screen.note(START_SLOW)
    screen.notes([*answer.a.packed.notes, *job.assembly.warnings])


def _told(
    answer: Against, driver: Driver, sought: float | None, qualifying: Against | None
) -> dict[str, Any]:
    """The answer for another program."""

    whose = ("a", "b", "b_less_a")

    def of_all(of: Against) -> dict[str, dict[str, Band]]:
        return {name: dict(zip(whose, bands, strict=True)) for name, bands in of.figures.items()}

    rest = (
        "crossover",
        "quicker",
        "ahead",
        "gets_ahead",
        "own_sheet",
        "reset",
        "laps_to_see",
        "draws",
        "failed",
    )
    return {
        "driver": driver,
        "matched_to": sought,
        "figures": of_all(answer),
        "qualifying": of_all(qualifying) if qualifying else None,
        **{name: told(getattr(answer, name)) for name in rest},
        "differs": told(differs(answer.a, answer.b)),
        "a": told_run(answer.a),
        "b": told_run(answer.b),
    }
