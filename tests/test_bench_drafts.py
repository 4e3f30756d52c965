"""Forms half filled: begun on the command line or on a page, opened, finished or thrown away on the other."""

from __future__ import annotations

import pytest
from asked import ask, good
from benches import done_last, read

from ovalwright.notebook import drafts, runs
from ovalwright.notebook.typed.half_filled import FORMS
from ovalwright.web.pages.notebook_drafts import DraftForm

BEGUN = {
    "log event": {"name": "Half a night", "on": "2026-11-01"},
    "log run": {"session": "half", "fuel": "9 gal", "stagger": "2 1/4 in", "laps": "1 18.2\n2 17.9"},
    "log laps": {"run": "last", "laps": "1 18.22 gelb\n2 17.73", "flags": "gelb=yellow"},
    "log temps": {"run": "last", "temperatures": "178 185 190 / 201 196 188 / 170 172 174 / 190 191 192"},
    "log pressures": {"run": "last", "pressures": "13 28 14 26", "cold_or_hot": "hot"},
    "log said": {"run": "last", "phase": "middle", "feel": "tight", "words": "it <pushes>"},
    "log decided": {"run": "last", "decided": "softer right rear"},
    "log hit": {"run": "last", "hit": "RF"},
    "log mend": {"run": "last", "driver": "a friend"},
    "log setdown": {"run": "last", "measured": "LF 776 lb, LR height 5 in"},
    "quick": {"line": "RR +1/2", "reason": "tight in"},
}


def begun(store, form, typed):
    with store.aside() as session:
        return drafts.begin(session, form, typed, by="owner").uid


def opened(client, uid):
    """The form as a browser would send it."""
    form = read(client.get(f"/notebook/half-filled/{uid}").text).one("form", class_="half-form")
    fields = {
        one["name"]: one["value"]
        for one in form.all("input")
        if one["type"] != "radio" or "checked" in one.attributes
    }
    typed = {one["name"]: "".join(one.pieces) for one in form.all("textarea")}
    return {name: text for name, text in {**fields, **typed}.items() if name != "csrf"}


def waiting(store):
    with store.reading() as session:
        return [one.uid for one in drafts.drafts(session)]


def test_every_form_that_may_wait_is_tried_and_every_blank_of_it_can_be_sent():
    assert BEGUN.keys() == FORMS.keys()
    blanks = {blank.name for form in FORMS.values() for blank in form.blanks}
    assert blanks == DraftForm.model_fields.keys() - {"version"}


def test_a_setup_is_named_in_a_form_that_waits(season_client, season_store):
    with season_store.reading() as session:
        setup = runs.run_of(session, "last").setup
        code, name = setup.code, setup.document.name
    uid = begun(season_store, "log run", {"setup": code})
    listed = read(season_client.get("/notebook").text).one("section", id="half")
    assert name in listed.text and code not in listed.text
    with season_store.aside() as session:
        drafts.drop(session, uid)


@pytest.mark.parametrize("form", BEGUN)
def test_a_form_begun_on_the_command_line_is_finished_on_its_page(post, season_client, season_store, form):
    uid = begun(season_store, form, BEGUN[form])
    listed = read(season_client.get("/notebook").text).one("section", id="half")
    assert f"/notebook/half-filled/{uid}" in [one["href"] for one in listed.all("a")]
    fields = opened(season_client, uid)
    typed = {name: text for name, text in fields.items() if text and name not in ("version", "sent")}
    assert typed == BEGUN[form]
    answer, again = (post(f"/notebook/half-filled/{uid}", **fields) for _ in range(2))
    assert answer.status_code == again.status_code == 303
    assert answer.headers["location"] == again.headers["location"]
    assert season_client.get(answer.headers["location"]).status_code == 200
    assert uid not in waiting(season_store)
    what = done_last(season_store)[0]
    post("/notebook/undo")
    assert what not in ("a form half filled", "") and form not in what


def test_what_cannot_be_kept_yet_is_saved_and_says_why(post, season_client, season_store):
    uid = begun(season_store, "log run", {"event": "Nowhere", "session": "heat", "laps_from": "mine.csv"})
    fields = opened(season_client, uid)
    answer = post(f"/notebook/half-filled/{uid}", **{**fields, "fuel": "11 gal"})
    assert answer.status_code == 422
    assert 'No event "Nowhere"' in read(answer.text).one("p", class_="mistake").text
    with season_store.reading() as session:
        kept = dict(drafts.draft(session, uid).typed)
    assert kept == {"event": "Nowhere", "session": "heat", "fuel": "11 gal", "laps_from": "mine.csv"}
    stale = post(f"/notebook/half-filled/{uid}", **{**fields, "event": ""})
    assert stale.status_code == 422 and "look at both" in read(stale.text).one("p", class_="mistake").text
    post("/notebook/half-filled/away", draft=uid)


def test_a_finished_form_waits_again_when_its_entry_is_taken_back(post, season_client, season_store):
    uid = begun(season_store, "log decided", {"run": "last", "decided": "softer right rear"})
    post(f"/notebook/half-filled/{uid}", **opened(season_client, uid))
    post("/notebook/undo")
    assert uid in waiting(season_store)
    assert opened(season_client, uid)["decided"] == "softer right rear"
    post("/notebook/put-back")
    assert uid not in waiting(season_store)
    assert done_last(season_store)[0].startswith("put back: decided of run")
    post("/notebook/undo")
    post("/notebook/half-filled/away", draft=uid)


def test_a_form_saved_on_its_page_is_finished_on_the_command_line(
    post, season_client, season_store, season_file
):
    uid = begun(season_store, "log run", {"event": "Nowhere", "session": "heat"})
    later = post(f"/notebook/half-filled/{uid}/later", **{**opened(season_client, uid), "event": ""})
    assert later.status_code == 303
    told = good("log", "run", "--draft", uid[:8], "--fuel", "11 gal", "--notebook", season_file)
    assert "heat" in told and uid not in waiting(season_store)
    with season_store.reading() as session:
        last = runs.record(session, runs.run_of(session, "last"))
    assert (last.session, round(last.fuel * 1000 / 3.785411784, 2)) == ("heat", 11)


def test_the_command_line_says_where_a_form_of_the_browser_is_gone_on_with(season_store, season_file):
    uid = begun(season_store, "scales", {"LF": "776"})
    told = ask("notebook", "drafts", "--show", uid[:8], "--notebook", season_file)
    assert "begun in the browser" in told.stdout and "scales --draft" not in told.stdout
    with season_store.aside() as session:
        drafts.drop(session, uid)


@pytest.mark.parametrize(("form", "says"), [("hand", "gone on with where"), ("", "that draft is gone")])
def test_what_is_no_form_of_the_notebook_is_not_opened(season_client, season_store, form, says):
    uid = begun(season_store, form, {}) if form else "0" * 32
    for path in (f"/notebook/half-filled/{uid}", "/notebook/half-filled/nosuch"):
        answer = season_client.get(path)
        assert answer.status_code in (404, 422) and "Traceback" not in answer.text
    assert says in season_client.get(f"/notebook/half-filled/{uid}").text.lower()
    if form:
        with season_store.aside() as session:
            drafts.drop(session, uid)
