"""Heat maps drawn by general plotting libraries are read back within their own uncertainty.

Their bars have frames and ticks of their own, and ends that do not fall on whole pixels; pictures and bars round their
colours in different ways.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from irspot.color_picture import Bar, Box, Decoded
from irspot.color_wish import BarScale, ColorWish
from irspot.decoding.decode import decode_picture
from irspot.decoding.picture import ColorPicture, read_picture
from irspot.errors import BarRefused
from irspot.workflow.color_frames import decode_color_picture

LOW, HIGH = 18.0, 90.0
ROWS, COLUMNS = 48, 64
COVERED = 0.95
LEGIBLE_DPI = 100
"""Tick labels of 10 points have digits of 10 px there; at 75 of less than 9."""

needs_engine = pytest.mark.skipif(find_spec("rapidocr") is None, reason="the reading engine is not installed")


def temperatures() -> np.ndarray:
    y, x = np.mgrid[0:ROWS, 0:COLUMNS].astype(float)
    return 20.0 + 60.0 * np.exp(-((x - 40.0) ** 2 + (y - 20.0) ** 2) / 200.0) + 0.1 * x


def upright_bar(picture: ColorPicture, box: Box) -> Bar:
    x0, y0, x1, y1 = box
    path = np.median(picture.rgb[y0:y1, x0:x1].astype(float), axis=1)[::-1]
    return Bar(box, "bottom", path, "given")


def covered(decoded: Decoded, x_px: np.ndarray, y_px: np.ndarray) -> float:
    """Give the share of the drawn cells' middles that are read within twice their uncertainty."""
    at = np.ix_(y_px.astype(int), x_px.astype(int))
    return float(np.mean(np.abs(decoded.temperature_degc[at] - temperatures()) <= 2.0 * decoded.u_decode_k[at]))


def assert_covered(decoded: Decoded, x_px: np.ndarray, y_px: np.ndarray, worst_u_k: float) -> None:
    at = np.ix_(y_px.astype(int), x_px.astype(int))
    assert np.isfinite(decoded.temperature_degc[at]).all()
    assert np.median(decoded.u_decode_k[at]) < worst_u_k
    assert covered(decoded, x_px, y_px) >= COVERED


@dataclass(frozen=True)
class Drawn:
    """A figure, and where its cells' middles are."""

    picture: ColorPicture
    x_px: np.ndarray
    y_px: np.ndarray
    axes_px: Box


def figure(folder: Path, cmap: str, dpi: int, location: str) -> Drawn:
    """Draw a figure with matplotlib as it comes: ticks outside, a frame half over the bar's ends."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    drawn = Figure(figsize=(8, 6), dpi=dpi)
    canvas = FigureCanvasAgg(drawn)
    axes = drawn.add_subplot()
    drawn.colorbar(axes.imshow(temperatures(), cmap=cmap, vmin=LOW, vmax=HIGH), location=location)
    canvas.draw()
    canvas.print_png(str(folder / "figure.png"))
    cells, height = axes.get_window_extent(), drawn.bbox.height
    x_px = cells.x0 + (np.arange(COLUMNS) + 0.5) * (cells.x1 - cells.x0) / COLUMNS
    y_px = height - cells.y1 + (np.arange(ROWS) + 0.5) * (cells.y1 - cells.y0) / ROWS
    box = (int(cells.x0), int(height - cells.y1), int(cells.x1), int(height - cells.y0))
    return Drawn(read_picture(folder / "figure.png"), x_px, y_px, box)


FIGURES = [
    ("inferno", 100, "right"),
    ("viridis", 150, "bottom"),
    ("turbo", 75, "top"),
    ("jet", 100, "bottom"),
    ("gray", 150, "left"),
    ("nipy_spectral", 75, "right"),
    ("gnuplot2", 100, "left"),
]
GIVEN = ColorWish(scale=BarScale.of_ends(LOW, HIGH))


@pytest.mark.parametrize(("cmap", "dpi", "location"), FIGURES)
def test_matplotlib_figure_with_a_colorbar(tmp_path: Path, cmap: str, dpi: int, location: str) -> None:
    drawn = figure(tmp_path, cmap, dpi, location)
    decoded = decode_color_picture(drawn.picture, "figure.png", GIVEN)
    assert decoded.bar.low_end == ("bottom" if location in ("left", "right") else "left")
    assert_covered(decoded, drawn.x_px, drawn.y_px, worst_u_k=0.35)
    # The white page, its frame and its words are no temperatures; where white is one of the bar's, they are its end.
    left = slice(0, drawn.axes_px[0] - 4)
    page = (drawn.picture.rgb[:, left] == 255).all(axis=2)
    unread = np.isnan(decoded.temperature_degc[:, left])
    if cmap in ("gray", "gnuplot2"):
        assert (unread | decoded.clipped_high[:, left])[page].mean() > 0.999
    else:
        assert unread.mean() > 0.99


@needs_engine
@pytest.mark.parametrize(("cmap", "dpi", "location"), FIGURES)
def test_matplotlib_figure_by_its_own_numbers(tmp_path: Path, cmap: str, dpi: int, location: str) -> None:
    drawn = figure(tmp_path, cmap, dpi, location)
    if dpi < LEGIBLE_DPI:
        with pytest.raises(BarRefused) as caught:
            decode_color_picture(drawn.picture, "figure.png", ColorWish())
        assert caught.value.cause == "labels"
        return
    decoded = decode_color_picture(drawn.picture, "figure.png", ColorWish())
    scale = decoded.scale
    assert set(scale.labels) <= {str(ten) for ten in range(20, 100, 10)}
    assert abs(scale.low_degc - LOW) <= scale.bound_k
    assert abs(scale.high_degc - HIGH) <= scale.bound_k
    assert_covered(decoded, drawn.x_px, drawn.y_px, worst_u_k=0.6)


@pytest.mark.full
@pytest.mark.parametrize("cmap", [cmap for cmap, _, _ in FIGURES])
def test_matplotlib_figures_of_every_size_and_side(tmp_path: Path, cmap: str) -> None:
    shares = []
    for dpi in (75, 90, 100, 120, 150, 200):
        for location in ("left", "right", "top", "bottom"):
            drawn = figure(tmp_path, cmap, dpi, location)
            decoded = decode_color_picture(drawn.picture, "figure.png", GIVEN)
            shares.append(covered(decoded, drawn.x_px, drawn.y_px))
    assert min(shares) >= COVERED


def lets_plot_picture(folder: Path, option: str = "") -> ColorPicture:
    """Draw a heat map with lets-plot, in a map of the library's or in a gradient of five colours."""
    import lets_plot

    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    data = {"x": x.ravel(), "y": y.ravel(), "t": temperatures().ravel()}
    guide = lets_plot.guide_colorbar(barheight=300, barwidth=20, nbin=256)
    gradient = {"limits": [20, 90], "guide": guide}
    colors = ["#000004", "#57106e", "#bc3754", "#f98e09", "#fcffa4"]
    plot = (
        lets_plot.ggplot(data, lets_plot.aes("x", "y", fill="t"))
        + lets_plot.geom_raster()
        + (
            lets_plot.scale_fill_viridis(option=option, **gradient)
            if option
            else lets_plot.scale_fill_gradientn(colors=colors, **gradient)
        )
        + lets_plot.theme(
            plot_background=lets_plot.element_rect(fill="white"), legend_text=lets_plot.element_text(size=16)
        )
    )
    lets_plot.ggsave(plot, "plot.png", path=str(folder), w=900, h=600, unit="px", dpi=72)
    return read_picture(folder / "plot.png")


