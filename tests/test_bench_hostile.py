"""Hostile values at every address of the bench, by its OpenAPI: no fault of ours, no traceback, a notebook
that stays whole. A sample each time; all of it, and schemathesis besides, as proof.
"""

from __future__ import annotations

import contextlib
import itertools
import random
import warnings
from collections import Counter
from urllib.parse import quote

import httpx
import pytest
import sqlalchemy as sa
from benches import read, token
from browser import served
from hypothesis import HealthCheck, given, settings
from hypothesis.errors import Unsatisfiable

from ovalwright.notebook.tables import Entry

HOSTILE = (
    "",
    " ",
    "0",
    "-1",
    "1e999",
    "nan",
    "99999999999999999999999",
    "'; DROP TABLE run; --",
    "<script>alert(1)</script>",
    "{{ 7 * 7 }}",
    "../../etc/passwd",
    "\x00",
    "\ud7ff\uffff",
    "\u202eevil",
    "é" * 300,
    "a" * 5000,
    "[]",
    '{"a": [1e400, null]}',
    "2026-02-30",
    "None",
    "RR +1/2",
    "http://evil.example/",
)
SAMPLED = 3
"""Hostile values for each address in the quick run."""


def operations(client):
    """Every address with its method, the names of its values, and which of them stand in the path."""
    for path, methods in client.app.openapi()["paths"].items():
        for method, told in methods.items():
            asked = {one["name"]: one["in"] for one in told.get("parameters", ())}
            yield method.upper(), path, asked, _form(client, told)


def _form(client, told):
    for kind, body in told.get("requestBody", {}).get("content", {}).items():
        shape = body["schema"]
        if "$ref" in shape:
            shape = client.app.openapi()["components"]["schemas"][shape["$ref"].rpartition("/")[2]]
        return kind, list(shape.get("properties", ()))
    return "", []


def send(client, method, path, asked, form, values, csrf, headers=None):
    """One request with these values in turn for all it takes."""
    values = itertools.cycle(values)
    for name, where in asked.items():
        if where == "path":
            path = path.replace(f"{{{name}}}", _in_a_path(next(values)))
    query = {name: next(values) for name, where in asked.items() if where == "query"}
    kind, names = form
    data = {name: next(values) for name in names}
    sent = {"X-CSRF": csrf, **(headers or {})}
    if "multipart" in kind:
        files = {name: ("../../evil", value.encode("utf-8", "replace")) for name, value in data.items()}
        return client.request(method, path, params=query, files=files, headers=sent)
    return client.request(method, path, params=query, data=data or None, headers=sent)


def _in_a_path(value):
    return quote(value.encode("utf-8", "replace"), safe="") or "-"


def assert_harmless(answer, what):
    assert answer.status_code < 500, what
    assert "Traceback" not in answer.text, what
    if "<script>alert(1)</script>" in answer.text:
        raise AssertionError(f"a script came back alive: {what}")
    if answer.headers.get("content-type", "").startswith("text/html") and "<html" in answer.text:
        page = read(answer.text)
        assert page.all("h1"), what


def entries(client):
    """How many entries the notebook holds, which only ever grow; it is found whole."""
    with client.app.state.bench.store.reading() as session:
        assert session.execute(sa.text("PRAGMA integrity_check")).scalar() == "ok"
        return session.scalar(sa.select(sa.func.count()).select_from(Entry))


def try_values(client, how_many):
    dice = random.Random(7)
    csrf = token(client.get("/week").text)
    tried = 0
    for method, path, asked, form in operations(client):
        values = list(HOSTILE) if how_many is None else dice.sample(HOSTILE, how_many)
        takes = len(asked) + len(form[1])
        for start in range(len(values)) if takes else (0,):
            turned = values[start:] + values[:start]
            for given_values in ([turned[0]], turned)[: max(takes, 1)]:
                answer = send(client, method, path, asked, form, given_values, csrf)
                assert_harmless(answer, (method, path, given_values[:3]))
                tried += 1
    return tried


def test_hostile_values_do_no_harm(season_client):
    before = entries(season_client)
    assert try_values(season_client, SAMPLED) > 30
    assert entries(season_client) >= before


@pytest.mark.proof
def test_all_hostile_values_do_no_harm(season_client):
    before = entries(season_client)
    assert try_values(season_client, None) > 200
    assert entries(season_client) >= before


def test_every_address_stands_what_is_no_form(season_client):
    csrf = token(season_client.get("/week").text)
    kinds = (
        "application/json",
        "text/plain",
        "multipart/form-data; boundary=x",
        "multipart/form-data",
        "\x7f",
    )
    bodies = (b"{", b"\xff\xfe\x00", b"--x\r\n", b"[[" * 200, b"a=%ff%fe&b=%00")
    for method, path, _, _ in operations(season_client):
        if method == "POST":
            for kind, body in zip(kinds, bodies, strict=True):
                answer = season_client.post(
                    path.replace("{", "").replace("}", ""),
                    content=body,
                    headers={"Content-Type": kind, "X-CSRF": csrf},
                )
                assert_harmless(answer, (path, kind))


def test_every_address_says_no_to_another_method(season_client):
    for method, path, _, _ in operations(season_client):
        for other in ("PUT", "DELETE", "PATCH", "TRACE"):
            if other != method:
                assert season_client.request(other, path).status_code in (403, 404, 405)


def try_operation(operation, mode, address, csrf):
    """Values that its schema allows, or does not, at one address; how often each was asked."""
    name = f"{operation.method} {operation.path}"
    counts: Counter[str] = Counter()

    @settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
    @given(case=operation.as_strategy(generation_mode=mode))
    def try_one(case):
        answer = case.call(base_url=address, headers={"X-CSRF": csrf}, timeout=60)
        counts[name] += 1
        assert answer.status_code < 500, (name, answer.content[-400:])
        assert b"Traceback" not in answer.content

    with contextlib.suppress(Unsatisfiable):  # an address that takes no value has no wrong one
        try_one()
    return counts


@pytest.mark.proof
def test_schemathesis_finds_no_fault(season_store, season_client, tmp_path):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import schemathesis

    schema = schemathesis.openapi.from_dict(season_client.app.openapi())
    with served(season_store, tmp_path) as address:
        csrf = token(httpx.get(f"{address}/week").text)
        counts: Counter[str] = Counter()
        for found in schema.get_all_operations():
            for mode in schemathesis.GenerationMode:
                counts.update(try_operation(found.ok(), mode, address, csrf))
    assert counts.total() > 500
