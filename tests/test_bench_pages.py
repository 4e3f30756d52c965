"""Every page of the bench as it is met: crawled by its links and forms, in a browser, without script, by ear;
and with the laptop gone in the middle of it.
"""

from __future__ import annotations

import itertools
import os
import re
import shutil
import subprocess
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from benches import read
from browser import LAPTOP, PHONE, free_port, served, served_apart
from playwright.sync_api import expect

from ovalwright.documents import QUESTIONS
from ovalwright.web.places import PLACES
from ovalwright.web.routes import ROUTES

PATHS = [place.path for place in PLACES if any(route.path == place.path for route in ROUTES)]
HEAVIEST = 250_000
"""Most bytes of a page with all it needs."""
MOST_CRAWLED = 120
ALONE = """user_pref("network.proxy.type", 1);
user_pref("network.proxy.http", "127.0.0.1");
user_pref("network.proxy.http_port", 9);
user_pref("network.proxy.ssl", "127.0.0.1");
user_pref("network.proxy.ssl_port", 9);
user_pref("network.proxy.no_proxies_on", "localhost, 127.0.0.1");
"""
"""Settings of a Firefox that reaches nothing beyond this machine."""
DOCS = Path(__file__).parent.parent / "docs" / "bench.md"


@pytest.fixture(scope="module")
def address(season_store, tmp_path_factory):
    with served(season_store, tmp_path_factory.mktemp("bench")) as found:
        yield found


# ---------------- links and forms


@pytest.fixture(scope="module")
def crawled(season_client):
    """Every page that links lead to from the first one, at most MOST_CRAWLED of one kind of address."""
    found, waiting, seen = {}, ["/week"], {"/week"}
    while waiting and len(found) < MOST_CRAWLED:
        path = waiting.pop(0)
        answer = season_client.get(path)
        found[path] = answer
        if not answer.headers["content-type"].startswith("text/html"):
            continue
        for link in leads_to(read(answer.text)):
            shape = re.sub(r"=[^&]*", "=", link)
            if link not in seen and sum(re.sub(r"=[^&]*", "=", one) == shape for one in seen) < 6:
                seen.add(link)
                waiting.append(link)
    return found


def leads_to(page):
    """The addresses of the bench that a page links to or fetches."""
    told = [one["href"] for one in page.all("a")] + [one["hx-get"] for one in page.all() if one["hx-get"]]
    told += [one["src"] for one in page.all("img")]
    return [one.partition("#")[0] for one in told if one.startswith("/")]


def pages(crawled):
    for path, answer in crawled.items():
        if answer.headers["content-type"].startswith("text/html") and answer.text:
            yield path, read(answer.text)


def test_no_link_leads_nowhere(crawled):
    assert len(crawled) >= len(PATHS)
    assert {path: one.status_code for path, one in crawled.items() if one.status_code not in (200, 303)} == {}


def test_links_lead_to_every_page(crawled):
    assert set(PATHS) <= {urlsplit(path).path for path in crawled}


def test_links_stay_on_the_bench(crawled):
    for path, page in pages(crawled):
        for one in page.all("a"):
            assert one["href"].startswith(("/", "#", "?")) and not one["href"].startswith("//"), path


def test_every_form_has_an_address_that_takes_it_and_every_change_a_token(crawled):
    answered = [(one.method, re.compile(re.sub(r"\{.*?\}", "[^/]+", one.path))) for one in ROUTES]
    forms = [(path, form) for path, page in pages(crawled) for form in page.all("form")]
    assert len(forms) > len(PATHS)
    for path, form in forms:
        method = form["method"].upper() or "GET"
        if method == "DIALOG":
            continue
        action = form["action"].partition("?")[0] or urlsplit(path).path
        assert any(method == known and shape.fullmatch(action) for known, shape in answered), (path, action)
        if method == "POST":
            assert len(form.all("input", name="csrf")) == 1, (path, action)
            assert form.all("button") or form.all("input", type_="submit"), (path, action)


def test_every_page_has_one_heading_and_says_where_it_is(season_client):
    for path in PATHS:
        page = read(season_client.get(path).text)
        assert len(page.all("h1")) == 1
        assert {one["href"] for one in page.all("a", aria_current="page")} == {path}


def test_no_id_is_given_twice(crawled):
    for path, page in pages(crawled):
        ids = [one["id"] for one in page.all() if one["id"]]
        assert len(ids) == len(set(ids)), (path, [one for one in ids if ids.count(one) > 1])


def test_no_page_is_heavy(season_client):
    for path in PATHS:
        answer = season_client.get(path)
        page = read(answer.text)
        needs = [one["src"] for one in page.all("script")] + [one["src"] for one in page.all("img")]
        needs += [one["href"] for one in page.all("link")] + [
            "/static/b612-400.woff2",
            "/static/b612-700.woff2",
        ]
        weight = len(answer.content) + sum(
            int(season_client.get(one).headers["content-length"]) for one in needs if one.startswith("/")
        )
        assert weight <= HEAVIEST, (path, weight)


