"""Finding: a question gives what a plain look through all runs gives, on SQLite and PostgreSQL."""

import datetime as dt
import itertools
import re
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa
from evidence import LIBRARY
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy import constants, stats
from test_clauses import any_text

import ovalwright.demo
from ovalwright.notebook import shelf
from ovalwright.notebook.asked.changed_when import what_i_changed_when
from ovalwright.notebook.asked.find import find_anything, find_runs, run_ids
from ovalwright.notebook.asked.going_away import CHANCE, FINEST, left_level, when_it_went_away
from ovalwright.notebook.asked.question import Named
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import (
    Comment,
    Document,
    Event,
    Figure,
    Lap,
    Part,
    Reference,
    Revision,
    Ridden,
    Run,
)
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.words import tell, tell_all

POUND_PER_INCH = constants.lbf / constants.inch
FIRST = dt.datetime(2026, 4, 3, 18)
FEELS, PHASES, WHENS = ("tight", "loose", "good"), ("entry", "middle", "exit"), ("", "early", "late")
NOTES = ("hit the wall", "spun in two", "RR +1/2 and 12.5 psi", "O'Brien's car ahead", "rubber down late", "")


@pytest.fixture
def store(store_url):
    with Store.open(store_url, by="ann") as opened:
        yield opened


class Notebook:
    """Rows written through the models, and the same as plain dicts to look through."""

    def __init__(self, session):
        self.session, self.runs = session, []

    def add(self, row):
        self.session.add(row)
        self.session.flush()
        return row

    def revision(self, kind, name, figures=(), parent=None, **told):
        """A revision of the document of that name."""
        query = sa.select(Document).where(Document.kind == kind, Document.name == name)
        home = self.session.scalars(query).first() or self.add(Document(kind=kind, name=name))
        count = sa.select(sa.func.count()).where(Revision.document_id == home.id)
        number = self.session.scalar(count) + 1
        one = Revision(
            document_id=home.id,
            number=number,
            parent_id=parent.id if parent else None,
            text="",
            sha256="",
            **told,
        )
        self.add(one)
        self.session.add_all(Figure(revision_id=one.id, key=key, si=si) for key, si in dict(figures).items())
        tell(self.session, "revision", one.id)
        return one

    def setup(self, name, car=None, sheet=None, **more):
        """A setup with its car and sheet."""
        setup = self.revision("setup", name, **more)
        for role, target in (("car", car), ("sheet", sheet)):
            if target:
                self.add(Reference(revision_id=setup.id, role=role, target_id=target.id))
        return setup

    def run(self, event, setup, *, comments=(), parts=(), flags=(), **told):
        """A run of an event, hours after the one before."""
        number = len(self.runs) + 1
        told = {"started": FIRST + dt.timedelta(hours=7 * (number - 1)), **told}
        run = self.add(Run(event_id=event.id, number=number, setup_id=setup.id, **told))
        for one in comments:
            self.add(Comment(run_id=run.id, **one))
        for place, part in parts:
            self.add(Ridden(run_id=run.id, part_id=part.id, place=place))
        if flags:
            laps = [
                {"run_id": run.id, "number": k, "time": 15.5, "flag": flag} for k, flag in enumerate(flags, 1)
            ]
            self.session.execute(sa.insert(Lap), laps)
        tell(self.session, "run", run.id)
        self.runs.append(run)
        return run


def codes(found):
    return [run.code for run in found.runs]


# ---------------- a drawn notebook against a plain look through it


