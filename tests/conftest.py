"""Plumbing shared by all tests: the `check` fixture, the evidence file, the number of drawn cases."""

import pytest
from hypothesis import settings

pytest_plugins = ("evidence",)

# The same cases every time in the quick run; many and other ones in the proof. Nothing is timed.
settings.register_profile("quick", deadline=None, derandomize=True, max_examples=60)
settings.register_profile("proof", deadline=None, max_examples=2000)


def pytest_configure(config: pytest.Config) -> None:
    settings.load_profile("proof" if config.getoption("markexpr") == "proof" else "quick")
