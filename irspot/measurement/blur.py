"""How blurred a frame is: as its camera file states, or as its edges show."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

import numpy as np

from irspot.frame import Frame
from irspot.measurement.pixels import pixels_of
from irspot.measurement.sharpness import edge_blur, outline_blur
from irspot.registration.placement import Placement
from irspot.shapes import Polygon

ASSUMED_BLUR_PX: Final = 1.0
"""Where nothing tells: more than most lenses in focus have (common practice)."""
_DEFOCUS: Final = 1.5
_DEFOCUS_PX: Final = 0.35
"""An outline so many times as blurred as the lens in focus, and by so much more, shows a lens out of focus."""


@dataclass(frozen=True, slots=True)
class Blur:
    """The blur of a frame.

    Parameters
    ----------
    px : float
        Standard deviation of the point spread.
    known : {"stated", "estimated", "assumed"}
        From the camera file; from edges, so that heat that spreads is part of it; neither.
    outline_px : float or None
        What the board's outline shows, whatever is stated; None where it does not stand out, or in a scaled picture.
    """

    px: float
    known: Literal["stated", "estimated", "assumed"]
    outline_px: float | None = None

    @property
    def defocused(self) -> bool:
        """Whether the board's outline, which is abrupt, is clearly more blurred than the camera file states."""
        if self.known != "stated" or self.outline_px is None:
            return False
        return clearly_blurred(self.outline_px, self.px)


def clearly_blurred(outline_px: float, sharp_px: float) -> bool:
    """Say whether an outline is clearly more blurred than the lens can be.

    Parameters
    ----------
    outline_px : float
        Standard deviation of the point spread that the outline shows.
    sharp_px : float
        That of the lens in focus: stated, or of the sharpest frame.

    Examples
    --------
    >>> clearly_blurred(1.1, 0.8), clearly_blurred(1.3, 0.8)
    (False, True)
    """
    return outline_px > max(_DEFOCUS * sharp_px, sharp_px + _DEFOCUS_PX)


@lru_cache(maxsize=1)
def blur_of(frame: Frame, placement: Placement, outline: Polygon) -> Blur:
    """Say how blurred a frame is.

    Parameters
    ----------
    frame : Frame
        Kept by identity, as the placement. A stated blur is that of the sensor's pixels: a picture of another size was
        scaled.
    placement : Placement
    outline : Polygon
        The board's.
    """
    pixels = pixels_of(frame)
    optics = frame.camera.optics
    sensors_own = frame.u_decode_k is None or optics.size_px == (frame.shape[1], frame.shape[0])
    border_px = _border_px(placement, outline) if sensors_own else np.empty((0, 2))
    at_outline = outline_blur(pixels.radiance_degc, pixels.noise_k, border_px)
    outline_px = None if at_outline is None else at_outline.blur_px
    if optics.blur_px is not None and sensors_own:
        return Blur(optics.blur_px, "stated", outline_px)
    edges = edge_blur(pixels.radiance_degc, pixels.noise_k)
    if edges is not None:
        return Blur(edges.blur_px, "estimated", outline_px)
    return Blur(ASSUMED_BLUR_PX, "assumed", outline_px)


def _border_px(placement: Placement, outline: Polygon) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Points along the outline about a pixel apart."""
    corners = placement.to_px(outline.array_mm)
    longest_px = float(np.nanmax(np.hypot(*(corners - np.roll(corners, 1, axis=0)).T)))
    longest_mm = float(np.hypot(*(outline.array_mm - np.roll(outline.array_mm, 1, axis=0)).T).max())
    if not np.isfinite(longest_px) or longest_px < 1.0:
        return np.empty((0, 2))
    points = placement.to_px(outline.border_points(longest_mm / longest_px))
    return points[np.isfinite(points).all(axis=1)]