def draw(session, seed, count=49):
    """A notebook of drawn runs, and each run as a plain dict in the units of the trade, newest first."""
    rng, book = np.random.default_rng(seed), Notebook(session)
    setups = draw_setups(book, rng)
    tracks = [book.revision("track", name) for name in ("Flat quarter", "Steep half", "Ålborg ring")]
    marks = [(kind, mark) for kind in ("tire", "spring") for mark in ("T1", "T2", "T10", "B2")]
    parts = [book.add(Part(kind=kind, mark=mark)) for kind, mark in marks]
    plain = []
    for night in range(7):
        track = tracks[night % 3] if night else None
        held_on = (FIRST + dt.timedelta(days=2.917 * night)).date()
        event = book.add(
            Event(name=f"Night {night} out", held_on=held_on, track_id=track.id if track else None)
        )
        for _ in range(count // 7):
            setup, numbers = setups[rng.integers(len(setups))]
            told = draw_run(rng)
            at = rng.choice(len(parts), 3, replace=False)
            rode = list(zip(("RF tire", "LR tire", "RR spring"), at.tolist(), strict=True))
            kept = {key: told[key] for key in ("best", "fall_off", "laps", "driver", "session", "note")}
            if told["air"] is not None:
                kept["air"] = constants.convert_temperature(told["air"], "F", "K")
            run = book.run(
                event,
                setup,
                comments=told["comments"],
                parts=[(place, parts[k]) for place, k in rode],
                flags=told["flags"],
                track_id=event.track_id,
                stagger=told["stagger"] * constants.inch,
                **kept,
            )
            where = {"track": track.document.name if track else "", "event": event.name}
            told["parts"] = [(*marks[k], place) for place, k in rode]
            plain.append({**numbers, **told, **where, "code": run.code, "started": run.started})
    return sorted(plain, key=lambda run: run["started"], reverse=True)


def draw_setups(book, rng):
    """Setups with what is plainly known of each: springs [lb/in], a pressure [psi], gear, cross [%]."""
    cars = [book.revision("car", name) for name in ("Number 1", "Number 2")]
    setups = []
    for k, weights in enumerate(rng.uniform(550, 850, (12, 4))):
        keys = (f"{corner}.weight" for corner in ("LF", "RF", "LR", "RR"))
        sheet = book.revision("sheet", "Scales", dict(zip(keys, weights * constants.lbf, strict=True)))
        right, left, air, gear = *rng.uniform(150, 400, 2), rng.uniform(8, 30), 5 + k / 7
        figures = {
            "RR.coil.rate": right * POUND_PER_INCH,
            "LF.coil.rate": left * POUND_PER_INCH,
            "LR.tire.cold": air * constants.psi,
            "final_drive": gear,
        }
        name, car = f"{('Soft', 'Stiff', 'Big bar')[k % 3]} one", cars[k % 2]
        numbers = {"RR": right, "LF": left, "psi": air, "gear": gear}
        numbers["cross"] = 100 * (weights[1] + weights[2]) / weights.sum()
        setup = book.setup(name, car, sheet, figures=figures)
        setups.append((setup, {**numbers, "setup": name, "car": car.document.name}))
    return setups


def draw_run(rng):
    """What is known of a run, some of it unknown."""
    said = [
        {"feel": FEELS[a], "phase": PHASES[b], "when": WHENS[c], "words": ("free", "bound up")[a % 2]}
        for a, b, c in rng.integers(3, size=(rng.integers(3), 3))
    ]
    told = {
        "air": rng.uniform(40, 100),
        "best": rng.uniform(15, 16),
        "fall_off": rng.uniform(0, 1),
        "laps": int(rng.integers(1, 60)),
        "stagger": rng.uniform(0, 4),
        "driver": ("Ann B", "Cy")[rng.integers(2)],
        "session": ("heat", "feature")[rng.integers(2)],
        "note": NOTES[rng.integers(len(NOTES))],
        "comments": said,
        "flags": rng.choice(("green", "yellow", "pit"), 3, p=(0.8, 0.1, 0.1)).tolist(),
    }
    return {**told, **(dict.fromkeys(("best", "fall_off", "air")) if rng.random() < 0.2 else {})}


def compared(words, key, low, high):
    """Clauses of a number with what they ask of a plain run; bounds lie off every value by rounding."""

    def asks(number, other, how):
        least, most = sorted((number, other))
        told = {
            "over": (f"{words} over {number}", lambda value: value > number),
            "under": (f"{words} under {number}", lambda value: value < number),
            "between": (f"{words} between {least} and {most}", lambda value: least <= value <= most),
        }
        text, holds = told[how]
        return text, lambda run: run[key] is not None and holds(run[key])

    number = st.floats(low, high).map(lambda value: round(value, 3) + 0.0005)
    return st.builds(asks, number, number, st.sampled_from(("over", "under", "between")))


def felt(feel, phase, when):
    where = {"": "", "entry": "on entry", "middle": "in the middle", "exit": "off"}[phase]
    return f"{feel} {where} {when}", lambda run: any(
        one["feel"] == feel and phase in ("", one["phase"]) and (not when or one["when"] in (when, ""))
        for one in run["comments"]
    )


def rode(kind, mark, corner):
    return f"{corner} {kind} {mark}".strip(), lambda run: any(
        (kind == "part" or one == kind) and theirs.lower() == mark.lower() and place.startswith(corner)
        for one, theirs, place in run["parts"]
    )


def worded(words):
    tokens = re.findall(r"[^\W_]+", words.lower())

    def holds(run):
        told = [
            run["note"],
            run["event"],
            run["driver"],
            run["setup"],
            *(f"{mark}" for _, mark, _ in run["parts"]),
        ]
        told += [" ".join(one.values()) for one in run["comments"]]
        theirs = re.findall(r"[^\W_]+", " ".join(told).lower())
        return all(token in theirs for token in tokens[:-1]) and any(
            one.startswith(tokens[-1]) for one in theirs
        )

    return f'"{words}"', holds


def named(what, key):
    def holds(name):
        return f"{what} {name}", lambda run: all(word.lower() in run[key].lower() for word in name.split())

    return holds


def day(how, days):
    at = (FIRST + dt.timedelta(days=days)).date()
    held = {"since": lambda on: on >= at, "before": lambda on: on < at, "on": lambda on: on == at}[how]
    return f"{how} {at}", lambda run: held(run["started"].date())


def flagged(flag):
    return f"flag {flag}", lambda run: flag in run["flags"]


TOLD = [
    *itertools.starmap(felt, itertools.product(FEELS, ("", *PHASES), WHENS)),
    *itertools.starmap(rode, itertools.product(("tire", "spring", "part"), ("t1", "T2", "B2"), ("", "RF"))),
    *map(worded, ("spun", "wall hit", "tight mid", "O'Brien", "1/2 an", "12.5 psi", "bound", "T1", "ann")),
    *map(named("track", "track"), ("flat quar", "half", "ålborg", "ring å")),
    *map(named("event", "event"), ("night 3", "out")),
    *map(named("setup", "setup"), ("soft", "bar big")),
    *map(named("car", "car"), ("number 2", "1")),
    *map(named("driver", "driver"), ("ann", "CY")),
    *map(named("session", "session"), ("heat", "feat")),
    *map(flagged, ("green", "yellow", "pit", "traffic")),
    *itertools.starmap(day, itertools.product(("since", "before", "on"), range(0, 16, 3))),
]
asked = st.sampled_from(TOLD) | st.one_of(
    compared("air", "air", 40, 100),
    compared("best", "best", 15, 16),
    compared("fall-off", "fall_off", 0, 1),
    compared("laps", "laps", 1, 60),
    compared("stagger", "stagger", 0, 4),
    compared("RR spring", "RR", 150, 400),
    compared("LF", "LF", 150, 400),
    compared("LR pressure", "psi", 8, 30),
    compared("gear", "gear", 5, 7),
    compared("cross", "cross", 45, 55),
)
once = settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=settings().max_examples // 2
)


