"""Every page of the bench as it is met: crawled by its links and forms, in a browser, by hand, by ear."""

from __future__ import annotations

import pytest
from benches import read
from browser import LAPTOP, PHONE, served

from ovalwright.web.places import PLACES
from ovalwright.web.routes import ROUTES

PATHS = [place.path for place in PLACES if any(route.path == place.path for route in ROUTES)]


@pytest.fixture(scope="module")
def address(season_store, tmp_path_factory):
    with served(season_store, tmp_path_factory.mktemp("bench")) as found:
        yield found


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_no_page_has_a_fault_or_is_too_wide(window, address, size, theme):
    here = window(size, theme=theme)
    for path in PATHS:
        here.page.goto(address + path)
        assert here.told() == [], path
        assert not here.is_too_wide(), path


def test_every_page_has_one_heading_and_says_where_it_is(season_client):
    for place in PLACES:
        if place.path in PATHS:
            page = read(season_client.get(place.path).text)
            assert len(page.all("h1")) == 1
            assert {one["href"] for one in page.all("a", aria_current="page")} == {place.path}
