"""What one would write by hand: zone statistics with scikit-image, an annotated 1920 x 1080 picture with matplotlib.

The benchmark of pictures runs this in a process of its own:  python picture_by_common_libraries.py FRAME.tiff OUT.png
"""

from __future__ import annotations

import sys

import matplotlib

matplotlib.use("Agg")
import numpy as np
import tifffile
from matplotlib import pyplot as plt
from matplotlib.patches import Polygon
from skimage.draw import polygon2mask
from skimage.measure import regionprops
from skimage.transform import ProjectiveTransform

WIDTH_MM, HEIGHT_MM = 244.0, 200.0
CORNERS_PX = np.array([[60, 470], [580, 480], [570, 50], [70, 40]], float)
CORNERS_MM = np.array([[0, 0], [WIDTH_MM, 0], [WIDTH_MM, HEIGHT_MM], [0, HEIGHT_MM]])


def zones_px() -> list[np.ndarray]:
    """The 24 zones of the benchmark's board, in px."""
    mapping = ProjectiveTransform.from_estimate(CORNERS_MM, CORNERS_PX)
    zones = []
    for i in range(24):
        x, y = 8 + 38 * (i % 6), 8 + 46 * (i // 6)
        zones.append(mapping(np.array([[x, y], [x + 30, y], [x + 30, y + 36], [x, y + 36]], float)))
    return zones


def main(frame_file: str, picture_file: str) -> None:
    """Read, measure, draw."""
    degc = tifffile.imread(frame_file).astype(np.float32) * 0.01 - 273.15
    zones = zones_px()
    labels = np.zeros(degc.shape, np.int32)
    for number, outline in enumerate(zones, start=1):
        labels[polygon2mask(degc.shape, outline[:, ::-1])] = number

    figure = plt.figure(figsize=(19.2, 10.8), dpi=100)
    axes = figure.add_axes((0.2, 0.15, 0.6, 0.75))
    image = axes.imshow(degc, cmap="inferno", interpolation="bicubic")
    axes.set_axis_off()
    axes.add_patch(Polygon(CORNERS_PX, fill=False, edgecolor="white", linewidth=2))
    for outline in zones:
        axes.add_patch(Polygon(outline, fill=False, edgecolor="white", linewidth=1.5))
    for region in regionprops(labels, intensity_image=degc):
        inside = np.where(region.image, region.image_intensity, -np.inf)
        row, column = np.unravel_index(np.argmax(inside), inside.shape)
        y, x = row + region.bbox[0], column + region.bbox[1]
        side = -0.12 if x < degc.shape[1] / 2 else 1.12
        axes.plot(x, y, "o", markerfacecolor="none", markeredgecolor="white", markersize=10)
        axes.annotate(
            f"z{region.label - 1}\n{region.intensity_max:.1f} °C (mean {region.intensity_mean:.1f} °C)",
            (x, y),
            (side, 1.0 - y / degc.shape[0]),
            textcoords="axes fraction",
            arrowprops={"arrowstyle": "-", "color": "gray"},
            fontsize=12,
        )
    bar = figure.colorbar(image, ax=axes, orientation="horizontal", fraction=0.05)
    bar.set_label("°C")
    figure.suptitle("Bench board (invented)")
    figure.savefig(picture_file)


if __name__ == "__main__":
    main(*sys.argv[1:])