def test_a_question_gives_the_runs_of_a_plain_look_and_no_text_is_an_error(store):
    with store.entry("drawn") as session:
        plain = draw(session, 1)

    def agrees(clauses, most):
        # A day stands between any two clauses, so that those of a comment stay clauses of their own.
        text = ", in 2026, ".join(words for words, _ in clauses)
        wanted = [run["code"] for run in plain if all(holds(run) for _, holds in clauses)]
        with store.reading() as session:
            found = find_runs(session, text, most=most)
        assert codes(found) == wanted[:most]
        assert found.more == (len(wanted) > most)

    @once
    @given(any_text)
    def answers(text):
        for find in (find_runs, find_anything):
            try:
                with store.reading() as session:
                    find(session, text)
            except NotebookTrouble as trouble:
                assert str(trouble).endswith(".")
                assert "cannot do that" not in str(trouble)

    for clause in TOLD:
        agrees([clause], 80)
    once(given(st.lists(asked, min_size=1, max_size=3), st.integers(1, 80))(agrees))()
    answers()


# ---------------- what is shown


def season_of(session):
    """One car, two tracks, four runs, as a racer keeps them."""
    book = Notebook(session)
    car, track = book.revision("car", "Number 7"), book.revision("track", "Flat quarter")
    first = book.setup("Soft one", car, reason="as it came", figures={"RR.coil.rate": 200 * POUND_PER_INCH})
    second = book.setup("Soft one", car, parent=first, reason="tight off", said="RR spring 200 -> 225 lb/in")
    third = book.setup("Soft one", car, parent=second, reason="still tight", said="LR +1/2 round")
    opening = book.add(Event(name="Opening", held_on=FIRST.date(), track_id=track.id, note="cold"))
    away = book.add(Event(name="Away", held_on=FIRST.date() + dt.timedelta(days=9)))
    tell(session, "event", opening.id)
    tire = book.add(Part(kind="tire", mark="T8", compound="medium"))
    tell(session, "part", tire.id)
    at_home = {"track_id": track.id, "parts": [("RF tire", tire)]}
    tight = {"feel": "tight", "phase": "middle", "when": "late", "words": "would not turn"}
    good = {"feel": "good", "phase": "middle"}
    book.run(opening, first, comments=[tight], best=15.62, fall_off=0.4, laps=20, code="AAAAAA", **at_home)
    book.run(opening, third, comments=[good], best=15.5, fall_off=0.3, laps=25, code="BBBBBB", **at_home)
    book.run(opening, third, comments=[tight], best=15.55, code="CCCCCC", note="Spun; RF bent", **at_home)
    book.run(away, first, comments=[{"feel": "loose", "phase": "middle"}], best=17.1, code="DDDDDD")


