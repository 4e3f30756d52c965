"""Sending work on and taking it in: share, receive, and the notebook as tables."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from sqlalchemy.orm import Session

from ovalwright.cli.door import Trouble
from ovalwright.cli.notes import counted, opened, revision
from ovalwright.cli.screen import Screen, quoted
from ovalwright.notebook.box import SUFFIX, read_box
from ovalwright.notebook.bundle import Bundle, bundle_of, whole_bundle
from ovalwright.notebook.clashes import Line
from ovalwright.notebook.runs import event_of, run_of
from ovalwright.notebook.taking_in import Plan, look, take

WHATS = ("setup", "run", "event", "all")
AT_HOME = "Money, names of people and free words stayed at home; --private sends them along."
GOES_ALONG = "Money, names of people and free words went along: send it only to whom you trust."
FATES = {"new": "new", "here": "here already", "copy": "comes as a copy", "more": "gets more"}
RUNS = "runs.nc"
MOST_LINES = 40
"""Lines shown of what a bundle holds."""


def share(screen: Screen, what: str, which: str, file: Path, *, private: bool, where: str) -> None:
    """A setup, a run, an event or everything into one file."""
    if what not in WHATS:
        raise Trouble(f'"{what[:30]}" cannot be shared; write {", ".join(WHATS)}')
    if not file.name:
        raise Trouble(f"--to: {file} is no file; write such as opening_night{SUFFIX}")
    path = file if file.suffix else file.with_suffix(SUFFIX)
    with opened(screen, where) as store, store.reading() as session:
        bundle = _bundle(session, what, which, private)
    path = bundle.save(path)
    screen.say(f"Written: {quoted(path)}, {bundle.about['what']}.")
    screen.say("Whoever gets it looks, then takes it in:")
    screen.command(f"receive {quoted(path)} --look")
    screen.note(GOES_ALONG if private else AT_HOME)
    screen.end("share", {"written": str(path), "about": bundle.about, "members": sorted(bundle.members)})


def _bundle(session: Session, what: str, which: str, private: bool) -> Bundle:
    if what == "all":
        if which:
            raise Trouble(f'"all" is the whole notebook; leave "{which[:30]}" out')
        return whole_bundle(session, private=private)
    if not which:
        raise Trouble(f"say which {what}, by its code or name, such as `share {what} {_EXAMPLES[what]}`")
    if what == "run":
        return bundle_of(session, run_of(session, which), private=private)
    if what == "event":
        return bundle_of(session, event_of(session, which), private=private)
    return bundle_of(session, revision(session, which), private=private)


_EXAMPLES = {"setup": "K7M2QX", "run": "last", "event": "last"}


def receive(screen: Screen, file: Path, *, only_look: bool, where: str, by: str) -> None:
    """What a bundle would add, what is here already and what clashes; then take it in."""
    box = read_box(file)
    with opened(screen, where, by) as store:
        with store.reading() as session:
            plan = look(box, session)
        if plan.adds and not only_look:
            with store.entry(f"taken in: {box.name}") as session:
                plan = take(plan, session)
    screen.title(f"{plan.name}: {plan.about.get('what', 'a bundle')}")
    _counts(screen, plan)
    _lines(screen, plan)
    if not plan.adds:
        screen.say("All of it is here already; nothing to add.")
    elif only_look:
        screen.say("Only looked: nothing was added. To take it in:")
        screen.command(f"receive {quoted(file)}")
    else:
        screen.say("Taken in; `undo` takes all of it out again.")
    answer = {"name": plan.name, "about": plan.about, "lines": plan.lines, "adds": plan.adds}
    screen.end("receive", {**answer, "taken_in": plan.adds and not only_look})


def _counts(screen: Screen, plan: Plan) -> None:
    """How many of each kind, by what becomes of them."""
    kinds = list(dict.fromkeys(line.kind for line in plan.lines))
    rows = []
    for kind in kinds:
        fates = [line.fate for line in plan.lines if line.kind == kind]
        told = (f"{fates.count(fate)} {words}" for fate, words in FATES.items() if fate in fates)
        rows.append((kind, ", ".join(told)))
    screen.table(rows, left=2)


def _lines(screen: Screen, plan: Plan) -> None:
    """What needs a look first: what clashes or grows, then what is new."""
    coming = [line for line in plan.lines if line.fate != "here"]
    odd = [line for line in coming if line.fate != "new" or line.why]
    new = [line for line in coming if line not in odd]
    shown = [*odd, *new][:MOST_LINES]
    if not shown:
        return
    screen.say()
    screen.table([_row(line) for line in shown], left=3)
    if len(odd) + len(new) > len(shown):
        screen.say(f"and {counted(len(odd) + len(new) - len(shown), 'more thing')}.")


def _row(line: Line) -> Sequence[str]:
    fate = FATES[line.fate]
    return line.kind, line.name, f"{fate}: {line.why}" if line.why else fate


# ---------------- tables


def tables(screen: Screen, folder: Path, *, form: str, private: bool, where: str) -> None:
    """The notebook as tables for another program."""
    from ovalwright.notebook import tables_out

    makers = {
        "csv": tables_out.csv_folder,
        "parquet": tables_out.parquet_folder,
        "netcdf": _netcdf,
    }
    if form not in makers:
        raise Trouble(f'--form: "{form[:20]}" is none; write {", ".join(makers)}')
    with opened(screen, where) as store, store.reading() as session:
        written = makers[form](session, folder, private=private)
    screen.say(f"Written into {quoted(folder)}: {counted(len(written), 'file')}.")
    screen.note("Values are SI; rows name each other by uid.")
    screen.note(GOES_ALONG if private else AT_HOME)
    screen.end("notebook tables", {"form": form, "written": [str(path) for path in written]})


def _netcdf(session: Session, folder: Path, *, private: bool) -> tuple[Path, ...]:
    """The runs as one file of arrays over run, lap and corner."""
    from ovalwright.notebook.tables_out import as_dataset

    path = folder / RUNS
    if path.exists():
        raise Trouble(f"{path}: is there already; name a new folder")
    dataset = as_dataset(session, private=private)
    folder.mkdir(parents=True, exist_ok=True)
    dataset.to_netcdf(path, engine="scipy")
    return (path,)
