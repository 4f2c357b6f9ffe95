"""Round things anywhere in a frame, the roundest first: what marks are sought among where no outline shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics
from irspot.opencv import load_cv2
from irspot.registration.distortion import undistort
from irspot.registration.mark_centres import fit_centre
from irspot.registration.roundness import RADII_MM, Roundness, roundness

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]

MOST_BLOBS: Final = 18
_CANDIDATES: Final = 40
_LEAST_SHARE: Final = 0.5
_LEAST_SIGNIFICANCE: Final = 40.0
"""Of ``-n ln(1 - share)`` over n pixels, which is chi-squared of one degree of freedom for noise: 28 in a million."""
_LEAST_RADIUS_PX: Final = 1.0
_LEAST_CELLS: Final = 1.6
"""Frames are reduced as far as the smallest disc's radius remains this large."""
_RATIO: Final = 1.3
_MARGIN_PX: Final = 3
_APART_PX: Final = 3.0
_MOST_U_PX: Final = 0.7


@dataclass(frozen=True, slots=True, eq=False)
class Blobs:
    """Round things, the roundest first.

    Parameters
    ----------
    xy_px : ndarray, shape (n, 2)
        In the stored image.
    straight_px : ndarray, shape (n, 2)
        In the undistorted one.
    u_px : ndarray, shape (n,)
    share : ndarray, shape (n,)
        Share of the variance that a disc explains.
    """

    xy_px: FloatArray
    straight_px: FloatArray
    u_px: FloatArray
    share: FloatArray


def blobs_of(degc: F32, scales: tuple[float, float], optics: Optics, *, blur_px: float, noise_k: float) -> Blobs:
    """Find round things that could be marks.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Without gaps.
    scales : tuple of float
        The least and the most px that a mm may have.
    optics : Optics
    blur_px, noise_k : float

    Returns
    -------
    Blobs
        No more than `MOST_BLOBS`.
    """
    low, high = max(_LEAST_RADIUS_PX, RADII_MM[0] * scales[0]), RADII_MM[-1] * scales[1]
    radii = tuple(np.geomspace(low, high, max(2, round(np.log(high / low) / np.log(_RATIO)))).tolist())
    fold = max(1, int(low / _LEAST_CELLS))
    found = roundness(_reduced(degc, fold), float(fold), blur_px, noise_k / fold, radii)
    use = np.ones(degc.shape, bool)
    places, u_px, shares = list[FloatArray](), list[float](), list[float]()
    for column, row in _peaks(found, blur_px, fold):
        radius = float(found.radius[row, column])
        # In a unit of length in which the radius is one that the fit allows.
        unit = max(radius / 3.0, 1e-3)
        start = (np.array([column, row]) + 0.5) * fold - 0.5
        centre = fit_centre(
            degc, use, start, unit * np.eye(2), radius_mm=radius / unit, blur_px=blur_px, noise_k=noise_k
        )
        if (
            centre is None
            or centre.u_px > _MOST_U_PX
            or np.hypot(*(centre.xy_px - start)) > max(1.5 * fold, 0.5 * radius)
        ):
            continue
        if all(np.hypot(*(centre.xy_px - other)) > _APART_PX for other in places):
            places.append(centre.xy_px)
            u_px.append(centre.u_px)
            shares.append(float(found.share[row, column]))
        if len(places) == MOST_BLOBS:
            break
    xy = np.array(places, np.float64).reshape(-1, 2)
    return Blobs(xy, undistort(xy, optics, degc.shape[::-1]), np.array(u_px), np.array(shares))


def _reduced(degc: F32, fold: int) -> F32:
    """Average blocks of pixels."""
    size = (degc.shape[1] // fold, degc.shape[0] // fold)
    whole = degc[: size[1] * fold, : size[0] * fold]
    return whole if fold == 1 else np.asarray(load_cv2().resize(whole, size, interpolation=load_cv2().INTER_AREA))


def _peaks(found: Roundness, blur_px: float, fold: int) -> list[tuple[int, int]]:
    """List columns and rows, in blocks, of the roundest places, each the roundest around, that no noise explains."""
    cv2 = load_cv2()
    share = found.share
    reach = 1.6 * found.radius + np.float32(1.5 * blur_px + 0.5)
    significance = -np.float32(np.pi) * reach * reach * np.log1p(-np.minimum(share, np.float32(0.9999)))
    size = 2 * int(np.ceil(_APART_PX / fold)) + 1
    top = share >= cv2.dilate(share, np.ones((size, size), np.uint8))
    top &= (share > _LEAST_SHARE) & (significance > _LEAST_SIGNIFICANCE)
    top[:_MARGIN_PX] = top[-_MARGIN_PX:] = False
    top[:, :_MARGIN_PX] = top[:, -_MARGIN_PX:] = False
    rows, columns = np.nonzero(top)
    order = np.argsort(-share[rows, columns], kind="stable")[:_CANDIDATES]
    return list(zip(columns[order].tolist(), rows[order].tolist(), strict=True))
