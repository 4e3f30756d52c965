"""A TOML file as data, with the line of every key, and the chain of files it is ``like``."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any

LARGEST = 500_000
_DEEPEST_LIKE = 16
_DEEP_KEY = re.compile(r"(?<![\w\"'-])(?:[\w\"'-]{1,80}[ \t]*\.[ \t]*){12}")
_DEEP_NEST = re.compile(r"(?:[\[{][\s\w=,\"'.-]{0,80}){40}")
_NAMES_A_FILE = ("car", "rack", "sheet")

# What a newly written key makes untrue in the table it is laid over: a part of the rack brings its own
# numbers, and of two ways to say one thing the new one holds. A rack id is text; tables of the same name do
# not count.
OUTDATES: dict[str, tuple[str, ...]] = {
    "spring": ("rate", "free_length", "bind_height", "bound_rate"),
    "tire": (
        "roll_out",
        "roll_out_pressure",
        "construction",
        "rate_at_zero",
        "rate_gain",
        "growth",
        "grip",
        "width",
    ),
    "bar": ("rate", "diameter", "bore", "length", "arm", "modulus"),
    "shock": ("gas_force",),
    "rate": ("spring", "bar", "diameter", "bore"),
    "diameter": ("rate", "bar"),
    "preload": ("preload_torque",),
    "preload_torque": ("preload",),
    "stop": ("bump_spring",),
    "bump_spring": ("stop",),
    "points": ("short",),
    "short": ("points",),
}
_RACK_IDS = ("spring", "tire", "bar", "shock")

Keys = tuple[str | int, ...]


class DocumentError(ValueError):
    """A file that cannot be used.

    Its text is one printable sentence: file, line, key, what is wrong, what would be right.
    """

    def __init__(self, sentence: str) -> None:
        super().__init__("".join(c if c.isprintable() else "?" for c in sentence))


Edit = tuple[Keys, Any]


@dataclass(frozen=True)
class Source:
    """Where the data of a document came from.

    ``typed`` is the text as it was read, ``edits`` what was changed since; ``own`` is the data of this file
    alone and ``data`` that with everything taken from the file it is like. Lines are those of ``typed``.
    """

    name: str
    typed: str
    folder: Path
    own: dict[str, Any]
    lines: Mapping[Keys, int] = field(repr=False)
    base: Source | None = None
    edits: tuple[Edit, ...] = ()

    @cached_property
    def data(self) -> dict[str, Any]:
        """The data of this file laid over that of the file it is like."""
        if self.base is None:
            return self.own
        inherited = self.base.data
        if self.base.folder != self.folder:
            inherited = _moved(inherited, self.base.folder)
        return merged(inherited, self.own)

    @cached_property
    def text(self) -> str:
        """The text with its edits written in; everything else, comments too, as it was typed."""
        if not self.edits:
            return self.typed
        import tomlkit

        tree = tomlkit.parse(self.typed)
        for keys, value in self.edits:
            _write(tree, self.data, keys, value)
        return tomlkit.dumps(tree)

    def edited(self, edits: tuple[Edit, ...]) -> Source:
        """This source with values written anew. Raises LookupError or TypeError where that cannot be."""
        own = deepcopy(self.own)
        for keys, value in edits:
            _write(own, self.data, keys, value)
        return replace(self, own=own, edits=(*self.edits, *edits))

    def where(self, keys: Keys) -> tuple[str, int]:
        """File name and line of a key, or of the nearest table around it that is written.

        Line 0 is unknown.
        """
        source: Source | None = self
        best: tuple[int, str, int] = (0, self.name, 0)
        while source is not None:
            for length in range(len(keys), best[0], -1):
                line = source.lines.get(keys[:length])
                if line is not None:
                    best = (length, source.name, line)
                    break
            source = source.base
        return best[1], best[2]

    def place(self, keys: Keys) -> str:
        """``setup.toml line 12`` for a key."""
        name, line = self.where(keys)
        return f"{name} line {line}" if line else name


def read_file(path: Path | str, *, chain: tuple[Path, ...] = ()) -> Source:
    """Read a TOML file and what it is like. Raises DocumentError."""
    path = Path(path)
    return read_text(_typed(path), name=path.name, folder=path.parent, chain=(*chain, _resolved(path)))


def _resolved(path: Path) -> Path:
    try:
        return path.resolve()
    except (OSError, RuntimeError, ValueError):
        return path.absolute()


def read_bytes(path: Path, wanted: str, *, largest: int = LARGEST) -> bytes:
    """What stands in a file of at most `largest` bytes; `wanted` says what kind of file it should be.

    Raises DocumentError.
    """
    try:
        if not path.is_file():
            what = "is a folder" if path.is_dir() else "is not there" if not path.exists() else "is no file"
            raise DocumentError(f"{path}: {what}; name {wanted} that can be read.")
        with path.open("rb") as file:
            raw = file.read(largest + 1)
    except (OSError, ValueError) as problem:
        if isinstance(problem, DocumentError):
            raise
        reason = getattr(problem, "strerror", None) or "the name cannot be used"
        raise DocumentError(f"{path}: cannot be read ({reason}); name {wanted} that can be read.") from None
    if len(raw) > largest:
        raise _too_large(path.name, largest)
    return raw


def _typed(path: Path) -> str:
    raw = read_bytes(path, "a TOML file")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = raw[: problem.start].count(b"\n") + 1
        raise DocumentError(
            f"{path.name} line {line}: holds bytes that are no UTF-8 text; save the file as UTF-8."
        ) from None


def _too_large(name: str, largest: int) -> DocumentError:
    return DocumentError(f"{name}: is larger than {largest // 1000} kB, no document is; check the file name.")


def read_text(text: str, *, name: str, folder: Path, chain: tuple[Path, ...] = ()) -> Source:
    """Data, line numbers and base of a TOML text. Raises DocumentError."""
    own = parsed(text, name)
    lines = line_of_keys(text)
    like = own.pop("like", None)
    base = None
    if like is not None:
        base = _base(like, f"{name} line {lines.get(('like',), 1)}", folder, chain)
    return Source(name, text, folder, own, lines, base)


def _base(like: object, at: str, folder: Path, chain: tuple[Path, ...]) -> Source:
    if not isinstance(like, str) or not like.strip() or len(like) > 400:
        raise DocumentError(f'{at}, like: must name a file; write like = "base.toml".')
    path = folder / like
    if _resolved(path) in chain or len(chain) > _DEEPEST_LIKE:
        loop = " -> ".join(step.name for step in (*chain[-3:], path))
        raise DocumentError(
            f"{at}, like: goes in a circle ({loop}); name a file that does not lead back here."
        )
    try:
        return read_file(path, chain=chain)
    except DocumentError as problem:
        if problem.args and str(problem).startswith(str(path)):
            raise DocumentError(f"{at}, like: {problem}") from None
        raise


def _moved(data: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The data of a base in another folder, the files it names as seen from there."""
    paths = {key: str(folder / data[key]) for key in _NAMES_A_FILE if isinstance(data.get(key), str)}
    return {**data, **paths}


