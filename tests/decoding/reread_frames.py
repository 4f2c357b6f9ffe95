"""Colour-mapped pictures of known truth, sent through a file format and decoded with the true bar."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from irspot.color_picture import Bar, Decoded
from irspot.color_wish import BarScale
from irspot.decoding.decode import decode_picture
from irspot.decoding.picture import ColorPicture, read_picture
from irspot.synthetic.color_frames import ColorFrame, encode, render, resized
from irspot.synthetic.color_scenes import parts_scene
from irspot.synthetic.color_style import ColorStyle

MAPS = ("inferno", "viridis", "turbo", "jet", "gray", "gnuplot2", "nipy_spectral")
FORMATS = {
    "PNG": {"kind": "png"},
    "JPEG 95 4:4:4": {"kind": "jpeg", "quality": 95, "subsampling": "444"},
    "JPEG 85 4:2:0": {"kind": "jpeg", "quality": 85, "subsampling": "420"},
    "JPEG 70 4:2:0": {"kind": "jpeg", "quality": 70, "subsampling": "420"},
    "resized 1.5": {"kind": "png"},
}


@dataclass(frozen=True)
class Reread:
    """A picture, its truth, and what decoding made of it."""

    frame: ColorFrame
    parts: tuple[tuple[int, int, int, int], ...]
    picture: ColorPicture
    decoded: Decoded

    @property
    def span(self) -> float:
        return self.frame.high_degc - self.frame.low_degc

    @property
    def truth(self) -> np.ndarray:
        """Temperatures as far as the bar reaches."""
        return np.clip(self.frame.degc, self.frame.low_degc, self.frame.high_degc)

    @property
    def clear(self) -> np.ndarray:
        """Pixels of the scene that were decoded."""
        return ~self.frame.drawn & np.isfinite(self.decoded.temperature_degc)

    @property
    def error_percent(self) -> np.ndarray:
        """Error of the clear pixels in % of the bar's span."""
        return ((self.decoded.temperature_degc - self.truth) / self.span * 100.0)[self.clear]

    def covered(self) -> float:
        """Share of clear pixels within two standard uncertainties."""
        error = np.abs(self.decoded.temperature_degc - self.truth)[self.clear]
        return float(np.mean(error <= 2.0 * self.decoded.u_decode_k[self.clear]))

    def hottest_errors(self, least: float = 0.35) -> list[float]:
        """Error of the maximum of each part whose truth reaches `least` of the span, in % of the span."""
        scale = self.frame.degc.shape[0] / SIZE[1]
        found = []
        for box in self.parts:
            x0, y0, x1, y1 = (round(edge * scale) for edge in box)
            window = (slice(y0, y1), slice(x0, x1))
            top = self.truth[window].max()
            read = self.decoded.temperature_degc[window]
            hot = top >= self.frame.low_degc + least * self.span
            if hot and not self.frame.drawn[window].any() and np.isfinite(read).any():
                found.append(float(np.nanmax(read) - top) / self.span * 100.0)
        return found


SIZE = (640, 480)


def scene_frame(seed: int, style: ColorStyle) -> tuple[ColorFrame, tuple[tuple[int, int, int, int], ...]]:
    """Draw parts on a board, the bar reaching two percent beyond them on either side."""
    scene = parts_scene(seed, SIZE)
    low, high = float(scene.degc.min()), float(scene.degc.max())
    margin = 0.02 * (high - low)
    return render(scene.degc, low - margin, high + margin, style), scene.parts


def reread(seed: int, style: ColorStyle, how: str = "PNG") -> Reread:
    """Draw a scene, write and read it in a format of `FORMATS`, decode it."""
    frame, parts = scene_frame(seed, style)
    if how == "resized 1.5":
        frame = resized(frame, 1.5)
    picture = picture_from(encode(frame.rgb, **FORMATS[how]))
    return Reread(frame, parts, picture, decoded_with_true_bar(picture, frame))


def picture_from(content: bytes) -> ColorPicture:
    """Read a picture from a file of these bytes."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "frame.bin"
        path.write_bytes(content)
        return read_picture(path)


def decoded_with_true_bar(picture: ColorPicture, frame: ColorFrame) -> Decoded:
    """Decode with the bar where it was drawn."""
    scale = BarScale.of_ends(frame.low_degc, frame.high_degc)
    return decode_picture(picture, true_bar(picture, frame), scale)


def true_bar(picture: ColorPicture, frame: ColorFrame) -> Bar:
    """Give the bar where it was drawn."""
    x0, y0, x1, y1 = frame.bar_px
    part = picture.rgb[y0:y1, x0:x1].astype(np.float64)
    path = np.median(part, axis=1 if frame.low_end in ("top", "bottom") else 0)
    return Bar(frame.bar_px, frame.low_end, path if frame.low_end in ("top", "left") else path[::-1])
