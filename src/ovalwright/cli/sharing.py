"""Sending work on and taking it in: share, receive, and the notebook as tables."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from pathlib import Path

from sqlalchemy.orm import Session

from ovalwright.cli.door import Trouble
from ovalwright.cli.notes import MARK, counted, opened
from ovalwright.cli.screen import Screen, quoted
from ovalwright.notebook.sharing.box import SUFFIX, read_box
from ovalwright.notebook.sharing.bundle import named_bundle
from ovalwright.notebook.sharing.clashes import Line
from ovalwright.notebook.sharing.private import ALL, chosen, listed
from ovalwright.notebook.sharing.taking_in import FATES, Plan, look, take

RUNS = "runs.nc"
MOST_LINES = 40
"""Lines shown of what a bundle holds."""


def share(screen: Screen, what: str, which: str, file: Path, *, private: Collection[str], where: str) -> None:
    """A setup, a run, an event or everything into one file."""
    if not file.name:
        raise Trouble(f"--to: {file} is no file; write such as opening_night{SUFFIX}")
    path = file if file.suffix else file.with_suffix(SUFFIX)
    with opened(screen, where) as store, store.reading() as session:
        bundle = named_bundle(session, what, which.strip().removeprefix(MARK), private=private)
    path = bundle.save(path)
    screen.say(f"Written: {quoted(path)}, {bundle.about['what']}.")
    screen.say("Whoever gets it looks, then takes it in:")
    screen.command(f"receive {quoted(path)} --look")
    _note_private(screen, private)
    screen.end("share", {"written": str(path), "about": bundle.about, "members": sorted(bundle.members)})


def private_of(everything: bool, along: Sequence[str]) -> frozenset[str]:
    """The kinds of private things that go along. Raises NotebookTrouble."""
    return ALL if everything else chosen(along)


def _note_private(screen: Screen, private: Collection[str]) -> None:
    """What of what is private went along, and what stayed at home."""
    if private:
        screen.note(f"{listed(private).capitalize()} went along: send it only to whom you trust.")
    if at_home := ALL.difference(private):
        screen.note(f"{listed(at_home).capitalize()} stayed at home; --private or --with sends more.")


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
    screen.table(list(plan.counts), left=2)
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


def _lines(screen: Screen, plan: Plan) -> None:
    """What needs a look, as far as it fits."""
    coming = plan.coming
    if not coming:
        return
    screen.say()
    screen.table([_row(line) for line in coming[:MOST_LINES]], left=3)
    if len(coming) > MOST_LINES:
        screen.say(f"and {counted(len(coming) - MOST_LINES, 'more thing')}.")


def _row(line: Line) -> Sequence[str]:
    fate = FATES[line.fate]
    return line.kind, line.name, f"{fate}: {line.why}" if line.why else fate


# ---------------- tables


def tables(screen: Screen, folder: Path, *, form: str, private: Collection[str], where: str) -> None:
    """The notebook as tables for another program."""
    from ovalwright.notebook.sharing import tables_out

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
    _note_private(screen, private)
    screen.end("notebook tables", {"form": form, "written": [str(path) for path in written]})


def _netcdf(session: Session, folder: Path, *, private: Collection[str]) -> tuple[Path, ...]:
    """The runs as one file of arrays over run, lap and corner."""
    from ovalwright.notebook.sharing.tables_out import as_dataset

    path = folder / RUNS
    if path.exists():
        raise Trouble(f"{path}: is there already; name a new folder")
    dataset = as_dataset(session, private=private)
    folder.mkdir(parents=True, exist_ok=True)
    dataset.to_netcdf(path, engine="scipy")
    return (path,)
