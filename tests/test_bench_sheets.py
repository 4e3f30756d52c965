"""Sheets on the bench: all of them seen page by page, on both papers, and as PDF."""

from __future__ import annotations

import io
from xml.etree import ElementTree

import pytest
from benches import client, read, token
from pypdf import PdfReader

from ovalwright.documents import QUESTIONS
from ovalwright.notebook import shelf
from ovalwright.notebook.store import Store
from ovalwright.sheets import PAPERS, SHEETS
from ovalwright.web.pages.sheets import KINDS_OF_SHEET

INCHES = {"letter": (8.5, 11.0), "a4": (210 / 25.4, 297 / 25.4)}


def paper(page):
    """Width and height of a picture in inches, from the root of the SVG: 72 points to the inch."""
    root = ElementTree.fromstring(page)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    return tuple(float(root.attrib[side].removesuffix("pt")) / 72 for side in ("width", "height"))


def test_every_sheet_there_is_can_be_seen():
    assert [one.name for one in KINDS_OF_SHEET] == list(SHEETS)


@pytest.mark.parametrize("kind", SHEETS)
def test_a_sheet_is_seen_as_it_is_printed(season_client, kind):
    for name in PAPERS:
        which = {"run": "last"}.get(kind, "")
        page = read(season_client.get("/sheets", params={"kind": kind, "paper": name, "which": which}).text)
        picture = season_client.get(page.all("img", class_="paper")[0]["src"])
        link = next(one["href"] for one in page.all("a", class_="button") if "sheet.pdf" in one["href"])
        printed = season_client.get(link)
        first = PdfReader(io.BytesIO(printed.content)).pages[0].mediabox
        assert picture.headers["content-type"] == "image/svg+xml"
        assert paper(picture.content) == pytest.approx(INCHES[name], abs=0.01)
        assert (first.width / 72, first.height / 72) == pytest.approx(INCHES[name], abs=0.01)
        assert printed.headers["content-disposition"].startswith(f'attachment; filename="{kind}')


def test_every_page_of_a_sheet_is_there_and_no_more(season_client):
    first = read(season_client.get("/sheets?kind=rack").text)
    others = [one["href"] for one in first.one("section", class_="preview").all("a")]
    seen = [one["src"] for one in first.all("img", class_="paper")]
    for path in others:
        seen += [one["src"] for one in read(season_client.get(path).text).all("img", class_="paper")]
    printed = PdfReader(io.BytesIO(season_client.get("/sheets/sheet.pdf?kind=rack").content))
    assert len(set(seen)) == len(seen) == len(printed.pages) > 2
    assert len({season_client.get(one).content for one in seen}) == len(seen)
    assert season_client.get(f"/sheets/page.svg?kind=rack&page={len(seen) + 1}").status_code == 404


def test_a_sheet_of_two_pages_shows_both(season_client):
    page = read(season_client.get("/sheets?kind=setup").text).one("section", class_="preview")
    assert len(page.all("img", class_="paper")) == 2 and not page.all("a")


@pytest.mark.parametrize("path", ["/sheets/page.svg", "/static/htmx.min.js", "/static/bench.css"])
def test_what_is_text_goes_over_packed_to_who_can_unfold_it(season_client, path):
    plain, packed = (season_client.get(path, headers={"Accept-Encoding": told}) for told in ("", "gzip"))
    assert "content-encoding" not in plain.headers and packed.headers["content-encoding"] == "gzip"
    assert packed.content == plain.content and packed.headers["vary"] == "Accept-Encoding"
    assert int(packed.headers["content-length"]) < 0.45 * int(plain.headers["content-length"])


def test_what_is_named_is_what_is_printed(season_client, season_store):
    with season_store.reading() as session:
        code = shelf.revisions(session, kind="setup", most=9)[-1].code
    text = PdfReader(io.BytesIO(season_client.get(f"/sheets/sheet.pdf?which={code}").content)).pages[0]
    assert code in text.extract_text()
    blank = PdfReader(io.BytesIO(season_client.get("/sheets/sheet.pdf?kind=run").content)).pages[0]
    assert code not in blank.extract_text() and "Run log" in blank.extract_text()


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"kind": "setup", "which": "nosuch"}, 'no setup "nosuch"'),
        ({"kind": "scales", "cross": "much"}, "cross wanted"),
        ({"kind": "scales", "rules": "kitchen"}, "no rules"),
        ({"kind": "raceday", "lines": "18:30"}, "does not say what"),
        ({"kind": "raceday", "fuel": "8 gal"}, "names nothing"),
        ({"kind": "raceday", "event": "nowhere"}, 'no event "nowhere"'),
        ({"kind": "changes", "which": "x"}, "name two setups"),
        ({"kind": "tires", "which": "T1, nosuch"}, "one too many"),
        ({"kind": "bolts", "which": "kitchen"}, "no checklist"),
        ({"kind": "run", "which": "../../etc/passwd"}, "no run"),
    ],
    ids=str,
)
def test_what_cannot_be_printed_is_said_and_what_was_typed_stays(season_client, asked, says):
    answer = season_client.get("/sheets", params=asked)
    page = read(answer.text)
    assert answer.status_code == 422
    assert says in page.one("p", class_="mistake").text.lower()
    for field, text in asked.items():
        shown = [one["value"] or one.text for one in page.all(name=field)]
        assert text in shown
    for path in ("/sheets/page.svg", "/sheets/sheet.pdf"):
        assert season_client.get(path, params=asked).status_code == 422


def test_a_notebook_of_nothing_still_prints_what_is_blank(tmp_path):
    with Store.open(tmp_path / "notebook.sqlite") as store, client(store, tmp_path) as laptop:
        page = read(laptop.get("/sheets").text)
        assert page.one("section", class_="empty").one("h2").text == "Nothing to print yet"
        for kind in ("tires", "run", "bolts"):
            assert read(laptop.get(f"/sheets?kind={kind}").text).all("img", class_="paper"), kind


@pytest.mark.parametrize(("by", "is_told"), [("root", False), ("Pat", True)])
def test_paper_says_who_made_it_but_names_no_account_of_the_computer(tmp_path, by, is_told):
    told = {one.key: one.example for one in QUESTIONS}
    with Store.open(tmp_path / "notebook.sqlite", by=by) as store, client(store, tmp_path) as laptop:
        laptop.post("/setup/new", data={**told, "csrf": token(laptop.get("/setup").text)})
        printed = PdfReader(io.BytesIO(laptop.get("/sheets/sheet.pdf?kind=setup").content))
        assert (by in printed.pages[0].extract_text()) is is_told
        assert "Old Blue" in printed.pages[0].extract_text()
