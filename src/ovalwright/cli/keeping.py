"""Documents into the notebook and out of it: keep, quick, undo, and the group notebook."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from ovalwright.cli.door import Trouble
from ovalwright.cli.forms import form, wanted
from ovalwright.cli.notes import SHORT_ID, at_home, counted, opened, revision, taken
from ovalwright.cli.screen import Screen, quoted
from ovalwright.documents import KINDS_OF_DOCUMENT
from ovalwright.notebook import drafts, shelf
from ovalwright.notebook import overview as overviews
from ovalwright.notebook import undo as undoing
from ovalwright.notebook.drafts import DraftNow
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.overview import Overview
from ovalwright.notebook.shelf import RevisionLine
from ovalwright.notebook.tables import Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed import entering
from ovalwright.notebook.typed.difference import Difference, said
from ovalwright.notebook.typed.half_filled import FORMS
from ovalwright.notebook.undo import Done

LAST = 5
"""Entries shown with the overview."""
FIRST_STEPS = (
    'keep setup.toml track.toml --reason "as it stands"',
    'log event "Opening night" --track "THE TRACK"',
    "log run --session practice --laps laps.csv",
)
"""What to do with an empty notebook."""
WHY = 'Say why with --reason "..."; in a month it is all that tells two revisions apart.'

Kept = tuple[RevisionLine, bool, tuple[tuple[str, RevisionLine, bool], ...]]


# ---------------- into it


def keep(screen: Screen, files: Sequence[Path], *, reason: str, where: str, by: str) -> None:
    """Keep files, all in one entry or none; what is kept already is said and not kept twice."""
    with opened(screen, where, by) as store, store.entry("kept") as session:
        kept = [_kept(session, shelf.keep_file(session, path, reason=reason)) for path in files]
        new = [line for line, is_new, _ in kept if is_new]
        changed = new or any(is_new for *_, referred in kept for *_, is_new in referred)
        if changed:
            entry_of(session).what = f"kept {', '.join(map(_called, new)) or 'what a setup refers to'}"
        else:
            session.rollback()
    for one in kept:
        _say_kept(screen, *one)
    if any(line.number > 1 and not line.reason for line in new):
        screen.note(WHY)
    screen.end("keep", {"kept": [_told_kept(*one) for one in kept]})


def _kept(session: Session, found: Revision) -> Kept:
    """A revision as kept, whether it is new, and the same of what it refers to."""
    number = entry_of(session).id
    referred = tuple(
        (role, shelf.line(session, target), target.entry_id == number)
        for role, target in shelf.refers_to(session, found).items()
    )
    return shelf.line(session, found), found.entry_id == number, referred


def _called(line: RevisionLine) -> str:
    return f"{line.kind} {line.name} ({line.code})"


def _say_kept(
    screen: Screen, line: RevisionLine, new: bool, referred: Sequence[tuple[str, RevisionLine, bool]]
) -> None:
    if not new:
        screen.say(f"{line.code}  {line.kind} {line.name}, revision {line.number}: kept already.")
        return
    screen.say(f"{line.code}  {line.kind} {line.name}, revision {line.number}: kept.")
    if line.parent:
        screen.say(f"{line.said or 'nothing that is said differs'} (from {line.parent})", indent=8)
    for role, its, is_new in referred:
        screen.say(f"its {role} {its.name}, {its.code}{'' if is_new else ', kept already'}", indent=8)


def _told_kept(
    line: RevisionLine, new: bool, referred: Sequence[tuple[str, RevisionLine, bool]]
) -> dict[str, Any]:
    return {"revision": line, "new": new, "refers_to": {role: its for role, its, _ in referred}}


def quick(screen: Screen, given: Mapping[str, str], *, trying: bool, draft: str, where: str, by: str) -> None:
    """A setup changed in one line, each clause shown as it was understood; only shown when `trying`."""
    with form(screen, "quick", given, draft=draft, where=where, by=by) as (session, typed):
        text = wanted(typed, "line", 'quick "RR +1/2, LR 12.5 psi"')
        line, base = entering.read_quick(session, text, typed.get("on", ""), find=taken)
        if line.not_understood:
            raise Trouble(f"{'; '.join(one.sentence.rstrip('.') for one in line.not_understood)}; {_NOTHING}")
        child = entering.keep_quick(session, line, base.revision, reason=typed.get("reason", ""))
        entry_of(session).what = f"{child.document.name}, {child.number} ({child.code}): {child.said}"
        on, made = shelf.line(session, base.revision), shelf.line(session, child)
        if trying:
            session.rollback()
    screen.title(f"On {on.name}, {on.number} ({on.code}){', ' if base.why else ''}{base.why}")
    screen.table([(one.words, one.said) for one in line.understood], head=("typed", "understood"), left=2)
    for sentence in line.odd:
        screen.say(sentence)
    screen.say()
    if trying:
        screen.say("Only tried: nothing was kept.")
    else:
        screen.say(f"{made.code}  setup {made.name}, revision {made.number}: kept.")
    if not made.reason and not trying:
        screen.note(WHY)
    told = {"on": on, "why": base.why, "understood": line.understood, "kept": None if trying else made}
    screen.end("quick", told)


_NOTHING = "nothing was kept"


def undo(screen: Screen, *, where: str, by: str) -> None:
    """Take back the last entry of whoever asks."""
    with opened(screen, where, by) as store, store.entry("undo") as session:
        done = undoing.undo(session, by=store.by)
        entry_of(session).what = f"took back: {done.what}"
    screen.say(f"Taken back: {done.what}, entered {at_home(done.at)} by {done.by}.")
    screen.note("`undo --put-back` puts it back, until you enter something new.")
    screen.end("undo", {"undone": done})


def put_back(screen: Screen, *, where: str, by: str) -> None:
    """Put back what whoever asks took back last."""
    with opened(screen, where, by) as store, store.entry("put back") as session:
        done = undoing.put_back(session, by=store.by)
        entry_of(session).what = f"put back: {done.what}"
    screen.say(f"Put back: {done.what}, entered {at_home(done.at)} by {done.by}.")
    screen.end("undo", {"put_back": done})


# ---------------- looking


def overview(screen: Screen, *, where: str) -> None:
    """Where the notebook is, what is in it, what was entered last; the first steps when it is empty."""
    with opened(screen, where) as store, store.reading() as session:
        told, place = overviews.overview(session), store.shown
        last, open_drafts = undoing.last_entries(session, LAST), drafts.drafts(session)
    screen.title(f"Notebook {place}")
    if told.is_empty:
        screen.say("It is empty. The first steps:")
        for step in FIRST_STEPS:
            screen.command(step)
        screen.note("Every entry can be taken back with `undo`, and a revision never changes.")
    else:
        screen.table(_amounts(told), left=2)
    if last:
        screen.say()
        screen.title("Last entries")
        _entries_table(screen, last)
    _drafts_table(screen, open_drafts)
    screen.end("notebook", {"notebook": place, "holds": told, "last_entries": last, "drafts": open_drafts})


def _amounts(told: Overview) -> list[tuple[str, str]]:
    rows = [
        (_many(kind), f"{documents}, in {counted(revisions, 'revision')}")
        for kind, (documents, revisions) in told.documents.items()
    ]
    counts = (("events", told.events), ("runs", told.runs), ("laps", told.laps), ("parts", told.parts))
    return [*rows, *((name, str(count)) for name, count in counts)]


def _many(kind: str) -> str:
    return kind if kind.endswith("s") else f"{kind}s"


def listed(screen: Screen, *, kind: str, most: int, where: str) -> None:
    """The latest revisions of all kinds or of one."""
    if kind and kind not in KINDS_OF_DOCUMENT:
        raise NotebookTrouble(
            f'"{kind[:30]}" is no kind of document; write one of {", ".join(KINDS_OF_DOCUMENT)}.'
        )
    with opened(screen, where) as store, store.reading() as session:
        found = shelf.revisions(session, kind=kind, most=most)
    if found:
        rows = [
            (line.code, line.kind, f"{line.name}, {line.number}", at_home(line.made_at)[:10], str(line.runs))
            for line in found
        ]
        screen.table(rows, head=("code", "kind", "name, revision", "kept", "runs"), left=4)
    else:
        screen.say(f"No {kind or 'document'} is in the notebook yet. Keep one:")
        screen.command(FIRST_STEPS[0])
    screen.end("notebook list", {"revisions": found})


def tree(screen: Screen, which: str, *, where: str) -> None:
    """A family of revisions; one below the other, further in where it branches."""
    with opened(screen, where) as store, store.reading() as session:
        found = shelf.tree(session, revision(session, which))
    first = found[0][1]
    screen.title(f"{first.name}, {first.kind}: {counted(len(found), 'revision')}")
    children: dict[str, int] = {}
    steps: dict[str, int] = {}
    for _, line in found:
        children[line.parent] = children.get(line.parent, 0) + 1
    for _, line in found:
        steps[line.code] = min(steps.get(line.parent, 0) + (children[line.parent] > 1), 8)
        _say_branch(screen, line, 3 * steps[line.code])
    screen.end("notebook tree", {"tree": [{"depth": depth, "revision": line} for depth, line in found]})


def _say_branch(screen: Screen, line: RevisionLine, indent: int) -> None:
    runs = f", {counted(line.runs, 'run')}" if line.runs else ""
    screen.say(
        f"{line.code}  {line.name}, {line.number}, {at_home(line.made_at)[:10]} {line.made_by}{runs}",
        indent=indent,
    )
    if line.said:
        screen.say(line.said, indent=indent + 8)
    if line.reason:
        screen.say(f'"{line.reason}"', indent=indent + 8)


def show(screen: Screen, which: str, *, where: str) -> None:
    """The text of a revision."""
    with opened(screen, where) as store, store.reading() as session:
        found = revision(session, which)
        text, line = found.text, shelf.line(session, found)
        referred = {r: shelf.line(session, one) for r, one in shelf.refers_to(session, found).items()}
    screen.as_it_is(text)
    screen.end("notebook show", {"revision": line, "refers_to": referred, "text": text})


def files(screen: Screen, which: str, folder: Path, *, where: str) -> None:
    """A revision written out as files."""
    with opened(screen, where) as store, store.reading() as session:
        found = revision(session, which)
        path, beside = shelf.write_out(session, found, folder), shelf.refers_to(session, found)
    screen.say(f"Written: {quoted(path)}{', and beside it ' if beside else ''}{', '.join(beside)}.")
    screen.end("notebook files", {"written": str(path)})


def changed(screen: Screen, old: str, new: str, *, where: str) -> None:
    """What differs between two revisions: in one line, and as a table."""
    with opened(screen, where) as store, store.reading() as session:
        first, second = revision(session, old), revision(session, new)
        found = shelf.changed(session, first, second)
        lines = shelf.line(session, first), shelf.line(session, second)
    screen.title(" -> ".join(f"{line.name}, {line.number} ({line.code})" for line in lines))
    screen.say(said(found) or "Nothing differs.")
    if found:
        screen.say()
        screen.table([_difference_row(screen, one) for one in found], head=("", "was", "is", "by"), left=1)
    screen.end("notebook changed", {"old": lines[0], "new": lines[1], "said": said(found), "changes": found})


def _difference_row(screen: Screen, one: Difference) -> tuple[str, str, str, str]:
    by = ""
    if one.kind and isinstance(one.old, float) and isinstance(one.new, float):
        by = screen.step(one.new - one.old, one.kind)
    return one.key, one.old_text or "-", one.new_text or "-", by


def entries(screen: Screen, *, most: int, by: str, where: str) -> None:
    """The last entries."""
    with opened(screen, where) as store, store.reading() as session:
        found = undoing.last_entries(session, most, by=by)
    if found:
        _entries_table(screen, found)
    else:
        screen.say(f"No entry{' of ' + by if by else ''} yet.")
    screen.end("notebook entries", {"entries": found})


def _entries_table(screen: Screen, found: Sequence[Done]) -> None:
    rows = [(at_home(one.at), one.by, f"{one.what}{', taken back' if one.undone else ''}") for one in found]
    screen.table(rows, left=3)


# ---------------- drafts


def half_filled(screen: Screen, *, show: str, drop: str, where: str) -> None:
    """The drafts; one of them in full, or one thrown away."""
    with opened(screen, where) as store:
        with store.reading() as session:
            found = drafts.drafts(session)
            one = drafts.called(session, show or drop) if show or drop else None
        if drop and one is not None:
            with store.aside() as session:
                drafts.drop(session, one.uid)
    if drop and one is not None:
        screen.say(f"Dropped: {one.form} {one.about}".rstrip() + ".")
    elif one is not None:
        screen.title(f"{one.form}, saved {at_home(one.saved_at)} by {one.saved_by}")
        screen.table([(key, str(value)) for key, value in one.typed.items() if value], left=2)
        if one.form in FORMS:
            screen.command(f"{one.form} --draft {one.uid[:SHORT_ID]}")
        else:
            screen.note("It was begun in the browser; go on with it there: `bench`.")
    elif found:
        _drafts_table(screen, found)
    else:
        screen.say("No draft is open.")
    screen.end("notebook drafts", {"drafts": [one] if one else found})


def _drafts_table(screen: Screen, found: Sequence[DraftNow]) -> None:
    if not found:
        return
    screen.say()
    screen.title("Open drafts")
    rows = [
        (one.uid[:SHORT_ID], one.form, one.about, f"{at_home(one.saved_at)} {one.saved_by}") for one in found
    ]
    screen.table(rows, left=4)
    screen.note(f"Go on with one: its command with --draft {found[0].uid[:SHORT_ID]}, or in `bench`.")
