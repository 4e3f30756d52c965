"""The commands of the shop and their options: the groups parts and work."""

from __future__ import annotations

from typing import Annotated

import typer

from ovalwright.cli import completing, completing_shop
from ovalwright.cli.options import By, Day, DoneBy, Json, Note, Si, Where, is_asked_alone, screen_of

parts = typer.Typer(name="parts", help="Parts by their marks: where, how long run, what is due.",
                    rich_markup_mode=None)  # fmt: skip

Kind = Annotated[
    str, typer.Argument(metavar="KIND", help="tire, spring, hub, ...", autocompletion=completing_shop.kinds)
]
Mark = Annotated[
    str, typer.Argument(metavar="MARK", help="What is written on it.", autocompletion=completing_shop.marks)
]
MarkIfAny = Annotated[
    str,
    typer.Argument(
        metavar="MARK",
        help="What is written on it; alone it will do.",
        autocompletion=completing_shop.marks,
        show_default=False,
    ),
]
Moment = Annotated[
    str,
    typer.Option("--on", metavar="DATE", help='As 2026-04-25 or "2026-04-25 18:30"; now when left out.'),
]
Car = Annotated[
    str,
    typer.Option(
        "--car",
        metavar="WHICH",
        help="Another car than the one in use.",
        autocompletion=completing.documents,
    ),
]


@parts.callback(invoke_without_command=True)
def overview(
    ctx: typer.Context, car: Car = "", where: Where = "", as_json: Json = False, si: Si = False
) -> None:
    """Parts by their marks: where, how long run, what is due."""
    if is_asked_alone(ctx, car, where, as_json, si):
        from ovalwright.cli import owning

        owning.overview(screen_of(as_json, si), car=car, where=where)


