"""Targets of known geometry found in thermal frames: a grid of dots, or the inner corners of a checker.

Rough places come from OpenCV on an 8-bit stretch of the frame, of both signs of contrast; what they are refined to, on
the frame's own numbers, is the centroid of each dot or the saddle point of each corner.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from types import ModuleType
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2

FloatArray = NDArray[np.float64]
Image = NDArray[np.float32]
ByteImage = NDArray[np.uint8]
TargetKind = Literal["dots", "checker"]

_WIDTHS_PX: Final = (640, 400, 1000)
"""Widths that smaller frames are enlarged to for the search: OpenCV wants features of some size, but sharp ones."""
_STRETCHES: Final = ((1.0, 99.0), (5.0, 99.8), (0.2, 95.0))
"""Percentiles of the frame that become black and white; one extreme is often something else in view."""
_SMOOTH_PX: Final = 0.4
"""Smoothing against noise before the search, px of the frame."""
_MOST_BLOBS: Final = 3
"""Of the target's dots: with more blobs in view nothing can be told apart."""
_REACH: Final = 0.42
"""Of the distance to the next dot: how far round a dot's centre its pixels are taken."""
_RING: Final = 0.36
"""Beyond this share of the distance lies the ground."""
_LOW, _HIGH = 0.25, 0.75
"""Shares of a dot's contrast between which pixels count in proportion; its middle may be as uneven as it likes."""
_ROUNDS: Final = 6
_LEAST_REACH_PX: Final = 2.0
_LEAST_CONTRAST: Final = 4.0
"""A dot stands out from its ground by so many times the ground's own scatter."""


@dataclass(frozen=True, slots=True)
class Target:
    """A flat target.

    Parameters
    ----------
    kind : {"dots", "checker"}
    columns, rows : int
        Dots, or inner corners.
    pitch_mm : float
        From one to the next.
    """

    kind: TargetKind
    columns: int
    rows: int
    pitch_mm: float

    @property
    def places_mm(self) -> FloatArray:
        """Places of the points, row by row, shape (rows * columns, 2)."""
        y, x = np.mgrid[0 : self.rows, 0 : self.columns]
        return np.column_stack([x.ravel(), y.ravel()]) * self.pitch_mm


def find_target(image: NDArray[np.floating[Any]], target: Target) -> FloatArray | None:
    """Find a target in a frame.

    Parameters
    ----------
    image : ndarray, shape (rows, columns)
        Temperatures or any numbers that rise or fall with them; finite.
    target : Target

    Returns
    -------
    ndarray, shape (n, 2), or None
        Place of each of `Target.places_mm` in px, to a fraction of a pixel; None if the target is not there whole.
        Which corner comes first is open as far as the grid leaves it open, which changes no fit of a lens.
    """
    cv2 = load_cv2()
    numbers = np.asarray(image, dtype=np.float32)
    search = _rough_dots if target.kind == "dots" else _rough_corners
    for stretched, factor in _stretched(cv2, numbers):
        rough = search(cv2, stretched, target)
        if rough is None:
            continue
        places = (rough + 0.5) / factor - 0.5
        refined = _centroids(numbers, places, target) if target.kind == "dots" else _saddles(cv2, numbers, places)
        if refined is not None:
            return refined
    return None


def _stretched(cv2: ModuleType, image: Image) -> Iterator[tuple[ByteImage, float]]:
    """Give 8-bit versions of a frame, and how much larger they are."""
    factors = tuple(dict.fromkeys(float(max(1, round(width / image.shape[1]))) for width in _WIDTHS_PX))
    for low, high in _STRETCHES:
        dark, bright = np.percentile(image, [low, high])
        if not bright > dark:
            continue
        level = np.clip((image - dark) / (bright - dark), 0.0, 1.0).astype(np.float32)
        for factor in factors if (low, high) == _STRETCHES[0] else factors[:1]:
            large = cv2.resize(level, None, fx=factor, fy=factor, interpolation=cv2.INTER_CUBIC)
            large = cv2.GaussianBlur(large, (0, 0), _SMOOTH_PX * factor)
            yield np.rint(np.clip(large, 0.0, 1.0) * 255.0).astype(np.uint8), factor


def _rough_dots(cv2: ModuleType, image: ByteImage, target: Target) -> FloatArray | None:
    detector = cv2.SimpleBlobDetector_create(_blob_parameters(cv2, image))
    size = (target.columns, target.rows)
    for dark in (image, 255 - image):
        # The search for a grid takes minutes among the thousands of blobs of mere noise.
        if not target.columns * target.rows <= len(detector.detect(dark)) <= _MOST_BLOBS * target.columns * target.rows:
            continue
        for flags in (cv2.CALIB_CB_SYMMETRIC_GRID | cv2.CALIB_CB_CLUSTERING, cv2.CALIB_CB_SYMMETRIC_GRID):
            found, centres = cv2.findCirclesGrid(dark, size, flags=flags, blobDetector=detector)
            if found:
                return np.asarray(centres, dtype=np.float64).reshape(-1, 2)
    return None


