"""Temperature fields for colour-mapped pictures: the demo's boards and simple parts, and styles drawn at random."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Box, End
from irspot.synthetic.color_style import (
    BLACK,
    WHITE,
    BarPlace,
    Color,
    ColorStyle,
    Crosshair,
    Labels,
    Logo,
    Overlay,
    OverlayText,
    Shade,
)
from irspot.synthetic.demo import demo_surface
from irspot.synthetic.demo_boards import demo_boards
from irspot.synthetic.demo_runs import demo_runs

FloatArray = NDArray[np.float64]

SMOOTH_MAPS = ("inferno", "viridis", "turbo", "jet", "gray", "gnuplot2", "nipy_spectral", "plasma", "hot", "magma")
"""Maps that cameras' pictures resemble; all of matplotlib's."""

SIZES = ((320, 240), (640, 480), (640, 512), (800, 600), (1024, 768), (387, 291), (517, 643))
"""``(columns, rows)``, the last two awkward on purpose."""


@dataclass(frozen=True, slots=True, eq=False)
class PartsScene:
    """Simple parts on a plain board.

    Parameters
    ----------
    degc : ndarray, shape (rows, columns)
    parts : tuple of (int, int, int, int)
        Box of each part.
    """

    degc: FloatArray
    parts: tuple[Box, ...]


def parts_scene(seed: int, size_px: tuple[int, int], *, blur_px: float = 0.8, noise_k: float = 0.05) -> PartsScene:
    """Make parts 8 to 40 px across, each with a hot spot, on a board warmer in one corner.

    Parameters
    ----------
    seed : int
    size_px : tuple of int
        ``(columns, rows)``.
    blur_px, noise_k : float
        Standard deviations of the lens' blur and of a pixel's noise.
    """
    rng = np.random.default_rng(seed)
    columns, rows = size_px
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float64)
    centre, wide = rng.uniform(0.2, 0.8, 2) * size_px, rng.uniform(0.3, 0.8) * columns
    degc = 24.0 + rng.uniform(4.0, 20.0) * np.exp(-((x - centre[0]) ** 2 + (y - centre[1]) ** 2) / (2.0 * wide**2))
    parts = tuple(_part_box(rng, size_px) for _ in range(int(rng.integers(8, 25))))
    for x0, y0, x1, y1 in parts:
        at = (x[y0:y1, x0:x1] - rng.uniform(x0, x1)) / (x1 - x0), (y[y0:y1, x0:x1] - rng.uniform(y0, y1)) / (y1 - y0)
        hill = np.exp(-(at[0] ** 2 + at[1] ** 2) / (2.0 * 0.4**2))
        degc[y0:y1, x0:x1] += rng.uniform(-2.0, 45.0) * (0.5 + 0.5 * hill)
    return PartsScene(_seen(degc, rng, blur_px, noise_k), parts)


def _part_box(rng: np.random.Generator, size_px: tuple[int, int]) -> Box:
    width, height = (int(v) for v in rng.integers(8, 41, 2))
    x, y = int(rng.integers(0, size_px[0] - width)), int(rng.integers(0, size_px[1] - height))
    return (x, y, x + width, y + height)


def board_scene(
    number: int, size_px: tuple[int, int], *, seed: int = 0, blur_px: float = 0.8, noise_k: float = 0.05
) -> FloatArray:
    """Show a run of the demo straight from above, the board filling nine tenths of the picture.

    Parameters
    ----------
    number : int
        Of the demo's run.
    size_px : tuple of int
        ``(columns, rows)``.
    seed : int
        Of the noise.
    blur_px, noise_k : float
        Standard deviations of the lens' blur and of a pixel's noise.

    Returns
    -------
    ndarray, shape (rows, columns)
    """
    run = demo_runs()[number]
    columns, rows = size_px
    corners = demo_boards()[run.board].board.outline.array_mm
    low, high = corners.min(axis=0), corners.max(axis=0)
    mm_per_px = float(max((high - low) / np.array(size_px))) / 0.9
    middle = (low + high) / 2.0
    xs = middle[0] + (np.arange(columns) - (columns - 1) / 2.0) * mm_per_px
    ys = middle[1] + (np.arange(rows) - (rows - 1) / 2.0) * mm_per_px
    degc = demo_surface(run).on_grid(xs, ys)
    degc[(ys < low[1]) | (ys > high[1])] = run.true_ambient_degc
    degc[:, (xs < low[0]) | (xs > high[0])] = run.true_ambient_degc
    return _seen(degc[::-1], np.random.default_rng(seed), blur_px, noise_k)


def _seen(degc: FloatArray, rng: np.random.Generator, blur_px: float, noise_k: float) -> FloatArray:
    from scipy.ndimage import gaussian_filter

    return np.asarray(gaussian_filter(degc, blur_px) + rng.normal(0.0, noise_k, degc.shape))


def random_scale(seed: int, degc: FloatArray) -> tuple[float, float]:
    """Choose the ends of a bar near a scene's coldest and hottest places, so that some pixels clip now and then."""
    rng = np.random.default_rng([seed, 1])
    low, high = (float(v) for v in np.quantile(degc, [0.002, 0.999]))
    span = max(high - low, 1.0)
    ends = low + rng.uniform(-0.15, 0.05) * span, high + rng.uniform(-0.08, 0.25) * span
    return round(ends[0], 1), round(ends[1], 1)


