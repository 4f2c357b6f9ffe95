"""Colours: matplotlib's tables, what lies beyond a scale, contrast of everything that is read."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import matplotlib
import numpy as np
import pytest

from irspot.errors import UsageError
from irspot.rendering import theme
from irspot.rendering.colors import color_distance, color_scale, color_table, contrast_ratio

REFERENCE = Path(__file__).resolve().parents[1] / "reference" / "colormap_entries.csv"
SEQUENTIAL = ("inferno", "magma", "plasma", "viridis", "cividis", "gray", "hot", "turbo", "coolwarm", "inferno_r")


@pytest.mark.parametrize("name", ["inferno", "viridis", "gray", "turbo"])
def test_tables_are_matplotlibs(name: str) -> None:
    expected = np.rint(255.0 * matplotlib.colormaps[name](np.arange(256))[:, :3])
    np.testing.assert_array_equal(color_table(name), expected)


def test_tables_match_the_listed_entries() -> None:
    with REFERENCE.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    assert len(rows) >= 30
    for row in rows:
        entry = color_table(row["colormap"])[int(row["index"])]
        assert entry.tolist() == [int(row[f"{channel}8_rounded"]) for channel in "RGB"], row


def test_a_map_of_few_colours_is_sampled_evenly() -> None:
    table = color_table("tab10")
    assert len(np.unique(table, axis=0)) == 10
    counts = [int(np.sum(np.all(table == color, axis=1))) for color in np.unique(table, axis=0)]
    assert max(counts) - min(counts) <= 1


def test_inferno_needs_no_matplotlib() -> None:
    code = (
        "import sys, numpy as np\n"
        "from irspot.rendering.colors import color_scale\n"
        "from irspot.rendering.text import text_width\n"
        "color_scale('inferno', (0, 1)); text_width('a', 'regular', 20)\n"
        "print(sorted({'matplotlib', 'scipy', 'skimage'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_unknown_names_propose_the_nearest() -> None:
    with pytest.raises(UsageError, match=r"unknown colour map.*'infrno'.*did you mean 'inferno'"):
        color_table("infrno")


@pytest.mark.parametrize("ends", [(50.0, 50.0), (60.0, 20.0), (float("nan"), 20.0), (0.0, float("inf"))])
def test_a_scale_has_a_low_and_a_high_end(ends: tuple[float, float]) -> None:
    with pytest.raises(UsageError, match="low to a high"):
        color_scale("inferno", ends)


def test_known_temperatures_get_their_entries() -> None:
    scale = color_scale("inferno", (20.0, 84.0))  # a quarter of a kelvin a level
    table = color_table("inferno")
    for level in range(256):
        middle = 20.0 + (level + 0.5) * 0.25
        assert scale.color_of(middle) == tuple(table[level])
    assert scale.color_of(20.0) == tuple(table[0])
    assert scale.color_of(84.0) == tuple(table[255])


def test_beyond_the_ends_colours_are_their_own() -> None:
    scale = color_scale("inferno", (20.0, 84.0))
    degc = np.array([-300.0, 19.99, 20.0, 84.0, 84.01, 4000.0])
    colors = [tuple(color) for color in scale.colors(degc)]
    assert colors[0] == colors[1] == scale.under
    assert colors[4] == colors[5] == scale.over
    assert {scale.under, scale.over}.isdisjoint({tuple(entry) for entry in scale.table})


@pytest.mark.parametrize("name", SEQUENTIAL)
def test_over_and_under_cannot_be_taken_for_the_map(name: str) -> None:
    scale = color_scale(name, (0.0, 1.0))
    assert color_distance(scale.over, scale.table) > 0.12
    assert color_distance(scale.under, scale.table) > 0.12
    assert color_distance(scale.over, np.array([scale.under])) > 0.2


def test_contrast_ratio_published_examples() -> None:
    # WCAG 2.2, Understanding 1.4.3: #777777 on white has 4.48:1 (fails), #767676 4.54:1 (passes); from memory.
    assert contrast_ratio((0x77,) * 3, (255, 255, 255)) == pytest.approx(4.48, abs=0.005)
    assert contrast_ratio((0x76,) * 3, (255, 255, 255)) == pytest.approx(4.54, abs=0.005)
    assert contrast_ratio((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)


@pytest.mark.parametrize("color", [theme.INK, theme.MUTED, theme.WARNING])
def test_all_text_stands_out_from_the_page(color: theme.Color) -> None:
    assert contrast_ratio(color, theme.PAGE) >= 4.5  # WCAG 2.2, 1.4.3, level AA


def test_double_strokes_show_on_every_colour_of_the_map() -> None:
    for entry in color_table("inferno"):
        color = tuple(int(part) for part in entry)
        assert max(contrast_ratio(color, theme.LIGHT_STROKE), contrast_ratio(color, theme.DARK_STROKE)) >= 3.0