@pytest.fixture
def season(store):
    """A store with that season."""
    with store.entry("season") as session:
        season_of(session)
    return store


def test_what_is_found_by_question_code_mark_and_words(season):
    with season.reading() as session:
        found = find_runs(session, "tight in the middle, rf be, here")
        assert [(run.code, run.comment) for run in found.runs] == [
            ("CCCCCC", "tight middle late: would not turn")
        ]
        assert "Spun; RF bent" in found.runs[0].snippet
        assert found.understood[2] == "at Flat quarter, the track of the last event"
        (shown,) = find_runs(session, "run aaaaaa").runs
        assert (shown.date, shown.event, shown.track) == (FIRST.date(), "Opening", "Flat quarter")
        assert (shown.setup_name, shown.best, shown.fall_off, shown.laps) == ("Soft one", 15.62, 0.4, 20)
        assert codes(find_runs(session, "")) == ["DDDDDD", "CCCCCC", "BBBBBB", "AAAAAA"]
        assert codes(find_runs(session, f"setup {shown.setup.lower()}")) == ["DDDDDD", "AAAAAA"]

        def what(text):
            return [(thing.what, thing.name or thing.code) for thing in find_anything(session, text)]

        assert what("bbbbbb") == [("run", "Opening")]
        assert what(shown.setup.lower()) == [("setup", "Soft one")]
        assert what("t8") == what("medium") == [("tire", "T8")]
        assert what("flat qua") == [("track", "Flat quarter")]
        assert what("opening col") == [("event", "Opening")]
        assert what("soft 225") == [("setup", "Soft one")]
        assert what("nothing of the kind") == []


def test_words_follow_what_is_changed_and_go_with_what_is_gone(season):
    with season.entry("changed") as session:
        run = session.scalars(sa.select(Run).where(Run.code == "DDDDDD")).one()
        run.note = "rained off"
        session.flush()
        tell(session, "run", run.id)
        assert codes(find_runs(session, "rained")) == ["DDDDDD"]
        session.execute(sa.delete(Comment).where(Comment.run_id == run.id))
        session.delete(run)
        session.flush()
        tell(session, "run", run.id)
        assert codes(find_runs(session, "rained")) == []
        tell_all(session)
        assert codes(find_runs(session, "would not tu")) == ["CCCCCC", "AAAAAA"]


@pytest.fixture
def in_a_file(tmp_path):
    """An empty store on SQLite."""
    with Store.open(tmp_path / "notebook.sqlite", by="ann") as opened:
        yield opened


