"""The door of the bench: who gets in, what a change must carry, what every answer says, how much is taken."""

from __future__ import annotations

import re
import stat
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from benches import LAPTOP, PASSCODE, PHONE, client, read, token
from starlette.requests import Request

from ovalwright.notebook.store import Store
from ovalwright.web import door as door_room
from ovalwright.web.app import bench
from ovalwright.web.door import (
    COOKIE,
    FREE_TRIES,
    KEY_FILE,
    LETTERS,
    LONGEST_WAIT,
    Door,
    Key,
    Tries,
    new_passcode,
)
from ovalwright.web.routes import ROUTES
from ovalwright.web.shield import HEADERS, MOST_SENT

LAN = {"lan": True, "passcode": PASSCODE, "names": ("192.168.7.2", "shop.local")}
FORM = {"Content-Type": "application/x-www-form-urlencoded"}


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    with Store.open(tmp_path_factory.mktemp("door") / "notebook.sqlite") as opened:
        yield opened


@pytest.fixture(scope="module")
def laptop(store, tmp_path_factory):
    with client(store, tmp_path_factory.mktemp("laptop")) as found:
        yield found


@pytest.fixture(scope="module")
def bench_on_the_network(store, tmp_path_factory):
    with client(store, tmp_path_factory.mktemp("network"), phone=PHONE, **LAN) as found:
        yield found


@pytest.fixture
def phone(bench_on_the_network):
    """A phone that was never here before."""
    bench_on_the_network.cookies.clear()
    bench_on_the_network.app.state.bench.door.tries = Tries()
    return bench_on_the_network


def knock(phone, passcode):
    page = phone.get("/come-in").text
    return phone.post("/come-in", data={"passcode": passcode, "csrf": token(page)})


# ---------------- names and addresses


@pytest.mark.parametrize(
    "host", ["evil.example", "localhost.evil.example", "192.168.7.2:8321", "", "127.0.0.1.nip.example"]
)
def test_another_name_than_its_own_is_refused(laptop, host):
    assert laptop.get("/week", headers={"host": host}).status_code == 400


@pytest.mark.parametrize("host", ["localhost:8321", "127.0.0.1:1", "LOCALHOST"])
def test_its_own_names_are_answered(laptop, host):
    assert laptop.get("/week", headers={"host": host}).status_code == 200


def test_on_the_network_it_answers_to_the_names_it_is_told_by(phone):
    assert phone.get("/come-in", headers={"host": "shop.local:8321"}).status_code == 200
    assert phone.get("/come-in", headers={"host": "evil.example"}).status_code == 400


def test_without_lan_nobody_from_the_network_sees_a_page_even_with_a_passcode(store, tmp_path):
    with client(store, tmp_path, phone=PHONE, passcode=PASSCODE) as stranger:
        stranger.base_url = "http://localhost:8321"
        assert stranger.get("/week").headers["location"] == "/come-in"
        assert knock(stranger, PASSCODE).status_code == 403
        assert knock(stranger, "").status_code == 403


def test_the_network_needs_a_passcode(store, tmp_path):
    with pytest.raises(ValueError, match="passcode"):
        bench(store, lan=True, folder=tmp_path)


def test_what_a_proxy_claims_of_an_address_is_not_believed(phone):
    for name in ("X-Forwarded-For", "Forwarded", "X-Real-IP"):
        assert phone.get("/week", headers={name: LAPTOP}).status_code == 303


# ---------------- the passcode


def test_every_page_sends_a_stranger_to_the_door(phone):
    inside = [one for one in ROUTES if not one.path.startswith(("/come-in", "/static/"))]
    assert len(inside) >= 4
    for route in inside:
        answer = phone.request(route.method, re.sub(r"\{.*?\}", "1", route.path))
        assert (answer.status_code, answer.headers["location"]) == (303, "/come-in"), route.path


def test_a_fragment_sends_a_stranger_to_the_door(phone):
    answer = phone.get("/week", headers={"HX-Request": "true"})
    assert (answer.status_code, answer.headers["hx-redirect"]) == (401, "/come-in")


def test_who_knows_the_passcode_comes_in_and_stays_in(phone):
    assert knock(phone, PASSCODE.upper().replace("-", " ")).status_code == 303
    assert phone.get("/week").status_code == 200


