"""Charts: exact sizes, numbers of their rows, text that stays text, and colours that everybody can tell apart."""

from __future__ import annotations

import io
import itertools
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from skimage.color import deltaE_ciede2000, rgb2lab

from irspot.compare.standing import Standing
from irspot.compare.values import Ranking
from irspot.errors import UsageError
from irspot.rendering.charts import (
    THEMES,
    Chart,
    SoakShown,
    bead_chart,
    chart_size,
    price_chart,
    ranking_chart,
    soak_chart,
)
from irspot.rendering.charts.look import LEAST_TYPE, Sheet, ticks, width_of
from irspot.rendering.charts.ranking import value_of
from irspot.series import Series
from irspot.soak.judge import SoakReading
from irspot.workflow.charts import ChartDrawn, chart_files

NAMES = (
    "Kestrel K7",
    "a <b>$x_1$</b> & co",
    "Ein sehr langer Name einer erfundenen Platine, Ausgabe mit Kühlkörper",
    "鳥 🦆 board",
)


def standing(number: int, **keys: object) -> Standing:
    made = Standing(
        "stock",
        "power-stage",
        "front",
        f"b{number}",
        f"b{number}",
        board_name=NAMES[number % len(NAMES)] + f" {number}",
        batch="spring" if number % 2 else "winter",
        zone="ps-left",
        rank=number + 1,
        tie_group="ab"[number % 2],
        value_degc=61.04 + number,
        U_value_k=2.9,
        rise_k=40.04 + number,
        U_rise_k=3.0,
        ranked_rise_k=40.04 + number,
        U_k=3.04,
        normalised_degc=61.04 + number,
        limit_degc=75.0,
        limit_kind="case",
        price=100.0 + 20.0 * number,
        currency="EUR",
        price_date="2026-03-01",
        on_frontier="yes" if number < 2 else "no",
    )
    return replace(made, **keys)  # type: ignore[arg-type]


def ranking(count: int) -> Ranking:
    rows = tuple(standing(number) for number in range(count))
    rows = (*rows[:-1], replace(rows[-1], verdict="lower bound"))
    apart = standing(30, comparable="no", rank=None, tie_group="", reasons=("power 288.9 W, -17 % off 348 W", "clock"))
    return Ranking(
        "stock", "all-core render", "power-stage", "front", rows, (apart,), limit_degc=75.0, limit_kind="case"
    )


def soak() -> SoakShown:
    time_s = np.arange(0.0, 2700.0, 60.0)
    zones, readings = [], []
    for number in range(7):
        value = 25.0 + (40.0 + 3.0 * number) * -np.expm1(-time_s / 500.0)
        zones.append(Series(f"zone-{number}", "zone", "degC", time_s, value, np.full(time_s.shape, 0.1)))
        readings.append(
            SoakReading(
                zone=f"zone-{number}",
                kind="zone",
                last_degc=float(value[-1]),
                U_last_k=2.0,
                end_degc=65.0 + 3.0 * number,
                U_end_k=2.1,
                steady="no",
            )
        )
    air = Series("ambient", "ambient", "degC", time_s, np.full(time_s.shape, 21.0), np.full(time_s.shape, 0.1))
    return SoakShown("k7-stock-rear", "k7, stock, rear: the soak", tuple(zones), tuple(readings), air)


def bead() -> tuple[str, Series, Series, str]:
    shown = soak()
    zone = shown.zones[0]
    value = np.where(zone.time_s < 1800.0, zone.value - 1.2, np.nan)
    return (
        "k7-stock-rear",
        Series("tc1", "bead", "degC", zone.time_s, value, zone.u),
        zone,
        "tc1 came off after 30 min.",
    )


def all_charts(size: tuple[int, int] = (1920, 1080), theme: str = "dark") -> list[Chart]:
    keys = {"size": size, "theme": theme}
    made = ranking(8)
    return [
        ranking_chart(made, "spring", **keys),  # type: ignore[arg-type]
        price_chart(made, "spring", **keys),  # type: ignore[arg-type]
        soak_chart(soak(), **keys),  # type: ignore[arg-type]
        bead_chart(*bead(), **keys),  # type: ignore[arg-type]
    ]


