"""A tiny study whose every number is known: flat patches at set temperatures, small awkward frames."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import tifffile

ROWS, COLUMNS = 97, 131
# The board is 100 x 70 mm at exactly 1 px a mm, its lower-left corner at px (15, 84): px = (15 + x, 84 - y).
CORNERS = "[[15, 84], [115, 84], [115, 14], [15, 14]]"
REAR_CORNERS = "[[115, 84], [15, 84], [15, 14], [115, 14]]"

CAMERA = """\
schema = 1
name = "Prüfkamera (invented)"
[signal]
unit = "K"
scale = 0.01
[band]
lower_um = 8.0
upper_um = 14.0
[accuracy]
limit_k = 1.0
limit_relative = 0.01
noise_k = 0.05
range_degc = [-20.0, 250.0]
[pixels]
dead_px = [[2, 3]]
"""

BOARD = """\
schema = 1
name = "Wren W1 (invented)"
[outline]
width_mm = 100.0
height_mm = 70.0
[[zone]]
id = "ps"
name = "Power stages ≥ µ"
role = "power-stage"
rect_mm = [10.2, 40.2, 20.6, 15.6]
emissivity = 1.0
u_emissivity = 0.0
[[zone]]
id = "chip"
role = "chipset"
rect_mm = [60.2, 20.2, 15.6, 15.6]
emissivity = 1.0
u_emissivity = 0.01
[[zone]]
id = "ps-rear"
role = "power-stage-rear"
side = "rear"
rect_mm = [10.2, 40.2, 20.6, 15.6]
emissivity = 0.95
u_emissivity = 0.02
[[mark]]
id = "h1"
x_mm = 5.0
y_mm = 5.0
"""

STUDY = f"""\
schema = 1
title = "Tiny study (invented)"
camera = "camera.toml"
reference_ambient_degc = 21.0
reflected_degc = 22.0
utc_offset = "+00:00"
[[board]]
id = "w1"
file = "boards/w1.toml"
[[load]]
id = "stock"
description = "flat patches"
[[run]]
id = "w1-stock-front"
board = "w1"
load = "stock"
side = "front"
frames = "frames/front-*.tiff"
corners_px = {CORNERS}
top = "up"
ambient_degc = 21.5
[[run]]
id = "w1-stock-rear"
board = "w1"
load = "stock"
side = "rear"
frames = "frames/rear.tiff"
corners_px = {REAR_CORNERS}
top = "up"
ambient_degc = 21.0
"""


def temperatures(ps_degc: float = 80.0, chip_degc: float = 60.0, side: str = "front") -> np.ndarray:
    """Radiance temperatures of a frame: board at 40 °C on a bench at 22 °C, two patches with one hottest pixel each."""
    degc = np.full((ROWS, COLUMNS), 22.0)
    degc[14:85, 15:116] = 40.0

    def patch(x_mm: float, y_mm: float, width_mm: float, height_mm: float, value: float) -> None:
        for row in range(ROWS):
            for column in range(COLUMNS):
                x = column - 15.0 if side == "front" else 115.0 - column
                y = 84.0 - row
                if x_mm <= x <= x_mm + width_mm and y_mm <= y <= y_mm + height_mm:
                    degc[row, column] = value

    patch(10.2, 40.2, 20.6, 15.6, ps_degc)
    if side == "front":
        patch(60.2, 20.2, 15.6, 15.6, chip_degc)
    # A blunt peak of 1 K in the middle of the power stages, as optics would make it.
    x = 20 if side == "front" else 80
    row, column = 84 - 48, 15 + x
    degc[row - 2 : row + 3, column - 2 : column + 3] += np.array([0.1, 0.5, 1.0, 0.5, 0.1])[:, None] * np.array(
        [0.1, 0.5, 1.0, 0.5, 0.1]
    )
    return degc


def write_tiff(path: Path, degc: np.ndarray, stamp: str | None = "2026:03:01 12:00:00") -> None:
    """Write kelvin in hundredths as uint16."""
    path.parent.mkdir(parents=True, exist_ok=True)
    counts = np.rint((degc + 273.15) * 100.0).astype(np.uint16)
    tifffile.imwrite(path, counts, photometric="minisblack", datetime=stamp)


def write_tiny(folder: Path, study: str = STUDY) -> Path:
    """Write the study and give its file."""
    (folder / "boards").mkdir(parents=True, exist_ok=True)
    (folder / "camera.toml").write_text(CAMERA, encoding="utf-8")
    (folder / "boards" / "w1.toml").write_text(BOARD, encoding="utf-8")
    write_tiff(folder / "frames" / "front-1.tiff", temperatures(80.0, 60.0))
    write_tiff(folder / "frames" / "front-2.tiff", temperatures(82.0, 61.0), "2026:03:01 12:05:00")
    write_tiff(folder / "frames" / "rear.tiff", temperatures(70.0, side="rear"))
    (folder / "study.toml").write_text(study, encoding="utf-8")
    return folder / "study.toml"
