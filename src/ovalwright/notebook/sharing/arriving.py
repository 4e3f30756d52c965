"""What comes in a bundle, read and checked before any notebook hears of it.

Every cell, every reference, every document is looked at first; one fault refuses the whole bundle.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import itemgetter
from typing import NoReturn

from ovalwright import documents
from ovalwright.documents import KINDS_OF_DOCUMENT, DocumentError, Rack, Setup
from ovalwright.documents.source import parsed
from ovalwright.notebook.runs import MOST_LAPS
from ovalwright.notebook.sharing.box import Box
from ovalwright.notebook.sharing.bundle import member_of
from ovalwright.notebook.sharing.carried import BY_TABLE, CARRIED, Carried, Row
from ovalwright.notebook.sharing.csv_text import read_table
from ovalwright.notebook.sharing.private import ALL, chosen
from ovalwright.notebook.shelf import LATELY_READ, figures_of
from ovalwright.notebook.trouble import NotebookTrouble

KINDS_REFERRED_TO = (
    ("run", "setup", "setup"),
    ("run", "track", "track"),
    ("run", "conditions", "conditions"),
    ("event", "track", "track"),
)
"""A field, and the kind of document that it may refer to."""
A_DAY = 86_400.0


@dataclass(frozen=True)
class Arrived:
    """What a bundle holds: rows by table, texts of its revisions by uid, and their numbers by key (SI).

    What is private and stayed at home is blank in its rows.
    """

    name: str
    about: Mapping[str, str | int | bool]
    rows: Mapping[str, Sequence[Row]]
    texts: Mapping[str, str]
    figures: Mapping[str, Mapping[str, float]]


def arrive(box: Box) -> Arrived:
    """Read a bundle as rows and documents. Raises NotebookTrouble for the first fault."""
    private = _private(box)
    rows = {carried.table: _rows(box, carried, bool(private)) for carried in CARRIED}
    for carried in CARRIED:
        _check_alone(box, carried, rows[carried.table])
    _check_references(box, rows)
    _check_kinds(box, rows)
    _check_parents(box, rows["revision"])
    _check_runs(box, rows)
    texts = _texts(box, rows)
    return Arrived(box.name, box.about, rows, texts, _figures(box, rows, texts))


def key_in(carried: Carried, row: Row) -> str:
    """The name that a row of a bundle goes by."""
    return str(row["uid"]) if "uid" in row else f"{row[carried.owner]}/{row['number']}"


def _refuse(box: Box, wrong: str) -> NoReturn:
    raise NotebookTrouble(f"{box.name}: {wrong}; ask for it to be made again.") from None


def _private(box: Box) -> frozenset[str]:
    """The kinds of what is private that are in it; up to version 2 it only said whether any were."""
    told = box.about.get("private", "")
    if isinstance(told, bool):
        return ALL if told else frozenset()
    try:
        return chosen([str(told)])
    except NotebookTrouble:
        _refuse(box, "its manifest does not say which private things are in it")


def _rows(box: Box, carried: Carried, private: bool) -> list[Row]:
    """The rows of a table, blank where what is private stayed at home."""
    if carried.file not in box.members:
        return []
    columns = [field.column for field in carried.fields(private)]
    blank = {
        field.name: field.blank for field in carried.fields(private=True) if field.name in carried.private
    }
    told = read_table(box.text(carried.file), columns, name=f"{box.name}: {carried.file}")
    return [{**blank, **row} for row in told]


# ---------------- rows among each other


def _check_alone(box: Box, carried: Carried, rows: Sequence[Row]) -> None:
    """No two rows are alike where they must not be."""
    for names in carried.unique:
        twice = _twice(rows, itemgetter(*names))
        if twice is not None:
            _refuse(box, f"{carried.file} has two rows of the same {' and '.join(names)} {_shown(twice)}")
    if carried.table == "stay":
        still = [row for row in rows if row["until"] is None]
        placed = [row for row in still if row["car"] is not None]
        if _twice(still, itemgetter("part")) or _twice(placed, itemgetter("car", "place")):
            _refuse(box, f"{carried.file} has a part in two places, or two parts in one")


def _twice(rows: Sequence[Row], key: Callable[[Row], object]) -> object | None:
    counted = Counter(map(key, rows))
    return next((held for held, count in counted.items() if count > 1), None)


def _check_references(box: Box, rows: Mapping[str, Sequence[Row]]) -> None:
    """Everything that is referred to is in the bundle."""
    fields = [(one, field) for one in CARRIED for field in one.fields(private=False) if field.to]
    keys = {to: {key_in(BY_TABLE[to], row) for row in rows[to]} for to in {field.to for _, field in fields}}
    for carried, field in fields:
        for row in rows[carried.table]:
            told = row[field.name]
            if told is not None and told not in keys[field.to]:
                _refuse(box, f"{carried.file} names a {field.name} {told} that is not in it")


def _check_kinds(box: Box, rows: Mapping[str, Sequence[Row]]) -> None:
    """A setup stands where a setup belongs, a track where a track does."""
    kinds = _kinds(rows)
    home = {row["uid"]: row["kind"] for row in rows["document"]}
    for table, name, kind in KINDS_REFERRED_TO:
        for row in rows[table]:
            if row[name] is not None and kinds[row[name]] != kind:
                _refuse(box, f"{BY_TABLE[table].file} names a {kinds[row[name]]} where a {kind} belongs")
    for row in rows["reference"]:
        if kinds[row["revision"]] != "setup" or kinds[row["target"]] != row["role"]:
            _refuse(box, "references.csv joins documents that do not belong together")
    for row in rows["revision"]:
        if row["parent"] is not None and kinds[row["parent"]] != kinds[row["uid"]]:
            _refuse(box, "revisions.csv has a document that came from one of another kind")
    if any(row["car"] is not None and home[row["car"]] != "car" for row in rows["stay"]):
        _refuse(box, "stays.csv puts a part on something that is no car")


def _kinds(rows: Mapping[str, Sequence[Row]]) -> dict[str, str]:
    """Kind of document of each revision."""
    home = {row["uid"]: row["kind"] for row in rows["document"]}
    return {row["uid"]: home[row["document"]] for row in rows["revision"]}


def _check_parents(box: Box, revisions: Sequence[Row]) -> None:
    if sum(map(len, generations(revisions))) != len(revisions):
        _refuse(box, "revisions.csv has a document that came from itself")


def generations(revisions: Sequence[Row]) -> Iterator[list[Row]]:
    """Revisions in the order in which they came from each other; those in a circle are never reached."""
    held = {row["uid"] for row in revisions}
    children: dict[str | None, list[Row]] = {}
    for row in revisions:
        children.setdefault(row["parent"] if row["parent"] in held else None, []).append(row)
    now = children.get(None, [])
    while now:
        yield now
        now = [child for row in now for child in children.get(row["uid"], [])]


def _check_runs(box: Box, rows: Mapping[str, Sequence[Row]]) -> None:
    if any(not 0 < row["time"] <= A_DAY for row in rows["lap"]):
        _refuse(box, "laps.csv has a lap that took no time, or more than a day")
    counted = Counter(row["run"] for row in rows["lap"])
    if counted and max(counted.values()) > MOST_LAPS:
        _refuse(box, f"laps.csv has a run of more than {MOST_LAPS} laps")


# ---------------- documents


def _texts(box: Box, rows: Mapping[str, Sequence[Row]]) -> dict[str, str]:
    """The text of each revision; nothing else is in the bundle."""
    home = {row["uid"]: row["kind"] for row in rows["document"]}
    files = {member_of(row, home[row["document"]]): row["uid"] for row in rows["revision"]}
    expected = set(files) | {carried.file for carried in CARRIED}
    for member in sorted(set(files) - set(box.members)):
        _refuse(box, f"{member} is missing")
    for member in sorted(set(box.members) - expected):
        _refuse(box, f"nothing is known of its member {member}")
    return {uid: box.text(member) for member, uid in files.items()}


def _figures(
    box: Box, rows: Mapping[str, Sequence[Row]], texts: Mapping[str, str]
) -> dict[str, dict[str, float]]:
    """Load every document, and join every setup, as they will be used."""
    kinds = _kinds(rows)
    files = {row["uid"]: member_of(row, kinds[row["uid"]]) for row in rows["revision"]}
    refers: dict[str, dict[str, documents.Document]] = {}
    try:
        held = {uid: loaded(kinds[uid], texts[uid], files[uid]) for uid in texts}
        for row in rows["reference"]:
            refers.setdefault(row["revision"], {})[row["role"]] = held[row["target"]]
        return {uid: figures_of(_joined(held[uid], refers.get(uid, {}))) for uid in held}
    except DocumentError as problem:
        raise NotebookTrouble(f"{box.name}: {problem}") from None


@lru_cache(maxsize=LATELY_READ)
def loaded(kind: str, text: str, name: str) -> documents.Document:
    """A document from its text alone; nothing on disk is read. Raises DocumentError."""
    if "like" in parsed(text, name):
        raise DocumentError(f"{name}, like: names another file; a document in a bundle stands alone.")
    return KINDS_OF_DOCUMENT[kind].from_text(text, name=name)


def _joined(document: documents.Document, refers: Mapping[str, documents.Document]) -> documents.Document:
    """A setup with the parts that it names, where it came with its car and sheet."""
    if not isinstance(document, Setup) or not {"car", "sheet"} <= set(refers):
        return document
    given: dict[str, documents.Document] = {"rack": Rack(), **refers}
    return documents.assemble(document, **given).setup  # type: ignore[arg-type]


def _shown(key: object) -> str:
    return ", ".join(map(str, key)) if isinstance(key, tuple) else str(key)
