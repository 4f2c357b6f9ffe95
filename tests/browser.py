"""A real headless Chromium for the tests of pages.

``page_of`` opens a page and holds it to what every page of ours must keep to: nothing written to the console as an
error (broken rules of a content security policy stand there too), no uncaught exception, nothing asked of another
place than the page's own. Without a browser these tests are skipped, with the reason; where ``IRSPOT_NEEDS_BROWSER``
is 1 they fail instead, so that nobody takes their silence for success.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
INSIDE = ("data", "blob", "about")
"""Schemes that fetch nothing."""


@dataclass
class Watch:
    """What a page did that none may do."""

    origin: str
    faults: list[str] = field(default_factory=list)

    def attach(self, page: Page) -> None:
        page.on("console", lambda message: self._told(message.type, message.text))
        page.on("pageerror", lambda error: self.faults.append(f"uncaught: {error}"))
        page.on("request", lambda request: self._asked(request.url))

    def _told(self, kind: str, text: str) -> None:
        if kind == "error":
            self.faults.append(f"console: {text}")

    def _asked(self, url: str) -> None:
        parts = urlsplit(url)
        if parts.scheme not in INSIDE and f"{parts.scheme}://{parts.netloc}" != self.origin:
            self.faults.append(f"asked for {url}")


def browser_file() -> str | None:
    """Find the browser: what IRSPOT_BROWSER names, else the first of the usual names on the path."""
    named = os.environ.get("IRSPOT_BROWSER")
    return named or next((found for name in NAMES if (found := shutil.which(name))), None)


def _none_here(reason: str) -> None:
    if os.environ.get("IRSPOT_NEEDS_BROWSER") == "1":
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all tests of a session; each page gets a fresh profile of its own."""
    file = browser_file()
    if file is None:
        _none_here("no Chromium found: install one, or name it in IRSPOT_BROWSER")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _none_here("playwright is not installed: pip install -e '.[test]'")
    with sync_playwright() as driver:
        # No sandbox: tests may run as root in a container, and only pages of ours are opened.
        started = driver.chromium.launch(executable_path=file, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


@pytest.fixture
def page_of(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Open pages: ``page_of(path_or_url, offline=True, **options)`` with options of playwright's ``new_context``.

    A path is opened from disk, without a network. A page served by a test's own server is given by its url with
    ``offline=False``. At the end of the test every page must have kept to the rules above.
    """
    contexts, watches = [], []

    def opened(place: Path | str, *, offline: bool = True, **options: Any) -> Page:
        url = place.resolve().as_uri() if isinstance(place, Path) else place
        parts = urlsplit(url)
        context = browser.new_context(offline=offline, **options)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(15_000)
        watch = Watch(f"{parts.scheme}://{parts.netloc}")
        watches.append(watch)
        watch.attach(page)
        page.goto(url)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert [fault for watch in watches for fault in watch.faults] == []


def accessibility_faults(page: Page) -> list[str]:
    """Check a page with axe-core: WCAG 2.2 A and AA (contrast, names, roles, keyboard) and its best practices.

    The page must have been opened with ``bypass_csp=True``: a policy that lets nothing in keeps the checker out too.

    Returns
    -------
    list of str
        One line a fault; empty is good.
    """
    import axe_core_python

    source = Path(axe_core_python.__file__).with_name("axe.min.js").read_text(encoding="utf-8")
    page.add_script_tag(content=source)
    found = page.evaluate("() => axe.run(document)")
    return [
        f"{fault['id']} ({fault['impact']}): {fault['help']}: {node['html'][:120]} {node['failureSummary'][:300]}"
        for fault in found["violations"]
        for node in fault["nodes"]
    ]