def test_the_docs_list_every_address():
    told = re.findall(r"^\| (GET|POST) \| `([^`]+)` \|", DOCS.read_text(encoding="utf-8"), re.MULTILINE)
    assert told == [(one.method, one.path) for one in ROUTES], "python tools/list_routes.py writes them anew"


def test_the_docs_name_tests_that_there_are():
    told = set(re.findall(r"`(test_\w+)`", DOCS.read_text(encoding="utf-8")))
    there = "".join(one.read_text(encoding="utf-8") for one in Path(__file__).parent.glob("test_bench_*.py"))
    assert len(told) > 20
    assert {one for one in told if f"def {one}(" not in there} == set()


# ---------------- in a browser


def look_at(paths, window, address, size, theme):
    here, faults = window(size, theme=theme), {}
    for path in paths:
        here.page.goto(address + path)
        here.page.evaluate("document.querySelectorAll('main details').forEach((one) => { one.open = true; })")
        faults[path] = here.told() + ["too wide"] * here.is_too_wide()
    assert {path: told for path, told in faults.items() if told} == {}


@pytest.mark.parametrize(("size", "theme"), [(PHONE, "dark"), (LAPTOP, "light")], ids=["phone", "laptop"])
def test_no_page_has_a_fault_or_is_too_wide(window, address, size, theme):
    look_at(PATHS, window, address, size, theme)


@pytest.mark.proof
@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_nothing_that_links_lead_to_has_one(window, address, crawled, size, theme):
    kinds = {re.sub(r"=[^&]*|(?<=/run/)\w+", "", path): path for path, _ in pages(crawled)}
    assert len(kinds) > 2 * len(PATHS)
    look_at(kinds.values(), window, address, size, theme)


def test_what_a_thumb_presses_is_large_enough(window, address):
    here = window(PHONE)
    for path in PATHS:
        here.page.goto(address + path)
        sizes = here.page.evaluate(
            """() => [...document.querySelectorAll("button, .button, nav a, select, input")]
            .filter((one) => one.type !== "hidden" && one.checkVisibility() && !one.closest("dialog"))
            .map((one) => [one.outerHTML.slice(0, 90), one.closest("label, button, a") || one])
            .map(([html, one]) => [html, one.getBoundingClientRect().height])
            .filter(([, height]) => height < 40)"""
        )
        assert sizes == [], path


def test_the_keyboard_alone_reaches_the_page_and_its_first_link(window, address):
    here = window(LAPTOP)
    here.page.goto(address + "/week")
    here.page.keyboard.press("Tab")
    assert here.page.evaluate("document.activeElement.className") == "skip"
    here.page.keyboard.press("Enter")
    assert here.page.evaluate("document.activeElement.id") == "main"
    here.page.keyboard.press("?")
    assert here.page.locator("#keys").is_visible()
    here.page.locator("#keys-off").check()
    here.page.keyboard.press("Escape")
    assert not here.page.locator("#keys").is_visible()


def test_single_letters_press_what_they_name_unless_switched_off_or_typed(window, address):
    here = window(LAPTOP)
    here.page.goto(address + "/turn")
    here.page.locator("#at").focus()
    for key, phase in {"1": "entry", "3": "exit"}.items():
        here.page.keyboard.press(key)
        here.page.locator(f"#at[aria-valuetext*='{phase}']").wait_for()
        assert here.page.evaluate("document.activeElement.id") == "at"
    views = here.page.locator("figure.view")
    for seen in ("above", "behind", "front"):
        here.page.keyboard.press("v")
        here.page.locator(f"figure.{seen}").wait_for()
        expect(views).to_have_count(1)
    assert views.count() == 1
    here.page.keyboard.press("g")
    assert here.page.locator("select[name=beside]").input_value() == "alone"
    here.page.keyboard.press("Shift+ArrowLeft")
    here.page.locator("#at[aria-valuetext*='middle']").wait_for()
    here.page.evaluate("localStorage.setItem('ovalwright-keys-off', 'off')")
    here.page.keyboard.press("1")
    here.page.wait_for_timeout(200)
    assert "middle" in here.page.locator("#at").get_attribute("aria-valuetext")


def test_the_theme_is_kept_on_the_device_and_comes_back_to_the_page(window, address):
    here = window(PHONE, script=False)
    here.page.goto(address + "/setup")
    paper = "getComputedStyle(document.body).backgroundColor"
    here.page.get_by_role("button", name="Night").click()
    assert urlsplit(here.page.url).path == "/setup"
    here.page.goto(address + "/week")
    assert here.page.locator("html").get_attribute("data-theme") == "night"
    assert here.page.get_by_role("button", name="Day").is_visible()
    scripted = window(PHONE, theme="dark")
    scripted.page.goto(address + "/week")
    assert scripted.page.evaluate(paper) == "rgb(15, 19, 21)"
    for one in (here, scripted):
        one.page.emulate_media(media="print")
        assert one.page.evaluate(paper) == "rgb(255, 255, 255)"


