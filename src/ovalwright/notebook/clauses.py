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
- `here`, `track`, `event`, `setup`, `car`, `driver`, `session` with a name, `run` and `setup` with a code,
  `flag` with a flag.
- a day: `since`, `after`, `before`, `until`, `on`, `between` with 2026-06-01, `in 2026` or `in 2026-06`.

Every clause says how it was understood. Words in quotes are words, whatever they say.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import Literal

from ovalwright.documents import FLAGS
from ovalwright.notebook.fields import CORNERS, EXAMPLES, FIELDS, Field
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.units import KINDS, UnitError, parse, read_number

LONGEST, MOST = 1000, 40
"""Most characters and clauses of a question."""
_TOLD = "tell it as "
_SAME = 1e-9
"""Two numbers nearer than this share of each other are the same number, typed in two units."""


@dataclass(frozen=True)
class Clause:
    """One clause: as typed, and in words how it was understood."""

    typed: str
    understood: str


@dataclass(frozen=True)
class Measured(Clause):
    """A field from `low` to `high`, SI; None where it is open."""

    field: Field
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Felt(Clause):
    """A comment of the driver; empty where he may have said anything."""

    feel: str = ""
    phase: str = ""
    when: str = ""


@dataclass(frozen=True)
class Rode(Clause):
    """A part by its mark; `kind` and `corner` are empty for any."""

    kind: str
    mark: str
    corner: str = ""


@dataclass(frozen=True)
class Days(Clause):
    """Days from `first` on, before `end`; None where it is open."""

    first: dt.date | None = None
    end: dt.date | None = None


What = Literal["track", "event", "setup", "car", "driver", "session", "run", "flag", "here", "words"]


@dataclass(frozen=True)
class Named(Clause):
    """A thing by words of its name or by its code, a flag, the track of the last event, or words anywhere."""

    what: What
    name: str = ""


@dataclass(frozen=True)
class Question:
    """A question as typed, and its clauses; all of them must hold."""

    text: str
    clauses: tuple[Clause, ...]

    @property
    def understood(self) -> tuple[str, ...]:
        """How each clause was understood."""
        return tuple(clause.understood for clause in self.clauses)


def read_question(text: str) -> Question:
    """Read a question. Raises NotebookTrouble, one sentence, for a comparison that cannot be read."""
    if len(text) > LONGEST:
        raise NotebookTrouble(f"the question has {len(text)} characters; ask in {LONGEST} at most.")
    pieces = [
        " ".join(piece.split()) for piece in re.split(r"[;\n]|,(?!\d)|(?<!\d),", text.translate(_PLAIN))
    ]
    pieces = [piece for piece in pieces if piece]
    if len(pieces) > MOST:
        raise NotebookTrouble(f"the question has {len(pieces)} clauses; ask with {MOST} at most.")
    clauses: list[Clause] = []
    for piece in pieces:
        clause = _read(piece)
        joined = _joined(clauses[-1], clause) if clauses else None
        if joined is None:
            clauses.append(clause)
        else:
            clauses[-1] = joined
    return Question(text, tuple(clauses))


_PLAIN = {
    0: " ", 0x2013: "-", 0x2014: "-", 0x2011: "-", 0x2212: "-", 0xA0: " ", 0x202F: " ", 0xBD: " 1/2",
    0xBC: " 1/4", 0xBE: " 3/4", 0x215B: " 1/8", 0x201C: '"', 0x201D: '"', 0x201E: '"', 0x2019: "'",
}  # fmt: skip
"""Dashes, spaces, halves and quotes as a keyboard has them."""


def _read(piece: str) -> Clause:
    bare = _BEFORE.sub("", piece)
    return (
        _quoted(piece)
        or _day(piece, bare)
        or _number(piece, bare)
        or _felt(piece, bare)
        or _named(piece, bare)
        or _rode(piece, bare)
        or _words(piece, piece)
    )


_BEFORE = re.compile(
    r"^(?:(?:(?:every|each|any|all|all the|the) )?runs? (?!\w*\d)|(?:with|and|a|an|the) )+", re.IGNORECASE
)
"""What a racer may say before a clause without meaning anything by it."""


