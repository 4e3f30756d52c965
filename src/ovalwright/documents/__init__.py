"""The documents of the workbench: plain TOML files a racer reads and edits, one model each.

``load_car("car.toml")`` and its like raise ``DocumentError``, one sentence with file, line, key, what is
wrong and what would be right. Every quantity keeps its text as typed beside its SI value, its give-or-take
and its evidence.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ovalwright.documents.answers import QUESTIONS, Question, check_answer, understood
from ovalwright.documents.assembly import Assembly, assemble
from ovalwright.documents.car import Car
from ovalwright.documents.document import Document
from ovalwright.documents.laps import FLAGS, LapList, SetAside, TimedLap, load_laps, read_laps
from ovalwright.documents.new import new_car, write_new
from ovalwright.documents.oval import Track
from ovalwright.documents.part import Entry, Part
from ovalwright.documents.rack import Rack
from ovalwright.documents.rules import Rules
from ovalwright.documents.setup import Setup
from ovalwright.documents.sheet import WORKED_OUT, Sheet
from ovalwright.documents.source import DocumentError
from ovalwright.documents.track import ENTRY, EXIT, MIDDLE, STATIONS, Conditions, State, Station

KINDS_OF_DOCUMENT: dict[str, type[Document]] = {
    model.kind_name: model for model in (Car, Setup, Track, Conditions, Rack, Rules, Sheet, State, Station)
}

load_car = Car.load
load_setup = Setup.load
load_track = Track.load
load_conditions = Conditions.load
load_rack = Rack.load
load_rules = Rules.load
load_sheet = Sheet.load
load_state = State.load
load_station = Station.load


def json_schema(kind: str) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a kind of document, for editors. Raises KeyError for an unknown kind."""
    schema = KINDS_OF_DOCUMENT[kind].model_json_schema()
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema.setdefault("properties", {})["like"] = {
        "type": "string",
        "description": "file to take the rest from",
    }
    return schema


def load(kind: str, path: Path | str) -> Document:
    """Read a file as a kind of document. Raises DocumentError, or KeyError for an unknown kind."""
    return KINDS_OF_DOCUMENT[kind].load(path)


__all__ = [
    "ENTRY",
    "EXIT",
    "FLAGS",
    "KINDS_OF_DOCUMENT",
    "MIDDLE",
    "QUESTIONS",
    "STATIONS",
    "WORKED_OUT",
    "Assembly",
    "Car",
    "Conditions",
    "Document",
    "DocumentError",
    "Entry",
    "LapList",
    "Part",
    "Question",
    "Rack",
    "Rules",
    "SetAside",
    "Setup",
    "Sheet",
    "State",
    "Station",
    "TimedLap",
    "Track",
    "assemble",
    "check_answer",
    "json_schema",
    "load",
    "load_car",
    "load_conditions",
    "load_laps",
    "load_rack",
    "load_rules",
    "load_setup",
    "load_sheet",
    "load_state",
    "load_station",
    "load_track",
    "new_car",
    "read_laps",
    "understood",
    "write_new",
]
