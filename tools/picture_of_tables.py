"""Draw docs/store.svg, the tables of the notebook, from their models.

`python tools/picture_of_tables.py` writes it; with `--check` it ends with 1 when the picture is stale. Every
table must have its place below, so a new one cannot be forgotten.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from html import escape
from pathlib import Path

import sqlalchemy as sa

from ovalwright.notebook import tables, tables_work

PICTURE = Path(__file__).resolve().parent.parent / "docs" / "store.svg"
COLUMNS = (
    ("remembered", "draft", "saying", "checklist", "item", "check_round", "done", "put_right"),
    ("document", "revision", "reference", "figure", "entry", "change"),
    ("event", "run", "lap", "reading", "comment"),
    ("ridden", "part", "measurement", "stay", "interval", "serviced"),
)
ON_EVERY_ROW = ("entry_id", "version")
WIDTH, GAP, ROW, HEAD, BELOW, MARGIN = 210, 90, 16, 22, 26, 44
SHORT = {
    "VARCHAR": "text",
    "TEXT": "text",
    "INTEGER": "count",
    "DOUBLE": "number",
    "FLOAT": "number",
    "DATETIME": "moment",
    "BOOLEAN": "yes or no",
}


def main() -> int:
    """Write the picture, or compare it."""
    drawn = picture()
    if "--check" in sys.argv[1:]:
        fresh = PICTURE.exists() and PICTURE.read_text(encoding="utf-8") == drawn
        print(f"docs/{PICTURE.name} is {'fresh' if fresh else 'stale: python tools/picture_of_tables.py'}")
        return 0 if fresh else 1
    PICTURE.write_text(drawn, encoding="utf-8", newline="\n")
    return 0


def picture() -> str:
    """The SVG text."""
    held = {table.name: table for table in tables_work.Table.metadata.tables.values()}
    placed = {name for column in COLUMNS for name in column}
    if placed != set(held):
        raise SystemExit(f"give a place in COLUMNS to {', '.join(sorted(placed ^ set(held)))}")
    at = dict(_corners(held))
    tall = max(y + _height(held[name]) for name, (_, y) in at.items()) + MARGIN
    wide = 2 * MARGIN + len(COLUMNS) * WIDTH + (len(COLUMNS) - 1) * GAP
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {tall}" '
        'font-family="DejaVu Sans, Verdana, sans-serif" font-size="11">',
        f'<rect width="{wide}" height="{tall}" fill="#ffffff"/>',
        *(line for name in placed_in_order() for line in _links(held[name], at)),
        *(line for name in placed_in_order() for line in _box(held[name], at[name])),
        "</svg>\n",
    ]
    return "\n".join(parts)


def placed_in_order() -> Iterator[str]:
    """All tables, column by column."""
    for column in COLUMNS:
        yield from column


def _corners(held: dict[str, sa.Table]) -> Iterator[tuple[str, tuple[int, int]]]:
    for number, column in enumerate(COLUMNS):
        y = MARGIN
        for name in column:
            yield name, (MARGIN + number * (WIDTH + GAP), y)
            y += _height(held[name]) + BELOW


def _shown(table: sa.Table) -> list[sa.Column[object]]:
    hidden = ON_EVERY_ROW if _is_kept(table) else ()
    shown = [column for column in table.columns if column.name not in hidden]
    return sorted(shown, key=lambda column: not column.primary_key)


def _is_kept(table: sa.Table) -> bool:
    return set(ON_EVERY_ROW) <= set(table.columns.keys())


def _height(table: sa.Table) -> int:
    return HEAD + ROW * len(_shown(table)) + 6


def _box(table: sa.Table, corner: tuple[int, int]) -> Iterator[str]:
    x, y = corner
    yield (
        f'<rect x="{x}" y="{y}" width="{WIDTH}" height="{_height(table)}" rx="4" fill="#ffffff" '
        'stroke="#222222"/>'
    )
    kept = "\u00b7 kept" if _is_kept(table) else ""
    yield f'<rect x="{x}" y="{y}" width="{WIDTH}" height="{HEAD}" rx="4" fill="#e4e4e4" stroke="#222222"/>'
    yield f'<text x="{x + 8}" y="{y + 15}" font-weight="bold">{table.name} {kept}</text>'
    for number, column in enumerate(_shown(table)):
        base = y + HEAD + ROW * number + 13
        weight = ' font-weight="bold"' if column.primary_key else ""
        yield f'<text x="{x + 8}" y="{base}"{weight}>{escape(column.name)}</text>'
        yield (
            f'<text x="{x + WIDTH - 8}" y="{base}" text-anchor="end" fill="#555555">{_kind(column)}</text>'
        )


def _kind(column: sa.Column[object]) -> str:
    if column.foreign_keys:
        return "to " + next(iter(column.foreign_keys)).column.table.name
    name = str(column.type).split("(")[0]
    return SHORT.get(name, name.lower()) + ("?" if column.nullable else "")


def _links(table: sa.Table, at: dict[str, tuple[int, int]]) -> Iterator[str]:
    """A line from every column that refers to another table to that table's head."""
    x, y = at[table.name]
    for number, column in enumerate(_shown(table)):
        for key in column.foreign_keys:
            tx, ty = at[key.column.table.name]
            start, end = y + HEAD + ROW * number + 9, ty + HEAD // 2
            leaves, enters = _sides(x, tx)
            bend = 34 if leaves == x + WIDTH else -34
            back = 34 if enters == tx + WIDTH else -34
            yield (
                f'<path d="M{leaves} {start} C{leaves + bend} {start} {enters + back} {end} {enters} {end}" '
                'fill="none" stroke="#7a7a7a"/>'
            )
            yield f'<circle cx="{enters}" cy="{end}" r="3" fill="#222222"/>'


def _sides(x: int, tx: int) -> tuple[int, int]:
    """Where a line leaves a box at x and enters one at tx."""
    if tx > x:
        return x + WIDTH, tx
    return (x, tx + WIDTH) if tx < x else (x, tx)


assert tables.Table is tables_work.Table

if __name__ == "__main__":
    sys.exit(main())
