"""Heat maps drawn by general plotting libraries are read back within their own uncertainty.

Their bars have frames and ticks of their own, and ends that do not fall on whole pixels.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from irspot.color_picture import Bar, Box, Decoded
from irspot.color_wish import BarScale
from irspot.decoding.decode import decode_picture
from irspot.decoding.picture import ColorPicture, read_picture

LOW, HIGH = 18.0, 90.0
ROWS, COLUMNS = 48, 64


def temperatures() -> np.ndarray:
    y, x = np.mgrid[0:ROWS, 0:COLUMNS].astype(float)
    return 20.0 + 60.0 * np.exp(-((x - 40.0) ** 2 + (y - 20.0) ** 2) / 200.0) + 0.1 * x


def upright_bar(picture: ColorPicture, box: Box) -> Bar:
    x0, y0, x1, y1 = box
    path = np.median(picture.rgb[y0:y1, x0:x1].astype(float), axis=1)[::-1]
    return Bar(box, "bottom", path, "given")


def assert_covered(decoded: Decoded, x_px: np.ndarray, y_px: np.ndarray, truth: np.ndarray, worst_u_k: float) -> None:
    """Compare at the middles of the drawn cells."""
    at = np.ix_(y_px.astype(int), x_px.astype(int))
    read, u_k = decoded.temperature_degc[at], decoded.u_decode_k[at]
    assert np.isfinite(read).all()
    assert np.median(u_k) < worst_u_k
    assert np.mean(np.abs(read - truth) <= 2.0 * u_k) >= 0.93


@pytest.mark.parametrize("cmap", ["inferno", "viridis", "turbo", "jet", "gray", "nipy_spectral"])
def test_matplotlib_figure_with_a_colorbar(tmp_path: Path, cmap: str) -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8, 6), dpi=100)
    canvas = FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    bar_axes = figure.colorbar(axes.imshow(temperatures(), cmap=cmap, vmin=LOW, vmax=HIGH)).ax
    canvas.draw()
    canvas.print_png(str(tmp_path / "figure.png"))
    height = 600
    drawn, bar = axes.get_window_extent(), bar_axes.get_window_extent()
    picture = read_picture(tmp_path / "figure.png")
    box = (int(np.ceil(bar.x0)), round(height - bar.y1), int(bar.x1), round(height - bar.y0))
    decoded = decode_picture(picture, upright_bar(picture, box), BarScale.of_ends(LOW, HIGH))
    x_px = drawn.x0 + (np.arange(COLUMNS) + 0.5) * (drawn.x1 - drawn.x0) / COLUMNS
    y_px = height - drawn.y1 + (np.arange(ROWS) + 0.5) * (drawn.y1 - drawn.y0) / ROWS
    assert_covered(decoded, x_px, y_px, temperatures(), worst_u_k=0.35)
    # The white page, its frame and its words are no temperatures.
    assert np.isnan(decoded.temperature_degc[:, :60]).mean() > 0.99 or cmap == "gray"


def test_lets_plot_heat_map_by_its_ticks(tmp_path: Path) -> None:
    """Its bar reaches a little beyond the limits of the scale, so that only the ticks say what is where."""
    import lets_plot

    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    data = {"x": x.ravel(), "y": y.ravel(), "t": temperatures().ravel()}
    colors = ["#000004", "#57106e", "#bc3754", "#f98e09", "#fcffa4"]
    guide = lets_plot.guide_colorbar(barheight=300, barwidth=20, nbin=256)
    plot = (
        lets_plot.ggplot(data, lets_plot.aes("x", "y", fill="t"))
        + lets_plot.geom_raster()
        + lets_plot.scale_fill_gradientn(colors=colors, limits=[20, 90], guide=guide)
        + lets_plot.theme(plot_background=lets_plot.element_rect(fill="white"))
    )
    lets_plot.ggsave(plot, "plot.png", path=str(tmp_path), w=900, h=600, unit="px", dpi=72)
    picture = read_picture(tmp_path / "plot.png")
    box, ticks = _lets_plot_bar(picture.rgb)
    scale = BarScale(tuple(zip(ticks, (20.0, 40.0, 60.0, 80.0), strict=True)))
    decoded = decode_picture(picture, upright_bar(picture, box), scale)
    x0, y0, x1, y1 = _lets_plot_raster(picture.rgb)
    x_px = x0 + (np.arange(COLUMNS) + 0.5) * (x1 - x0) / COLUMNS
    y_px = y1 - (np.arange(ROWS) + 0.5) * (y1 - y0) / ROWS
    assert_covered(decoded, x_px, y_px, temperatures(), worst_u_k=0.25)


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
    dark = rgb[:, 60:800].min(axis=2) < 180
    columns, rows = np.flatnonzero(dark.sum(axis=0) > 300), np.flatnonzero(dark.sum(axis=1) > 400)
    # The axis line below is one row, apart from the cells.
    body = np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)[0]
    return int(columns[0]) + 60, int(body[0]), int(columns[-1]) + 61, int(body[-1]) + 1
