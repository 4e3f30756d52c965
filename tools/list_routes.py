"""Write the addresses of the bench into docs/bench.md, from its one table of routes.

Run as `python tools/list_routes.py`.
"""

from __future__ import annotations

import re
from pathlib import Path

from ovalwright.web.routes import ROUTES

DOCS = Path(__file__).resolve().parent.parent / "docs" / "bench.md"
HEAD = "| how | address | page | what for |\n| --- | --- | --- | --- |\n"


def main() -> None:
    """Replace the table by the routes as they are."""
    rows = "".join(f"| {one.method} | `{one.path}` | {one.page} | {one.what} |\n" for one in ROUTES)
    text = DOCS.read_text(encoding="utf-8")
    found = re.sub(re.escape(HEAD) + r"(?:\|.*\n)*", lambda _: HEAD + rows, text)
    DOCS.write_text(found, encoding="utf-8")


if __name__ == "__main__":
    main()