def _blob_parameters(cv2: ModuleType, image: ByteImage) -> Any:
    parameters = cv2.SimpleBlobDetector_Params()
    parameters.filterByColor, parameters.blobColor = True, 0
    parameters.filterByArea, parameters.minArea, parameters.maxArea = True, 12.0, image.size / 30.0
    parameters.filterByInertia, parameters.minInertiaRatio = True, 0.2
    parameters.filterByConvexity, parameters.minConvexity = True, 0.8
    parameters.filterByCircularity = False
    parameters.minThreshold, parameters.maxThreshold, parameters.thresholdStep = 10.0, 245.0, 10.0
    parameters.minDistBetweenBlobs, parameters.minRepeatability = 4.0, 2
    return parameters


def _rough_corners(cv2: ModuleType, image: ByteImage, target: Target) -> FloatArray | None:
    flags = cv2.CALIB_CB_NORMALIZE_IMAGE | cv2.CALIB_CB_EXHAUSTIVE | cv2.CALIB_CB_ACCURACY
    size = (target.columns, target.rows)
    found, corners = cv2.findChessboardCornersSB(image, size, flags=flags)
    if not found:
        # Small squares are found rather by the older way, which wants dark ones on a bright ground.
        flags = cv2.CALIB_CB_NORMALIZE_IMAGE | cv2.CALIB_CB_ADAPTIVE_THRESH
        for dark in (image, 255 - image):
            found, corners = cv2.findChessboardCorners(dark, size, flags=flags)
            if found:
                break
    return np.asarray(corners, dtype=np.float64).reshape(-1, 2) if found else None


def _saddles(cv2: ModuleType, image: Image, places: FloatArray) -> FloatArray | None:
    """Refine corners on the frame's own numbers: gradients round a corner are orthogonal to the way there."""
    reach = int(np.clip(0.35 * _nearest(places).min(), 2.0, 9.0))
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 100, 1e-4)
    level = ((image - image.min()) / max(float(np.ptp(image)), 1e-12)).astype(np.float32)
    start = places.astype(np.float32).reshape(-1, 1, 2)
    refined = cv2.cornerSubPix(level, start.copy(), (reach, reach), (-1, -1), criteria).reshape(-1, 2)
    strayed = np.hypot(*(refined - places).T).max() > 1.5
    return None if strayed else np.asarray(refined, dtype=np.float64)


def _nearest(places: FloatArray) -> FloatArray:
    """Distance of each place to the nearest other."""
    apart = np.hypot(*(places[:, None, :] - places[None, :, :]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    return np.asarray(apart.min(axis=1))


def _centroids(image: Image, places: FloatArray, target: Target) -> FloatArray | None:
    pitch = _nearest(places)
    if _REACH * pitch.min() < _LEAST_REACH_PX:
        return None
    found = [_centroid(image, place, float(near)) for place, near in zip(places, pitch, strict=True)]
    whole = [place for place in found if place is not None]
    return np.array(whole) if len(whole) == target.columns * target.rows else None


def _centroid(image: Image, place: FloatArray, pitch_px: float) -> FloatArray | None:
    """Centre of a dot by its area; None where there is no dot, or not all of it is in the frame."""
    reach = _REACH * pitch_px
    at = place.astype(np.float64)
    for _ in range(_ROUNDS):
        x0, y0 = np.floor(at - reach).astype(int)
        x1, y1 = np.ceil(at + reach).astype(int) + 1
        if x0 < 0 or y0 < 0 or x1 > image.shape[1] or y1 > image.shape[0]:
            return None
        y, x = np.mgrid[y0:y1, x0:x1]
        weight = _weights(image[y0:y1, x0:x1], np.hypot(x - at[0], y - at[1]) / pitch_px)
        if weight is None:
            return None
        moved = np.array([np.sum(weight * x), np.sum(weight * y)]) / np.sum(weight)
        if np.hypot(*(moved - place)) > 0.5 * reach:
            return None
        step, at = np.hypot(*(moved - at)), moved
        if step < 1e-3:
            break
    return at


def _weights(part: Image, distance: FloatArray) -> FloatArray | None:
    """Share of each pixel that a dot covers, judged by its level between ground and dot."""
    ground_pixels = part[(distance > _RING) & (distance <= 0.5)]
    ground = float(np.median(ground_pixels))
    scatter = 1.4826 * float(np.median(np.abs(ground_pixels - ground)))
    contrast = float(np.median(part[distance <= 0.12])) - ground if np.any(distance <= 0.12) else 0.0
    if not abs(contrast) > _LEAST_CONTRAST * scatter:
        return None
    level = (part - ground) / contrast
    weight = np.clip((level - _LOW) / (_HIGH - _LOW), 0.0, 1.0) * (distance <= _REACH)
    return np.asarray(weight, dtype=np.float64) if np.sum(weight) > 0.0 else None