def random_style(seed: int, size_px: tuple[int, int], maps: tuple[str, ...] = SMOOTH_MAPS) -> ColorStyle:
    """Choose a style at random among all that bars are drawn in; overlays keep clear of the bar and its labels.

    Parameters
    ----------
    seed : int
    size_px : tuple of int
        ``(columns, rows)``.
    maps : tuple of str
        To choose the colour map from.
    """
    rng = np.random.default_rng([seed, 2])
    inside = rng.random() < 0.2
    vertical = bool(rng.random() < 0.65)
    ends: tuple[End, End] = ("bottom", "top") if vertical else ("left", "right")
    small = min(size_px) / 480.0
    border, gap = int(rng.choice([0, 1, 1, 2])), int(rng.choice([0, 0, 0, 1, 2, 3]))
    labels = _random_labels(rng, small)
    thickness = int(rng.integers(max(6, round(8 * small)), max(10, round(30 * small))))
    ticks = int(rng.choice([0, 0, 3, 5, labels.count if labels.count > 2 else 0]))
    needed = border + gap + (4 if ticks else 0) + (5.2 * labels.size_px if vertical else 1.4 * labels.size_px)
    before_edge = {"left": "before", "top": "before", "right": "after", "bottom": "after"}
    side = ("inside", *(("left", "right", "right") if vertical else ("top", "bottom", "bottom")))[
        0 if inside else int(rng.integers(1, 4))
    ]
    outer = border + gap + int(rng.integers(2, 15))
    margin = outer + (round(needed) if labels.count and labels.place == before_edge.get(side) else 0)
    panel = margin + thickness + outer if not inside and rng.random() < 0.35 else 0
    if panel and labels.count and labels.place not in ("beyond", before_edge[side]):
        panel += round(needed)
    beyond = (1.4 if vertical else 5.2) * labels.size_px if labels.place == "beyond" else labels.size_px
    longest = 1.0 - 2.0 * (beyond + 10.0) / (size_px[1] if vertical else size_px[0])
    length = float(rng.uniform(min(0.35 if inside else 0.45, longest), min(0.95, longest)))
    slack = (beyond + 10.0) / ((1.0 - length) * (size_px[1] if vertical else size_px[0]) + 1e-9)
    place = BarPlace(
        side=side,  # type: ignore[arg-type]
        length=length,
        thickness_px=thickness,
        margin_px=margin,
        along=float(rng.choice([0.5, rng.uniform(min(slack, 0.5), max(1.0 - slack, 0.5))])),
        across=float(rng.uniform(0.25, 0.75)),
        panel_px=panel,
    )
    inks: tuple[tuple[Color, Color], ...] = ((WHITE, BLACK), (WHITE, (40, 40, 40)), (BLACK, WHITE))
    ink, paper = inks[int(rng.integers(0, 3))]
    return ColorStyle(
        cmap=str(rng.choice(list(maps))),
        steps=(None, 256, 256, 128, 64, 32, 16, 8)[int(rng.integers(0, 8))],
        low_end=ends[int(rng.random() < 0.2)],
        place=place,
        border_px=border,
        gap_px=gap,
        ticks=ticks,
        ink=ink,
        paper=paper,
        labels=labels,
        overlays=random_overlays(rng, size_px),
    )


def _random_labels(rng: np.random.Generator, small: float) -> Labels:
    return Labels(
        count=int(rng.choice([0, 2, 2, 3, 5])),
        place=("before", "after", "beyond")[int(rng.integers(0, 3))],
        decimals=int(rng.choice([0, 1, 1, 2])),
        unit=str(rng.choice(["", "", "°C", " °C"])),
        size_px=round(max(10.0, float(rng.uniform(11.0, 20.0)) * small)),
        bold=bool(rng.random() < 0.3),
        plate=bool(rng.random() < 0.3),
    )


def random_overlays(rng: np.random.Generator, size_px: tuple[int, int]) -> tuple[Overlay, ...]:
    """Choose what lies over the picture's middle: words, crosshairs, an emblem, a half-transparent box."""
    columns, rows = size_px

    def somewhere() -> tuple[int, int]:
        return int(rng.uniform(0.05, 0.8) * columns), int(rng.uniform(0.05, 0.9) * rows)

    found: list[Overlay] = []
    if rng.random() < 0.5:
        found += [Crosshair(somewhere(), arm_px=int(rng.integers(6, 20))) for _ in range(int(rng.integers(1, 4)))]
    if rng.random() < 0.4:
        x, y = somewhere()
        found.append(Shade((x, y, x + columns // 4, y + rows // 12), BLACK, float(rng.uniform(0.3, 0.8))))
    if rng.random() < 0.5:
        found.append(OverlayText(f"Max {rng.uniform(40, 120):.1f} °C", somewhere(), int(rng.integers(10, 22))))
    if rng.random() < 0.2:
        found.append(Logo(somewhere(), int(rng.integers(16, 48))))
    return tuple(found)
