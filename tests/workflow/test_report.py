"""report.html of a study, opened in a real browser from disk: it reads what the table says, and asks nobody else."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from irspot.uncertain import rounded, with_uncertainty
from irspot.workflow.run import StudyResult, run_study
from tests.browser import accessibility_faults
from tests.tiny import BOARD, CAMERA, STUDY, write_tiny
from tests.workflow.logged_study import write_logged

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

PHONE: dict[str, Any] = {
    "viewport": {"width": 360, "height": 740},
    "device_scale_factor": 2,
    "has_touch": True,
    "is_mobile": True,
}
HOSTILE = "</script><script>document.title='taken'</script><img src=x onerror=\\\"document.title='taken'\\\">"
SHOWN = ".frame:not([hidden])"


def report_of(study: Path, out: Path) -> StudyResult:
    with ThreadPoolExecutor(1) as pool:
        return run_study(study, out, pool, size=(960, 540))


@pytest.fixture(scope="module")
def tiny(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("report")
    assert report_of(write_tiny(folder / "s"), folder / "out").problems == ()
    return folder / "out"


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tiny study with names that would like to be markup, one run that fails, and one with a refused frame."""
    folder = tmp_path_factory.mktemp("hostile")
    path = write_tiny(folder / "s", STUDY.replace("Tiny study (invented)", HOSTILE))
    board = BOARD.replace("Wren W1 (invented)", HOSTILE).replace("Power stages ≥ µ", HOSTILE)
    (folder / "s" / "boards" / "w1.toml").write_text(board, encoding="utf-8")
    text = path.read_text(encoding="utf-8")
    text = text.replace('id = "w1-stock-rear"', 'id = "w1-stock-rear"\nrejected = "fan <b>off</b>"')
    text += '[[run]]\nid = "gone"\nboard = "w1"\nload = "stock"\nside = "front"\nframes = "frames/none-*.tiff"\n'
    text += (
        '[[run]]\nid = "lost"\nboard = "w1"\nload = "stock"\nside = "front"\nframes = "frames/rear.tiff"\n'
        "corners_px = [[15, 84], [16, 84], [17, 84], [18, 84]]\n"
    )
    path.write_text(text, encoding="utf-8")
    assert report_of(path, folder / "out").problems
    return folder / "out"


def rows_of(out: Path, frame: str) -> list[dict[str, str]]:
    table = csv.DictReader(io.StringIO((out / "results.csv").read_text(encoding="utf-8")))
    return [row for row in table if row["frame"] == frame]


def ready(page: Page) -> Page:
    page.wait_for_selector("html[data-ready]", state="attached")
    return page


def opened(out: Path, page_of: Callable[..., Page], **options: Any) -> Page:
    return ready(page_of(out / "report.html", **options))


def frame_px(page: Page, x_px: float, y_px: float) -> tuple[float, float]:
    """Carry a place of the frame into the window, by what the page's drawing says of itself."""
    stage = page.locator(f"{SHOWN} .stage")
    stage.scroll_into_view_if_needed()
    box = stage.bounding_box()
    assert box is not None
    x0, y0, width, height = (float(n) for n in (stage.locator("svg").get_attribute("viewBox") or "").split())
    return box["x"] + (x_px - x0) / width * box["width"], box["y"] + (y_px - y0) / height * box["height"]


def says(page: Page) -> tuple[str, str]:
    probe = page.locator(f"{SHOWN} .probe")
    return probe.locator("b").inner_text(), probe.inner_text()


def cells(row: Locator) -> tuple[str, str]:
    return row.locator(".max").inner_text().split("\n")[-1], row.locator(".pixel").inner_text().split("\n")[-1]