def test_who_does_not_know_it_is_told_so_on_the_page(phone):
    answer = knock(phone, "aaaa-bbbb")
    field = read(answer.text).one("input", id="passcode")
    assert answer.status_code == 403
    assert read(answer.text).one(id=field["aria-describedby"]).text.startswith("That is not the passcode")
    assert phone.get("/week").status_code == 303


def test_passcodes_are_long_and_never_the_same():
    made = {new_passcode() for _ in range(200)}
    assert len(made) == 200
    assert all(re.fullmatch(f"[{LETTERS}]{{4}}-[{LETTERS}]{{4}}", one) for one in made)
    assert len(set(LETTERS)) ** 8 > 2**39


def test_wrong_ones_cost_time_and_then_even_the_right_one_waits(phone):
    for _ in range(FREE_TRIES):
        assert "not the passcode" in knock(phone, "wrong").text
    assert "wait" in knock(phone, PASSCODE).text
    assert phone.get("/week").status_code == 303


def test_the_wait_doubles_by_address_and_is_forgotten_when_right():
    now = [0.0]
    tries = Tries(clock=lambda: now[0])
    waits = []
    for _ in range(30):
        assert tries.take(PHONE) == 0.0
        waits.append(tries.wait(PHONE))
        now[0] += waits[-1]
    assert waits[:FREE_TRIES] == [0.0, 0.0, 1.0]
    assert waits[5] == 2.0 * waits[4]
    assert waits[-1] == LONGEST_WAIT
    assert tries.wait("192.168.7.21") == 0.0
    tries.right(PHONE)
    tries.take(PHONE)
    assert tries.wait(PHONE) == 0.0


def test_whoever_tries_for_days_still_waits_and_no_longer():
    now = [0.0]
    tries = Tries(clock=lambda: now[0])
    for _ in range(1100):
        tries.take(PHONE)
        now[0] += LONGEST_WAIT
    assert tries.take(PHONE) == 0.0
    assert tries.take(PHONE) == LONGEST_WAIT


def test_many_at_once_get_no_more_tries_than_one_after_the_other(monkeypatch, tmp_path):
    door = Door(Key.kept_in(tmp_path), PASSCODE)
    scope = {"type": "http", "headers": [], "client": (PHONE, 1), "session": {}}
    compare, start = door_room.hmac.compare_digest, threading.Barrier(20)

    def slowly(one, other):
        time.sleep(0.02)
        return compare(one, other)

    def knock_at_once(_):
        start.wait()
        return door.knock(Request(scope), "wrong")

    monkeypatch.setattr(door_room.hmac, "compare_digest", slowly)
    with ThreadPoolExecutor(20) as pool:
        said = list(pool.map(knock_at_once, range(20)))
    assert sum("not the passcode" in one for one in said) == FREE_TRIES


def test_many_addresses_do_not_fill_the_memory():
    tries = Tries()
    for number in range(5000):
        tries.take(f"fe80::{number:x}")
    assert len(tries._wrong) <= 1024


# ---------------- sessions


def test_the_cookie_is_for_this_site_alone_and_no_script_reads_it(phone):
    told = knock(phone, PASSCODE).headers["set-cookie"].lower()
    assert told.startswith(f"{COOKIE}=")
    assert all(word in told for word in ("httponly", "samesite=strict", "path=/", "max-age="))


def test_a_cookie_that_was_touched_is_worth_nothing(phone):
    knock(phone, PASSCODE)
    signed = phone.cookies[COOKIE]
    # The first character of the signature: the last one carries bits that are not read.
    head, _, signature = signed.rpartition(".")
    touched = f"{head}.{'A' if signature[0] != 'A' else 'B'}{signature[1:]}"
    for forged in (touched, "eyJpZCI6ICIxIn0=", "x" * 5000, ""):
        phone.cookies.clear()
        assert phone.get("/week", headers={"cookie": f"{COOKIE}={forged}"}).status_code == 303


def test_a_new_session_begins_with_every_coming_in(phone):
    knock(phone, PASSCODE)
    first = phone.cookies[COOKIE]
    phone.post("/leave", data={"csrf": token(phone.get("/week").text)})
    knock(phone, PASSCODE)
    assert phone.cookies[COOKIE] != first


