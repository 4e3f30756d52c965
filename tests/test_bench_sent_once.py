"""A form that makes something new, sent twice, is kept once and answered twice alike."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
import sqlalchemy as sa
from benches import read

from ovalwright.documents.new import QUESTIONS
from ovalwright.notebook.tables import Entry
from ovalwright.notebook.tables_work import Draft
from ovalwright.web import sent_once
from ovalwright.web.weighings import FORM

PADS = {"LF": "776", "RF": "646", "LR": "844", "RR": "570", "fuel": "22", "driver": "in", "reason": "springs"}
BOOK = {"book_name": "Sent twice", "left_most": "57", "when": "always"}
TIRE = "/notebook/part?which=tire+TWICE"
FORMS = (
    ("/scales", "/scales/keep", PADS),
    ("/scales", "/scales/book", BOOK),
    ("/week", "/week/event", {"name": "Sent twice", "day": "2027-03-01"}),
    ("/notebook/enter", "/notebook/enter", {"kind": "words", "words": "sent twice"}),
    ("/notebook/enter", "/notebook/enter", {"kind": "run", "session": "sent twice"}),
    ("/notebook/parts", "/notebook/parts", {"kind": "tire", "mark": "TWICE"}),
    (TIRE, "/notebook/part/measured", {"line": "roll-out 86 in at 20 psi"}),
    (TIRE, "/notebook/part/serviced", {"job": "inspect"}),
    (TIRE, "/notebook/part/moved", {"to": "scrap"}),
    ("/notebook/work", "/notebook/work/add", {"list_name": "sent twice", "words": "look twice"}),
    ("/turn", "/turn/keep", {"reason": "sent twice"}),
    ("/setup", "/setup/new", {one.key: one.example for one in QUESTIONS}),
)


@pytest.fixture
def form_of(season_client):
    """What a browser without JavaScript sends of a form of a page, with what is typed."""

    def filled(page, action, typed):
        if action == "/turn/keep":
            pressed = filled("/turn", "/turn/look", {"press": "RR.tire.cold up"})
            assert season_client.post("/turn/press", data=pressed).status_code == 303
        is_ours = {"action": action} if not action.startswith("/scales/") else {"id": "weighing"}
        form = read(season_client.get(page).text).all("form", **is_ours)[0]
        hidden = {one["name"]: one["value"] for one in form.all("input", type="hidden")}
        return {**hidden, **typed}

    return filled


@pytest.fixture
def counted(season_store):
    """How many entries there are, and weighings half typed."""

    def count():
        with season_store.reading() as session:
            half = sa.select(sa.func.count()).select_from(Draft).where(Draft.form == FORM)
            return [session.scalar(sa.select(sa.func.count()).select_from(Entry)), session.scalar(half)]

    return count


@pytest.mark.parametrize(
    ("page", "action", "typed"), FORMS, ids=[" ".join((one[1], *list(one[2])[:1])) for one in FORMS]
)
def test_sent_twice_it_is_one_entry_with_one_answer(season_client, form_of, counted, page, action, typed):
    sent = form_of(page, action, typed)
    entries, drafts = counted()
    with ThreadPoolExecutor(2) as both:
        answers = list(both.map(lambda _: season_client.post(action, data=sent), range(2)))
    answers.append(season_client.post(action, data=sent))
    assert {(one.status_code, one.headers.get("location")) for one in answers} == {
        (303, answers[0].headers["location"])
    }
    assert counted() == [entries + 1, drafts + (action == "/scales/book")]


def test_other_words_of_the_same_page_are_another_entry(season_client, form_of, counted):
    sent = form_of("/notebook/enter", "/notebook/enter", {"kind": "words", "words": "the first"})
    before = counted()[0]
    for words in ("the first", "the second"):
        season_client.post("/notebook/enter", data={**sent, "words": words})
    assert counted()[0] == before + 2


def test_what_was_taken_back_may_be_sent_again(season_client, form_of, counted):
    sent = form_of("/week", "/week/event", {"name": "Taken back", "day": "2027-03-02"})
    before = counted()[0]
    season_client.post("/week/event", data=sent)
    assert season_client.post("/notebook/undo", data={"csrf": sent["csrf"]}).status_code == 303
    assert season_client.post("/week/event", data=sent).status_code == 303
    assert counted()[0] == before + 3


def test_the_next_run_of_a_page_that_the_browser_kept_is_a_run_of_its_own(
    season_client, form_of, counted, monkeypatch
):
    sent = form_of("/notebook/enter", "/notebook/enter", {"kind": "run"})
    before = counted()[0]
    season_client.post("/notebook/enter", data=sent)
    later = sent_once.now() + timedelta(minutes=10)
    monkeypatch.setattr(sent_once, "now", lambda: later)
    season_client.post("/notebook/enter", data=sent)
    assert counted()[0] == before + 2