def assert_reads_as_the_table(page: Page, out: Path, frame: str) -> int:
    """Point at every hot spot of the frame shown; count them."""
    read = 0
    for number, row in enumerate(rows_of(out, frame)):
        assert row["hot_x_px"]
        page.mouse.move(*frame_px(page, round(float(row["hot_x_px"])), round(float(row["hot_y_px"]))))
        value, text = says(page)
        maximum, pixel = cells(page.locator(f"{SHOWN} .zone-row").nth(number))
        assert value == f"{pixel} °C" == f"{rounded(float(row['pixel_max_degc']), 1)} °C"
        assert f"maximum {maximum} °C" in text
        assert row["verdict"] == "usable"
        assert maximum == with_uncertainty(float(row["max_degc"]), float(row["U_max_k"]))
        assert f"{float(row['hot_x_mm']):.0f}" in text
        read += 1
    return read


def test_the_pointer_reads_what_the_table_says(tiny: Path, page_of: Callable[..., Page]) -> None:
    page = opened(tiny, page_of)
    assert assert_reads_as_the_table(page, tiny, "front-1.tiff") == 3
    page.locator("#after").click()
    assert assert_reads_as_the_table(page, tiny, "front-2.tiff") == 3
    page.locator("#run").select_option(label="Wren W1 (invented): stock, rear")
    assert assert_reads_as_the_table(page, tiny, "rear.tiff") == 2


def test_every_pixel_reads_what_was_measured_there(tiny: Path, page_of: Callable[..., Page]) -> None:
    page = opened(tiny, page_of)
    # The tiny study's bench is at 22 °C, its board at 40 °C with emissivity 0.9 in surroundings at 22 °C.
    page.mouse.move(*frame_px(page, 12, 50))
    value, text = says(page)
    assert (value, "beside the board" in text) == ("22.0 °C", True)
    page.mouse.move(*frame_px(page, 100, 20))
    value, text = says(page)
    assert float(value.split()[0]) == pytest.approx(41.9, abs=0.15)
    assert "elsewhere on the board" in text
    assert "at 85.0, 64.0 mm · px 100, 20" in text


def test_places_are_the_placements_own_through_a_bent_lens(tmp_path: Path, page_of: Callable[..., Page]) -> None:
    from irspot.camera import Optics
    from irspot.registration.distortion import undistort

    study = write_tiny(tmp_path / "s")
    optics = Optics(focal_px=150.0, distortion=(-0.2, 0.05, 0.001, -0.002, 0.0))
    bent = f"{CAMERA}[optics]\nfocal_px = 150.0\ndistortion = {list(optics.distortion)}\n"
    (tmp_path / "s" / "camera.toml").write_text(bent, encoding="utf-8")
    report_of(study, tmp_path / "out")
    document = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    matrix = np.linalg.inv(document["runs"][0]["frames"][0]["placement"]["matrix_mm_to_px"])
    page = opened(tmp_path / "out", page_of)
    for x_px, y_px in ((16, 16), (113, 18), (66, 50), (20, 82), (112, 83)):
        page.mouse.move(*frame_px(page, x_px, y_px))
        straight = undistort(np.array([[float(x_px), float(y_px)]]), optics, (131, 97))[0]
        x, y, depth = matrix @ [*straight, 1.0]
        assert f"at {x / depth:.1f}, {y / depth:.1f} mm" in says(page)[1]


def test_the_keyboard_reads_the_same(tiny: Path, page_of: Callable[..., Page]) -> None:
    page = opened(tiny, page_of)
    stage = page.locator(f"{SHOWN} .stage")
    stage.focus()
    page.keyboard.press("Home")
    maximum, pixel = cells(page.locator(f"{SHOWN} .zone-row").nth(0))
    assert says(page)[0] == f"{pixel} °C"
    page.keyboard.press("PageDown")
    assert says(page)[0] == f"{cells(page.locator(f'{SHOWN} .zone-row').nth(1))[1]} °C"
    page.keyboard.press("PageUp")
    assert f"maximum {maximum} °C" in says(page)[1]
    # From the blunt peak at px 35, 36 one pixel to the right it is half a kelvin cooler.
    page.keyboard.press("ArrowRight")
    assert "px 36, 36" in says(page)[1]
    assert float(says(page)[0].split()[0]) == pytest.approx(float(pixel) - 0.5, abs=0.051)
    page.keyboard.press("Shift+ArrowDown")
    assert "px 36, 46" in says(page)[1]
    page.keyboard.press("Escape")
    assert page.locator(f"{SHOWN} .cross path").count() == 0


