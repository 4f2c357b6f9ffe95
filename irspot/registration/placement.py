"""Where the board is in a frame: a placement names one place in mm and in px."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from irspot.board import Side
from irspot.camera import Optics

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Placement:
    """The mapping of board mm (front view, y up) to px of the stored image, and how good it is.

    Parameters
    ----------
    matrix : ndarray, shape (3, 3)
        Homography from board mm to px of the *undistorted* image, ``matrix[2, 2] == 1``.
    side : {"front", "rear"}
        Side seen; a rear view is mirrored by the matrix itself.
    optics : Optics
        Lens distortion between undistorted and stored image.
    size_px : tuple of int
        ``(columns, rows)`` of the stored image.
    method : str
        ``corners``, ``points``, ``auto`` or ``photo``.
    residual_px, residual_mm : float
        Root mean square distance of the points used from where the mapping puts them; 0 for four points.
    points : int
        Points used.
    u_point_px : float
        Standard uncertainty of one point's place, for the budget.
    held_mm : ndarray, shape (n, 2), or None
        Places on the board that the mapping was fitted to and the camera's pose has to meet; None for no particular
        ones.
    covariance : ndarray, shape (8, 8), or None
        Of the entries of `matrix` but the last, row by row; None where it follows from `held_mm` and `u_point_px`.
    share_held : float or None
        Share of the outline, as far as it is in view, at which the frame has an edge; None where it was not sought.
    marks : tuple of str
        Ids of the marks found in the frame that hold the placement.
    marks_left_out : tuple of str
        Ids of those that show, but elsewhere than the rest says.
    """

    matrix: FloatArray
    side: Side
    optics: Optics
    size_px: tuple[int, int]
    method: Literal["corners", "points", "auto", "photo"]
    residual_px: float
    residual_mm: float
    points: int
    u_point_px: float = 0.5
    held_mm: FloatArray | None = None
    covariance: FloatArray | None = None
    share_held: float | None = None
    marks: tuple[str, ...] = ()
    marks_left_out: tuple[str, ...] = ()

    def to_px(self, xy_mm: FloatArray) -> FloatArray:
        """Carry board places into the stored image.

        Parameters
        ----------
        xy_mm : ndarray, shape (n, 2)

        Returns
        -------
        ndarray, shape (n, 2)
            NaN for places behind the camera.
        """
        from irspot.registration.distortion import distort
        from irspot.registration.homography import apply

        return distort(apply(self.matrix, xy_mm), self.optics, self.size_px)

    def to_mm(self, xy_px: FloatArray) -> FloatArray:
        """Carry places of the stored image onto the board.

        Parameters
        ----------
        xy_px : ndarray, shape (n, 2)

        Returns
        -------
        ndarray, shape (n, 2)
            NaN for places that do not meet the board's plane in front of the camera.
        """
        from irspot.registration.distortion import undistort
        from irspot.registration.homography import apply

        return apply(np.linalg.inv(self.matrix), undistort(xy_px, self.optics, self.size_px))

    def raised(self, height_mm: float) -> Placement:
        """Give the placement of the plane at a height above the board: `irspot.registration.heights.raised`."""
        from irspot.registration.heights import raised

        return raised(self, height_mm)

    def u_px_at(self, xy_mm: FloatArray) -> FloatArray:
        """Standard uncertainty of where board places appear, in whichever direction it is largest.

        Parameters
        ----------
        xy_mm : ndarray, shape (n, 2)

        Returns
        -------
        ndarray, shape (n,)
            px of the stored image; NaN where nothing says how uncertain the placement is.
        """
        from irspot.registration.spread import largest_u, place_covariances_px

        return largest_u(place_covariances_px(self, xy_mm))
