"""A racer's question about his runs, read from one plain line whose clauses are parted by commas.

    here, air over 60 F, RR spring over 300, fall-off under 0.2
    tight in the middle, late
    tire T8, since 2026-06-01, best under 15.4

A clause is one of these; whatever is none of them are words to be found in what was written of a run:

- a number: a field (`fields.py`), `over`, `under`, `at least`, `at most`, `between A and B` or `is`, and a
  quantity. A unit left out is the one the trade uses. `is` means as typed: 15.4 is what rounds to it.
- what the driver said: `tight`, `loose` or `good`, `entry`, `middle` or `exit`, `early` or `late`. Clauses of
  this kind that follow each other tell of one comment until they contradict each other.
- a part that was in the car: `tire T8`, `RR spring B12`, `part B12`; a mark has a digit, or follows `part`.
- `hit` or `crash`: the run was one.
- `here`, `track`, `event`, `setup`, `car`, `driver`, `session` with a name, `run` and `setup` with a code,
  `flag` with a flag.
- a day: `since`, `after`, `before`, `until`, `on`, `between` with 2026-06-01, `in 2026` or `in 2026-06`.

`and` and `with` part clauses too where every one is more than words: `here with RR over 300 and late`.
A piece that begins as a question is told of word by word, small words left out: `when was it slow in the heat
and pushing` is slow, the heat, and tight. Every clause says how it was understood. Words in quotes are words,
whatever they say.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import itertools
import re

from ovalwright.corners import CORNERS
from ovalwright.documents import FLAGS
from ovalwright.notebook.asked.number_clause import number_clause
from ovalwright.notebook.asked.question import Clause, Days, Felt, Named, Question, Rode, keyed, short
from ovalwright.notebook.tables import CODE_LENGTH, CODE_LETTERS
from ovalwright.notebook.trouble import NotebookTrouble

LONGEST, MOST = 1000, 40
"""Most characters and clauses of a question."""


def read_question(text: str) -> Question:
    """Read a question. Raises NotebookTrouble, one sentence, for a comparison that cannot be read."""
    if len(text) > LONGEST:
        raise NotebookTrouble(f"the question has {len(text)} characters; ask in {LONGEST} at most.")
    pieces = [" ".join(piece.split()) for piece in _PARTS.split(keyed(text))]
    pieces = [piece for piece in pieces if piece]
    if len(pieces) > MOST:
        raise NotebookTrouble(f"the question has {len(pieces)} clauses; ask with {MOST} at most.")
    clauses: list[Clause] = []
    for clause in itertools.chain.from_iterable(map(_clauses, pieces)):
        joined = _joined(clauses[-1], clause) if clauses else None
        if joined is None:
            clauses.append(clause)
        else:
            clauses[-1] = joined
    return Question(text, tuple(clauses))


_PARTS = re.compile(r"[;\n]|,(?!\d)|(?<!\d),")
"""What parts clauses; a comma between two digits is one of a number."""


_AND = re.compile(r"\s+(?:and|with)\s+|(?<=\bhere)\s+", re.IGNORECASE)


def _clauses(piece: str) -> list[Clause]:
    """A piece as one clause, or as several joined by words where each of them is more than words."""
    parts, is_asked = _AND.split(piece), _ASKED.match(piece) is not None
    if len(parts) > 1 or is_asked:
        with contextlib.suppress(NotebookTrouble):
            clauses = [_read(part) for part in parts]
            if not any(map(_is_words, clauses)):
                return clauses
            if is_asked:
                told = [word for one in clauses for word in (_told(one.typed) if _is_words(one) else [one])]
                return sorted(told, key=lambda one: not isinstance(one, Felt)) or [_read(piece)]
    return [_read(piece)]


def _is_words(clause: Clause) -> bool:
    return isinstance(clause, Named) and clause.what == "words"


_ASKED = re.compile(r"(?:when|where|which|what|how|was|were|did|show|find)\b", re.IGNORECASE)
_SESSIONS = ("practice", "qualifying", "heat", "dash", "feature", "main")


def _told(piece: str) -> list[Clause]:
    """The clauses in a piece of a question, a word each."""
    words = [one for one in re.findall(r"[^\s?!.]+", piece) if one.lower() not in _BETWEEN | _ASKING]
    return [_read(f"session {one}" if one.lower() in _SESSIONS else one) for one in words]


def _read(piece: str) -> Clause:
    bare = _BEFORE.sub("", piece)
    return (
        _quoted(piece)
        or _day(piece, bare)
        or number_clause(piece, bare)
        or _felt(piece, bare)
        or _named(piece, bare)
        or _rode(piece, bare)
        or _words(piece, piece)
    )


_BEFORE = re.compile(
    r"^(?:(?:every|each|any) run |(?:all |all the |the )?runs |(?:find|show)(?: me)? "
    r"|(?:with|and|a|an|the) )+",
    re.IGNORECASE,
)
"""What a racer may say before a clause without meaning anything by it."""


# ---------------- days

_DAY = r"(\d{4}-\d{1,2}-\d{1,2})"
_DAYS = re.compile(
    rf"(?:date\s+)?(since|from|after|before|until|on|between|in)?\s*({_DAY}.*|\d{{4}}(?:-\d{{1,2}})?)", re.I
)
_TWO_DAYS = re.compile(rf"{_DAY}\s+(?:and|to|until)\s+{_DAY}", re.I)
_ODD_DAY = re.compile(r"(?:date\s+)?(since|after|before|until|on)\s+\d+[/.]\d+.*", re.I)
_ONE = dt.timedelta(days=1)


def _day(piece: str, bare: str) -> Clause | None:
    if _ODD_DAY.fullmatch(bare):
        raise NotebookTrouble(f'"{short(piece)}": write the day as 2026-06-01, year, month and day.')
    match = _DAYS.fullmatch(bare)
    if match is None or (match[1] is None and match[3] is None):
        return None
    how, said = (match[1] or "on").lower(), match[2]
    if how == "between" and not _TWO_DAYS.fullmatch(said):
        raise NotebookTrouble(
            f'"{short(piece)}": two days are needed; tell it as "between 2026-05-01 and 2026-06-01".'
        )
    try:
        first, end = _span(how, said)
    except (ValueError, OverflowError):
        raise NotebookTrouble(
            f'"{short(piece)}": that is no day; write it as in "since 2026-06-01" or "in 2026-06".'
        ) from None
    if first and end:
        last = end - _ONE
        told = f"on {first}" if first == last else f"from {first} to {last}"
    else:
        told = f"on or after {first}" if first else f"before {end}"
    return Days(piece, told, first, end)


def _span(how: str, said: str) -> tuple[dt.date | None, dt.date | None]:
    """First day, and the day after the last. Raises ValueError, OverflowError."""
    if both := _TWO_DAYS.fullmatch(said):
        one, other = sorted((_date(both[1]), _date(both[2])))
        return one, other + _ONE
    first, end = _period(said)
    return {
        "since": (first, None),
        "from": (first, None),
        "after": (end, None),
        "before": (None, first),
        "until": (None, end),
    }.get(how, (first, end))


def _period(said: str) -> tuple[dt.date, dt.date]:
    """A day, a month or a year. Raises ValueError."""
    numbers = [int(number) for number in said.split("-")]
    if len(numbers) == 3:
        return _date(said), _date(said) + _ONE
    year, month = (*numbers, 0)[:2]
    if not month:
        return dt.date(year, 1, 1), dt.date(year + 1, 1, 1)
    return dt.date(year, month, 1), dt.date(year + month // 12, month % 12 + 1, 1)


def _date(said: str) -> dt.date:
    year, month, day = said.split("-")
    return dt.date(int(year), int(month), int(day))


# ---------------- what the driver said

_HEARD = {
    "tight": ("feel", "tight"), "push": ("feel", "tight"), "pushed": ("feel", "tight"),
    "pushes": ("feel", "tight"), "pushing": ("feel", "tight"), "loose": ("feel", "loose"),
    "good": ("feel", "good"), "entry": ("phase", "entry"), "entering": ("phase", "entry"),
    "middle": ("phase", "middle"), "center": ("phase", "middle"), "exit": ("phase", "exit"),
    "off": ("phase", "exit"), "early": ("when", "early"), "late": ("when", "late"),
    "understeer": ("feel", "tight"), "oversteer": ("feel", "loose"),
}  # fmt: skip
_BETWEEN = {
    "in",
    "on",
    "at",
    "the",
    "of",
    "was",
    "is",
    "it",
    "car",
    "turn",
    "corner",
    "when",
    "run",
    "through",
}
_ASKING = {
    "where", "which", "what", "how", "were", "did", "do", "does", "show", "find", "me", "my", "i", "we",
    "you", "to", "for", "a", "an", "and", "with", "all", "any", "ever",
}  # fmt: skip
"""What a question is asked with, beside those."""


def _felt(piece: str, bare: str) -> Clause | None:
    found: dict[str, str] = {}
    for word in re.findall(r"[^\s]+", bare.lower()):
        if word in _BETWEEN:
            continue
        what, meant = _HEARD.get(word, ("", ""))
        if not what or found.get(what, meant) != meant:
            return None
        found[what] = meant
    return _comment(piece, **found) if found else None


def _comment(typed: str, feel: str = "", phase: str = "", when: str = "") -> Felt:
    place = {"": "", "entry": " on entry", "middle": " in the middle", "exit": " on exit"}[phase]
    late = {"": "", "early": ", early in the run or all through", "late": ", late in the run or all through"}[
        when
    ]
    return Felt(typed, f"the driver said: {feel or 'anything'}{place}{late}", feel, phase, when)


def _joined(before: Clause, after: Clause) -> Clause | None:
    """Two clauses that tell of one comment, as one; None when they do not."""
    if not isinstance(before, Felt) or not isinstance(after, Felt):
        return None
    pairs = {key: (getattr(before, key), getattr(after, key)) for key in ("feel", "phase", "when")}
    if any(one and other for one, other in pairs.values()):
        return None
    return _comment(
        f"{before.typed}, {after.typed}", **{key: one or other for key, (one, other) in pairs.items()}
    )


# ---------------- names, parts, words

_KINDS = ("tire", "spring", "bar", "shock", "gear", "lead", "engine", "transmission", "axle", "wheel")
_MARK = re.compile(
    rf"(?:(?P<corner>{'|'.join(CORNERS)})\s+)?(?P<kind>part|{'|'.join(_KINDS)})s?\s+(?P<mark>\S.*)", re.I
)
_NAME = re.compile(r"(?P<what>track|event|setup|car|driver|session|run|flag)\s+(?P<name>\S.*)", re.I)
_FLAG = re.compile(rf"(?P<flag>{'|'.join(FLAGS)})\s+flag", re.I)
_HIT = re.compile(r"(?:was )?(?:hit|crash|crashed|wreck|wrecked)", re.I)
_CODE = re.compile(f"[{CODE_LETTERS}]{{{CODE_LENGTH}}}", re.I)


def _named(piece: str, bare: str) -> Clause | None:
    if re.fullmatch(r"(?:at )?(?:here|this track)", bare, re.I):
        return Named(piece, "at the track of the last event", "here")
    if _HIT.fullmatch(bare):
        return Named(piece, f'the car was hit, or "{bare}" in what was written', "hit", bare)
    flag = _FLAG.fullmatch(bare)
    match = _NAME.fullmatch(f"flag {flag['flag']}" if flag else bare)
    if match is None:
        return None
    what, name = match["what"].lower(), match["name"].strip("\"' ")
    if not re.search(r"\w", name):
        return None
    if what == "flag":
        if name.lower() not in FLAGS:
            raise NotebookTrouble(f'"{short(piece)}": a flag is one of {", ".join(FLAGS)}.')
        return Named(piece, f"a lap under flag {name.lower()}", "flag", name.lower())
    if what == "run":
        return Named(piece, f"run {name.upper()}", "run", name) if _CODE.fullmatch(name) else None
    by_code = " or its code" if what == "setup" else ""
    return Named(piece, f'{what} with "{name}" in its name{by_code}', what, name)  # type: ignore[arg-type]


def _rode(piece: str, bare: str) -> Clause | None:
    match = _MARK.fullmatch(bare)
    if match is None:
        return None
    kind, mark, corner = match["kind"].lower(), match["mark"].strip("\"' "), (match["corner"] or "").upper()
    if not mark or not (kind == "part" or re.search(r"\d", mark)):
        return None
    where = f" at {corner}" if corner else ""
    return Rode(piece, f"{kind} {mark} was in the car{where}", "" if kind == "part" else kind, mark, corner)


def _quoted(piece: str) -> Clause | None:
    match = re.fullmatch(r"\"(.*)\"", piece)
    return _words(piece, match[1]) if match else None


def _words(piece: str, said: str) -> Clause:
    if not re.search(r"[^\W_]", said):
        raise NotebookTrouble(f'"{short(piece)}": there is no word in it to look for.')
    return Named(piece, f'the words "{said}" in what was written', "words", said)