# ---------------- numbers

_NUMBER_WORDS = r"over|above|more than|at least|under|below|less than|at most|between|from|is|was|of|=|>|<"
_COMPARED = re.compile(
    rf"(?P<field>.*?)(?:^|\s+)(?:(?:is|was|of)\s+)?(?P<how>{_NUMBER_WORDS})(?=\s|\d|$)\s*(?P<value>.*)", re.I
)
_BOTH = re.compile(r"(?P<low>.+?)\s+(?:and|to)\s+(?P<high>.+)", re.I)
_PER_LAPS = re.compile(r"\s*(?:/|per|a|an|in|every)\s*(?P<laps>10|ten)?\s*laps?$", re.I)
_CLOCK = re.compile(r"(\d{1,2}):(\d{2}(?:\.\d+)?)")
_OVER, _AT_LEAST = ("over", "above", "more than", ">"), ("at least",)
_UNDER, _AT_MOST = ("under", "below", "less than", "<"), ("at most",)


def _number(piece: str, bare: str) -> Clause | None:
    """A comparison, or a field and its value side by side; None when it is neither."""
    match = _COMPARED.fullmatch(bare)
    if match is None:
        return _side_by_side(piece, bare)
    said, how, value = match["field"].strip(), match["how"].lower(), match["value"].strip()
    fields = FIELDS.get(said.lower()) or (FIELDS["air"] if not said and _is_temperature(value) else ())
    if not fields:
        if not re.match(r"[-+.]?\d", value) or how in ("is", "was", "of", "from"):
            return None
        raise NotebookTrouble(
            f'"{_short(piece)}": {_no_field(said)}; ask for {EXAMPLES}, or put words to be found in quotes.'
        )
    if not re.match(r"[-+.]?\d", value):
        if how in ("is", "was", "of", "from"):
            return None
        raise NotebookTrouble(
            f'"{_short(piece)}": no number follows; {_TOLD}"{said} {how} {_sample(fields[0])}".'
        )
    return _measured(piece, fields, how, value)


def _side_by_side(piece: str, bare: str) -> Clause | None:
    match = re.fullmatch(r"(?P<field>\D+?)\s+(?P<value>[-+.]?\d.*)", bare)
    fields = FIELDS.get(match["field"].lower()) if match else None
    if match is None or not fields or match["field"].upper() in CORNERS:
        return None
    try:
        return _measured(piece, fields, "is", match["value"])
    except NotebookTrouble:
        return None


def _measured(piece: str, fields: tuple[Field, ...], how: str, value: str) -> Clause:
    if how in ("between", "from"):
        both = _BOTH.fullmatch(value)
        if both is None:
            raise NotebookTrouble(
                f'"{_short(piece)}": two numbers are needed; {_TOLD}"between 15.2 and 15.6".'
            )
        last = _typed(piece, fields, both["high"])
        first = _typed(piece, (last.field,), both["low"], unit=last.unit)
        low, high = sorted((first, last), key=lambda one: one.si)
        said = f"between {low.said} and {high.said}"
        return _between(piece, low.field, said, low.si - _same(low.si), high.si + _same(high.si))
    one = _typed(piece, fields, value)
    near = _same(one.si)
    said = f"{how} {one.said}"
    if how in _OVER:
        return _between(piece, one.field, said, one.si + near, None)
    if how in _AT_LEAST:
        return _between(piece, one.field, said, one.si - near, None)
    if how in _UNDER:
        return _between(piece, one.field, said, None, one.si - near)
    if how in _AT_MOST:
        return _between(piece, one.field, said, None, one.si + near)
    half = one.half + near
    return _between(piece, one.field, f"is {one.said}, as near as typed", one.si - half, one.si + half)


def _between(piece: str, field: Field, said: str, low: float | None, high: float | None) -> Measured:
    return Measured(piece, f"{field.said} {said}", field, low, high)