def merged(base: Mapping[str, Any], own: Mapping[str, Any]) -> dict[str, Any]:
    """``base`` with everything in ``own`` laid over it, table by table; lists are replaced whole."""
    result = {key: value for key, value in base.items() if key not in outdated(own)}
    for key, value in own.items():
        below = result.get(key)
        both = isinstance(value, Mapping) and isinstance(below, Mapping) and not _is_quantity(value)
        result[key] = merged(below, value) if both and below is not None else value
    return result


def _is_quantity(table: Mapping[str, Any]) -> bool:
    return "value" in table and set(table) <= {"value", "give_or_take", "from"}


def _write(tree: Any, data: Any, keys: Keys, value: Any) -> None:
    """Set one key of a tree of tables and drop what it outdates.

    Tables are made on the way; a list that is inherited (in ``data`` only) is copied first.
    """
    key: Any
    for key in keys[:-1]:
        data = data[key] if isinstance(data, list) or key in data else {}
        if isinstance(key, str) and not isinstance(tree.get(key), (dict, list)):
            tree[key] = deepcopy(data) if isinstance(data, list) else {}
        tree = tree[key]
    key = keys[-1]
    if isinstance(key, str):
        for gone in outdated({key: value}):
            tree.pop(gone, None)
    tree[key] = value


def outdated(own: Mapping[str, Any]) -> set[str]:
    """Keys of a table that no longer hold once ``own`` is laid over it."""
    return {
        gone
        for key in own
        if key not in _RACK_IDS or isinstance(own[key], str)
        for gone in OUTDATES.get(key, ())
        if gone not in own
    }