def test_a_phone_that_left_is_out_even_with_its_old_cookie_and_after_a_restart(store, tmp_path):
    with client(store, tmp_path, phone=PHONE, **LAN) as phone:
        knock(phone, PASSCODE)
        old = phone.cookies[COOKIE]
        phone.post("/leave", data={"csrf": token(phone.get("/week").text)})
        phone.cookies.clear()
        assert phone.get("/week", headers={"cookie": f"{COOKIE}={old}"}).status_code == 303
    with client(store, tmp_path, phone=PHONE, **LAN) as phone:
        assert phone.get("/week", headers={"cookie": f"{COOKIE}={old}"}).status_code == 303


def test_a_phone_stays_in_over_a_restart_with_another_passcode(store, tmp_path):
    with client(store, tmp_path, phone=PHONE, **LAN) as phone:
        knock(phone, PASSCODE)
        cookie = phone.cookies[COOKIE]
    with client(store, tmp_path, phone=PHONE, **{**LAN, "passcode": "aaaa-bbbb"}) as phone:
        assert phone.get("/week", headers={"cookie": f"{COOKIE}={cookie}"}).status_code == 200


def test_the_key_is_read_by_its_owner_alone(laptop):
    kept = laptop.app.state.bench.folder / KEY_FILE
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    assert len(kept.read_text()) > 64


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"key": 1}', '{"key": "zz", "out": []}', '{"key": "", "out": []}']
)
def test_a_spoiled_key_is_made_anew(store, tmp_path, text):
    (tmp_path / KEY_FILE).write_text(text)
    with client(store, tmp_path) as laptop:
        assert laptop.get("/week").status_code == 200
    assert len((tmp_path / KEY_FILE).read_text()) > 64


# ---------------- changes


def test_every_change_needs_the_token_of_a_page(laptop):
    changing = [one for one in ROUTES if one.method != "GET"]
    assert len(changing) >= 3
    for route in changing:
        path = re.sub(r"\{.*?\}", "1", route.path)
        for data in ({}, {"csrf": ""}, {"csrf": "0" * 64}):
            assert laptop.request(route.method, path, data=data).status_code == 403, route.path


def test_a_token_in_the_head_of_a_fragment_does_too(laptop):
    told = token(laptop.get("/week").text)
    assert laptop.post("/theme", data={"theme": "night"}, headers={"X-CSRF": told}).status_code == 303
    assert laptop.post("/theme", data={"theme": "night"}, headers={"X-CSRF": "x"}).status_code == 403


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://localhost:1", ""])
def test_a_change_from_another_page_is_refused_even_with_a_token(laptop, origin):
    told = {"theme": "night", "csrf": token(laptop.get("/week").text)}
    assert laptop.post("/theme", data=told, headers={"Origin": origin}).status_code == 403
    assert laptop.post("/theme", data=told, headers={"Origin": "http://localhost:8321"}).status_code == 303


def test_the_token_of_one_phone_is_not_that_of_another(store, tmp_path):
    with (
        client(store, tmp_path, phone=PHONE, **LAN) as one,
        client(store, tmp_path, phone=PHONE, **LAN) as other,
    ):
        knock(one, PASSCODE), knock(other, PASSCODE)
        stolen = token(one.get("/week").text)
        assert other.post("/theme", data={"theme": "day", "csrf": stolen}).status_code == 403


def test_what_a_stranger_is_shown_changes_nothing_on_the_laptop(store, tmp_path):
    with (
        client(store, tmp_path, phone=PHONE, **LAN) as stranger,
        client(store, tmp_path, **LAN) as laptop,
    ):
        shown = token(stranger.get("/come-in").text)
        assert laptop.post("/theme", data={"theme": "day", "csrf": shown}).status_code == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
@pytest.mark.parametrize("mode, dest", [("no-cors", "image"), ("cors", "empty"), ("navigate", "iframe")])
def test_a_page_of_another_site_cannot_make_the_bench_work(laptop, site, mode, dest):
    told = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": mode, "Sec-Fetch-Dest": dest}
    assert laptop.get("/laps?laps=200", headers=told).status_code == 403
    assert laptop.get("/week", headers={**told, "Sec-Fetch-Site": "same-origin"}).status_code == 200


