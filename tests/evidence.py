"""Checks that carry their source, and the evidence file made from them.

A test that compares the product with the outside world asks for the `check` fixture. One call asserts and
records:

    def test_stagger_of_a_turn(check):
        check(
            ours=stagger_for_radius(...),
            expected=0.0647,
            rel=1e-5,
            unit="m",
            of="stagger wanted by a 180 ft turn",
            source="Western Racing, turn radius page",
            kind=READ,
            area="stagger",
        )

- `check(...)`: a number, or an array (one row, showing the worst element). Give `rel`, `abs`, or both (the
  wider counts).
- `check.between(ours, low, high, ...)`: a published range, or "of the order of an inch".
- `check.fact(true_or_false, ...)`: a fact of the trade that is a direction, not a number.
- `check.trap(ours, wrong, ...)`: a figure printed wrong somewhere; ours must stay at least `apart` (relative)
  away from it.

`kind` says how far the source was read (import the names from here):
READ (read this time), FROM_MEMORY (cited, not looked up), DERIVED (worked out by us from a law, by a route
that the product does not use), COMMON_PRACTICE (trade fact without a source), LIBRARY (a general library
gives the figure). `area` is one of AREAS. A check must never compare the product only with itself. Every test
that uses `check` gets the marker `sourced` by itself.

`python -m pytest --write-evidence` rewrites docs/evidence.md from the quick tests; with `-m proof` it
rewrites docs/proof.md from the long ones. A run of whole test files, named, rewrites their rows alone.
`--check-evidence` fails the run when that file is stale, and names the tests whose rows are.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest

READ = "READ"
FROM_MEMORY = "from memory"
DERIVED = "DERIVED"
COMMON_PRACTICE = "common practice, no source"
LIBRARY = "library"
KINDS = (READ, FROM_MEMORY, LIBRARY, DERIVED, COMMON_PRACTICE)

AREAS = (
    "weighing",
    "lead",
    "rules",
    "settle",
    "trim",
    "limit",
    "balance",
    "tire",
    "linkage",
    "banking",
    "stagger",
    "springs",
    "bars",
    "steering",
    "load transfer",
    "air",
    "gearing",
    "units",
    "bands",
    "road",
    "lap",
    "run",
    "matching",
    "notebook",
    "sheets",
)

NOISE = 1e-6
"""Differences below this are not shown: they need not be the same on every machine."""
COLUMNS = ("test", "of", "source", "kind", "expected", "ours", "difference", "tolerance")
LEGEND = (
    "READ: the figure was read in the source named. From memory: the source is cited and was not looked up.",
    "Library: a general library gives the figure. DERIVED: worked out from a law by a route the product does",
    "not use. Common practice: a fact of the trade without a source. TRAP: a figure printed wrong in",
    "its source, which the product must not reproduce.",
)
QUICK, PROOF = "Evidence", "Evidence, the long proof"
COMMANDS = {
    QUICK: "python -m pytest --write-evidence",
    PROOF: "python -m pytest -m proof --write-evidence",
}
ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True, kw_only=True)
class Row:
    """One line of the evidence file; all cells are already text. `place` is that of its test in the run."""

    test: str
    area: str
    of: str
    source: str
    kind: str
    expected: str
    ours: str
    difference: str
    tolerance: str
    place: int = 0


@dataclass
class Check:
    """The `check` fixture: asserts one comparison with the outside world and records it."""

    test: str
    place: int = 0
    rows: list[Row] = field(default_factory=list)

    def __call__(
        self,
        ours: float | Sequence[float] | np.ndarray,
        expected: float | Sequence[float] | np.ndarray,
        *,
        of: str,
        source: str,
        kind: str,
        area: str,
        rel: float | None = None,
        abs: float | None = None,
        unit: str = "",
    ) -> None:
        """Assert |ours - expected| <= max(rel |expected|, abs), element by element."""
        if rel is None and abs is None:
            raise TypeError("give rel=, abs= or both")
        mine, outside = np.broadcast_arrays(np.atleast_1d(ours), np.atleast_1d(expected))
        mine, outside = mine.ravel().astype(float), outside.ravel().astype(float)
        allowed = np.maximum((rel or 0.0) * np.abs(outside), abs or 0.0)
        difference = mine - outside
        worst = int(np.argmax(np.nan_to_num(np.abs(difference) / np.maximum(allowed, 1e-300), nan=np.inf)))
        self._record(
            of=of if mine.size == 1 else f"{of} (worst of {mine.size})",
            source=source,
            kind=kind,
            area=area,
            expected=_figure(outside[worst], unit),
            ours=_figure(mine[worst] if outside[worst] or np.abs(mine[worst]) > NOISE else 0.0, unit),
            difference=_difference(difference[worst], outside[worst]),
            tolerance=_tolerance(rel, abs, unit),
        )
        bad = ~(np.abs(difference) <= allowed)
        assert not bad.any(), (
            f"{of}: ours {float(mine[worst])!r}, expected {float(outside[worst])!r} {unit} "
            f"(off by {difference[worst]:.3g}, allowed {allowed[worst]:.3g}; {source})"
        )

    def between(
        self,
        ours: float,
        low: float,
        high: float,
        *,
        of: str,
        source: str,
        kind: str,
        area: str,
        unit: str = "",
    ) -> None:
        """Assert low <= ours <= high."""
        self._record(
            of=of,
            source=source,
            kind=kind,
            area=area,
            expected=f"{_figure(low)} to {_figure(high, unit)}",
            ours=_figure(ours, unit),
            difference="inside",
            tolerance="the range",
        )
        assert low <= ours <= high, f"{of}: ours {ours!r} is not in {low!r} to {high!r} {unit} ({source})"

    def fact(self, holds: bool, *, of: str, source: str, kind: str, area: str) -> None:
        """Assert that a stated fact holds."""
        self._record(
            of=of,
            source=source,
            kind=kind,
            area=area,
            expected="holds",
            ours="holds",
            difference="none",
            tolerance="none",
        )
        assert holds, f"does not hold: {of} ({source})"

    def trap(
        self,
        ours: float,
        wrong: float,
        *,
        of: str,
        source: str,
        kind: str,
        area: str,
        apart: float = 1e-3,
        unit: str = "",
    ) -> None:
        """Assert that ours stays at least `apart` (relative) away from a figure printed wrong."""
        gap = abs(ours - wrong) / abs(wrong)
        self._record(
            of=f"TRAP: {of}",
            source=source,
            kind=kind,
            area=area,
            expected=f"not {_figure(wrong, unit)}",
            ours=_figure(ours, unit),
            difference=_difference(ours - wrong, wrong),
            tolerance=f"at least {apart:g} apart",
        )
        assert gap >= apart, f"{of}: ours {ours!r} falls for the wrong figure {wrong!r} {unit} ({source})"

    def _record(self, *, kind: str, area: str, **cells: str) -> None:
        if kind not in KINDS:
            raise ValueError(f"kind {kind!r} is none of {KINDS}")
        if area not in AREAS:
            raise ValueError(f"area {area!r} is none of {AREAS}")
        if not cells["source"].strip():
            raise ValueError(f"{cells['of']}: name the source")
        self.rows.append(Row(test=self.test, place=self.place, kind=kind, area=area, **cells))


def _figure(value: float, unit: str = "") -> str:
    return f"{value:.6g} {unit}".strip()


def _difference(difference: float, expected: float) -> str:
    """Relative where the expected value is not zero; what would flicker between machines is not shown."""
    scale = abs(expected)
    if scale == 0.0:
        return f"{difference:+.1e}" if abs(difference) > NOISE else f"under {NOISE:g}"
    relative = difference / scale
    return f"{relative:+.1e} of it" if abs(relative) > NOISE else f"under {NOISE:g} of it"


def _tolerance(rel: float | None, absolute: float | None, unit: str) -> str:
    parts = [f"{rel:g} of it"] if rel is not None else []
    if absolute is not None:
        parts.append(_figure(absolute, unit))
    return " or ".join(parts)


# ---------------- the file


def render(rows: list[Row], title: str) -> str:
    """The evidence file: counts by kind and area, then one table per area, in a fixed order."""
    lines = [
        f"# {title}",
        "",
        f"Made by the tests (`{COMMANDS[title]}`); do not edit by hand.",
        "",
        *LEGEND,
        "",
    ]
    areas = [area for area in AREAS if any(row.area == area for row in rows)]
    lines += [f"| area | {' | '.join(KINDS)} | all |", f"| --- |{' ---: |' * (len(KINDS) + 1)}"]
    for area in [*areas, "all"]:
        chosen = [row for row in rows if area in ("all", row.area)]
        counts = [sum(row.kind == kind for row in chosen) for kind in KINDS]
        lines.append(f"| {area} | {' | '.join(str(count) for count in counts)} | {len(chosen)} |")
    for area in areas:
        lines += ["", f"## {area[0].upper()}{area[1:]}", ""]
        lines += [f"| {' | '.join(COLUMNS)} |", f"|{' --- |' * len(COLUMNS)}"]
        for row in sorted((row for row in rows if row.area == area), key=lambda row: (row.test, row.place)):
            cells = [getattr(row, column) for column in COLUMNS]
            lines.append(
                "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in cells) + " |"
            )
    return "\n".join(lines) + "\n"


def rows_of(text: str) -> list[Row]:
    """The rows of an evidence file."""
    rows: list[Row] = []
    for title, *lines in (part.splitlines() for part in text.split("\n## ")[1:]):
        area = title[0].lower() + title[1:]
        for line in lines[3:]:
            cells = [cell.strip().replace("\\|", "|") for cell in re.split(r"(?<!\\)\|", line)[1:-1]]
            rows.append(Row(area=area, place=len(rows), **dict(zip(COLUMNS, cells, strict=True))))
    return rows


def merged(ran: list[Row], files: set[str], text: str) -> list[Row]:
    """What a run of some test files makes of the rows of an evidence file; of the whole run where none are
    named."""
    kept = [row for row in rows_of(text) if files and row.test.partition("/")[0] not in files]
    return [*ran, *kept]


def stale(was: str, now: str) -> list[str]:
    """Names of the tests whose rows differ between two evidence files."""
    lines = [set(text.splitlines()) for text in (was, now)]
    return sorted({line.split(" | ")[0].removeprefix("| ") for line in lines[0] ^ lines[1] if "/" in line})


# ---------------- pytest hooks

ROWS = pytest.StashKey[list[Row]]()
STALE = pytest.StashKey[str]()
PLACE = pytest.StashKey[int]()
CARRIED = "evidence"
"""Name under which a worker process hands its rows to the run it works for (pytest-xdist)."""


def pytest_addoption(parser: pytest.Parser) -> None:
    group = parser.getgroup("evidence")
    group.addoption("--write-evidence", action="store_true", help="rewrite the evidence file from this run")
    group.addoption("--check-evidence", action="store_true", help="fail when the evidence file is stale")


def pytest_configure(config: pytest.Config) -> None:
    config.stash[ROWS] = []
    if hasattr(config, "workerinput"):
        return
    single = config.getoption("keyword") or not all(Path(file).is_file() for file in _named(config))
    if _wanted(config) and single:
        raise pytest.UsageError("the evidence is made from whole test files: name no single tests and no -k")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for place, item in enumerate(items):
        item.stash[PLACE] = place
        if "check" in getattr(item, "fixturenames", ()):
            item.add_marker("sourced")


@pytest.fixture
def check(request: pytest.FixtureRequest) -> Iterator[Check]:
    """Assert against the outside world and record the row; see the docstring of this file."""
    module = request.node.path.stem.removeprefix("test_")
    test = f"{module}/{request.node.originalname.removeprefix('test_')}"
    collector = Check(test=test, place=request.node.stash[PLACE])
    yield collector
    request.config.stash[ROWS].extend(collector.rows)


def _wanted(config: pytest.Config) -> bool:
    return bool(config.getoption("write_evidence") or config.getoption("check_evidence"))


def _place(config: pytest.Config) -> tuple[Path, str]:
    if config.getoption("markexpr") == "proof":
        return ROOT / "docs" / "proof.md", PROOF
    return ROOT / "docs" / "evidence.md", QUICK


def _named(config: pytest.Config) -> list[str]:
    """The test files that the run was asked for by name; none when it is the whole one."""
    return config.args if config.args_source is pytest.Config.ArgsSource.ARGS else []


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    """A worker process has done its share: take over its rows."""
    carried = getattr(node, "workeroutput", {}).get(CARRIED, [])
    node.config.stash[ROWS].extend(Row(**row) for row in carried)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    config = session.config
    if hasattr(config, "workeroutput"):
        config.workeroutput[CARRIED] = [asdict(row) for row in config.stash[ROWS]]
        return
    if not _wanted(config) or session.exitstatus not in (
        pytest.ExitCode.OK,
        pytest.ExitCode.NO_TESTS_COLLECTED,
    ):
        return
    path, title = _place(config)
    was = path.read_text(encoding="utf-8") if path.exists() else ""
    files = {Path(file).stem.removeprefix("test_") for file in _named(config)}
    text = render(merged(config.stash[ROWS], files, was), title)
    if config.getoption("write_evidence"):
        path.write_text(text, encoding="utf-8", newline="\n")
    elif was != text:
        told = ", ".join(stale(was, text)) or "its head"
        config.stash[STALE] = f"{path.relative_to(ROOT)} is stale ({told}): run `{COMMANDS[title]}`"
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    if STALE in config.stash:
        terminalreporter.write_line(config.stash[STALE], red=True)
    if _wanted(config) and config.stash[ROWS]:
        terminalreporter.write_line(f"{len(config.stash[ROWS])} sourced checks")
