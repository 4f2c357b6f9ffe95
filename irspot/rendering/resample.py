"""The frame at the picture's size: smooth, but never hotter or colder than the pixels it was made from."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2

FloatImage = NDArray[np.float32]


def resample(degc: NDArray[Any], width: int, height: int) -> FloatImage:
    """Resample temperatures for showing; nothing is ever measured on the result.

    Parameters
    ----------
    degc : ndarray, shape (rows, columns)
        NaN where not measured.
    width, height : int
        Of the result.

    Returns
    -------
    ndarray of float32, shape (height, width)
        Bicubic where enlarged, held within the 3 × 3 neighbourhood of the nearest pixel (the kernel's overshoot
        would paint temperatures that nobody measured); area means where reduced. NaN keeps its pixels' outline.
    """
    cv2 = load_cv2()
    source = np.ascontiguousarray(degc, np.float32)
    missing = ~np.isfinite(source)
    any_missing = bool(missing.any())
    if any_missing:
        source = _filled(source, missing)
    if width < source.shape[1] or height < source.shape[0]:
        image = cv2.resize(source, (width, height), interpolation=cv2.INTER_AREA)
    else:
        image = _enlarged(source, width, height)
    if any_missing:
        gone = cv2.resize(missing.astype(np.uint8), (width, height), interpolation=cv2.INTER_NEAREST_EXACT)
        image[gone.astype(bool)] = np.nan
    shown: FloatImage = image
    return shown


def _enlarged(source: FloatImage, width: int, height: int) -> FloatImage:
    cv2 = load_cv2()
    smooth = cv2.resize(source, (width, height), interpolation=cv2.INTER_CUBIC)
    block = np.ones((3, 3), np.uint8)
    for extreme, hold in ((cv2.erode(source, block), np.maximum), (cv2.dilate(source, block), np.minimum)):
        hold(smooth, cv2.resize(extreme, (width, height), interpolation=cv2.INTER_NEAREST_EXACT), out=smooth)
    held: FloatImage = smooth
    return held


def _filled(source: FloatImage, missing: NDArray[np.bool_]) -> FloatImage:
    """Fill missing pixels near sound ones with those' means, so that the bicubic kernel has numbers to use.

    Only two pixels around the sound ones matter to the kernel; what lies deeper is painted over anyway.
    """
    cv2 = load_cv2()
    values = np.where(missing, np.float32(0), source)
    known = (~missing).astype(np.float32)
    for _ in range(2):
        total = cv2.blur(values, (3, 3), borderType=cv2.BORDER_REPLICATE)
        weight = cv2.blur(known, (3, 3), borderType=cv2.BORDER_REPLICATE)
        reached = (known == 0) & (weight > 0.05)
        values[reached] = total[reached] / weight[reached]
        known[reached] = 1.0
    return values
