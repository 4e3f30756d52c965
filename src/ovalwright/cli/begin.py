"""Getting started and looking after one's files: new, check, schema, and the folder of the demo."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Mapping, Sequence
from importlib import resources
from pathlib import Path

from ovalwright.cli.door import Trouble
from ovalwright.cli.screen import Screen, quoted
from ovalwright.cli.typed import is_kept
from ovalwright.corners import CORNERS
from ovalwright.documents import (
    KINDS_OF_DOCUMENT,
    QUESTIONS,
    DocumentError,
    Setup,
    Track,
    assemble,
    check_answer,
    json_schema,
    load,
    understood,
    write_new,
)
from ovalwright.documents.document import Document
from ovalwright.documents.source import read_file
from ovalwright.units import KINDS, parse, show

Ask = Callable[[str, str], str]
NAMES = {"rules": "rule book", "sheet": "scale sheet"}
"""What a racer calls a kind of document where its key word reads badly."""


def new(screen: Screen, folder: Path, answers: Mapping[str, str], ask: Ask | None) -> None:
    """Ten questions, or their answers by option; writes the documents of a new car into a folder."""
    there = [name for name in ("car.toml", "setup.toml", "sheet.toml") if (folder / name).exists()]
    if there:
        raise Trouble(f"{folder / there[0]}: is there already; name another folder")
    given = {key: text for key, text in answers.items() if text}
    for key, text in given.items():
        check_answer(next(question for question in QUESTIONS if question.key == key), text)
    for number, question in enumerate(QUESTIONS, start=1):
        if question.key not in given and ask is not None:
            given[question.key] = _asked(
                screen, f"{number:2}/{len(QUESTIONS)} {question.text}", question, ask
            )
    missing = [question.key for question in QUESTIONS if question.key not in given]
    if missing:
        raise Trouble(f"--{missing[0]}: is not answered; run without --no-questions to be asked")
    paths = write_new(folder, given)
    screen.say(f"Written: {', '.join(str(path) for path in paths)}.")
    for question in QUESTIONS:
        read = understood(question, given[question.key])
        if read:
            screen.say(f"Read as {question.key}: {read}.")
    screen.say(
        "Everything that was not asked is typical and stands in the files behind a #, with its give-or-take."
    )
    screen.say("Next, what the scales say and what the tires carry in the turn:")
    screen.command(f"weigh {quoted(folder / 'sheet.toml')}")
    screen.command(f"turn {quoted(folder / 'setup.toml')} {quoted(folder / 'track.toml')}")
    screen.say("then something changed, and both side by side:")
    other = quoted(folder / "stiffer.toml")
    screen.command(f'vary {quoted(folder / "setup.toml")} stiffer.toml "LR.coil.rate={_stiffer(given)}"')
    screen.command(f"compare {quoted(folder / 'setup.toml')} {other} {quoted(folder / 'track.toml')}")
    screen.end("new", {"written": [str(path) for path in paths]})


def _stiffer(given: Mapping[str, str]) -> str:
    """The left rear spring one step stiffer, for the first thing to try."""
    springs = next(question for question in QUESTIONS if question.key == "springs")
    rate = parse(check_answer(springs, given["springs"])[CORNERS.index("LR")], KINDS["spring_rate"])
    return show(rate + parse("25 lb/in", KINDS["spring_rate"]), "spring_rate")


def _asked(screen: Screen, text: str, question: object, ask: Ask) -> str:
    """Ask until the answer can be read; what is wrong is said each time."""
    while True:
        answer = ask(text, question.example)  # type: ignore[attr-defined]
        try:
            check_answer(question, answer)  # type: ignore[arg-type]
            return answer
        except DocumentError as problem:
            screen.err.print(str(problem))


def vary(screen: Screen, setup: Path, other: str, changes: Sequence[str]) -> None:
    """A copy of a setup beside it with keys written anew; nothing that is there is replaced."""
    if is_kept(setup):
        raise Trouble(f"{setup}: is in the notebook; `quick` makes a new revision of it there")
    name = other if other.endswith(".toml") else f"{other}.toml"
    path = setup.parent / name
    if Path(name).name != name:
        raise Trouble(f'"{name[:60]}": is no plain name of a file; the copy is put beside {setup.name}')
    if path.exists():
        raise Trouble(f"{path}: is there already; give another name")
    pairs = dict(_pair(text) for text in changes)
    first = Setup.load(setup)
    told = ", ".join(f"{key} {value}" for key, value in pairs.items())
    second = first.changed({"name": f"{first.name}, {told}"[:110], **pairs})
    assemble(second)
    second.save(path)
    screen.say(f"Written: {path}, {told}.")
    screen.say("Both side by side:")
    screen.command(f"compare {quoted(setup)} {quoted(path)} TRACK")


def _pair(text: str) -> tuple[str, str]:
    key, sign, value = text.partition("=")
    if not sign or not key.strip() or not value.strip():
        raise Trouble(f'"{text[:60]}": changes nothing; write such as "LR.coil.rate=225 lb/in"')
    return key.strip(), value.strip()


def check(screen: Screen, paths: Sequence[Path]) -> None:
    """Read files, say what is unlikely in them, what is typical, and whether a setup's files fit together and
    a track's figures make a lap.
    """
    told = {}
    for path in paths:
        document = load(_kind_of(path), path)
        if document.kind_name == "setup":
            assemble(path)
        unlikely = (*document.warnings, *_road_remarks(document))
        typical = [entry for entry in document.entries() if not entry.value.known]
        kind = NAMES.get(document.kind_name, document.kind_name)
        screen.title(f"{path}: a {kind} that can be read")
        for warning in unlikely:
            screen.say(f"  unlikely: {warning}")
        written = sum(1 for _ in document.entries()) - len(typical)
        screen.say(f"  amounts written: {written}, left typical: {len(typical)}")
        told[str(path)] = {
            "kind": document.kind_name,
            "warnings": unlikely,
            "typical": [".".join(map(str, entry.path)) for entry in typical],
        }
    screen.end("check", {"files": told})


def _road_remarks(document: Document) -> tuple[str, ...]:
    """What was adjusted to close the lap of a track; nothing for other files."""
    if not isinstance(document, Track):
        return ()
    from ovalwright.pack.track import lay

    return lay(document).remarks


def _kind_of(path: Path) -> str:
    """The kind a file says it is, else the kind its name begins with."""
    said = read_file(path).data.get("document")
    kind = said if isinstance(said, str) else path.name.split(".")[0].split("_")[0]
    if kind not in KINDS_OF_DOCUMENT:
        kinds = ", ".join(KINDS_OF_DOCUMENT)
        raise Trouble(
            f'{path.name}, document: says no kind that is known; write document = "car" or another of {kinds}'
        )
    return kind


def schema(screen: Screen, kind: str, folder: Path | None) -> None:
    """JSON Schema of one kind of document or of all, for editors that complete and check."""
    if kind and kind not in KINDS_OF_DOCUMENT:
        raise Trouble(f'"{kind[:30]}" is no kind of document; there are {", ".join(KINDS_OF_DOCUMENT)}')
    kinds = [kind] if kind else list(KINDS_OF_DOCUMENT)
    if folder is None:
        print(
            json.dumps(
                json_schema(kinds[0]) if kind else {name: json_schema(name) for name in kinds}, indent=1
            )
        )
        return
    folder.mkdir(parents=True, exist_ok=True)
    for name in kinds:
        path = folder / f"{name}.schema.json"
        path.write_text(json.dumps(json_schema(name), indent=1) + "\n", encoding="utf-8")
        screen.say(f"Written: {path}")
    screen.say("A first line `#:schema ./car.schema.json` lets an editor that knows JSON Schema help.")


def copy_demo(folder: Path) -> tuple[Path, bool]:
    """The demo's documents copied where they can be edited; a folder that is there already stays as it is.

    Returns the folder and whether it was written now.
    """
    if (folder / "car.toml").exists():
        return folder, False
    if folder.exists() and any(folder.iterdir()):
        raise Trouble(f"{folder}: holds other files; name another folder with --into")
    folder.mkdir(parents=True, exist_ok=True)
    for item in (resources.files("ovalwright") / "demo").iterdir():
        if item.name.endswith((".toml", ".csv")):
            with resources.as_file(item) as source:
                shutil.copyfile(source, folder / item.name)
    return folder, True