@parts.command("rack")
def rack(
    file: Annotated[
        str,
        typer.Argument(
            metavar="FILE", help="A rack; @CODE is one kept.", autocompletion=completing.kept("rack")
        ),
    ],
    on: Day = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Take in every part of a rack; what is known is measured anew."""
    from ovalwright.cli import owning

    owning.rack(screen_of(as_json, False), file, on=on, where=where, by=by)


@parts.command()
def add(
    kind: Kind,
    mark: Mark,
    name: Annotated[str, typer.Option(metavar="TEXT", help="What it is.")] = "",
    compound: Annotated[str, typer.Option(metavar="TEXT", help="Of a tire.")] = "",
    date_code: Annotated[str, typer.Option(metavar="TEXT", help="Of a tire.")] = "",
    bought: Annotated[str, typer.Option(metavar="DATE", help="When; private.")] = "",
    bought_from: Annotated[str, typer.Option("--from", metavar="NAME", help="From whom; private.")] = "",
    paid: Annotated[str, typer.Option(metavar="AMOUNT", help="For how much; private.")] = "",
    rated: Annotated[str, typer.Option(metavar="TEXT", help='What its tag says, as "225 lb/in".')] = "",
    laps: Annotated[str, typer.Option(metavar="NUMBER", help="Laps it had when it came.")] = "",
    miles: Annotated[str, typer.Option(metavar="NUMBER", help="Miles it had then.")] = "",
    runs: Annotated[str, typer.Option(metavar="NUMBER", help="Runs it had then.")] = "",
    note: Note = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Enter one part, by its kind and the mark on it."""
    from ovalwright.cli import owning

    given = {
        "kind": kind, "mark": mark, "name": name, "compound": compound, "date_code": date_code,
        "bought": bought, "bought_from": bought_from, "paid": paid, "rated": rated, "laps": laps,
        "miles": miles, "runs": runs, "note": note,
    }  # fmt: skip
    owning.add(screen_of(as_json, False), given, where=where, by=by)


@parts.command("list")
def listed(
    kind: Annotated[
        str, typer.Option(metavar="KIND", help="Only tires, ...", autocompletion=completing_shop.kinds)
    ] = "",
    where: Where = "",
    as_json: Json = False,
    si: Si = False,
) -> None:
    """All parts: where each is, its laps, miles and runs."""
    from ovalwright.cli import owning

    owning.listed(screen_of(as_json, si), kind=kind, where=where)


@parts.command()
def show(
    kind: Kind,
    mark: MarkIfAny = "",
    at: Annotated[
        str, typer.Option("--at", metavar="TEXT", help='Roll-outs brought to "20 psi"; the first\'s.')
    ] = "",
    where: Where = "",
    as_json: Json = False,
    si: Si = False,
) -> None:
    """The life of a part: laps, miles, heat cycles, where it was."""
    from ovalwright.cli import owning

    owning.show(screen_of(as_json, si), f"{kind} {mark}", at=at, where=where)


@parts.command()
def measure(
    kind: Kind,
    mark: Mark,
    measured: Annotated[
        list[str],
        typer.Argument(metavar="TEXT...", help='As "roll-out 86 1/4 in at 12 psi, durometer 62".'),
    ],
    on: Day = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """What was measured on a part."""
    from ovalwright.cli import owning

    text = " ".join(measured)
    owning.measure(screen_of(as_json, False), f"{kind} {mark}", text, on=on, where=where, by=by)


@parts.command()
def put(
    kind: Kind,
    mark: Mark,
    place: Annotated[
        list[str], typer.Argument(metavar="PLACE", help="LF, RF lower, ...; a bar needs none.")
    ] = [],  # noqa: B006
    on: Moment = "",
    car: Car = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Put a part on the car; what was there goes to the shelf."""
    from ovalwright.cli import owning

    owning.put(
        screen_of(as_json, False), f"{kind} {mark}", " ".join(place), car=car, on=on, where=where, by=by
    )


@parts.command()
def fit(
    setup: Annotated[
        str,
        typer.Argument(
            metavar="SETUP",
            help="A setup: code, name or file; the one in use when left out.",
            autocompletion=completing.documents,
            show_default=False,
        ),
    ] = "",
    on: Moment = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Put on the car all parts that a setup names by their marks."""
    from ovalwright.cli import owning

    owning.fit(screen_of(as_json, False), setup, on=on, where=where, by=by)


@parts.command()
def off(
    kind: Kind,
    mark: MarkIfAny = "",
    to: Annotated[str, typer.Option("--to", metavar="PLACE", help='shelf, "lent to Ann" or scrapped.')] = "",
    on: Moment = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Take a part off the car: to the shelf, lent or scrapped."""
    from ovalwright.cli import owning

    owning.off(screen_of(as_json, False), f"{kind} {mark}", to=to, on=on, where=where, by=by)


@parts.command()
def due(
    everything: Annotated[bool, typer.Option("--all", help="What is due later too.")] = False,
    car: Car = "",
    where: Where = "",
    as_json: Json = False,
) -> None:
    """What is due on the car, and what to inspect after a hit."""
    from ovalwright.cli import servicing

    servicing.due(screen_of(as_json, False), car=car, all_of_it=everything, where=where)


@parts.command()
def serviced(
    kind: Kind,
    mark: Mark,
    job: Annotated[list[str], typer.Argument(metavar="JOB...", help="What was done, as `parts due` has it.")],
    on: Day = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="What was found; open until put right.")] = "",
    done_by: DoneBy = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """A job done on a part; it counts anew from then."""
    from ovalwright.cli import servicing

    servicing.serviced(
        screen_of(as_json, False), f"{kind} {mark}", " ".join(job), on=on, note=note, done_by=done_by,
        where=where, by=by,
    )  # fmt: skip


@parts.command()
def interval(
    kind: Kind,
    job: Annotated[list[str], typer.Argument(metavar="JOB...", help="As `parts due` has it, or your own.")],
    mark: Annotated[
        str,
        typer.Option(
            metavar="MARK",
            help="Only of this part; all of the kind if left out.",
            autocompletion=completing_shop.marks,
        ),
    ] = "",
    laps: Annotated[int, typer.Option(min=0, max=100000, help="Due every so many laps.")] = 0,
    miles: Annotated[float, typer.Option(min=0, max=1e6, help="Or so many miles.")] = 0.0,
    runs: Annotated[int, typer.Option(min=0, max=100000, help="Or so many runs.")] = 0,
    days: Annotated[int, typer.Option(min=0, max=36500, help="Or so many days.")] = 0,
    source: Annotated[str, typer.Option("--source", help="Whose figure: own, maker or builder.")] = "own",
    forget: Annotated[bool, typer.Option("--forget", help="Take such a figure away.")] = False,
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """How often a job is due: your own, the maker's, a builder's."""
    from ovalwright.cli import servicing

    servicing.interval(
        screen_of(as_json, False), " ".join(kind.lower().split()), " ".join(job), mark=mark, laps=laps,
        miles=miles, runs=runs, days=days, source=source, forget=forget, where=where, by=by,
    )  # fmt: skip


# ---------------- the work


work = typer.Typer(name="work", help="Checklists, those under way, what is left to do, hours.",
                   rich_markup_mode=None)  # fmt: skip

ListName = Annotated[
    str,
    typer.Argument(
        metavar="NAME", help="Which checklist.", autocompletion=completing_shop.lists, show_default=False
    ),
]
OfList = Annotated[
    str,
    typer.Option(
        "--list",
        metavar="NAME",
        help="Of which checklist; the last begun.",
        autocompletion=completing_shop.lists,
    ),
]
OfEvent = Annotated[
    str,
    typer.Option(
        "--event",
        metavar="NAME",
        help="For an event; a name, a day or last.",
        autocompletion=completing.events,
    ),
]


@work.callback(invoke_without_command=True)
def work_overview(ctx: typer.Context, where: Where = "", as_json: Json = False) -> None:
    """Checklists, those under way, what is left to do, hours."""
    if is_asked_alone(ctx, where, as_json):
        from ovalwright.cli import working

        working.overview(screen_of(as_json, False), where=where)


@work.command("list")
def work_list(name: ListName, where: Where = "", as_json: Json = False) -> None:
    """One checklist, and how far it is where it is under way."""
    from ovalwright.cli import working

    working.listed(screen_of(as_json, False), name, where=where)


@work.command("begin")
def work_begin(
    name: ListName, event: OfEvent = "", where: Where = "", by: By = "", as_json: Json = False
) -> None:
    """Begin a list, or go on with it where it is under way."""
    from ovalwright.cli import working

    working.begin(screen_of(as_json, False), name, event=event, where=where, by=by)


@work.command("tick")
def work_tick(
    items: Annotated[list[str], typer.Argument(metavar="ITEM...", help="Numbers, or words of it.")],
    name: OfList = "",
    minutes: Annotated[
        str, typer.Option(metavar="TEXT", help='How long they took in all: 15, or "1 1/2 h".')
    ] = "",
    found: Annotated[str, typer.Option(metavar="TEXT", help="What was found.")] = "",
    done_by: DoneBy = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Done: things of a list under way, who did them, what was found."""
    from ovalwright.cli import working

    working.tick(
        screen_of(as_json, False), items, name=name, minutes=minutes, found=found, done_by=done_by,
        where=where, by=by,
    )  # fmt: skip


@work.command("open")
def work_open(where: Where = "", as_json: Json = False) -> None:
    """What is left to do on lists under way, and what is not put right."""
    from ovalwright.cli import working

    working.still_open(screen_of(as_json, False), where=where)


@work.command("right")
def work_right(
    item: Annotated[str, typer.Argument(metavar="ITEM", help="Its number, or words of it.")],
    name: Annotated[
        str, typer.Option("--list", metavar="NAME", help="Of which checklist, where it is not plain.")
    ] = "",
    how: Annotated[str, typer.Option(metavar="TEXT", help="How it was put right.")] = "",
    done_by: DoneBy = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Put right: what was found at a thing stays open until you say so."""
    from ovalwright.cli import working

    working.right(screen_of(as_json, False), item, name=name, how=how, done_by=done_by, where=where, by=by)


@work.command("close")
def work_close(name: ListName = "", where: Where = "", by: By = "", as_json: Json = False) -> None:
    """Close a list; what was left open is said and kept."""
    from ovalwright.cli import working

    working.close(screen_of(as_json, False), name, where=where, by=by)


@work.command("hours")
def work_hours(event: OfEvent = "", where: Where = "", as_json: Json = False) -> None:
    """Who worked how long, by event."""
    from ovalwright.cli import working

    working.hours(screen_of(as_json, False), event=event, where=where)


@work.command("add")
def work_add(
    name: ListName,
    words: Annotated[list[str], typer.Argument(metavar="WORDS...", help="What is to be done.")],
    caution: Annotated[str, typer.Option(metavar="TEXT", help="What may hurt.")] = "",
    good_until: Annotated[str, typer.Option(metavar="DATE", help="Its last day, as of belts.")] = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Add a thing to a checklist, or to a new one of your own."""
    from ovalwright.cli import working

    working.add(
        screen_of(as_json, False), name, " ".join(words), caution=caution, good_until=good_until,
        where=where, by=by,
    )  # fmt: skip
