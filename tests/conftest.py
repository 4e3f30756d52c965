"""Plumbing shared by all tests: `check` and the evidence, `store_url` and its server, the demo's season, the
bench and its browser, the number of cases.
"""

from collections.abc import Iterator

import pytest
from hypothesis import settings

pytest_plugins = ("a_week", "begun", "benches", "at_the_turn", "browser", "evidence", "servers")

# The same cases every time in the quick run; many and other ones in the proof. Nothing is timed.
settings.register_profile("quick", deadline=None, derandomize=True, max_examples=60)
settings.register_profile("proof", deadline=None, max_examples=2000)


def pytest_configure(config: pytest.Config) -> None:
    settings.load_profile("proof" if config.getoption("markexpr") == "proof" else "quick")


@pytest.fixture(scope="session", autouse=True)
def no_notebook_of_his_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No test may touch the notebook of whoever runs the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("OVALWRIGHT_NOTEBOOK", str(tmp_path_factory.mktemp("notebook") / "notebook.sqlite"))
        patch.setenv("OVALWRIGHT_NAME", "tester")
        yield
