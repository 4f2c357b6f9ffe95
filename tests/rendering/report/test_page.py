"""The page itself: its policy holds its own parts, data cannot end its block, charts come in as images."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING

from hypothesis import given
from hypothesis import strategies as st

from irspot.rendering.report.page import embedded, report_html
from irspot.rendering.report.values import Chart, Report, TextTable

if TYPE_CHECKING:
    from playwright.sync_api import Page

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="80" height="40" onload="document.title=1">'
    '<script>parent.document.title="taken"</script><rect width="80" height="40" style="fill:#157"/></svg>'
)
EMPTY = TextTable("none", ("a",), ())


def report(**changes: object) -> Report:
    values = {
        "title": "A study", "version": "0", "done": ("Done.",), "counts": (("usable", 0),), "problems": (),
        "warnings": (), "frames": (), "scale": None, "rankings": (), "soaks": (), "checks": (), "charts": (),
        "timelines": (), "when": None, "method": (), "cameras": EMPTY, "emissivities": EMPTY, "digests": EMPTY,
        "flags": (), "cautions": (),
    }  # fmt: skip
    return Report(**(values | changes))  # type: ignore[arg-type]


def test_the_policy_names_the_hashes_of_what_is_inside() -> None:
    text = report_html(report()).decode()
    policy = unescape(re.findall(r'Content-Security-Policy" content="([^"]+)"', text)[0])
    for tag in ("style", "script"):
        (inside,) = re.findall(rf"<{tag}>(.*?)</{tag}>", text, re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(inside.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy
    assert " style=" not in text, "the policy lets no style attribute through"


@given(st.recursive(st.text() | st.integers(-9, 9) | st.none(), lambda inner: st.lists(inner, max_size=4)))
def test_data_comes_back_and_holds_no_markup(value: object) -> None:
    text = embedded(value)
    assert json.loads(text) == value
    assert not set("<>&\u2028\u2029") & set(text)


def test_a_chart_is_an_image_that_cannot_act(tmp_path: Path, page_of: Callable[..., Page]) -> None:
    chart = Chart('Rises <b>"K"</b>', "k7 50.5 K", SVG.encode())
    path = tmp_path / "report.html"
    path.write_bytes(report_html(report(charts=(chart,))))
    page = page_of(path)
    image = page.locator(".chart img")
    assert image.evaluate("image => image.decode().then(() => image.naturalWidth)") == 80
    assert image.get_attribute("alt") == "k7 50.5 K"
    assert page.locator(".chart figcaption").inner_text() == 'Rises <b>"K"</b>'
    assert page.title() == "A study – irspot report"
