"""Every page of the bench as it looks: on a phone and on a laptop, by day and by night, as PNG files.

Run as `python tools/screenshots.py FOLDER [NOTEBOOK]`; without a notebook the demo's season is entered.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from browser import FLAGS, LAPTOP, PHONE, chromium_path, served  # noqa: E402

from ovalwright.notebook import season  # noqa: E402
from ovalwright.notebook.store import Store  # noqa: E402
from ovalwright.web.places import PLACES  # noqa: E402
from ovalwright.web.routes import ROUTES  # noqa: E402

SIZES = {"phone": PHONE, "laptop": LAPTOP}
THEMES = {"day": "light", "night": "dark"}
SETTLED = 2500
"""How long [ms] a page is given to fetch what it fetches later."""
PATIENCE = 120_000
"""How long [ms] what is worked out for a page may take."""


def pictures(browser: Browser, address: str, folder: Path) -> Iterator[Path]:
    """One file after the other."""
    for size, (width, height) in SIZES.items():
        for theme, scheme in THEMES.items():
            context = browser.new_context(
                viewport={"width": width, "height": height}, color_scheme=scheme, has_touch=size == "phone"
            )
            page = context.new_page()
            for place in PLACES:
                if any(route.path == place.path for route in ROUTES):
                    page.goto(address + place.path)
                    page.wait_for_timeout(SETTLED)
                    page.locator("section.progress").wait_for(state="detached", timeout=PATIENCE)
                    whole = page.evaluate("document.documentElement.scrollHeight")
                    page.set_viewport_size({"width": width, "height": max(height, whole)})
                    path = folder / f"{place.path.strip('/')}-{size}-{theme}.png"
                    page.screenshot(path=path)
                    page.set_viewport_size({"width": width, "height": height})
                    yield path
            context.close()


def main(words: list[str]) -> int:
    """Take all pictures; 1 without a browser."""
    if not words:
        print(__doc__)
        return 2
    if not chromium_path():
        print("Chromium is not here: `apt install chromium`.")
        return 1
    folder = Path(words[0])
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as own:
        notebook = Path(words[1]) if len(words) > 1 else Path(own) / "season.sqlite"
        with Store.open(notebook, by=season.OWNER) as store:
            if len(words) == 1:
                season.enter(store)
            with served(store, Path(own)) as address, sync_playwright() as driver:
                browser = driver.chromium.launch(executable_path=chromium_path(), args=list(FLAGS))
                for path in pictures(browser, address, folder):
                    print(path)
                browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