def test_touch_reads_the_same_on_a_phone(tiny: Path, page_of: Callable[..., Page]) -> None:
    page = opened(tiny, page_of, **PHONE)
    row = rows_of(tiny, "front-1.tiff")[0]
    page.touchscreen.tap(*frame_px(page, round(float(row["hot_x_px"])), round(float(row["hot_y_px"]))))
    maximum, pixel = cells(page.locator(f"{SHOWN} .zone-row").nth(0))
    assert says(page)[0] == f"{pixel} °C"
    assert f"maximum {maximum} °C" in says(page)[1]
    assert page.evaluate("document.documentElement.scrollWidth") <= 360, "nothing runs out of a phone's screen"


def test_zones_light_up_both_ways(tiny: Path, page_of: Callable[..., Page]) -> None:
    page = opened(tiny, page_of)
    lit = f"{SHOWN} .lit"
    row = page.locator(f"{SHOWN} .zone-row").nth(1)
    row.hover()
    assert page.locator(f"{SHOWN} path.zone.lit").get_attribute("data-zone") == row.get_attribute("data-zone")
    assert "Power stages" not in says(page)[1], "the row's own zone is read"
    page.mouse.move(0, 0)
    assert page.locator(lit).count() == 0
    page.mouse.move(*frame_px(page, 35, 36))
    assert page.locator(f"{SHOWN} .zone-row.lit .find").inner_text() == "Power stages ≥ µ"
    page.locator(f"{SHOWN} .find").nth(1).focus()
    assert page.locator(f"{SHOWN} .zone-row.lit .find").inner_text() == "chip"


def test_runs_switch_on_one_scale_and_keep_the_zone(tiny: Path, page_of: Callable[..., Page]) -> None:
    page = opened(tiny, page_of)
    assert page.locator(SHOWN).count() == 1
    page.locator(f"{SHOWN} .find").nth(1).click()
    page.locator("#after").click()
    assert page.locator(f"{SHOWN} .facts").inner_text().find("front-2.tiff") > 0
    assert page.locator(f"{SHOWN} .zone-row.lit .find").inner_text() == "chip"
    scales = page.locator("svg.scale")
    assert {scales.nth(i).get_attribute("aria-label") for i in range(scales.count())} == {
        scales.first.get_attribute("aria-label")
    }
    # A temperature has the same colour in every image: that of the study's scale.
    document = json.loads((tiny / "results.json").read_text(encoding="utf-8"))
    low, high = document["settings"]["scale_degc"]
    from irspot.rendering.colors import color_scale

    scale = color_scale("inferno", (low, high))
    for number, (x, y) in ((1, (75, 55)), (2, (35, 36))):
        page.locator("#run").select_option(str(number))
        page.mouse.move(*frame_px(page, x, y))
        value = float(says(page)[0].split()[0])
        view = [float(n) for n in (page.locator(f"{SHOWN} .stage svg").get_attribute("viewBox") or "").split()]
        drawn = page.locator(f"{SHOWN} canvas").evaluate(
            "(canvas, [x, y]) => [...canvas.getContext('2d').getImageData(x, y, 1, 1).data]",
            [x - view[0] - 0.5, y - view[1] - 0.5],
        )
        assert tuple(drawn[:3]) == scale.color_of(value)


def test_a_link_of_the_summary_shows_its_run(tiny: Path, page_of: Callable[..., Page]) -> None:
    page = opened(tiny, page_of)
    page.locator(".matrix a").last.click()
    assert page.locator(f"{SHOWN} h3").inner_text() == "Wren W1 (invented): stock, rear"
    assert page.evaluate("document.activeElement.textContent") == "Wren W1 (invented): stock, rear"


