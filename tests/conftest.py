"""Plumbing shared by all tests: the `check` fixture and the evidence file come from `evidence.py`."""

pytest_plugins = ("evidence",)