def parsed(text: str, name: str, *, largest: int = LARGEST) -> dict[str, Any]:
    """The data of a TOML text of at most `largest` letters. Raises DocumentError."""
    if len(text) > largest:
        raise _too_large(name, largest)
    if _DEEP_KEY.search(text) or _DEEP_NEST.search(text):
        raise DocumentError(f"{name}: nests tables deeper than any document of ours; check the file name.")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise DocumentError(_syntax(str(problem), text, name)) from None
    except (ValueError, RecursionError, OverflowError):
        raise DocumentError(
            f"{name}: holds a number or a nesting that cannot be read; write plain TOML."
        ) from None


_PLAINLY = (
    ("Cannot overwrite", "this key is written twice", "keep one of them"),
    ("Cannot declare", "this table is written twice", "keep one of them"),
    ("Cannot mutate", "this table is written twice", "keep one of them"),
    (
        "Illegal character",
        "a quote is missing or a character is no text",
        'write key = "value with its unit"',
    ),
    ("Expected '='", "there is no = after the key", 'write key = "value with its unit"'),
)


def _syntax(problem: str, text: str, name: str) -> str:
    match = re.search(r"\(at (?:line (\d+), column \d+|end of document)\)", problem)
    line = int(match[1]) if match and match[1] else text.count("\n") + 1
    typed = text.split("\n")[line - 1].strip()
    said = problem[: match.start()].strip() if match else problem
    what, right = said[:1].lower() + said[1:80], 'write key = "value with its unit", quotes around the value'
    for begins, plainly, advice in _PLAINLY:
        if said.startswith(begins):
            what, right = plainly, advice
    return f"{name} line {line}: {typed[:40]!r} cannot be read ({what}); {right}."


_HEADER = re.compile(r"\s*\[(\[?)\s*([^\[\]#]+?)\s*\]")
_KEY = re.compile(r"\s*((?:[\w-]+|\"[^\"\n]*\"|'[^'\n]*')(?:\s*\.\s*(?:[\w-]+|\"[^\"\n]*\"|'[^'\n]*'))*)\s*=")
_KEY_PART = re.compile(r"[\w-]+|\"([^\"]*)\"|'([^']*)'")
_QUOTED = re.compile(r"\"(?:\\.|[^\"\\])*\"|'[^']*'")


def line_of_keys(text: str) -> dict[Keys, int]:
    """The line of every key and table header; of array items written one a line, the line of each."""
    found: dict[Keys, int] = {}
    table: Keys = ()
    counts: dict[Keys, int] = {}
    for number, statement in _statements(text):
        header = _HEADER.match(statement[0])
        if header:
            table = _opened(_split(header[2]), bool(header[1]), counts)
            for length in range(1, len(table) + 1):
                found.setdefault(table[:length], number)
            continue
        key = _KEY.match(statement[0])
        if key:
            keys = (*table, *_split(key[1]))
            for length in range(len(table) + 1, len(keys) + 1):
                found.setdefault(keys[:length], number)
            starts = [i for i, line in enumerate(statement) if i and line.lstrip()[:1] in ('"', "{", "'")]
            found.update({(*keys, item): number + i for item, i in enumerate(starts)})
    return found


def _opened(names: Keys, repeated: bool, counts: dict[Keys, int]) -> Keys:
    """The path a header opens: every array of tables on the way stands at its last item."""
    path: Keys = ()
    for position, name in enumerate(names):
        path = (*path, name)
        if repeated and position == len(names) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def _split(dotted: str) -> Keys:
    return tuple(match[1] or match[2] or match[0].strip("\"'") for match in _KEY_PART.finditer(dotted))


def _statements(text: str) -> Iterator[tuple[int, list[str]]]:
    """Lines grouped into statements: a value in brackets or triple quotes may run over several."""
    group: list[str] = []
    start, depth, quote = 1, 0, ""
    for number, line in enumerate(text.split("\n"), start=1):
        if not group:
            start = number
        group.append(line)
        depth, quote = _still_open(line, depth, quote)
        if depth <= 0 and not quote:
            yield start, group
            group, depth = [], 0
    if group:
        yield start, group


def _still_open(line: str, depth: int, quote: str) -> tuple[int, str]:
    """Bracket depth and open triple quote after a line."""
    for mark in ('"""', "'''"):
        if quote in ("", mark) and line.count(mark) % 2:
            return depth, "" if quote else mark
    if quote:
        return depth, quote
    bare = _QUOTED.sub("", line).partition("#")[0]
    return depth + sum(bare.count(c) for c in "[{") - sum(bare.count(c) for c in "]}"), ""
