"""What was driven, as the page says it: one lap, the run, two laps against the race, the gears."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ovalwright.corners import CORNERS
from ovalwright.pictures.run import slowest_shown
from ovalwright.study.against import FIGURES, QUALIFYING
from ovalwright.study.bands import Band
from ovalwright.study.driver_said import matched_said, uses_said
from ovalwright.study.lap import STEADY, Driver
from ovalwright.study.run_reading import LITTLE_LOST, OFF_ITS_BEST
from ovalwright.web import shares
from ovalwright.web.lap_work import (
    Compared,
    Driven,
    GearsTold,
    GearTold,
    RunTold,
)
from ovalwright.web.one_lap_words import (
    OneLap,
    Pictures,
    Row,
    Table,
    letters_of,
    one_lap,
    pictures_of,
    ruling_from_to,
    sections,
    time_of,
    to_check,
)
from ovalwright.web.troubles import sentence
from ovalwright.web.words import NOTHING, REAR_AGAINST_FRONT, amount, step

LEAST_LOST = 0.0005
"""Share of its grip below which a tire has lost none, and a cause is not named."""
NO_BREAK = "\N{NO-BREAK SPACE}"
THE_TRIM = (
    "Both trims are the same car with the same setup. For two laps it carries little fuel on cold tires that "
    "have not come in; for the race it carries the fuel of the start, and its tires heat, grow and wear. "
    "Nothing else differs: no pressures, tape or bolts are changed between them here."
)


@dataclass(frozen=True)
class Shown:
    """The whole answer in words and pictures, from the verdict down."""

    verdict: str
    under: str
    lap: OneLap
    run_picture: Pictures
    figures: Table
    said: tuple[str, ...]
    sections: Table
    ruling: tuple[Table, ...]
    to_check: tuple[Table, ...]
    tires: tuple[Table, ...]
    trim: Table
    trim_said: tuple[str, ...]
    gears: Table
    gears_said: str
    sure: str
    notes: tuple[str, ...]


def shown(found: Driven, names: Sequence[str], best: float | None) -> Shown:
    """The answer for these setups; `best` is the lap [s] that the grip was matched to."""
    letters, compared = letters_of(names), found.compared
    verdict, under = _verdict(found, letters)
    return Shown(
        verdict=verdict,
        under=under,
        lap=one_lap(found.lap_chart, found.laps, letters, best),
        run_picture=pictures_of(found.run_chart, "run", found.run_chart.panels),
        figures=_figures(found, letters),
        said=(*found.held, *_off_the_picture(found, letters), *_said(found, letters)),
        sections=sections(found.laps, letters),
        ruling=tuple(ruling_from_to(one, of) for one, of in zip(found.laps, letters, strict=True)),
        to_check=tuple(to_check(one, of) for one, of in zip(found.laps, letters, strict=True)),
        tires=tuple(_tires(one, of) for one, of in zip(found.runs, letters, strict=True)),
        trim=_trim(found, letters),
        trim_said=(*_quickest(found, letters), THE_TRIM),
        gears=_gears(found.gears),
        gears_said=_which_gear(found.gears),
        sure=_how_sure(found.driver, best),
        notes=(STEADY, *(_drawn(compared) if compared else ()), *found.notes),
    )


# ---------------- the verdict, and the figures


def _verdict(found: Driven, letters: Sequence[str]) -> tuple[str, str]:
    """The headline, none where two are compared without bands, and what stands under it."""
    compared, run = found.compared, found.runs[-1]
    if compared is None:
        left = run.reading.went_away
        goes = f"goes away from lap {left}" if left is not None else "does not go away"
        best = run.reading.summary
        return f"Best {amount(best.best, 'lap_time')} on lap {best.best_lap}; it {goes}", ""
    total = compared.figures["total"][2]
    if math.isnan(total.low):
        return "", (
            f"As computed, B is {_by(total.value, 1)} over {run.laps} laps. It is not known how sure: a "
            "small difference may be none. Ask for the bands."
        )
    if not total.sure_of_sign:
        return "Too close to call over the run", _ahead(compared)
    return f"{'B' if total.value < 0.0 else 'A'} is the quicker one over {run.laps} laps", _ahead(compared)


def _ahead(compared: Compared) -> str:
    return f"B is ahead at the end in {100 * compared.gets_ahead:.0f} % of {compared.draws} draws."


def _signed(seconds: float) -> str:
    return "" if math.isnan(seconds) else step(seconds, "lap_time")


def _figures(found: Driven, letters: Sequence[str]) -> Table:
    compared = found.compared
    heads = ("", *(of or "this setup" for of in letters), *(("B less A",) if compared else ()))
    names = [name for name in FIGURES if not all(math.isnan(_figure(one, name)) for one in found.runs)]
    rows = (*(_figure_row(found, name) for name in names), *_more_rows(found))
    bands = tuple(_ends(compared.figures[name][2], name) for name in names) if compared else ()
    return Table(f"The run, {found.runs[0].laps} laps", heads, rows, bands)


def _figure_row(found: Driven, name: str) -> Row:
    values = (_whole(_figure(one, name), name) for one in found.runs)
    if found.compared is None:
        return (name, *values)
    return (name, *values, _difference(found.compared.figures[name][2].value, name))


def _whole(seconds: float, name: str) -> str:
    """A time; that of a whole run to a tenth."""
    if name != "total" or not math.isfinite(seconds):
        return time_of(seconds)
    minutes, rest = divmod(round(seconds, 1), 60.0)
    return f"{minutes:.0f}:{rest:04.1f}" if minutes else f"{rest:.1f} s"


def _difference(seconds: float, name: str) -> str:
    if math.isnan(seconds):
        return ""
    return f"{shares.seconds(seconds, 1)} s" if name == "total" else _signed(seconds)


def _more_rows(found: Driven) -> Iterator[Row]:
    runs, compared = found.runs, found.compared
    more = [("falls off in ten laps", *map(_fall_off, runs)), ("goes away", *map(_goes_away, runs))]
    more += [
        (f"{REAR_AGAINST_FRONT}, laps 3 to 7", *(_balance(one.reading.early) for one in runs)),
        (f"{REAR_AGAINST_FRONT} at the end", *(_balance(one.reading.end) for one in runs)),
        ("rear stagger, first lap", *(amount(one.stagger[0], "growth") for one in runs)),
        ("rear stagger at the end", *(amount(one.stagger[1], "growth") for one in runs)),
        ("fuel at the flag", *(amount(one.fuel[1], "volume") for one in runs)),
    ]
    for row in more:
        yield (*row, "") if compared else row


def _balance(share: float) -> str:
    """A balance that breaks, where it must, behind its word."""
    return shares.balance(share).replace(" %", f"{NO_BREAK}%")


def _figure(one: RunTold, name: str) -> float:
    told = one.reading.summary
    return {"best lap": told.best, "laps 3 to 7": told.early, "laps 20 to 25": told.late}.get(
        name, told.total
    )


def _ends(band: Band, name: str) -> str:
    if not (math.isfinite(band.low) and math.isfinite(band.high)):
        return ""
    low, high = (_difference(one, name) for one in (band.low, band.high))
    return f"{low.removesuffix(' s')} to {high}"


def _fall_off(one: RunTold) -> str:
    fade = one.reading.summary.fade
    return _signed(fade.per_ten.value) if fade else one.reading.summary.why.removeprefix("a fall-off ")


def _goes_away(one: RunTold) -> str:
    lap, stint = one.reading.went_away, one.reading.stints[0]
    if lap is not None:
        return f"from lap {lap}"
    if stint.ends_quickest:
        return "no, quickest last"
    return f"no, ends {time_of(stint.behind)} off"


def _said(found: Driven, letters: Sequence[str]) -> Iterator[str]:
    compared = found.compared
    if compared is not None:
        yield compared.b_stands
        yield _from_which_lap(compared)
        if compared.laps_to_see is not None:
            yield f"An A-B-A test needs {compared.laps_to_see} laps at speed in each leg to see that."
    for one, of in zip(found.runs, letters, strict=True):
        yield _lost_most(one, of)
    off = time_of(OFF_ITS_BEST)
    yield f"It goes away where its fade breaks, or from where it stays {off} off its best lap."


def _off_the_picture(found: Driven, letters: Sequence[str]) -> Iterator[str]:
    """Which laps are slower than the picture shows, before the best one."""
    slowest = slowest_shown([one.times for one in found.runs])
    for one, of in zip(found.runs, letters, strict=True):
        off = np.flatnonzero(one.times[: int(np.argmin(one.times))] > slowest) + 1
        if off.size:
            laps = f"laps {off[0]} to {off[-1]} are" if off.size > 1 else f"lap {off[0]} is"
            first = time_of(float(one.times[off[0] - 1]))
            who = f"{of}: " if of else ""
            yield sentence(f"{who}{laps} above the picture, coming in: lap {off[0]} takes {first}")


def _from_which_lap(compared: Compared) -> str:
    band = compared.quicker_band
    if compared.quicker is None:
        return "B is not the quicker one on the last laps."
    spread = f", give or take: lap {band.low:.0f} to {band.high:.0f}" if math.isfinite(band.low) else ""
    ahead = f"; it is ahead from lap {compared.ahead} on" if compared.ahead is not None else ", never ahead"
    return f"B is the quicker one from lap {compared.quicker} on{spread}{ahead}."


def _lost_most(one: RunTold, of: str) -> str:
    worst = max(one.lost, key=lambda lost: lost.whole)
    who = f"{of}: " if of else ""
    if worst.whole < LEAST_LOST:
        return sentence(f"{who}no tire goes first, none has lost grip: fuel and heat change the times.")
    if worst.whole < LITTLE_LOST:
        size = f"{shares.percent(worst.whole, 2)} % of its grip from lap {worst.lap} on"
        return sentence(
            f"{who}{worst.corner} goes first, but by little: {size}; fuel and heat change the times."
        )
    parts = {name: float(getattr(worst, name)) for name in ("heat", "wear", "age")}
    lost = sorted((name for name in parts if parts[name] >= LEAST_LOST), key=lambda name: -parts[name])
    each = ", ".join(f"{shares.percent(parts[name])} % to {name}" for name in lost)
    whole = f"{shares.percent(worst.whole)} % of its grip from lap {worst.lap} on"
    return f"{who}{worst.corner} loses most: {whole}, {each}."


# ---------------- tires, trims, gears


def _tires(one: RunTold, of: str) -> Table:
    rows = (
        ("tread", *(amount(float(value), "temperature") for value in one.tread)),
        ("hot pressure", *(amount(float(value), "pressure") for value in one.pressure)),
        ("worn off", *(amount(float(value), "wear") for value in one.wear)),
        ("grip at the end", *(f"{shares.percent(lost.left)} %" for lost in one.lost)),
        ("best on lap", *(str(lost.lap) for lost in one.lost)),
    )
    return Table(f"Tires at the flag {of}".strip(), ("", *CORNERS), rows)


def _trim(found: Driven, letters: Sequence[str]) -> Table:
    """Two laps beside the race, for each setup."""
    heads: Row = ("",)
    columns: list[RunTold] = []
    for trim, run, of in zip(found.trims, found.runs, letters, strict=True):
        heads = (*heads, f"{of} two laps".strip(), f"{of} the race".strip())
        columns += [trim, run]
    rows = (
        ("laps", *(str(one.laps) for one in columns)),
        ("fuel at the start", *(amount(one.fuel[0], "volume") for one in columns)),
        ("best lap", *(time_of(one.reading.summary.best) for one in columns)),
        ("on lap", *(str(one.reading.summary.best_lap) for one in columns)),
        (f"{REAR_AGAINST_FRONT} on it", *(_balance(one.best_balance) for one in columns)),
        ("cross, standing", *(amount(one.cross[0], "percent") for one in columns)),
        ("cross at the flag", *(amount(one.cross[1], "percent") for one in columns)),
        ("rear stagger at the end", *(amount(one.stagger[1], "growth") for one in columns)),
        ("RR tread at the end", *(amount(float(one.tread[3]), "temperature") for one in columns)),
    )
    return Table(f"Trim for two laps, trim for the race of {found.runs[0].laps}", heads, rows)


def _quickest(found: Driven, letters: Sequence[str]) -> Iterator[str]:
    if found.compared is None:
        return
    a, b = (one.reading.summary.total for one in found.trims)
    give = found.compared.two_laps_give
    two, total = Band(b - a, b - a - give, b - a + give), found.compared.figures["total"][2]
    yield f"{_called(QUALIFYING, two, 3)} {_called(found.runs[0].laps, total, 1)}"
    if not found.compared.draws:
        yield "Which is quicker is called with bands alone."


def _called(laps: int, less: Band, places: int) -> str:
    """Which is the quicker one, from B less A [s] with its band; only the difference where there is none."""
    if math.isnan(less.low):
        return f"For {laps} laps, as computed, B is {_by(less.value, places)}."
    if not less.sure_of_sign:
        return f"For {laps} laps it is too close to call."
    return (
        f"For {laps} laps {'B' if less.value < 0.0 else 'A'} is quicker, by {abs(less.value):.{places}f} s."
    )


def _by(less: float, places: int) -> str:
    """How much quicker or slower, from B less A [s]; as quick as A where so many decimals show nothing."""
    size = f"{abs(less):.{places}f}"
    if float(size) == 0.0:
        return "as quick as A"
    return f"{size} s {'quicker' if less < 0.0 else 'slower'}"


def _gears(found: GearsTold) -> Table:
    fitted = next((one.time for one in found.rows if one.fitted), math.nan)
    rows = tuple(
        (
            _gear_name(one),
            time_of(one.time) if math.isfinite(one.time) else NOTHING,
            "" if one.fitted else _signed(one.time - fitted),
            amount(one.top_revs, "spin"),
            time_of(one.on_the_limiter),
        )
        for one in found.rows
    )
    return Table("Gears", ("gear", "lap", "against it", "top revs", "on the limiter"), rows)


def _gear_name(one: GearTold) -> str:
    ratio = amount(one.ratio, "ratio")
    name = ratio if one.name in (ratio, f"{one.ratio:g}") else f"{one.name}, {ratio}"
    return f"{name}, in the car" if one.fitted else name


def _which_gear(found: GearsTold) -> str:
    if not found.best:
        return "With none of these gears the car gets round."
    best = next(one for one in found.rows if one.name == found.best)
    said = "The gear in the car is the quickest of these." if best.fitted else f"{best.name} is the quickest."
    if found.kinder:
        said += f" {found.kinder} is as good within 0.01 s and spares the engine the limiter."
    if best in (found.rows[0], found.rows[-1]):
        said += " It stands at the end of the list: one beyond may be better."
    return said if found.owned else f"{said} The rack holds no gears, so these are steps of about a tooth."


# ---------------- how sure


def _how_sure(driver: Driver, best: float | None) -> str:
    if best is not None:
        return matched_said(driver, f"your best lap of {best:.3f} s")
    guessed = "Grip and driver are guessed; your best lap of such a run settles them."
    return f"{guessed} {uses_said(driver)}"


def _drawn(compared: Compared) -> tuple[str, ...]:
    if not compared.draws:
        return ("No bands were asked for: a small difference may be no difference.",)
    went = compared.draws - compared.failed
    return (
        "The band around B in the picture of the run is that of its difference to A, smaller than that of "
        "either, because both share one grip and one driver.",
        f"Bands are 95 %, from {went} of {compared.draws} draws of what is not exactly known, the same for A "
        "and B; the rest did not get round.",
        f"The band of {QUALIFYING} laps is that of the first {QUALIFYING} of the run, at its widest.",
    )
