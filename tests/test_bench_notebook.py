"""The notebook on the bench: found, entered at the track, kept once however often it is delivered, undone."""

from __future__ import annotations

import secrets

import pytest
from benches import token
from browser import PHONE, free_port, served_apart

from ovalwright.notebook import runs
from ovalwright.notebook.store import Store
from ovalwright.notebook.undo import last_entries


@pytest.fixture
def post(season_client):
    """Send a form of the notebook with the token of its page."""
    told = token(season_client.get("/notebook").text)

    def sent(path, **fields):
        return season_client.post(path, data={"csrf": told, **fields})

    return sent


def name():
    return secrets.token_hex(16)


# ---------------- entries that wait on a phone


@pytest.fixture
def phone(chromium):
    """A phone with a memory of its own: the other windows of the tests look up every request, which takes
    the browser's memory of pages away. Beyond this machine no name is known to it.
    """
    context = chromium.new_context(viewport={"width": PHONE[0], "height": PHONE[1]})
    yield context
    context.close()


def test_entries_made_while_the_laptop_is_away_are_there_once_each_in_order(phone, season_file, tmp_path):
    port = free_port()
    address = f"http://localhost:{port}/notebook/enter"
    page = phone.new_page()
    with served_apart(season_file, tmp_path, port) as laptop:
        page.goto(address)
        code = page.locator("#runs").input_value()
        laptop.kill()
        laptop.wait(10)
        enter(page, "words", {"words": "first thing he said"})
        enter(page, "words", {"words": "then the second"})
        page.close()
        page = phone.new_page()
        page.goto(address)
        assert page.locator("#waiting li").count() == 2
        enter(page, "decided", {"decided": "one more in the right rear"})
        assert page.locator("#waiting li").count() == 3
    with served_apart(season_file, tmp_path, port):
        page.evaluate("deliver()")
        page.locator("#waiting").wait_for(state="hidden")
    with Store.open(season_file) as store, store.reading() as session:
        told = runs.record(session, runs.run_of(session, code))
        said = [one.words for one in told.comments][-2:]
        done = [one.what for one in last_entries(session, 3)]
    assert said == ["first thing he said", "then the second"]
    assert told.decided == "one more in the right rear"
    assert done == [f"decided of run {code}", *[f"driver's words on run {code}"] * 2]


def enter(page, kind, fields):
    page.locator(f'.kinds [value="{kind}"]').check(force=True)
    for field, text in fields.items():
        page.locator(f"#{field}").fill(text)
    page.locator(".keep button").click()
    page.locator("#kept p").wait_for()