def test_words_and_flags_are_looked_up_not_scanned(in_a_file):
    asked = [Named("", "", "words", "spun"), Named("", "", "flag", "yellow")]
    with in_a_file.reading() as session:
        query = run_ids(session, asked, 50).compile(in_a_file.engine, compile_kwargs={"literal_binds": True})
        plan = " ".join(row[3] for row in session.execute(sa.text(f"EXPLAIN QUERY PLAN {query}")))
    assert "VIRTUAL TABLE" in plan
    assert "ix_lap_flag_run_id" in plan
    assert "SCAN lap" not in plan


def test_here_needs_an_event_that_tells_its_track(in_a_file):
    with in_a_file.reading() as session, pytest.raises(NotebookTrouble) as caught:
        find_runs(session, "here")
    assert str(caught.value) == '"here": no event tells its track yet; ask for "track" and its name.'


# ---------------- the three questions


def test_what_was_changed_when_it_was_tight_and_whether_it_helped(in_a_file):
    with in_a_file.entry("season") as session:
        season_of(session)
    with in_a_file.reading() as session:
        told = what_i_changed_when(session, "tight", "middle", "late")
        with pytest.raises(NotebookTrouble):
            what_i_changed_when(session, "good", "middle")
    last, first = told.changes
    assert first.changed == "RR spring 200 -> 225 lb/in; LR +1/2 round"
    assert first.reason == "tight off; still tight"
    assert (first.run.code, first.next.code) == ("AAAAAA", "BBBBBB")
    assert (first.after, first.helped) == ("gone", True)
    assert (first.best, first.fall_off) == pytest.approx((-0.12, -0.1))
    assert last.changed.startswith("back to Soft one ")
    assert (last.run.code, last.next.code, last.after, last.helped) == ("CCCCCC", "DDDDDD", "turned", False)
    assert last.best is None  # another track
    assert told.said == (
        "tight in the middle late in 2 runs; changed 2 times before the next run: "
        "then 1 gone, 1 turned loose."
    )


def test_another_setup_is_told_by_what_differs_in_the_documents(in_a_file):
    with in_a_file.entry("two setups") as session:
        book, demo = Notebook(session), Path(ovalwright.demo.__path__[0])
        event = book.add(Event(name="All", held_on=FIRST.date()))
        first, second = (
            shelf.keep_setup(session, demo / f"setup_{name}.toml") for name in ("conventional", "soft_front")
        )
        book.run(event, first, comments=[{"feel": "loose", "phase": "entry"}])
        book.run(event, second)
        told = what_i_changed_when(session, "loose", "entry")
    (one,) = told.changes
    assert one.changed.startswith(f"another setup, {second.document.name} {second.code}: ")
    assert "LF spring F11 (" in one.changed
    assert one.after == "unsaid"


def test_when_a_tire_went_away(in_a_file):
    rng = np.random.default_rng(4)
    with in_a_file.entry("runs") as session:
        book = Notebook(session)
        track, event = (
            book.revision("track", "Flat quarter"),
            book.add(Event(name="All", held_on=FIRST.date())),
        )
        setup = book.setup("Soft one")
        tire, other = (book.add(Part(kind="tire", mark=mark, laps_before=30)) for mark in ("T8", "T9"))
        for k in range(12):
            told = {
                "best": 15.5,
                "fall_off": float(0.2 + 0.02 * rng.standard_normal() + (0.3 if k >= 8 else 0.0)),
            }
            book.run(event, setup, track_id=track.id, laps=20, parts=[("RF tire", tire)], **told)
        book.run(event, setup, fall_off=0.3, laps=20, parts=[("RF tire", other)])
    with in_a_file.reading() as session:
        gone, stays = when_it_went_away(session, "T8"), when_it_went_away(session, "tire T9")
        with pytest.raises(NotebookTrouble):
            when_it_went_away(session, "T10")
    assert gone.run == gone.runs[8].run.code == book.runs[8].code
    assert [one.laps_before for one in gone.runs[:3]] == [30, 50, 70]
    assert (gone.by, gone.before, gone.after) == (
        "fall_off",
        pytest.approx(0.2, abs=0.02),
        pytest.approx(0.5, abs=0.03),
    )
    assert gone.said.startswith(
        f"tire T8 went away in run {gone.run} of 2026-04-06, at 190 laps: fall-off 0.5"
    )
    assert stays.said == "tire T9 has 1 run with a fall-off; it takes 4 to tell that it went away."