@dataclass(frozen=True)
class _Typed:
    """A quantity: of which field, SI, half a step of its last digit, its unit, and as it is repeated."""

    field: Field
    si: float
    half: float
    unit: str
    said: str


def _typed(piece: str, fields: tuple[Field, ...], value: str, *, unit: str = "") -> _Typed:
    """A quantity read as the first field whose unit it has. Raises NotebookTrouble."""
    said: UnitError | None = None
    for field in fields:
        try:
            return _as_field(field, value, unit)
        except UnitError as problem:
            said = said or problem
    raise NotebookTrouble(f'"{_short(piece)}": {said}.')


def _as_field(field: Field, value: str, unit: str) -> _Typed:
    kind = KINDS[field.kind]
    text, laps = value.rstrip(". "), 10
    if field.keys == ("fall_off",) and (match := _PER_LAPS.search(text)):
        text, laps = text[: match.start()], 10 if match["laps"] else 1
    text = re.sub(r"(?<=\d),(?=\d{1,2}(?!\d))", ".", text)
    if kind.name == "lap_time" and (clock := _CLOCK.match(text)):
        text = f"{60 * int(clock[1]) + float(clock[2])!r}{text[clock.end() :]}"
    number, typed = read_number(text)
    if kind.name == "count" and typed in ("lap", "laps"):
        typed = ""
    if kind.us == "F" and re.fullmatch(r"(?:deg|°)?\s*[fck]", typed):
        typed = typed.upper().replace("DEG", "deg")
    used = typed or unit or kind.us
    figures = text[: len(text) - len(typed)].strip() if typed else text
    scale = 10.0 / laps
    si = parse(f"{figures} {used}".strip(), kind) * scale
    step = abs(parse(f"{_step(figures)!r} {used}".strip(), kind) - parse(f"0 {used}".strip(), kind))
    shown = field.unit or used
    return _Typed(field, si, 0.5 * step * scale, used, f"{number * scale:.10g} {shown}".strip())


def _step(figures: str) -> float:
    """One step of the last digit typed; a fraction is meant to the nearest 1/64."""
    if "/" in figures:
        return 1.0 / 64.0
    return float(10.0 ** -len(figures.partition(".")[2]))


def _same(si: float) -> float:
    return _SAME * max(abs(si), _SAME)


def _is_temperature(value: str) -> bool:
    return re.fullmatch(r"[-+]?[\d.,]+\s*(?:deg|°)?\s*[FCfc]", value) is not None


def _no_field(said: str) -> str:
    return f'"{_short(said)}" is no number of a run or a setup' if said else "it does not say of what"


def _sample(field: Field) -> str:
    return "0.2" if field.unit else KINDS[field.kind].example


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
        raise NotebookTrouble(f'"{_short(piece)}": write the day as 2026-06-01, year, month and day.')
    match = _DAYS.fullmatch(bare)
    if match is None or (match[1] is None and match[3] is None):
        return None
    how, said = (match[1] or "on").lower(), match[2]
    try:
        first, end = _span(how, said)
    except (ValueError, OverflowError):
        raise NotebookTrouble(
            f'"{_short(piece)}": that is no day; write it as in "since 2026-06-01" or "in 2026-06".'
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
_CODE = re.compile(r"\w*\d\w*")


def _named(piece: str, bare: str) -> Clause | None:
    if re.fullmatch(r"(?:at )?(?:here|this track)", bare, re.I):
        return Named(piece, "at the track of the last event", "here")
    flag = _FLAG.fullmatch(bare)
    match = _NAME.fullmatch(f"flag {flag['flag']}" if flag else bare)
    if match is None:
        return None
    what, name = match["what"].lower(), match["name"].strip("\"' ")
    if not re.search(r"\w", name):
        return None
    if what == "flag":
        if name.lower() not in FLAGS:
            raise NotebookTrouble(f'"{_short(piece)}": a flag is one of {", ".join(FLAGS)}.')
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
        raise NotebookTrouble(f'"{_short(piece)}": there is no word in it to look for.')
    return Named(piece, f'the words "{said}" in what was written', "words", said)


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:57]}..."