def test_budget_and_verdict_stand_behind_each_reading(tiny: Path, page_of: Callable[..., Page]) -> None:
    page = opened(tiny, page_of)
    button = page.locator(f"{SHOWN} .budget").first
    assert button.get_attribute("aria-expanded") == "false"
    button.focus()
    page.keyboard.press("Enter")
    assert button.get_attribute("aria-expanded") == "true"
    text = page.locator(f"{SHOWN} .more").inner_text()
    budget = page.locator(f"{SHOWN} .more table").inner_text()
    row = json.loads((tiny / "results.json").read_text(encoding="utf-8"))["rows"][0]
    assert f"Verdict: {row['verdict']}" in text
    for term in row["budget"]:
        assert (term["name"] in budget) == (term["u_k"] > 0.0)
    assert all(flag in text for flag in row["flags"])
    page.keyboard.press("Enter")
    assert not page.locator(f"{SHOWN} .more").is_visible()


def test_hostile_names_stay_text(hostile: Path, page_of: Callable[..., Page]) -> None:
    page = opened(hostile, page_of)
    name = HOSTILE.replace("\\", "")
    assert page.title() == f"{name} – irspot report"
    assert page.locator("h1").inner_text() == name
    assert page.locator(f"{SHOWN} .find").first.inner_text() == name
    page.locator(f"{SHOWN} .find").first.click()
    page.locator(f"{SHOWN} .budget").first.click()
    assert name in says(page)[1]
    assert page.locator("img").count() == 0
    assert page.locator("script").count() == 1 + 1 + 4, "the script, the data, and a grid for each frame"


def test_what_failed_stands_in_the_summary(hostile: Path, page_of: Callable[..., Page]) -> None:
    page = opened(hostile, page_of)
    failed = page.locator("#summary .problems").first.inner_text()
    assert "gone" in failed
    assert "lost" in failed
    page.locator("#run").select_option(str(2))
    assert page.locator(f"{SHOWN} p.problems").inner_text() == "This run does not count: rejected, fan <b>off</b>"
    assert "rejected, fan <b>off</b>" in page.locator(".matrix").inner_text()
    page.locator("#run").select_option(str(3))
    refused = page.locator(f"{SHOWN} p.problems").inner_text()
    assert refused.startswith("The board was not placed in this frame: ")
    assert page.locator(f"{SHOWN} .verdict").first.inner_text().strip().startswith("✕ retake")
    page.mouse.move(*frame_px(page, 12, 50))
    assert says(page)[0] == "22.0 °C", "a frame without a placement still reads"


@pytest.mark.parametrize(("scheme", "size"), [("light", (1280, 900)), ("dark", (360, 740))])
def test_accessible(hostile: Path, page_of: Callable[..., Page], scheme: str, size: tuple[int, int]) -> None:
    options = {"color_scheme": scheme, "viewport": {"width": size[0], "height": size[1]}}
    page = opened(hostile, page_of, bypass_csp=True, **options)
    page.locator(f"{SHOWN} .budget").first.click()
    page.locator(f"{SHOWN} .find").first.click()
    assert accessibility_faults(page) == []


def test_every_run_prints(tiny: Path, page_of: Callable[..., Page]) -> None:
    page = opened(tiny, page_of)
    page.emulate_media(media="print")
    assert page.locator(".frame:visible").count() == 3
    assert page.locator(".stage canvas:visible").count() == 3
    assert not page.locator("#switch").is_visible()
    # Every canvas is painted, not only the one that was looked at.
    for canvas in page.locator("canvas").all():
        data = canvas.evaluate("c => [...c.getContext('2d').getImageData(0, 0, c.width, c.height).data.slice(0, 4)]")
        assert data[3] == 255
    page.emulate_media(media="null")
    pdf = page.pdf(prefer_css_page_size=True)
    pages = len(re.findall(rb"/Type\s*/Page\b", pdf))
    images = len(re.findall(rb"/Subtype\s*/Image\b", pdf))
    assert pages >= 4
    assert images >= 3