@pytest.mark.parametrize("size", [(1920, 1080), (1281, 719), (720, 1280)])
def test_sizes_are_exact_in_both_formats(size: tuple[int, int]) -> None:
    for chart in all_charts(size):
        assert Image.open(io.BytesIO(chart.png)).size == size
        root = ET.fromstring(chart.svg)
        assert (root.get("width"), root.get("height")) == (f"{size[0]}px", f"{size[1]}px")


def test_sizes_are_read_and_others_refused() -> None:
    assert chart_size("4k") == (3840, 2160)
    for wrong in ("", "big", "0x0", "99999x99999", "100x100"):
        with pytest.raises(UsageError, match="no size of a chart"):
            chart_size(wrong)
    with pytest.raises(UsageError, match="no theme"):
        ranking_chart(ranking(3), "", theme="sepia")


@pytest.mark.parametrize("count", [3, 8, 16])
def test_every_value_is_that_of_its_row(count: int) -> None:
    made = ranking(count)
    chart = ranking_chart(made, "spring")
    for row in (*made.rows, *made.apart):
        assert value_of(row) in chart.texts
        assert value_of(row) in chart.alt
    assert "40.0 ± 3.0 K" in chart.texts
    assert sum(text.startswith("≥ ") for text in chart.texts) == 1
    assert any(text.startswith("power 288.9 W") for text in chart.texts)
    assert "limit 75 °C (case)" in chart.texts


def test_bars_begin_at_zero_and_are_as_long_as_their_values() -> None:
    made = ranking(6)
    chart = ranking_chart(replace(made, rows=made.rows[:-1]), "spring", theme="light")
    picture = np.asarray(Image.open(io.BytesIO(chart.png)).convert("RGB"), int)
    lengths = []
    for color in (THEMES["light"].now, THEMES["light"].before):
        wanted = np.array([int(color[k : k + 2], 16) for k in (1, 3, 5)])
        mask = np.all(picture == wanted, axis=2)
        for y in np.flatnonzero(mask.sum(axis=1) > 300):
            xs = np.flatnonzero(mask[y])
            lengths.append((int(y), int(xs[0]), int(xs[-1] - xs[0])))
    starts = {start for _, start, _ in lengths}
    assert max(starts) - min(starts) <= 1
    by_row = [np.median([length for y, _, length in lengths if abs(y - middle) < 8]) for middle in _middles(lengths)]
    values = [row.ranked_rise_k for row in made.rows[:-1]]
    np.testing.assert_allclose(np.array(by_row) / by_row[0], np.array(values) / values[0], rtol=0.01)


