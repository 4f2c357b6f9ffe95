"""Views of a board that placements are tried on: a random camera, and a pose that fills the frame as wanted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Side
from irspot.camera import Optics
from irspot.placing import ImageSide
from irspot.shapes import signed_area
from irspot.synthetic.view import Pose, focal_of, principal_of, project, rays, rotation, straighten

FloatArray = NDArray[np.float64]

DIAGONAL_DEG: Final = 3.0
"""No top edge faces closer than this to a diagonal of the image: there nobody could name the nearest side."""
_NEAR_MM: Final = 5.0


@dataclass(frozen=True, slots=True)
class BoardView:
    """A camera and where it stands.

    Parameters
    ----------
    pose : Pose
    side : {"front", "rear"}
    optics : Optics
    size_px : tuple of int
        ``(columns, rows)``.
    """

    pose: Pose
    side: Side
    optics: Optics
    size_px: tuple[int, int]

    def to_px(self, points_mm: FloatArray, height_mm: float = 0.0) -> FloatArray:
        """Carry board places, shape (n, 2), at one height into the stored image."""
        spatial = np.column_stack([points_mm, np.full(len(points_mm), height_mm)])
        return project(spatial, self.pose, self.side, self.optics, self.size_px)

    def to_mm(self, xy_px: FloatArray) -> FloatArray:
        """Carry places of the stored image, shape (..., 2), onto the board's plane."""
        bent = (xy_px - np.array(principal_of(self.optics, self.size_px))) / focal_of(self.optics)
        met = rays(straighten(bent, self.optics.distortion), self.pose, self.side)
        return np.stack([met.x_mm, met.y_mm], axis=-1)

    def shifted(self, by_mm: tuple[float, float]) -> BoardView:
        """Give the same camera over a second board that lies beside the first: its view of that board."""
        x, y = self.pose.aim_mm
        return replace(self, pose=replace(self.pose, aim_mm=(x - by_mm[0], y - by_mm[1])))

    def matrix(self) -> FloatArray:
        """Homography from board mm to px of the undistorted image, ``K [r1 r2 t]``, with ``[2, 2] == 1``."""
        turned = rotation(self.pose, self.side)
        shift = np.array([0.0, 0.0, self.pose.distance_mm]) - turned @ np.array([*self.pose.aim_mm, 0.0])
        focal, (x, y) = focal_of(self.optics), principal_of(self.optics, self.size_px)
        camera = np.array([[focal, 0.0, x], [0.0, focal, y], [0.0, 0.0, 1.0]])
        matrix = camera @ np.column_stack([turned[:, :2], shift])
        return np.asarray(matrix / matrix[2, 2])

    def fill(self, outline_mm: FloatArray) -> float:
        """Share of the frame that the outline's box on the board would cover, were the frame large enough."""
        return abs(signed_area(self.to_px(box_corners(outline_mm)))) / (self.size_px[0] * self.size_px[1])

    def overhang(self, outline_mm: FloatArray) -> float:
        """How far the outline reaches beyond the frame, as a share of its columns or rows; negative for room left."""
        low, high = self._spread(outline_mm)
        size = np.array(self.size_px, np.float64)
        return float(np.max(np.concatenate([-0.5 - low, high - (size - 0.5)]) / np.tile(size, 2)))

    def in_frame(self, xy_px: FloatArray) -> NDArray[np.bool_]:
        """Say which places lie on the frame's pixels."""
        return np.asarray(np.all((xy_px >= -0.5) & (xy_px <= np.array(self.size_px) - 0.5), axis=-1))

    def _spread(self, outline_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        corners = self.to_px(outline_mm)
        return corners.min(axis=0), corners.max(axis=0)

    def centred(self, outline_mm: FloatArray, centre_px: FloatArray) -> BoardView:
        """Give the same view aimed so that the outline's box in the image has its middle at a place."""
        view = self
        for _ in range(3):
            low, high = view._spread(outline_mm)
            principal = np.array(principal_of(view.optics, view.size_px))
            aim = view.to_mm(principal + (low + high) / 2.0 - centre_px)
            # The place that lies as far from the axis as the box's middle from where it should be goes on the axis.
            view = replace(view, pose=replace(view.pose, aim_mm=(float(aim[0]), float(aim[1]))))
        return view


def box_corners(outline_mm: FloatArray) -> FloatArray:
    """Corners of the outline's bounding box, shape (4, 2)."""
    (x0, y0), (x1, y1) = outline_mm.min(axis=0), outline_mm.max(axis=0)
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def random_optics(random: np.random.Generator, size_px: tuple[int, int]) -> Optics:
    """Draw a lens of 25 to 55 degrees: three in five without distortion, one in two with a shifted axis."""
    focal = size_px[0] / 2.0 / np.tan(np.deg2rad(random.uniform(25.0, 55.0)) / 2.0)
    distortion = (0.0, 0.0, 0.0, 0.0, 0.0)
    if random.random() < 0.4:
        k1, k2, p1, p2 = random.uniform([-0.25, -0.03, -0.003, -0.003], [0.12, 0.05, 0.003, 0.003]).tolist()
        distortion = (k1, k2, p1, p2, 0.0)
    principal = None
    if random.random() < 0.5:
        x, y = (np.array(size_px) - 1) / 2.0 + random.uniform(-0.02, 0.02, 2) * size_px[0]
        principal = (float(x), float(y))
    return Optics(size_px, float(focal), principal, distortion, float(random.uniform(0.6, 2.5)))


def random_pose(random: np.random.Generator, outline_mm: FloatArray) -> Pose:
    """Draw a tilt of 0 to 40 degrees about any axis in the image and any roll; far away, aimed at the middle."""
    tilt, axis = np.deg2rad(random.uniform(0.0, 40.0)), random.uniform(0.0, 2.0 * np.pi)
    turn_deg = np.rad2deg(np.arcsin(np.sin(tilt) * np.cos(axis)))
    tilt_deg = np.rad2deg(np.arctan2(np.sin(tilt) * np.sin(axis), np.cos(tilt)))
    middle = outline_mm.min(axis=0) / 2.0 + outline_mm.max(axis=0) / 2.0
    aim = (float(middle[0]), float(middle[1]))
    return Pose(1e4, aim, float(tilt_deg), float(turn_deg), float(random.uniform(0.0, 360.0)))


def top_of(view: BoardView, outline_mm: FloatArray) -> tuple[ImageSide, float]:
    """Image side nearest to where the board's top faces, and how far from a diagonal it is, in degrees.

    The top faces from the middle of the outline's box towards the middle of the box's upper edge.
    """
    (x0, y0), (x1, y1) = outline_mm.min(axis=0), outline_mm.max(axis=0)
    middle = np.array([[(x0 + x1) / 2.0, (y0 + y1) / 2.0], [(x0 + x1) / 2.0, y0 / 4.0 + 0.75 * y1]])
    centre, upper = view.to_px(middle)
    clockwise = float(np.rad2deg(np.arctan2(*((upper - centre) * [1.0, -1.0])))) % 360.0
    sides: tuple[ImageSide, ...] = ("up", "right", "down", "left")
    quarter = int((clockwise + 45.0) // 90.0) % 4
    return sides[quarter], float(45.0 - abs((clockwise + 45.0) % 90.0 - 45.0))


def at_distance(view: BoardView, outline_mm: FloatArray, centre_px: FloatArray, distance_mm: float) -> BoardView:
    """Move the camera to a distance, the outline's middle staying at a place of the image."""
    moved = replace(view, pose=replace(view.pose, distance_mm=distance_mm))
    return moved.centred(outline_mm, centre_px)


def distance_for_fill(view: BoardView, outline_mm: FloatArray, centre_px: FloatArray, fill: float) -> float:
    """Find the distance at which the board's box covers a share of the frame."""
    distance = view.pose.distance_mm
    for _ in range(5):
        seen = at_distance(view, outline_mm, centre_px, distance).fill(outline_mm)
        distance = max(distance * float(np.sqrt(seen / fill)), _nearest(outline_mm))
    return distance


def distance_for_overhang(view: BoardView, outline_mm: FloatArray, centre_px: FloatArray, overhang: float) -> float:
    """Find the distance at which the outline reaches a share of the frame beyond its border."""
    near, far = _nearest(outline_mm), 2e4
    for _ in range(14):
        between = float(np.sqrt(near * far))
        if at_distance(view, outline_mm, centre_px, between).overhang(outline_mm) > overhang:
            near = between
        else:
            far = between
    return far


def _nearest(outline_mm: FloatArray) -> float:
    """Closer than this, a board tilted by 40 degrees would come too near to the camera."""
    return float(np.hypot(*np.ptp(outline_mm, axis=0))) * 0.5 + _NEAR_MM
