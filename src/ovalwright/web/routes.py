"""The one table of what the bench answers: how, where, by which function, on which page, and what for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from ovalwright.web import static_files
from ovalwright.web.pages import coming_in, effects, notebook, notebook_run, scales, setup, week, working
from ovalwright.web.shield import COME_IN, MOST_SENT


class Route(NamedTuple):
    """One address. `most` is the most bytes that a request there may carry."""

    method: str
    path: str
    answer: Callable[..., Any]
    page: str
    what: str
    most: int = MOST_SENT


ROUTES: tuple[Route, ...] = (
    Route("GET", "/", week.first, "This week", "on to the first page"),
    Route("GET", "/week", week.week, "This week", "what is next, and what the car still needs"),
    Route("POST", "/week/event", week.new_event, "This week", "enters the next event"),
    Route("GET", "/setup", setup.setup, "Set up", "what is typical, what to measure next, a new car"),
    Route("POST", "/setup/measure", setup.measure, "Set up", "begins to find what to measure next"),
    Route("POST", "/setup/new", setup.new, "Set up", "makes a new car of ten answers"),
    Route("GET", "/scales", scales.scales, "Scales", "what the four pads say"),
    Route("POST", "/scales", scales.type_in, "Scales", "keeps what is typed, and says what it means"),
    Route("POST", "/scales/lead", scales.place_lead, "Scales", "begins to place lead"),
    Route("POST", "/scales/keep", scales.keep, "Scales", "keeps what is typed as the next sheet"),
    Route("POST", "/scales/put-away", scales.put_away, "Scales", "lets what is half typed go"),
    Route(
        "GET", "/effects", effects.effects, "What each thing does", "one step of every adjustment, and why"
    ),
    Route("POST", "/effects/ask", effects.ask, "What each thing does", "asks for the bands and the laps"),
    Route("GET", "/notebook", notebook.notebook, "Notebook", "the runs, by days or by a question"),
    Route("GET", "/notebook/run/{code}", notebook_run.run, "Notebook", "one run in full"),
    Route("GET", "/notebook/changed", notebook.changed, "Notebook", "what was changed when he said so"),
    Route("POST", "/notebook/undo", notebook.take_back, "Notebook", "takes the last entry back"),
    Route("GET", COME_IN, coming_in.door, "The door", "asks a phone for the passcode"),
    Route("POST", COME_IN, coming_in.come_in, "The door", "lets a phone in"),
    Route("POST", "/leave", coming_in.leave, "The door", "puts this phone out"),
    Route("POST", "/theme", coming_in.theme, "every page", "day or night on this device"),
    Route("POST", "/working/{id}/stop", working.stop, "every page", "stops a study under way"),
    Route("GET", "/static/{name}", static_files.static, "every page", "styles, scripts, font"),
)