def _middles(lengths: list[tuple[int, int, int]]) -> list[float]:
    rows = sorted({y for y, _, _ in lengths})
    groups = np.split(np.array(rows), np.flatnonzero(np.diff(rows) > 3) + 1)
    # Above the error bar, which crosses the middle.
    return [float(group[len(group) // 4]) for group in groups if len(group) > 8]


def test_soaks_show_their_hottest_zones_with_last_and_end_values() -> None:
    chart = soak_chart(soak())
    assert "zone-6: 82.7 ± 2.0 °C" in chart.texts
    assert "end 83.0 ± 2.1 °C, not steady" in chart.texts
    assert not any("zone-1:" in text for text in chart.texts), "the hottest five"
    assert "zone-6: 82.7 ± 2.0 °C" in chart.alt


def test_beads_show_what_was_concluded() -> None:
    chart = bead_chart(*bead())
    assert any("tc1 came off" in text for text in chart.texts)
    assert "last sound value is" in chart.alt


def test_hostile_names_stay_text() -> None:
    chart = ranking_chart(ranking(8), "spring")
    root = ET.fromstring(chart.svg)
    assert {element.tag.rpartition("}")[2] for element in root.iter()}.isdisjoint({"script", "b", "foreignObject"})
    assert any(text.startswith("a <b>$x_1$</b> & co") for text in chart.texts)
    assert any("□" in text for text in chart.texts), "glyphs that the font has not"
    assert any(text.endswith("…") for text in chart.texts), "what is too long is cut visibly"
    title = root.find("{http://www.w3.org/2000/svg}title")
    assert title is not None
    assert title.text == chart.title


Box = tuple[str, float, float, float, float, float]


@pytest.fixture
def written(monkeypatch: pytest.MonkeyPatch) -> list[Box]:
    """All that is written on sheets, with its size and box in px."""
    boxes: list[Box] = []
    write = Sheet.text

    def text(self: Sheet, at: tuple[float, float], text: str, size_px: float, **keys: object) -> str:
        shown = write(self, at, text, size_px, **keys)  # type: ignore[arg-type]
        width = width_of(shown, size_px, bold=bool(keys.get("bold")))
        left = at[0] - {"left": 0.0, "center": width / 2.0, "right": width}[str(keys.get("align", "left"))]
        # Capitals and descenders reach about 0.4 of the size above and below the middle.
        boxes.append((shown, size_px, left, at[1] - 0.4 * size_px, left + width, at[1] + 0.4 * size_px))
        return shown

    monkeypatch.setattr(Sheet, "text", text)
    # Where text stands is known before anything is saved.
    monkeypatch.setattr(Sheet, "_svg", lambda *_: b"")
    monkeypatch.setattr(Sheet, "_png", lambda _: b"")
    return boxes


@pytest.mark.parametrize("size", [(1920, 1080), (720, 1280)])
@pytest.mark.parametrize("count", [3, 8, 16])
def test_text_is_large_enough_on_the_page_and_apart(count: int, size: tuple[int, int], written: list[Box]) -> None:
    made = ranking(count)
    for draw in (
        lambda: ranking_chart(made, "spring", size=size),
        lambda: price_chart(made, "spring", size=size),
        lambda: soak_chart(soak(), size=size),
        lambda: bead_chart(*bead(), size=size),
    ):
        written.clear()
        draw()
        assert len(written) > 10
        least = LEAST_TYPE * min(size[1], size[0] / 1.2)
        for shown, size_px, left, top, right, bottom in written:
            assert size_px >= 0.999 * least, shown
            assert left >= 0.0, shown
            assert right <= size[0], shown
            assert top >= 0.0, shown
            assert bottom <= size[1], shown
        for one, other in itertools.combinations(written, 2):
            across = min(one[4], other[4]) - max(one[2], other[2])
            up = min(one[5], other[5]) - max(one[3], other[3])
            assert across <= 1.0 or up <= 1.0, (one, other)


def test_each_value_stands_in_the_line_of_its_name(written: list[Box]) -> None:
    rows = tuple(standing(number, board_name=f"board {number}") for number in range(8))
    for draw in (ranking_chart, price_chart):
        written.clear()
        draw(replace(ranking(3), rows=rows, apart=()), "spring")
        line = {shown: round(top + bottom, 3) for shown, _, _, top, _, bottom in written}
        for row in rows:
            assert line[value_of(row)] == line[row.board_name]


def test_every_priced_board_is_named_with_price_and_rise_however_close_they_lie() -> None:
    rows = tuple(
        standing(
            number, board_name=f"board {number}", price=100.0 + 3.0 * (number % 4), ranked_rise_k=40.0 + number / 8
        )
        for number in range(16)
    )
    chart = price_chart(replace(ranking(3), rows=rows), "spring")
    for row in rows:
        assert row.board_name in chart.texts
        assert f"{row.price:g}" in chart.texts
        assert value_of(row) in chart.texts


def test_single_runs_are_marked_among_repeated_ones() -> None:
    rows = tuple(standing(number, repeats=1 + 2 * (number % 2)) for number in range(4))
    made = replace(ranking(3), rows=rows, apart=())
    chart = ranking_chart(made, "spring")
    for row in rows:
        assert (f"{value_of(row)} *" in chart.texts) == (row.repeats == 1)
    assert any("* single run" in text for text in chart.texts)
    alike = ranking_chart(replace(made, rows=tuple(replace(row, repeats=3) for row in rows)), "spring")
    assert not any("single run" in text or text.endswith("*") for text in alike.texts)


def test_soaks_say_when_they_are_steady_and_how_warm_the_air_is() -> None:
    made = soak()
    later = tuple(replace(reading, steady_in_s=700.0) for reading in made.readings)
    chart = soak_chart(replace(made, readings=later))
    assert "end 83.0 ± 2.1 °C, steady in 12 min" in chart.texts
    assert any(text.endswith("air, last 21.00 ± 0.20 °C") for text in chart.texts)
    assert "air, last: 21.00 ± 0.20 °C" in chart.alt
    assert soak_chart(replace(made, ambient=None)).texts[0] == made.title


def test_reasons_take_further_lines_where_there_is_room() -> None:
    reasons = ("sustained clock 1.9 GHz against 2.6 GHz", "power 288.9 W, -17 % off 348 W", "another coating")
    apart = standing(30, comparable="no", rank=None, tie_group="", reasons=reasons)
    chart = ranking_chart(replace(ranking(3), apart=(apart,)), "spring")
    assert {reason for reason in reasons if any(reason in text for text in chart.texts)} == set(reasons)


def test_charts_whose_names_fall_together_are_all_kept() -> None:
    charts = [replace(named("ranking-stock-x"), png=bytes([at])) for at in range(3)]
    charts[1] = replace(charts[1], name="Ranking-stock-X")
    files = chart_files([ChartDrawn(chart) for chart in charts])
    assert len(files) == 6
    assert len({name.lower() for name in files}) == 6
    assert {files[name] for name in files if name.endswith(".png")} == {bytes([at]) for at in range(3)}


def named(name: str) -> Chart:
    return Chart(name, "", "", b"", b"", ())


def test_the_same_rows_give_the_same_bytes() -> None:
    for one, other in zip(all_charts(), all_charts(), strict=True):
        assert (one.svg, one.png) == (other.svg, other.png)


# --- colours ---------------------------------------------------------

# Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision deficiency", IEEE
# Transactions on Visualization and Computer Graphics 15 (2009), severity 1.0; from memory of the published matrices.
DICHROMACY = {
    "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritan": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}


def linear(color: str) -> np.ndarray:
    srgb = np.array([int(color[k : k + 2], 16) for k in (1, 3, 5)]) / 255.0
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def as_seen(color: str, kind: str) -> np.ndarray:
    seen = np.clip(np.array(DICHROMACY[kind]) @ linear(color), 0.0, 1.0) if kind else linear(color)
    srgb = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * seen ** (1 / 2.4) - 0.055)
    return rgb2lab(srgb.reshape(1, 1, 3))[0, 0]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, contrast ratio of relative luminances."""
    light, dark = sorted((float(linear(c) @ [0.2126, 0.7152, 0.0722]) for c in (one, other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("kind", ["", *DICHROMACY])
@pytest.mark.parametrize("name", THEMES)
def test_colours_are_told_apart_by_everybody(name: str, kind: str) -> None:
    theme = THEMES[name]
    beside = [(theme.now, theme.before), (theme.now, theme.second), (theme.now, theme.limit), (theme.now, theme.apart)]
    for one, other in beside:
        assert deltaE_ciede2000(as_seen(one, kind), as_seen(other, kind)) > 12.0, (one, other)


@pytest.mark.parametrize("name", THEMES)
def test_contrast_is_enough(name: str) -> None:
    theme = THEMES[name]
    for mark in (theme.now, theme.before, theme.second, theme.third, theme.apart):
        assert contrast(mark, theme.page) >= 3.0, mark
    for text in (theme.ink, theme.muted, theme.limit):
        assert contrast(text, theme.page) >= 4.5, text
    assert contrast(theme.now, theme.before) >= 1.8


def test_ticks_are_round_and_inside() -> None:
    for (low, high), most in itertools.product([(0.0, 63.0), (-3.2, 4.9), (0.0, 0.004), (12.0, 12.5)], [2, 5, 9]):
        found = ticks(low, high, most)
        assert all(low - 1e-9 <= tick <= high + 1e-9 for tick in found)
        assert len(found) <= most + 1


def test_no_difference_is_drawn_where_the_bead_was_not_logged(monkeypatch: pytest.MonkeyPatch) -> None:
    from irspot.rendering.charts.look import Sheet

    drawn: list[np.ndarray] = []
    real = Sheet.line

    def noted(self: Sheet, xs: object, ys: object, color: str, *rest: object) -> None:
        if color == self.theme.ink:
            drawn.append(np.asarray(ys, float))
        real(self, xs, ys, color, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(Sheet, "line", noted)
    run, _, zone, said = bead()
    logged = (zone.time_s >= 600.0) & (zone.time_s <= 1200.0)
    short = Series("tc1", "bead", "degC", zone.time_s[logged], zone.value[logged] - 1.2, zone.u[logged])
    bead_chart(run, short, zone, said)
    (difference,) = (ys for ys in drawn if len(ys) == len(zone.time_s))
    np.testing.assert_array_equal(np.isfinite(difference), logged)
