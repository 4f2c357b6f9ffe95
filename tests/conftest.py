"""What holds for every test."""

from __future__ import annotations

import gc

from tests.browser import browser, page_of  # noqa: F401 - fixtures of all tests of pages

_THRESHOLD = gc.get_threshold()


def pytest_runtest_setup() -> None:
    """Search for cycles as often as Python does by itself: less often, as the command line has it, leaks show late."""
    gc.set_threshold(*_THRESHOLD)
