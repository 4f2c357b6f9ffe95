"""The watch over pages sees what it is there to see."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.browser import Watch, accessibility_faults

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

POLICY = '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'">'


def test_a_quiet_page_is_left_alone(tmp_path: Path, page_of: Callable[..., Page]) -> None:
    path = tmp_path / "quiet.html"
    path.write_text("<!doctype html><html lang=en><title>quiet</title><main><h1>quiet</h1></main></html>")
    assert page_of(path).title() == "quiet"


@pytest.mark.parametrize(
    ("body", "fault"),
    [
        ("<script>console.error('broken')</script>", "console: broken"),
        ("<script>throw new Error('thrown')</script>", "uncaught: "),
        ("<img src='http://192.0.2.1/x.png'>", "asked for http://192.0.2.1/x.png"),
        (f"{POLICY}<script>1</script>", "console: Executing inline script"),
    ],
)
def test_a_loud_page_is_caught(tmp_path: Path, browser: Browser, body: str, fault: str) -> None:
    path = tmp_path / "loud.html"
    path.write_text(f"<!doctype html><html lang=en><head><title>loud</title>{body}</head></html>")
    context = browser.new_context(offline=True)
    page = context.new_page()
    watch = Watch("file://")
    watch.attach(page)
    page.goto(path.as_uri())
    page.wait_for_timeout(50)
    context.close()
    assert any(found.startswith(fault) for found in watch.faults), watch.faults


def test_the_accessibility_check_finds_faint_text(tmp_path: Path, page_of: Callable[..., Page]) -> None:
    path = tmp_path / "faint.html"
    path.write_text(
        "<!doctype html><html lang=en><title>faint</title><body><main><h1>faint</h1>"
        "<p style='color:#ddd;background:#fff'>hardly seen</p></main></html>"
    )
    faults = accessibility_faults(page_of(path, bypass_csp=True))
    assert [fault.split()[0] for fault in faults] == ["color-contrast"]
