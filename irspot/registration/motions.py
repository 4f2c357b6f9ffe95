"""How places of a frame move when the board does: as a stiff body before a known lens, or freely as a plane.

Parameters of both are in pixels: about how far the board's rim moves for each. The first four are the gentle ones
(shift across, shift down, turn, size), which little evidence holds; the rest tilt or bend.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from irspot.registration.rigid import nearest_view, turn_about

FloatArray = NDArray[np.float64]

GENTLE: Final = 4
_ANY_PX: Final = 1e4
_NEARER: Final = 0.05
_TILT: Final = float(np.deg2rad(3.0))
_BENT: Final = 0.02
"""What somebody who moves a bench or knocks against a stand does to a board's view (common sense; wide enough not to
matter where a board shows well)."""


class Motion(Protocol):
    """A family of motions, near enough to linear in its parameters for Gauss-Newton steps."""

    @property
    def count(self) -> int:
        """Number of parameters."""
        ...

    @property
    def reach_px(self) -> float:
        """From the board's middle to its rim."""
        ...

    @property
    def usual(self) -> FloatArray:
        """Standard deviations that motions of boards and cameras on a bench have, shape (count,)."""
        ...

    def carried(self, by: FloatArray, points: FloatArray) -> FloatArray:
        """Places in the undistorted image that points (see `points_of`) have after a motion, shape (n, 2)."""
        ...

    def slopes(self, by: FloatArray, points: FloatArray) -> FloatArray:
        """Derivatives of `carried` by the parameters, shape (n, 2, count)."""
        ...

    def matrix(self, by: FloatArray) -> FloatArray:
        """Homography of the undistorted image that the board's plane undergoes, shape (3, 3)."""
        ...

    def points_of(self, xy_px: FloatArray, height_mm: FloatArray) -> FloatArray:
        """What `carried` wants to know of places of the undistorted image before the motion, shape (n, 3)."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class StiffMotion:
    """A board that turns and shifts in space before a lens of known focal length; six parameters.

    Parameters
    ----------
    camera : ndarray, shape (3, 3)
    normal : ndarray, shape (3,)
        Of the board, away from the camera, in view axes.
    distance_mm : float
        Of its plane from the camera, along the normal.
    middle_mm : ndarray, shape (3,)
        What it turns about.
    units : ndarray, shape (6,)
        What one pixel of each parameter is, in mm or rad.
    """

    camera: FloatArray
    normal: FloatArray
    distance_mm: float
    middle_mm: FloatArray
    units: FloatArray

    @classmethod
    def of(cls, matrix: FloatArray, camera: FloatArray, middle_px: FloatArray, reach_px: float) -> StiffMotion:
        """Take the stiff board nearest to a mapping.

        Parameters
        ----------
        matrix : ndarray, shape (3, 3)
            Board mm to px of the undistorted image.
        camera : ndarray, shape (3, 3)
        middle_px : ndarray, shape (2,)
        reach_px : float
            From there to the board's rim.
        """
        view = nearest_view(matrix, camera)
        normal = turn_about(view[:3])[:, 2]
        normal = normal if normal @ view[3:] > 0.0 else -normal
        distance = float(normal @ view[3:])
        ray = np.linalg.solve(camera, np.array([*middle_px, 1.0]))
        middle = ray * (distance / (normal @ ray))
        per_px = middle[2] / camera[0, 0]
        units = np.array([per_px, per_px, 1.0 / reach_px, middle[2] / reach_px, 1.0 / reach_px, 1.0 / reach_px])
        return cls(camera, normal, distance, middle, units)

    @property
    def count(self) -> int:
        """Six."""
        return 6

    @property
    def reach_px(self) -> float:
        """From the board's middle to its rim."""
        return float(1.0 / self.units[2])

    @property
    def usual(self) -> FloatArray:
        """Any shift and turn; a little nearer or farther; tilted a little."""
        return np.array([_ANY_PX, _ANY_PX, _ANY_PX, _NEARER * self.reach_px, *(2 * [_TILT * self.reach_px])])

    def points_of(self, xy_px: FloatArray, height_mm: FloatArray) -> FloatArray:
        """Places in space, view axes, mm."""
        rays = np.column_stack([xy_px, np.ones(len(xy_px))]) @ np.linalg.inv(self.camera).T
        return np.asarray(rays * ((self.distance_mm - height_mm) / (rays @ self.normal))[:, None])

    def _placed(self, by: FloatArray, points: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Places in space after the motion, and the turn and shift that brought them there."""
        change = by * self.units
        turn = turn_about(np.array([change[4], change[5], change[2]]))
        shift = np.array([change[0], change[1], -change[3]])
        return (points - self.middle_mm) @ turn.T + self.middle_mm + shift, turn, shift

    def carried(self, by: FloatArray, points: FloatArray) -> FloatArray:
        """See `Motion`."""
        seen = self._placed(by, points)[0] @ self.camera.T
        return np.asarray(seen[:, :2] / seen[:, 2:])

    def slopes(self, by: FloatArray, points: FloatArray) -> FloatArray:
        """See `Motion`."""
        placed, _, shift = self._placed(by, points)
        x, y, z = placed.T
        # A further small turn acts about where the middle now is.
        dx, dy, dz = (placed - self.middle_mm - shift).T
        zero = np.zeros_like(x)
        space = np.stack(
            [
                np.stack([zero + 1.0, zero, -dy, zero, zero, dz], axis=1),
                np.stack([zero, zero + 1.0, dx, zero, -dz, zero], axis=1),
                np.stack([zero, zero, zero, zero - 1.0, dy, -dx], axis=1),
            ],
            axis=1,
        )
        focal = self.camera[0, 0] / z
        across = space[:, 0] - (x / z)[:, None] * space[:, 2]
        down = space[:, 1] - (y / z)[:, None] * space[:, 2]
        return np.asarray(np.stack([across, down], axis=1) * focal[:, None, None] * self.units)

    def matrix(self, by: FloatArray) -> FloatArray:
        """``K (R + s n' / d) K^-1``, with s the shift of the camera's own place under the motion."""
        change = by * self.units
        turn = turn_about(np.array([change[4], change[5], change[2]]))
        shift = self.middle_mm + np.array([change[0], change[1], -change[3]]) - turn @ self.middle_mm
        space = turn + np.outer(shift, self.normal) / self.distance_mm
        return np.asarray(self.camera @ space @ np.linalg.inv(self.camera))


@dataclass(frozen=True, slots=True, eq=False)
class FreeMotion:
    """A plane that undergoes any homography, where no focal length says which are possible; eight parameters.

    Parameters
    ----------
    middle_px : ndarray, shape (2,)
    reach_px : float
    """

    middle_px: FloatArray
    reach_px: float

    @property
    def count(self) -> int:
        """Eight."""
        return 8

    @property
    def usual(self) -> FloatArray:
        """Any shift and turn; a little larger or smaller; bent a little, as by tilting."""
        return np.array([_ANY_PX, _ANY_PX, _ANY_PX, _NEARER * self.reach_px, *(4 * [_BENT * self.reach_px])])

    def points_of(self, xy_px: FloatArray, height_mm: FloatArray) -> FloatArray:
        """Places from the middle, in units of the reach; heights mean nothing here."""
        return np.column_stack([(xy_px - self.middle_px) / self.reach_px, np.ones(len(xy_px))])

    def _core(self, by: FloatArray) -> FloatArray:
        dx, dy, turn, size, wide, skew, far_x, far_y = by / self.reach_px
        return np.array(
            [[1.0 + size + wide, skew - turn, dx], [skew + turn, 1.0 + size - wide, dy], [far_x, far_y, 1.0]]
        )

    def carried(self, by: FloatArray, points: FloatArray) -> FloatArray:
        """See `Motion`."""
        seen = points @ self._core(by).T
        return np.asarray(seen[:, :2] / seen[:, 2:] * self.reach_px + self.middle_px)

    def slopes(self, by: FloatArray, points: FloatArray) -> FloatArray:
        """See `Motion`."""
        seen = points @ self._core(by).T
        u, v = (seen[:, :2] / seen[:, 2:]).T
        x, y, _ = points.T
        one, zero = np.ones_like(x), np.zeros_like(x)
        across = np.stack([one, zero, -y, x, x, y, -u * x, -u * y], axis=1)
        down = np.stack([zero, one, x, y, -y, x, -v * x, -v * y], axis=1)
        return np.asarray(np.stack([across, down], axis=1) / seen[:, 2][:, None, None])

    def matrix(self, by: FloatArray) -> FloatArray:
        """See `Motion`."""
        to_unit = np.array([[1.0, 0.0, -self.middle_px[0]], [0.0, 1.0, -self.middle_px[1]], [0.0, 0.0, self.reach_px]])
        return np.asarray(np.linalg.inv(to_unit) @ self._core(by) @ to_unit)
