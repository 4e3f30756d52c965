"""The one table of what the bench answers: how, where, by which function, on which page, and what for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from ovalwright.web import made_ready, static_files
from ovalwright.web.pages import (
    coming_in,
    effects,
    laps,
    notebook,
    notebook_drafts,
    notebook_enter,
    notebook_parts,
    notebook_setups,
    notebook_share,
    notebook_work,
    scales,
    scales_lead,
    setup,
    setup_measured,
    sheets,
    turn,
    turn_changes,
    turn_from,
    turn_sure,
    week,
    working,
)
from ovalwright.web.received import LARGEST
from ovalwright.web.shield import COME_IN, MOST_SENT


class Route(NamedTuple):
    """One address. `most` is the most bytes that a request there may carry; `thumb`: a slider asks for it."""

    method: str
    path: str
    answer: Callable[..., Any]
    page: str
    what: str
    most: int = MOST_SENT
    thumb: bool = False


ROUTES: tuple[Route, ...] = (
    Route("GET", "/", week.first, "This week", "on to the first page"),
    Route("GET", "/week", week.week, "This week", "what is next, and what the car still needs"),
    Route("POST", "/week/sure", week.sure, "This week", "begins to find how sure the three numbers are"),
    Route("POST", "/week/event", week.new_event, "This week", "enters the next event"),
    Route("POST", "/week/event/mend", week.mend_event, "This week", "mends an event"),
    Route("POST", "/week/event/drop", week.drop_event, "This week", "takes an event out"),
    Route("GET", "/setup", setup.setup, "Set up", "what is typical, what to measure next, a new car"),
    Route("POST", "/setup/measure", setup.measure, "Set up", "begins to find what to measure next"),
    Route(
        "GET",
        "/setup/measured",
        setup_measured.measured,
        "Set up",
        "how one number is measured, and its form",
    ),
    Route("POST", "/setup/measured", setup_measured.keep, "Set up", "keeps what was measured"),
    Route("POST", "/setup/narrowed", setup_measured.narrow, "Set up", "begins to find what it narrowed"),
    Route("POST", "/setup/take-back", setup_measured.back, "Set up", "takes back what was measured last"),
    Route("POST", "/setup/new", setup.new, "Set up", "makes a new car of ten answers"),
    Route("GET", "/scales", scales.scales, "Scales", "what the four pads say"),
    Route("POST", "/scales", scales.type_in, "Scales", "keeps what is typed, and says what it means"),
    Route("POST", "/scales/lead", scales_lead.place_lead, "Scales", "begins to place lead"),
    Route("POST", "/scales/lead/move", scales_lead.move_lead, "Scales", "moves a piece of lead by hand"),
    Route("POST", "/scales/lead/keep", scales_lead.keep_lead, "Scales", "keeps a lead plan as a new setup"),
    Route("POST", "/scales/take-back", scales_lead.take_back, "Scales", "takes back what was kept last"),
    Route("POST", "/scales/keep", scales.keep, "Scales", "keeps what is typed as the next sheet"),
    Route("POST", "/scales/book", scales.keep_book, "Scales", "keeps a rule book of two limits"),
    Route("POST", "/scales/put-away", scales.put_away, "Scales", "lets what is half typed go"),
    Route(
        "GET", "/laps", laps.laps, "Lap and run", "one lap, the run, A against B, two laps or the race, gears"
    ),
    Route("POST", "/laps/ask", laps.ask, "Lap and run", "drives again, or in many draws for the bands"),
    Route(
        "GET", "/turn", turn.turn, "The turn", "the car in the turn, and every adjustment of it", thumb=True
    ),
    Route("POST", "/turn/look", turn_changes.look, "The turn", "another place or fuel, without JavaScript"),
    Route("POST", "/turn/press", turn_changes.press, "The turn", "one step of a control, or undo"),
    Route("POST", "/turn/settle", turn_changes.settle, "The turn", "mine, his or both"),
    Route("POST", "/turn/choose", turn_changes.choose, "The turn", "takes another setup in hand"),
    Route("POST", "/turn/keep", turn_changes.keep, "The turn", "keeps what is in hand as a new setup"),
    Route("POST", "/turn/hold", turn_changes.hold, "The turn", "looks at another hand"),
    Route("POST", "/turn/away", turn_changes.put_away, "The turn", "lets a hand go"),
    Route("GET", "/turn/sure", turn_sure.sure, "The turn", "the bands of its numbers"),
    Route("POST", "/turn/sure", turn_sure.ask, "The turn", "begins to find the bands"),
    Route("GET", "/turn/from/{what}", turn_from.where_from, "The turn", "where a number comes from"),
    Route(
        "GET", "/effects", effects.effects, "What each thing does", "one step of every adjustment, and why"
    ),
    Route("POST", "/effects/ask", effects.ask, "What each thing does", "asks for the bands and the laps"),
    Route("GET", "/notebook", notebook.notebook, "Notebook", "the runs, by days or by a question"),
    Route("GET", "/notebook/run/{code}", notebook.run, "Notebook", "one run in full"),
    Route("GET", "/notebook/changed", notebook.changed, "Notebook", "what was changed when he said so"),
    Route("GET", "/notebook/enter", notebook_enter.enter, "Notebook", "entries made at the track"),
    Route("POST", "/notebook/enter", notebook_enter.keep, "Notebook", "keeps an entry"),
    Route("GET", "/notebook/enter/runs", notebook_enter.runs_now, "Notebook", "runs an entry may be about"),
    Route("GET", "/notebook/delivery", notebook_enter.delivery, "Notebook", "the token of a delivery"),
    Route("POST", "/notebook/delivery", notebook_enter.delivered, "Notebook", "keeps an entry that waited"),
    Route("GET", "/notebook/setups", notebook_setups.setups, "Notebook", "setups, and two compared"),
    Route("GET", "/notebook/revision/{code}", notebook_setups.revision, "Notebook", "one revision"),
    Route("GET", "/notebook/parts", notebook_parts.parts_page, "Notebook", "tires, parts, what is due"),
    Route("POST", "/notebook/parts", notebook_parts.new_part, "Notebook", "enters a part"),
    Route("GET", "/notebook/part", notebook_parts.part, "Notebook", "one part with its life"),
    Route("POST", "/notebook/part/moved", notebook_parts.moved, "Notebook", "puts a part on or takes it off"),
    Route("POST", "/notebook/part/measured", notebook_parts.measured, "Notebook", "keeps a measurement"),
    Route("POST", "/notebook/part/serviced", notebook_parts.serviced, "Notebook", "notes a job done"),
    Route("POST", "/notebook/part/due", notebook_parts.due_after, "Notebook", "tells how often a job is due"),
    Route("GET", "/notebook/work", notebook_work.work_page, "Notebook", "checklists to tick off"),
    Route("POST", "/notebook/work/begin", notebook_work.begin, "Notebook", "begins a list"),
    Route("POST", "/notebook/work/tick", notebook_work.tick, "Notebook", "notes things done"),
    Route("POST", "/notebook/work/right", notebook_work.right, "Notebook", "says that a find is put right"),
    Route("POST", "/notebook/work/close", notebook_work.close, "Notebook", "closes a list"),
    Route("POST", "/notebook/work/add", notebook_work.add, "Notebook", "adds to a checklist"),
    Route("GET", "/notebook/share", notebook_share.share, "Notebook", "what may be shared"),
    Route("GET", "/notebook/bundle", notebook_share.bundle, "Notebook", "a bundle as a file"),
    Route("POST", "/notebook/receive", notebook_share.receive, "Notebook", "looks at a bundle", LARGEST),
    Route("POST", "/notebook/receive/take", notebook_share.take_in, "Notebook", "takes a bundle in"),
    Route(
        "POST", "/notebook/half-filled/away", notebook_drafts.throw_away, "Notebook", "throws a draft away"
    ),
    Route("GET", "/notebook/half-filled/{uid}", notebook_drafts.draft, "Notebook", "a form that waits"),
    Route("POST", "/notebook/half-filled/{uid}", notebook_drafts.go_on, "Notebook", "keeps it as an entry"),
    Route(
        "POST", "/notebook/half-filled/{uid}/later", notebook_drafts.save, "Notebook", "saves it for later"
    ),
    Route("POST", "/notebook/undo", notebook.take_back, "Notebook", "takes the last entry back"),
    Route("POST", "/notebook/put-back", notebook.put_back, "Notebook", "puts back what was taken back"),
    Route("GET", "/sheets", sheets.sheets, "Sheets", "a sheet, two pages at a time"),
    Route("GET", "/sheets/page.svg", sheets.picture, "Sheets", "one page of a sheet as a picture"),
    Route("GET", "/sheets/sheet.pdf", sheets.pdf, "Sheets", "a sheet to print"),
    Route("GET", COME_IN, coming_in.door, "The door", "asks a phone for the passcode"),
    Route("POST", COME_IN, coming_in.come_in, "The door", "lets a phone in"),
    Route("POST", "/leave", coming_in.leave, "The door", "puts this phone out"),
    Route("POST", "/theme", coming_in.theme, "every page", "day or night on this device"),
    Route("POST", "/thumb", coming_in.thumb, "every page", "left or right thumb on this device"),
    Route("GET", "/made-ready", made_ready.how_far, "every page", "how far the physics is"),
    Route("POST", "/working/{id}/stop", working.stop, "every page", "stops a study under way"),
    Route("GET", "/static/{name}", static_files.static, "every page", "styles, scripts, font"),
)
