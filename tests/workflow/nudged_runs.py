"""A study of one board that is moved by whole millimetres, one pixel each, while it warms up."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
import tifffile

ROWS, COLUMNS = 200, 260
# The board is 180 x 120 mm at 1 px a mm, its lower-left corner at first at px (35, 155): px = (35 + x, 155 - y).
LEFT, BOTTOM = 35, 155
CORNERS = f"[[{LEFT}, {BOTTOM}], [{LEFT + 180}, {BOTTOM}], [{LEFT + 180}, {BOTTOM - 120}], [{LEFT}, {BOTTOM - 120}]]"
NOISE_K = 0.05

CAMERA = f"""\
schema = 1
name = "trial camera (invented)"
[signal]
unit = "K"
scale = 0.01
[optics]
blur_px = 1.0
[accuracy]
limit_k = 1.0
limit_relative = 0.01
noise_k = {NOISE_K}
"""

BOARD = """\
schema = 1
name = "Plover P2 (invented)"
[outline]
width_mm = 180.0
height_mm = 120.0
[[zone]]
id = "ps"
role = "power-stage"
rect_mm = [20.0, 60.0, 30.0, 40.0]
emissivity = 1.0
u_emissivity = 0.0
"""

PARTS = (
    (24, 66, 22, 28, 40.0),
    (70, 20, 30, 8, 15.0),
    (95, 62, 16, 14, -4.0),
    (140, 80, 14, 20, 22.0),
    (128, 15, 20, 12, 9.0),
)
"""x, y, width, height in mm, and excess over the board when hot, K; the first is in the zone, its peak at (31, 84)."""


def scene(warmth: float = 1.0, moved: tuple[int, int] = (0, 0), seed: int = 0) -> np.ndarray:
    """Temperatures of a frame, the board moved by whole px (x right, y down)."""
    degc = np.full((ROWS, COLUMNS), 22.0)
    left, bottom = LEFT + moved[0], BOTTOM + moved[1]

    def fill(x: int, y: int, width: int, height: int, excess: float) -> None:
        degc[bottom - y - height : bottom - y, left + x : left + x + width] = 22.0 + warmth * excess

    fill(0, 0, 180, 120, 14.0)
    for number, (x, y, width, height, excess) in enumerate(PARTS):
        # Later parts warm up more slowly.
        fill(x, y, width, height, 14.0 + excess * warmth ** (0.3 * number))
    degc = cv2.GaussianBlur(degc, (0, 0), 1.0)
    peak = np.exp(-0.5 * (np.hypot(*np.mgrid[-12:13, -12:13]) / 4.0) ** 2)
    degc[bottom - 84 - 12 : bottom - 84 + 13, left + 31 - 12 : left + 31 + 13] += 12.0 * warmth * peak
    return degc + np.random.default_rng([seed, 7]).normal(0.0, NOISE_K, degc.shape)


def write_frames(path: Path, frames: Sequence[np.ndarray], every_s: int = 1) -> None:
    """Write frames as pages of kelvin in hundredths, stamped one after another."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with tifffile.TiffWriter(path) as writer:
        for number, degc in enumerate(frames):
            second = number * every_s
            stamp = f"2026:03:01 12:{second // 60:02d}:{second % 60:02d}"
            counts = np.rint((degc + 273.15) * 100.0).astype(np.uint16)
            writer.write(counts, photometric="minisblack", datetime=stamp, contiguous=False)


def write_study(folder: Path, run: str) -> Path:
    """Write camera, board and a study of one run, whose keys are given."""
    (folder / "boards").mkdir(parents=True, exist_ok=True)
    (folder / "camera.toml").write_text(CAMERA, encoding="utf-8")
    (folder / "boards" / "p2.toml").write_text(BOARD, encoding="utf-8")
    text = (
        'schema = 1\ntitle = "t"\ncamera = "camera.toml"\nreflected_degc = 22.0\nutc_offset = "+00:00"\n'
        '[[board]]\nid = "p2"\nfile = "boards/p2.toml"\n[[load]]\nid = "stock"\n'
        f'[[run]]\nid = "r"\nboard = "p2"\nload = "stock"\nside = "front"\ntop = "up"\nambient_degc = 22.0\n{run}\n'
    )
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return folder / "study.toml"