def test_a_link_of_another_site_leads_to_the_bench(laptop):
    told = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}
    assert laptop.get("/week", headers=told).status_code == 200


def test_a_theme_brings_nobody_to_another_site(laptop):
    told = {"theme": "night", "csrf": token(laptop.get("/week").text), "at": "//evil.example"}
    assert laptop.post("/theme", data=told).headers["location"] == "/week"


# ---------------- every answer


def paths(laptop):
    yield from ("/week", "/nowhere", "/static/bench.css", "/come-in", "/static/nothing.css")


def test_every_answer_carries_the_headers(laptop):
    for path in paths(laptop):
        headers = laptop.get(path).headers
        assert {name: headers[name] for name in HEADERS} == HEADERS
    refused = laptop.get("/week", headers={"host": "evil.example"})
    assert refused.headers["content-security-policy"] == HEADERS["Content-Security-Policy"]


def test_the_policy_lets_nothing_in_that_is_not_ours():
    told = dict(one.split(" ", 1) for one in HEADERS["Content-Security-Policy"].split("; "))
    assert told["default-src"] == told["base-uri"] == told["frame-ancestors"] == "'none'"
    assert told["script-src"] == told["style-src"] == told["connect-src"] == told["form-action"] == "'self'"


def test_pages_are_not_kept_and_files_are(laptop):
    assert laptop.get("/week").headers["cache-control"] == "no-store"
    assert "immutable" in laptop.get("/static/bench.css").headers["cache-control"]


def test_pages_hold_no_inline_script_or_style(laptop):
    page = read(laptop.get("/week").text)
    assert all(one["src"].startswith("/static/") and not one.text for one in page.all("script"))
    everything = page.all()
    assert not page.all("style")
    assert not [one for one in everything if "style" in one.attributes]
    assert not [name for one in everything for name in one.attributes if name.startswith("on")]


# ---------------- limits, paths, faults


def test_more_than_is_taken_is_refused_before_it_is_read(laptop):
    told = {"X-CSRF": token(laptop.get("/week").text), **FORM}
    assert laptop.post("/theme", content=b"theme=" + b"x" * MOST_SENT, headers=told).status_code == 413


def test_more_than_is_taken_is_refused_also_when_its_length_is_not_said(laptop):
    told = {"X-CSRF": token(laptop.get("/week").text), **FORM}
    answer = laptop.post("/theme", content=(b"x" * 2**16 for _ in range(40)), headers=told)
    assert answer.status_code == 413


@pytest.mark.parametrize("length", ["-1", "1e9", "abc", "0", "99999999999999999999"])
def test_a_length_that_lies_lets_no_more_in(laptop, length):
    told = {"X-CSRF": token(laptop.get("/week").text), "Content-Length": length, **FORM}
    assert laptop.post("/theme", content=b"x" * (MOST_SENT + 1), headers=told).status_code == 413


def test_a_route_that_takes_more_says_how_much(laptop):
    larger = [route for route in ROUTES if route.most != MOST_SENT]
    assert larger and all(MOST_SENT < route.most <= 64 * 2**20 for route in larger)


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static/%2fetc%2fpasswd",
        "/static/bench.css%00",
    ],
)
def test_no_path_of_a_request_is_opened(laptop, path):
    answer = laptop.get(path)
    assert answer.status_code == 404
    assert "import" not in answer.text


def test_a_fault_of_ours_is_one_sentence_with_its_number_in_the_log(laptop, monkeypatch, caplog):
    def broken(*_):
        raise RuntimeError("the secret inside")

    monkeypatch.setattr("ovalwright.web.pages.week.next_for", broken)
    answer = laptop.get("/week")
    said = read(answer.text).one("p", role="alert").text
    number = re.search(r"number ([0-9a-f]{8})", said).group(1)
    assert answer.status_code == 500
    assert "secret" not in answer.text and "Traceback" not in answer.text
    assert number in caplog.text and "the secret inside" in caplog.text
    assert answer.headers["content-security-policy"] == HEADERS["Content-Security-Policy"]


def test_a_stranger_learns_nothing_of_what_is_inside(phone):
    assert not read(phone.get("/come-in").text).all("nav")
    assert Path(phone.get("/come-in").url.path).name == "come-in"
