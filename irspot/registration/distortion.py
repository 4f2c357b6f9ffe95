"""Lens distortion, done and undone: radial k1 k2 k3 and tangential p1 p2, the model of OpenCV's documentation.

With ``x, y`` the undistorted place in units of the focal length from the principal point and ``r² = x² + y²``::

    x' = x (1 + k1 r² + k2 r⁴ + k3 r⁶) + 2 p1 x y + p2 (r² + 2 x²)
    y' = y (1 + k1 r² + k2 r⁴ + k3 r⁶) + p1 (r² + 2 y²) + 2 p2 x y

The polynomial folds back on itself at some radius; places beyond it have no meaning and become NaN.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics
from irspot.errors import PlacementRefused

FloatArray = NDArray[np.float64]

_CONVERGED_PX: Final = 1e-9
"""Last Newton step of an undistorted place; the promise is 1e-6 px."""
_STEPS: Final = 30


def distort(xy_px: FloatArray, optics: Optics, size_px: tuple[int, int]) -> FloatArray:
    """Carry places of the undistorted image into the stored one.

    Parameters
    ----------
    xy_px : ndarray, shape (n, 2)
    optics : Optics
    size_px : tuple of int
        ``(columns, rows)``; its middle is the principal point where the optics name none.

    Returns
    -------
    ndarray, shape (n, 2)
        The same places for a lens without distortion; NaN beyond the radius where the model folds.
    """
    xy_px = np.asarray(xy_px, dtype=np.float64)
    if not optics.distorted:
        return xy_px
    focal, middle = axes(optics, size_px)
    x, y = ((xy_px - middle) / focal).T
    bent_x, bent_y = bend(x, y, optics.distortion)
    beyond = ~(x * x + y * y < fold_radius_squared(optics.distortion))
    bent = np.column_stack([bent_x, bent_y]) * focal + middle
    bent[beyond] = np.nan
    return bent


def undistort(xy_px: FloatArray, optics: Optics, size_px: tuple[int, int]) -> FloatArray:
    """Carry places of the stored image into the undistorted one, by Newton's method.

    Parameters
    ----------
    xy_px : ndarray, shape (n, 2)
    optics : Optics
    size_px : tuple of int
        ``(columns, rows)``.

    Returns
    -------
    ndarray, shape (n, 2)
        Within 1e-6 px of the places that `distort` carries there; NaN where there is none.
    """
    xy_px = np.asarray(xy_px, dtype=np.float64)
    if not optics.distorted:
        return xy_px
    focal, middle = axes(optics, size_px)
    aim_x, aim_y = ((xy_px - middle) / focal).T
    x, y, step = _newton(aim_x, aim_y, optics.distortion, _CONVERGED_PX / focal)
    sound = (step * focal <= 1e-7) & (x * x + y * y < fold_radius_squared(optics.distortion))
    straight = np.column_stack([x, y]) * focal + middle
    straight[~sound] = np.nan
    return straight


@lru_cache(maxsize=16)
def fold_radius_squared(distortion: tuple[float, float, float, float, float]) -> float:
    """Squared radius (focal lengths) at which the radial polynomial stops growing; infinite if it never does.

    The first positive root in r² of ``d/dr [r (1 + k1 r² + k2 r⁴ + k3 r⁶)] = 1 + 3 k1 r² + 5 k2 r⁴ + 7 k3 r⁶``.

    Examples
    --------
    >>> fold_radius_squared((-1.0 / 3.0, 0.0, 0.0, 0.0, 0.0))
    1.0
    """
    k1, k2, _, _, k3 = distortion
    roots = np.roots([7.0 * k3, 5.0 * k2, 3.0 * k1, 1.0])
    real = roots[(np.abs(roots.imag) < 1e-12) & (roots.real > 0.0)].real
    return float(real.min()) if real.size else float("inf")


def axes(optics: Optics, size_px: tuple[int, int]) -> tuple[float, FloatArray]:
    """Give the focal length, px, and where the optical axis meets the image.

    Raises
    ------
    PlacementRefused
        If the focal length is not known.
    """
    if optics.focal_px is None:
        raise PlacementRefused(
            "the lens distortion cannot be undone without the focal length",
            cause="optics",
            key="optics",
            hint="give focal_px or hfov_deg in the camera file",
        )
    middle = optics.principal_px or ((size_px[0] - 1) / 2.0, (size_px[1] - 1) / 2.0)
    return optics.focal_px, np.array(middle, dtype=np.float64)


def bend(
    x: FloatArray, y: FloatArray, distortion: tuple[float, float, float, float, float]
) -> tuple[FloatArray, FloatArray]:
    """Bend places as the equations above do, wherever they lie.

    Parameters
    ----------
    x, y : ndarray, any one shape
        In units of the focal length from the principal point.
    distortion : tuple of float

    Returns
    -------
    tuple of ndarray, each of that shape
    """
    k1, k2, p1, p2, k3 = distortion
    r2 = x * x + y * y
    radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3))
    bent_x = x * radial + 2.0 * p1 * x * y + p2 * (r2 + 2.0 * x * x)
    bent_y = y * radial + p1 * (r2 + 2.0 * y * y) + 2.0 * p2 * x * y
    return bent_x, bent_y


def _slopes(
    x: FloatArray, y: FloatArray, distortion: tuple[float, float, float, float, float]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Derivatives ``dx'/dx``, ``dx'/dy`` (equal to ``dy'/dx``) and ``dy'/dy``."""
    k1, k2, p1, p2, k3 = distortion
    r2 = x * x + y * y
    radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3))
    growth = 2.0 * (k1 + r2 * (2.0 * k2 + 3.0 * r2 * k3))
    xx = radial + x * x * growth + 2.0 * p1 * y + 6.0 * p2 * x
    xy = x * y * growth + 2.0 * p1 * x + 2.0 * p2 * y
    yy = radial + y * y * growth + 6.0 * p1 * y + 2.0 * p2 * x
    return xx, xy, yy


def _newton(
    aim_x: FloatArray, aim_y: FloatArray, distortion: tuple[float, float, float, float, float], small: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Solve ``bend(x, y) = aim`` from the aim itself; give the solution and the last step, NaN for a bad slope."""
    x, y = aim_x.copy(), aim_y.copy()
    step = np.full_like(x, np.inf)
    with np.errstate(all="ignore"):
        for _ in range(_STEPS):
            bent_x, bent_y = bend(x, y, distortion)
            xx, xy, yy = _slopes(x, y, distortion)
            # A slope that is not positive belongs to a folded branch: the lens shows no such place.
            determinant = xx * yy - xy * xy
            determinant = np.where(determinant > 0.0, determinant, np.nan)
            miss_x, miss_y = aim_x - bent_x, aim_y - bent_y
            step_x = (yy * miss_x - xy * miss_y) / determinant
            step_y = (xx * miss_y - xy * miss_x) / determinant
            x, y = x + step_x, y + step_y
            step = np.hypot(step_x, step_y)
            if not np.any(step > small):
                break
    return x, y, step