def test_without_scripts_every_number_is_there(tiny: Path, page_of: Callable[..., Page]) -> None:
    page = page_of(tiny / "report.html", java_script_enabled=False)
    assert page.locator(".frame:visible").count() == 3
    assert page.locator(".zone-row:visible").count() == 8
    assert page.locator(".stage:visible, .budget:visible").count() == 0


def test_a_rerun_gives_the_same_bytes_and_results_json_lists_them(tiny: Path, tmp_path: Path) -> None:
    report_of(write_tiny(tmp_path / "elsewhere"), tmp_path / "out")
    assert (tmp_path / "out" / "report.html").read_bytes() == (tiny / "report.html").read_bytes()
    outputs = json.loads((tiny / "results.json").read_text(encoding="utf-8"))["outputs"]
    assert "report.html" in outputs


@pytest.fixture(scope="module")
def logged(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("logged")
    study = write_logged(folder, offset_s=12.0, extra='sample_s = 4.0\nsteady_rule = "2 K/h"\n')
    assert report_of(study, folder / "out").problems == ()
    return folder / "out"


def test_soaks_beads_and_curves_say_what_their_tables_say(logged: Path, page_of: Callable[..., Page]) -> None:
    page = opened(logged, page_of)
    soaks = list(csv.DictReader(io.StringIO((logged / "soak.csv").read_text(encoding="utf-8"))))
    shown = page.locator("#soaks tbody tr")
    assert shown.count() == len(soaks)
    for number, row in enumerate(soaks):
        texts = shown.nth(number).locator("th, td").all_inner_texts()
        assert texts[1] == row["zone"]
        assert texts[2] == (
            with_uncertainty(float(row["last_degc"]), float(row["U_last_k"])) if row["last_degc"] else "–"
        )
        assert texts[5] == (row["steady"] or "–")
    checks = list(csv.DictReader(io.StringIO((logged / "crosscheck.csv").read_text(encoding="utf-8"))))
    texts = page.locator("#checks tbody tr").first.locator("th, td").all_inner_texts()
    assert texts[1] == checks[0]["site"]
    assert texts[2] == with_uncertainty(float(checks[0]["bead_degc"]), float(checks[0]["U_bead_k"]))
    assert "one bead at" in page.locator("#checks").inner_text()
    label = page.locator("#soaks .curves svg").get_attribute("aria-label") or ""
    assert all(name in label for name in ("ps", "chip", "tc1", "tc2"))
    assert page.locator("#soaks .curves path.curve").count() == 2 * 5, (
        "two zones, elsewhere, two beads; each with its key"
    )


def test_a_page_with_curves_is_accessible(logged: Path, page_of: Callable[..., Page]) -> None:
    page = opened(logged, page_of, bypass_csp=True, viewport={"width": 360, "height": 740})
    assert accessibility_faults(page) == []


TWIN = """\
[[board]]
id = "w2"
file = "boards/w1.toml"
price = 99.0
currency = "EUR"
[[run]]
id = "w2-stock-front"
board = "w2"
load = "stock"
side = "front"
frames = "frames/front-2.tiff"
corners_px = [[15, 84], [115, 84], [115, 14], [15, 14]]
top = "up"
ambient_degc = 21.5
"""


def test_the_ranking_says_what_compare_csv_says(tmp_path: Path, page_of: Callable[..., Page]) -> None:
    report_of(write_tiny(tmp_path / "s", STUDY + TWIN), tmp_path / "out")
    page = opened(tmp_path / "out", page_of)
    text = (tmp_path / "out" / "compare.csv").read_text(encoding="utf-8")
    compared = [row for row in csv.DictReader(io.StringIO(text)) if row["rank"]]
    assert {row["board"] for row in compared} == {"w1", "w2"}
    shown = [
        row.locator("th, td").all_inner_texts()
        for table in page.locator("#ranking table").all()
        if table.locator("thead th").first.inner_text() == "rank"
        for row in table.locator("tbody tr").all()
    ]
    assert [(cells[0], cells[1], cells[4]) for cells in shown] == [
        (row["rank"], row["tie_group"] or "–", with_uncertainty(float(row["ranked_rise_k"]), float(row["U_k"])))
        for row in compared
    ]


def test_of_many_frames_the_last_are_shown_and_said_to_be(tmp_path: Path, page_of: Callable[..., Page]) -> None:
    study = write_tiny(tmp_path / "s")
    for number in range(3, 7):
        frames = tmp_path / "s" / "frames"
        (frames / f"front-{number}.tiff").write_bytes((frames / "front-1.tiff").read_bytes())
    report_of(study, tmp_path / "out")
    page = opened(tmp_path / "out", page_of)
    assert page.locator(".frame").count() == 3 + 1
    assert "front-4.tiff, of 6; the last are shown" in page.locator(f"{SHOWN} .facts").inner_text()
    assert "7 frames, 20 readings" in page.locator(".done").first.inner_text()


def test_a_study_without_a_frame_says_so(tmp_path: Path, page_of: Callable[..., Page]) -> None:
    text = STUDY.replace("frames/front-*.tiff", "frames/no-*.tiff").replace("frames/rear.tiff", "frames/no.tiff")
    report_of(write_tiny(tmp_path / "s", text), tmp_path / "out")
    page = opened(tmp_path / "out", page_of)
    assert "No frame could be read." in page.locator("#images").inner_text()
    assert page.locator("#summary .problems li").count() == 2


@pytest.mark.full
def test_twelve_boards_of_three_loads_and_two_sides_stay_below_ten_megabytes(tmp_path: Path) -> None:
    samples = Path(__file__).resolve().parents[2] / "sample_images"
    result = run_study(samples / "study.toml", tmp_path / "out")
    frames = {(row.label.run, row.reading.frame) for row in result.rows}
    each = (tmp_path / "out" / "report.html").stat().st_size / len(frames)
    print(f"{len(frames)} frames of 640 x 512: {each / 1000:.0f} kB a frame")
    assert 72 * each < 10e6


def test_without_a_report_there_is_none(tmp_path: Path) -> None:
    study = write_tiny(tmp_path / "s")
    with ThreadPoolExecutor(1) as pool:
        run_study(study, tmp_path / "out", pool, size=(960, 540), report=False)
        run_study(study, tmp_path / "tables", pool, pictures=False)
    assert {path.name for path in (tmp_path / "out").iterdir()} == {
        "results.csv",
        "results.json",
        "pictures",
        "zone_history.json",
    }
    assert {path.name for path in (tmp_path / "tables").iterdir()} == {
        "results.csv",
        "results.json",
        "zone_history.json",
    }


def test_a_strangers_report_is_not_written_over(tmp_path: Path) -> None:
    from irspot.errors import OutputRefused

    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "report.html").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputRefused, match=r"report\.html"):
        report_of(write_tiny(tmp_path / "s"), tmp_path / "out")
    assert (tmp_path / "out" / "report.html").read_text(encoding="utf-8") == "mine"


def test_the_policy_lets_nothing_in(tiny: Path) -> None:
    text = (tiny / "report.html").read_text(encoding="utf-8")
    (policy,) = re.findall(r'http-equiv="Content-Security-Policy" content="([^"]+)"', text)
    assert policy.startswith("default-src &#39;none&#39;; script-src &#39;sha256-")
    assert "unsafe" not in policy
    assert "http:" not in text.replace("http://www.w3.org/2000/svg", "")
    assert "https:" not in text
    assert np.all([ord(letter) >= 32 or letter == "\n" for letter in text])
