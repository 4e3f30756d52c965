"""The setup in hand: three phones at once, what each sees, and that nothing pressed is lost."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from ovalwright.documents import Track
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.drafts import DraftChanged, DraftNow
from ovalwright.notebook.store import Store
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.web import hand
from ovalwright.web.hand import Clash, Press
from ovalwright.web.joined import usual
from ovalwright.web.next_up import next_up

DEMO = Path(__file__).parents[1] / "src" / "ovalwright" / "demo"
PSI = Press("RR pressure", {"RR.tire.cold": "19 psi"}, "RR pressure to 19 psi")
BOLT = Press("LR jack bolt", {"LR.turned": "1/4 round"}, "LR bolt 1/4 round in")
GEAR = Press("gear", {"final_drive": "5.8"}, "gear 5.8")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "notebook.sqlite", by="Owner") as opened:
        with opened.entry("the car") as session:
            shelf.keep_setup(session, DEMO / "setup_conventional.toml", reason="as it stands")
        yield opened


@pytest.fixture
def held(store: Store) -> hand.Hand:
    with store.aside() as session:
        base = shelf.revision(session, "Conventional").code
        return hand.begin(session, base, track="", by="laptop")


def _press(store: Store, held: hand.Hand, one: Press, by: str) -> hand.Hand:
    with store.aside() as session:
        return hand.press(session, held.uid, held.version, one, by=by)


def _now(store: Store, uid: str = "") -> hand.Hand:
    with store.reading() as session:
        found = hand.in_hand(session, uid)
    assert found is not None
    return found


def test_a_change_is_on_the_car_and_undo_takes_it_off_again(store: Store, held: hand.Hand) -> None:
    changed = _press(store, held, PSI, "laptop")
    with store.reading() as session:
        was = hand.assembly(session, held)
        now = hand.assembly(session, changed)
        assert now.setup.RR.tire.cold.si == pytest.approx(19 * 6894.757293168361)
        assert was.setup.RR.tire.cold.si != now.setup.RR.tire.cold.si
        assert now.car is was.car
        assert [one for one in hand.what_changed(was, now) if one.startswith("RR")]
    with store.aside() as session:
        back = hand.undo(session, changed.uid, changed.version, by="laptop")
    with store.reading() as session:
        assert hand.assembly(session, back).setup == was.setup
    assert back.changes == ()
    assert [one.said for one in back.presses] == [PSI.said]


def test_undo_with_nothing_changed_changes_nothing(store: Store, held: hand.Hand) -> None:
    with store.aside() as session:
        assert hand.undo(session, held.uid, held.version) == held


def test_three_phones_at_once_and_nothing_is_lost(store: Store, held: hand.Hand) -> None:
    first = _press(store, held, PSI, "phone one")
    with pytest.raises(Clash) as two:
        _press(store, held, BOLT, "phone two")
    assert two.value.hand == first
    assert "phone one" in str(two.value)
    assert PSI.said in str(two.value)
    with pytest.raises(Clash):
        _press(store, held, GEAR, "phone three")

    second = _press(store, first, BOLT, "phone two")
    assert [one.said for one in second.changes] == [PSI.said, BOLT.said]
    with store.aside() as session:
        own = hand.keep_both(session, held.uid, held.version, GEAR, by="phone three")
    assert [one.said for one in own.changes] == [GEAR.said]
    with store.reading() as session:
        assert [one.name for one in hand.hands(session)] == ["A", "B"]
    assert _now(store) == second
    assert _now(store, own.uid) == own
    assert {one.by for one in (*second.changes, *own.changes)} == {"phone one", "phone two", "phone three"}


def test_what_another_took_back_is_still_in_the_hand_that_was_looked_at(
    store: Store, held: hand.Hand
) -> None:
    seen = _press(store, held, PSI, "phone one")
    with store.aside() as session:
        hand.undo(session, seen.uid, seen.version, by="phone two")
    with pytest.raises(Clash, match="took back RR pressure"):
        _press(store, seen, BOLT, "phone one")
    with store.aside() as session:
        own = hand.keep_both(session, seen.uid, seen.version, BOLT, by="phone one")
    assert [one.said for one in own.changes] == [PSI.said, BOLT.said]


def test_kept_as_a_new_setup_it_begins_anew_on_that(store: Store, held: hand.Hand) -> None:
    changed = _press(store, held, PSI, "laptop")
    with store.entry("keep") as session:
        code = hand.keep(session, held.uid, changed.version, reason="RR was cold", by="laptop").code
    now = _now(store)
    assert (now.base, now.other, now.changes) == (code, held.base, ())
    with store.reading() as session:
        kept = shelf.revision(session, code)
        assert kept.reason == "RR was cold"
        assert kept.parent is not None
        assert kept.parent.code == held.base
        assert hand.assembly(session, now).setup.RR.tire.cold.text == "19 psi"
    with pytest.raises(Clash, match=code):
        _press(store, changed, BOLT, "phone")


def test_nothing_changed_is_not_kept(store: Store, held: hand.Hand) -> None:
    with pytest.raises(NotebookTrouble, match="nothing was changed"), store.entry("keep") as session:
        hand.keep(session, held.uid, held.version, reason="why not")


def test_another_base_is_taken_up_without_the_changes(store: Store, held: hand.Hand) -> None:
    with store.entry("another") as session:
        other = shelf.keep_setup(session, DEMO / "setup_soft_front.toml", reason="to try").code
    changed = _press(store, held, PSI, "laptop")
    with store.aside() as session:
        behind = hand.choose(session, held.uid, changed.version, other=other, end=2)
    assert (behind.other, behind.end, behind.changes) == (other, 2, changed.changes)
    with store.aside() as session:
        taken = hand.choose(session, held.uid, behind.version, base=other)
    assert (taken.base, taken.changes) == (other, ())


def test_it_is_there_after_the_laptop_was_started_again(
    tmp_path: Path, store: Store, held: hand.Hand
) -> None:
    changed = _press(store, held, PSI, "laptop")
    store.close()
    with Store.open(tmp_path / "notebook.sqlite") as again:
        found = _now(again)
        assert found == changed
        with again.aside() as session:
            assert hand.undo(session, found.uid, found.version).changes == ()


def test_the_last_of_a_key_is_written(held: hand.Hand) -> None:
    more = Press("RR pressure", {"RR.tire.cold": "20 psi"}, "RR pressure to 20 psi")
    assert list(hand.written((PSI, BOLT, more)).items()) == [
        ("LR.turned", "1/4 round"),
        ("RR.tire.cold", "20 psi"),
    ]


def test_as_many_hands_as_there_are_names(store: Store, held: hand.Hand) -> None:
    with store.aside() as session:
        for _ in hand.NAMES[1:]:
            hand.keep_both(session, held.uid, held.version, None)
        with pytest.raises(NotebookTrouble, match="in hand already"):
            hand.keep_both(session, held.uid, held.version, None)
    with store.aside() as session:
        hand.put_away(session, held.uid, held.version)
    with store.reading() as session:
        assert [one.name for one in hand.hands(session)] == list(hand.NAMES[1:])


def test_with_nothing_in_hand_every_page_speaks_of_the_same_setup_and_track(store: Store) -> None:
    today = dt.date.today()
    with store.entry("two days ahead, of the nearer one no track is told") as session:
        tracks = [
            shelf.keep(session, Track.from_text((DEMO / name).read_text(), name=name), reason="walked")
            for name in ("track_flat_quarter.toml", "track_steep_half.toml")
        ]
        runs.new_event(session, "Practice", today + dt.timedelta(days=2))
        runs.new_event(session, "Race", today + dt.timedelta(days=9), track=tracks[0])
    with store.reading() as session:
        ahead, hand_of_all = next_up(session, today), usual(session)
        assert ahead.setup is not None and ahead.track is not None
        assert (hand_of_all.base, hand_of_all.track) == (ahead.setup.code, ahead.track.code)


@pytest.fixture
def four_hours_behind(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("TZ", "XXX4")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("four_hours_behind")
def test_when_another_was_quicker_is_told_by_the_clock_on_the_wall(store: Store, held: hand.Hand) -> None:
    at = dt.datetime(2026, 5, 1, 23, 30, tzinfo=dt.UTC)
    assert " at 19:30:" in str(Clash(replace(held, saved_at=at), held.version))
    theirs = DraftNow("1", "run", "", {"fuel": "12 gal"}, 2, "", at)
    assert " at 19:30 (" in str(DraftChanged(theirs, {}))
