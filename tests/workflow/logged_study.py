"""A small study of one recording with a bead on the board, its log seeded with known faults."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import tifffile

from tests.tiny import BOARD, CORNERS, temperatures, write_tiny

SITE = """\
[[site]]
id = "tc1"
x_mm = 68.0
y_mm = 34.0
side = "front"
type = "K"
class = 1
wire_mm = 0.08
attachment = "solder"
footprint_mm = 3.0
[[site]]
id = "tc2"
x_mm = 20.0
y_mm = 48.0
side = "rear"
type = "K"
class = 1
wire_mm = 0.08
attachment = "solder"
footprint_mm = 3.0
"""
FRAMES, STEP_S, TAU_S = 81, 2.0, 30.0
STUDY = f"""\
schema = 1
title = "One recording (invented)"
camera = "camera.toml"
reflected_degc = 22.0
utc_offset = "+00:00"
[[board]]
id = "w1"
file = "boards/w1.toml"
[[load]]
id = "stock"
[[run]]
id = "w1-stock-front"
board = "w1"
load = "stock"
frames = "frames/rec.tiff"
frame_interval_s = {STEP_S}
corners_px = {CORNERS}
top = "up"
ambient_degc = 22.0
thermocouple_log = "logs/tc.csv"
logger_limit_k = 0.5
cold_junction_limit_k = 0.3
"""


def chip_degc(time_s: np.ndarray) -> np.ndarray:
    """The chip's temperature: switched on after half a minute."""
    return 40.0 + 30.0 * (1.0 - np.exp(-np.clip(time_s - 30.0, 0.0, None) / TAU_S))


def write_logged(
    folder: Path, *, offset_s: float = 0.0, bead_off_k: float = 0.0, off_from_s: float = np.inf, extra: str = ""
) -> Path:
    """Write the study; the logger's clock is `offset_s` ahead of the camera's, the bead comes off at `off_from_s`."""
    path = write_tiny(folder, STUDY + extra)
    (folder / "boards" / "w1.toml").write_text(BOARD + SITE, encoding="utf-8")
    rng = np.random.default_rng(5)
    time_s = np.arange(FRAMES) * STEP_S
    with tifffile.TiffWriter(folder / "frames" / "rec.tiff") as file:
        for chip in chip_degc(time_s):
            degc = temperatures(80.0, chip) + rng.normal(0.0, 0.03, temperatures().shape)
            counts = np.rint((degc + 273.15) * 100.0).astype(np.uint16)
            file.write(counts, photometric="minisblack", contiguous=False)
    logged_s = np.arange(-30.0, FRAMES * STEP_S + 30.0, 1.0)
    bead = chip_degc(logged_s) + bead_off_k + rng.normal(0.0, 0.03, logged_s.shape)
    away = logged_s >= off_from_s
    bead[away] = 22.0 + (bead[away] - 22.0) * np.exp(-(logged_s[away] - off_from_s + 1.0) / 4.0)
    rear = 55.0 + rng.normal(0.0, 0.03, logged_s.shape)
    lines = [f"{at + offset_s:.1f},{a:.3f},{b:.3f}" for at, a, b in zip(logged_s, bead, rear, strict=True)]
    (folder / "logs").mkdir(exist_ok=True)
    text = "# unit: degC\ntime_s,tc1,tc2\n" + "\n".join(lines) + "\n"
    (folder / "logs" / "tc.csv").write_text(text, encoding="utf-8")
    return path