def test_tires_that_ran_as_one_set_are_told_with_the_one_that_went_away(in_a_file):
    with in_a_file.entry("runs") as session:
        book = Notebook(session)
        track, event = book.revision("track", "Oval"), book.add(Event(name="All", held_on=FIRST.date()))
        setup = book.setup("Soft one")
        tires = [book.add(Part(kind="tire", mark=mark, laps_before=0)) for mark in ("T1", "T2", "T3")]
        for k in range(12):
            last = tires[2] if k % 2 else tires[1]
            on = [("LF tire", tires[0]), ("RF tire", tires[1] if k % 2 else tires[2]), ("RR tire", last)]
            told = {"best": 15.5, "fall_off": 0.2 + 0.01 * (k % 3) + (0.3 if k >= 8 else 0.0)}
            book.run(event, setup, track_id=track.id, laps=20, parts=on if k else on[:1], **told)
    with in_a_file.reading() as session:
        one, other = when_it_went_away(session, "T1"), when_it_went_away(session, "T2")
    assert one.run == other.run and one.beside == () and set(other.beside) == {"T1", "T3"}
    assert "never without" in other.said and "never without" not in one.said


def test_a_bare_mark_is_the_part_and_a_crash_is_a_hit(in_a_file):
    with in_a_file.entry("runs") as session:
        book = Notebook(session)
        event, setup = book.add(Event(name="All", held_on=FIRST.date())), book.setup("Soft one")
        tire = book.add(Part(kind="tire", mark="T8"))
        on = book.run(event, setup, parts=[("RF tire", tire)])
        off = book.run(event, setup, note="took T8 off", hit="RF")
        for run in (on, off):
            tell(session, "run", run.id)
    with in_a_file.reading() as session:
        assert [one.code for one in find_runs(session, "T8").runs] == [on.code]
        assert find_runs(session, "T8").understood == ("part T8 was in the car",)
        worded = find_runs(session, '"T8"').runs
        assert [one.code for one in worded] == [off.code, on.code]
        assert all(not one.snippet.startswith(one.code) for one in worded)
        for asked in ("crash", "hit"):
            assert [one.code for one in find_runs(session, asked).runs] == [off.code]


def test_a_step_is_as_sure_as_a_t_test_of_both_sides_says(check):
    rng = np.random.default_rng(8)
    values = np.concatenate([rng.normal(5.0, 1.0, 6), rng.normal(9.0, 1.0, 6)])
    step = left_level(values, ["here"] * 12, 0.1)
    assert step.at == 6
    both = stats.ttest_ind(values[6:], values[:6], alternative="greater")
    source = "SciPy, ttest_ind with equal variances, times the nine places tried"
    check(
        step.chance, 9 * both.pvalue, rel=0.02, unit="", of="chance that a tire did not go away",
        source=source, kind=LIBRARY, area="notebook",
    )  # fmt: skip


def test_levels_of_tracks_are_no_step_and_a_step_is_found_across_them():
    level = {"quick": 0.1, "slow": 0.9}
    places = ["quick"] * 5 + ["slow"] * 6 + ["quick"] * 5
    values = [level[place] + 0.01 * (k % 3) for k, place in enumerate(places)]
    assert left_level(values, places, 0.1) is None
    worn = [value + (0.25 if k >= 9 else 0.0) for k, value in enumerate(values)]
    step = left_level([None, *worn], ["quick", *places], 0.1)
    assert step.at == 10
    assert step.by == pytest.approx(0.25, abs=0.02)
    assert left_level(worn, places, 0.5) is None


def test_a_tire_that_stays_as_it_was_is_hardly_ever_said_to_go_away():
    rng, tires = np.random.default_rng(15), 300
    places = ["a", "a", "b", "b", "a", "c", "b", "a", "c", "c", "a", "b"]
    said = sum(
        left_level(rng.normal(0.3, 5 * FINEST, len(places)), places, 0.0) is not None for _ in range(tires)
    )
    assert said <= stats.binom.ppf(0.999, tires, CHANCE)
