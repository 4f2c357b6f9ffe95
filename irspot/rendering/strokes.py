"""Lines that show on light and on dark: a light stroke over a wider dark one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2
from irspot.rendering.theme import DARK_STROKE, LIGHT_STROKE, Color

FloatArray = NDArray[np.float64]
Image = NDArray[np.uint8]

_SUBPIXEL_BITS = 4
_FAR_PX = 60_000.0
"""Beyond this a place is not drawn: OpenCV's fixed-point coordinates end, and no picture is that large."""
_SIMPLER_BY_PX = 0.12


def double_lines(image: Image, lines: Iterable[FloatArray], width: float, color: Color = LIGHT_STROKE) -> None:
    """Draw open lines twice: dark and wide, then light.

    Parameters
    ----------
    image : ndarray of uint8, shape (h, w, 3)
        Drawn on.
    lines : iterable of ndarray, shape (n, 2)
        px; parts that are NaN or far outside are left out.
    width : float
        Of the light stroke, px.
    color : tuple of int
        Of the light stroke.
    """
    cv2 = load_cv2()
    pieces = [_fixed_point(piece) for line in lines for piece in _visible(line)]
    for stroke, width_px in ((DARK_STROKE, _dark_width(width)), (color, width)):
        cv2.polylines(image, pieces, False, stroke, max(1, round(width_px)), lineType=cv2.LINE_AA, shift=_SUBPIXEL_BITS)


def closed(points: FloatArray) -> FloatArray:
    """Repeat the first point at the end."""
    return np.concatenate([points, points[:1]])


def dashed(points: FloatArray, on_px: float, off_px: float) -> list[FloatArray]:
    """Cut a line into dashes.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        px; parts that are NaN or far outside are left out.
    on_px, off_px : float
        Length of a dash and of the gap after it.
    """
    dashes: list[FloatArray] = []
    for piece in _visible(points):
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(piece, axis=0).T))])
        for start in np.arange(0.0, along[-1], on_px + off_px):
            end = min(start + on_px, float(along[-1]))
            inner = along[(along > start) & (along < end)]
            at = np.concatenate([[start], inner, [end]])
            dashes.append(np.column_stack([np.interp(at, along, axis) for axis in piece.T]))
    return dashes


def double_ring(image: Image, x: float, y: float, radius: float, width: float) -> None:
    """Draw an open ring twice: dark and wide, then light."""
    cv2 = load_cv2()
    center = _fixed_point(np.array([[x, y]]))[0]
    fixed_radius = round(radius * 2**_SUBPIXEL_BITS)
    for stroke, width_px in ((DARK_STROKE, _dark_width(width)), (LIGHT_STROKE, width)):
        thickness = max(1, round(width_px))
        cv2.circle(image, center, fixed_radius, stroke, thickness, lineType=cv2.LINE_AA, shift=_SUBPIXEL_BITS)


def dot(image: Image, x: float, y: float, radius: float, color: Color) -> None:
    """Draw a filled disc."""
    cv2 = load_cv2()
    center = _fixed_point(np.array([[x, y]]))[0]
    fixed_radius = max(1, round(radius * 2**_SUBPIXEL_BITS))
    cv2.circle(image, center, fixed_radius, color, -1, lineType=cv2.LINE_AA, shift=_SUBPIXEL_BITS)


def line(image: Image, start: tuple[float, float], end: tuple[float, float], width: float, color: Color) -> None:
    """Draw one single stroke."""
    cv2 = load_cv2()
    a, b = _fixed_point(np.array([start, end]))
    cv2.line(image, a, b, color, max(1, round(width)), lineType=cv2.LINE_AA, shift=_SUBPIXEL_BITS)


def fill(image: Image, box: tuple[float, float, float, float], color: Color) -> None:
    """Fill a rectangle ``(x0, y0, x1, y1)``, edges rounded to whole pixels."""
    x0, y0, x1, y1 = (max(0, round(edge)) for edge in box)
    image[y0:y1, x0:x1] = color


def frame_around(image: Image, box: tuple[float, float, float, float], width: float, color: Color) -> None:
    """Draw a thin frame just outside a rectangle."""
    x0, y0, x1, y1 = (round(edge) for edge in box)
    edge = max(1, round(width))
    fill(image, (x0 - edge, y0 - edge, x1 + edge, y0), color)
    fill(image, (x0 - edge, y1, x1 + edge, y1 + edge), color)
    fill(image, (x0 - edge, y0, x0, y1), color)
    fill(image, (x1, y0, x1 + edge, y1), color)


def _dark_width(width: float) -> int:
    """Width of the dark stroke: at least a pixel more than the light one on either side."""
    return max(round(width * 2.0), max(1, round(width)) + 2)


def _visible(points: FloatArray) -> Iterator[FloatArray]:
    """Cut a line where it leaves what can be drawn."""
    drawable = np.all(np.abs(points) < _FAR_PX, axis=1)  # False for NaN
    cuts = np.flatnonzero(np.diff(drawable.astype(np.int8))) + 1
    for piece, keep in zip(np.split(points, cuts), np.split(drawable, cuts), strict=True):
        if keep[0] and len(piece) > 1:
            yield _simplified(piece)


def _simplified(piece: FloatArray) -> FloatArray:
    """Leave out points that lie on the straight line between others: each joint of a stroke shows as a dot."""
    cv2 = load_cv2()
    # In two halves, because a closed line has no chord between its ends to measure from.
    middle = len(piece) // 2
    halves = [piece[: middle + 1], piece[middle:]] if middle else [piece]
    corners = [cv2.approxPolyDP(half.astype(np.float32), _SIMPLER_BY_PX, False).reshape(-1, 2) for half in halves]
    return np.concatenate([half if i == 0 else half[1:] for i, half in enumerate(corners)]).astype(np.float64)


def _fixed_point(points: FloatArray) -> NDArray[np.int32]:
    fixed: NDArray[np.int32] = np.rint(points * 2**_SUBPIXEL_BITS).astype(np.int32)
    return fixed
