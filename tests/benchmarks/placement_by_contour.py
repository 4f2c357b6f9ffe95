"""Placing a board the plain way: Otsu threshold, largest contour, polygon approximation to as many corners."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Side
from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.placing import ImageSide
from irspot.registration import homography
from irspot.registration.distortion import distort, undistort
from irspot.shapes import signed_area

FloatArray = NDArray[np.float64]

LEAST_OVERLAP = 0.85
"""Share of contour and placed outline together that both must cover, or nothing is given."""
LEAST_FILL = 0.15
"""Share of the frame that a contour encloses at least: smaller ones are parts, not boards."""
SIDES = {"up": (0.0, -1.0), "right": (1.0, 0.0), "down": (0.0, 1.0), "left": (-1.0, 0.0)}


def place_by_contour(
    degc: NDArray[np.float32], board: Board, optics: Optics, *, side: Side, top: ImageSide
) -> FloatArray | None:
    """Corners in the stored image in the outline's order, of the polarity that fits better; None for no fit."""
    tried = [_placed(mask, board, optics, side, top) for mask in _masks(degc)]
    found = [each for each in tried if each is not None and each[0] >= LEAST_OVERLAP]
    return max(found, key=lambda each: each[0])[1] if found else None


def _masks(degc: NDArray[np.float32]) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    low, high = np.percentile(degc, [0.5, 99.5])
    grey = np.clip((degc - low) / max(high - low, 1e-6) * 255.0, 0, 255).astype(np.uint8)
    _, warm = cv2.threshold(cv2.GaussianBlur(grey, (5, 5), 0), 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    return warm, 255 - warm


def _placed(
    mask: NDArray[np.uint8], board: Board, optics: Optics, side: Side, top: ImageSide
) -> tuple[float, FloatArray] | None:
    contours = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]
    size_px = (mask.shape[1], mask.shape[0])
    large = [each for each in contours if cv2.contourArea(each) >= LEAST_FILL * mask.size and not _frame(each, size_px)]
    if not large:
        return None
    contour = max(large, key=cv2.contourArea)
    polygon = _with_corners(contour, len(board.outline.vertices_mm))
    if polygon is None:
        return None
    fits = [_fit(order, board, optics, size_px, top) for order in _orders(polygon, board.outline.array_mm, side)]
    usable = [each for each in fits if each is not None]
    if not usable:
        return None
    _, corners = min(usable, key=lambda each: each[0])
    return _overlap(contour, corners, size_px), corners


def _frame(contour: NDArray[np.int32], size_px: tuple[int, int]) -> bool:
    """Whether a contour touches three sides of the frame: then it is the background's."""
    x, y, width, height = cv2.boundingRect(contour)
    return (x <= 0) + (y <= 0) + (x + width >= size_px[0]) + (y + height >= size_px[1]) >= 3


def _with_corners(contour: NDArray[np.int32], count: int) -> FloatArray | None:
    """Approximate ever more coarsely until as few corners are left as the outline has."""
    length = cv2.arcLength(contour, True)
    for share in np.geomspace(0.002, 0.12, 60):
        polygon = cv2.approxPolyDP(contour, share * length, True).reshape(-1, 2)
        if len(polygon) <= count:
            return polygon.astype(np.float64) if len(polygon) == count else None
    return None


def _orders(polygon: FloatArray, outline_mm: FloatArray, side: Side) -> list[FloatArray]:
    """All orders of the corners that turn as the outline does, seen from the side."""
    # Numbers of px have y down: the front is seen turning the other way round than in mm.
    same = (signed_area(polygon) > 0) == (signed_area(outline_mm) > 0)
    turned = polygon if same == (side == "rear") else polygon[::-1]
    return [np.roll(turned, shift, axis=0) for shift in range(len(turned))]


def _fit(
    corners: FloatArray, board: Board, optics: Optics, size_px: tuple[int, int], top: ImageSide
) -> tuple[float, FloatArray] | None:
    """Misfit of a homography in px, and where it puts the outline; None where the top faces elsewhere."""
    outline = board.outline.array_mm
    try:
        matrix = homography.fit(outline, undistort(corners, optics, size_px))
    except PlacementRefused:
        return None
    x0, y0, x1, y1 = board.outline.box_mm
    middle = np.array([[(x0 + x1) / 2.0, (y0 + y1) / 2.0], [(x0 + x1) / 2.0, 0.75 * y1 + 0.25 * y0]])
    low, high = homography.apply(matrix, middle)
    upwards = (high - low) / max(float(np.hypot(*(high - low))), 1e-9)
    placed = distort(homography.apply(matrix, outline), optics, size_px)
    if not np.all(np.isfinite(placed)) or not float(upwards @ SIDES[top]) >= np.sqrt(0.5):
        return None
    return float(np.sqrt(np.mean(np.sum((placed - corners) ** 2, axis=1)))), placed


def _overlap(contour: NDArray[np.int32], corners: FloatArray, size_px: tuple[int, int]) -> float:
    first, second = (np.zeros(size_px[::-1], np.uint8) for _ in range(2))
    cv2.drawContours(first, [contour], -1, 1, cv2.FILLED)
    cv2.fillPoly(second, [np.rint(np.clip(corners, -1e4, 1e4)).astype(np.int32)], 1)
    return float(np.sum(first & second) / max(int(np.sum(first | second)), 1))