def test_a_choice_that_is_cut_stands_in_full_below_its_field(window, address):
    page = window(PHONE).page
    page.goto(address + "/notebook/enter")
    page.locator("label", has=page.locator("input[name=kind][value=run]")).click()
    whole = page.locator("#setup + .whole")
    whole.wait_for()
    assert whole.inner_text() == page.locator("#setup option").first.inner_text().strip()
    page.set_viewport_size({"width": 1366, "height": 768})
    whole.wait_for(state="detached")
    assert not page.locator(".whole").count()


def test_a_left_thumb_has_its_presses_at_the_left_without_script_too(window, address):
    here = window(PHONE, script=False)
    here.page.goto(address + "/turn?view=behind&narrow=1")

    def undo_at():
        here.page.wait_for_load_state()
        return here.page.locator("#undo").bounding_box()["x"]

    assert undo_at() > 180
    here.page.locator("nav.narrow summary").click()
    here.page.get_by_role("button", name="Left thumb").click()
    assert urlsplit(here.page.url).path == "/turn"
    assert undo_at() < 40
    here.page.locator("nav.narrow summary").click()
    here.page.get_by_role("button", name="Right thumb").click()
    assert undo_at() > 180


@pytest.mark.parametrize(("size", "abreast"), [(PHONE, 2), (LAPTOP, 8)])
def test_boxes_of_lap_and_run_stay_in_line_when_some_are_wrong(window, address, size, abreast):
    here = window(size)
    here.page.goto(address + "/laps?laps=0&fuel=60&groove=middle&best=2")
    boxes = here.page.locator(".asked :is(input, select)")
    tops = [round(boxes.nth(index).bounding_box()["y"]) for index in range(boxes.count())]
    assert len(tops) == 8
    assert all(len({*tops[first : first + abreast]}) == 1 for first in range(0, 8, abreast))


def test_without_script_a_car_is_made_and_long_work_is_looked_at_again(window, season_store, tmp_path):
    with served(season_store, tmp_path) as address:
        here = window(PHONE, script=False)
        here.page.goto(address + "/setup")
        here.page.get_by_role("button", name="Find out").click()
        here.page.get_by_role("link", name="Look again").click()
        assert urlsplit(here.page.url).path == "/setup"
        here.page.locator("summary", has_text="A new car").click()
        for one in QUESTIONS:
            here.page.locator(f"[name={one.key}]").fill("nonsense" if one.key == "bar" else one.example)
        here.page.get_by_role("button", name="Make this car").click()
        assert here.page.locator("#q-bar").input_value() == "nonsense"
        assert here.page.locator("#q-weights").input_value() == "776, 646, 844, 566 lb"
        here.page.locator("#q-bar").fill("none")
        here.page.get_by_role("button", name="Make this car").click()
        assert urlsplit(here.page.url).path in ("/turn", "/week")


def test_nothing_typed_is_lost_when_the_laptop_dies_and_comes_back(window, tmp_path):
    port = free_port()
    notebook = tmp_path / "notebook.sqlite"
    here = window(PHONE)
    with served_apart(notebook, tmp_path, port):
        here.page.goto(f"http://localhost:{port}/setup")
        for one in itertools.islice(QUESTIONS, 6):
            here.page.locator(f"[name={one.key}]").fill(one.example)
    with pytest.raises(Exception, match="ERR_CONNECTION_REFUSED"):
        here.page.goto(f"http://localhost:{port}/setup")
    with served_apart(notebook, tmp_path, port):
        here.page.goto(f"http://localhost:{port}/setup")
        typed = [here.page.locator(f"[name={one.key}]").input_value() for one in QUESTIONS]
        assert typed == [one.example for one in QUESTIONS[:6]] + [""] * 4
        for one in QUESTIONS[6:]:
            here.page.locator(f"[name={one.key}]").fill(one.example)
        here.page.get_by_role("button", name="Make this car").click()
        here.page.goto(f"http://localhost:{port}/setup")
        assert "Old Blue" in here.page.locator("main").inner_text()
        assert here.page.locator("[name=name]").input_value() == ""


@pytest.mark.proof
def test_firefox_shows_the_car_too(address, tmp_path):
    firefox = shutil.which("firefox-esr") or shutil.which("firefox")
    if not firefox:
        pytest.skip("FIREFOX IS NOT HERE: `apt install firefox-esr`")
    (tmp_path / "user.js").write_text(ALONE)
    picture = tmp_path / "turn.png"
    words = [firefox, "--headless", "--no-remote", "--profile", str(tmp_path), "--screenshot", str(picture)]
    done = subprocess.run([*words, f"{address}/turn"], env={**os.environ, "HOME": str(tmp_path)}, timeout=120)
    assert done.returncode == 0
    assert picture.stat().st_size > 50_000
