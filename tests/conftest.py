"""Plumbing shared by all tests: `check` and the evidence, `store_url` and its server, the number of cases."""

import pytest
from hypothesis import settings

pytest_plugins = ("evidence", "servers")

# The same cases every time in the quick run; many and other ones in the proof. Nothing is timed.
settings.register_profile("quick", deadline=None, derandomize=True, max_examples=60)
settings.register_profile("proof", deadline=None, max_examples=2000)


def pytest_configure(config: pytest.Config) -> None:
    settings.load_profile("proof" if config.getoption("markexpr") == "proof" else "quick")