def lets_plot_cells(picture: ColorPicture) -> tuple[np.ndarray, np.ndarray]:
    x0, y0, x1, y1 = _lets_plot_raster(picture.rgb)
    x_px = x0 + (np.arange(COLUMNS) + 0.5) * (x1 - x0) / COLUMNS
    return x_px, y1 - (np.arange(ROWS) + 0.5) * (y1 - y0) / ROWS


def test_lets_plot_heat_map_by_its_ticks(tmp_path: Path) -> None:
    """Its bar reaches a little beyond the limits of the scale, so that only the ticks say what is where."""
    picture = lets_plot_picture(tmp_path)
    box, ticks = _lets_plot_bar(picture.rgb)
    scale = BarScale(tuple(zip(ticks, (20.0, 40.0, 60.0, 80.0), strict=True)))
    decoded = decode_picture(picture, upright_bar(picture, box), scale)
    assert_covered(decoded, *lets_plot_cells(picture), worst_u_k=0.25)


@needs_engine
@pytest.mark.parametrize("option", ["inferno", "viridis", "turbo"])
def test_lets_plot_heat_map_by_its_own_numbers(tmp_path: Path, option: str) -> None:
    picture = lets_plot_picture(tmp_path, option)
    decoded = decode_color_picture(picture, "plot.png", ColorWish())
    assert decoded.scale.labels == ("20", "40", "60", "80")
    assert_covered(decoded, *lets_plot_cells(picture), worst_u_k=0.6)


def _lets_plot_bar(rgb: np.ndarray) -> tuple[Box, list[float]]:
    """Box of the bar's pure colours, and the places of the four white ticks at its side."""
    right = np.any(rgb[:, 815:850] < 200, axis=2)
    columns = np.flatnonzero(right.sum(axis=0) > 250) + 815
    x0, x1 = int(columns[0]), int(columns[-1]) + 1
    middle = (x0 + x1) // 2
    colored = np.flatnonzero(rgb[:, middle, 2].astype(int) < 180)
    y0, y1 = int(colored[0]), int(colored[-1])
    beside = np.abs(rgb[y0:y1, x0 + 2].astype(float) - rgb[y0:y1, middle]).sum(axis=1)
    rows = np.flatnonzero(beside > 60.0)
    groups = np.split(rows, np.flatnonzero(np.diff(rows) > 2) + 1)
    middles = [float(np.average(group + 0.5, weights=beside[group])) for group in groups]
    return (x0, y0, x1, y1), sorted(1.0 - at / (y1 - y0) for at in middles)


def _lets_plot_raster(rgb: np.ndarray) -> Box:
    """Box of the drawn cells: everything darker than the grid, left of the bar."""
    dark = rgb[:, 60:800].min(axis=2) < 200
    columns, rows = np.flatnonzero(dark.sum(axis=0) > 300), np.flatnonzero(dark.sum(axis=1) > 400)
    # The axis line below is one row, apart from the cells.
    body = np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)[0]
    return int(columns[0]) + 60, int(body[0]), int(columns[-1]) + 61, int(body[-1]) + 1
