"""Where the camera stands: its pose from a board's homography and the focal length.

A camera of focal length f and principal point c sees the board's plane through ``H = s K [r1 r2 t]``, with
``K = [[f, 0, cx], [0, f, cy], [0, 0, 1]]``, the images r1 and r2 of the board's axes orthogonal and of one length. That
gives r1, r2 and t (Z. Zhang, "A flexible new technique for camera calibration", IEEE PAMI 22, 2000, section 3.1); the
nearest rotation is taken (ibid., appendix C) and refined by Gauss-Newton steps on the distances in the image.

View axes: x right, y down, z away from the camera. Heights above the board count towards the camera on both sides, so
that for the rear, seen mirrored, the rotation has a reflection in it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Side
from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.registration.homography import apply

FloatArray = NDArray[np.float64]

_STEPS: Final = 50
_HALVINGS: Final = 10
_SMALL_STEP: Final = 1e-9
_GRID: Final = 5
_SAME_DEG: Final = 2.0
"""Two minima whose normals differ by less are one."""


@dataclass(frozen=True, slots=True, eq=False)
class CameraPose:
    """A board as a camera has it before it: ``view = rotation @ (x, y, height) + translation``.

    Parameters
    ----------
    rotation : ndarray, shape (3, 3)
        From board x, y and height (towards the camera) to view axes; for the rear its determinant is -1.
    translation_mm : ndarray, shape (3,)
        The board's origin in view axes.
    residual_px : float
        Root mean square distance between where the homography and where this pose put the board's places: what no
        camera of this focal length could give shows here.
    rival_residual_px : float
        The same of the other pose that nearly the same image allows (tilted the other way); infinite if there is none.
    """

    rotation: FloatArray
    translation_mm: FloatArray
    residual_px: float
    rival_residual_px: float = float("inf")

    @property
    def tilt_deg(self) -> float:
        """Angle between the optical axis and the board's normal."""
        return float(np.degrees(np.arccos(np.clip(-self.rotation[2, 2], -1.0, 1.0))))

    @property
    def eye_mm(self) -> FloatArray:
        """The camera in board x, y and height."""
        return np.asarray(-self.rotation.T @ self.translation_mm)

    def plane(self, height_mm: float) -> FloatArray:
        """Carry the plane at one height into view: the matrix ``[r1, r2, t + height r3]``, shape (3, 3)."""
        lifted = self.translation_mm + height_mm * self.rotation[:, 2]
        return np.column_stack([self.rotation[:, 0], self.rotation[:, 1], lifted])


def camera_matrix(focal_px: float, optics: Optics, size_px: tuple[int, int]) -> FloatArray:
    """Make K; where the optics name no principal point it is the image's middle.

    Returns
    -------
    ndarray, shape (3, 3)
    """
    x, y = optics.principal_px or ((size_px[0] - 1) / 2.0, (size_px[1] - 1) / 2.0)
    return np.array([[focal_px, 0.0, x], [0.0, focal_px, y], [0.0, 0.0, 1.0]])


def pose_of(
    matrix: FloatArray, optics: Optics, size_px: tuple[int, int], side: Side, xy_mm: FloatArray | None = None
) -> CameraPose:
    """Find the pose of the camera that sees a board as a homography says.

    Parameters
    ----------
    matrix : ndarray, shape (3, 3)
        From board mm to px of the undistorted image.
    optics : Optics
        Needs `focal_px`.
    size_px : tuple of int
        ``(columns, rows)``.
    side : {"front", "rear"}
    xy_mm : ndarray, shape (n, 2), optional
        The places on the board that the pose has to meet: what the homography was fitted to. Default: a grid over
        what the frame shows.

    Returns
    -------
    CameraPose

    Raises
    ------
    PlacementRefused
        With cause ``optics`` where there is no focal length, ``mirrored`` where the homography shows the other side.
    """
    if optics.focal_px is None:
        raise PlacementRefused(
            "the camera's pose cannot be found without the focal length",
            cause="optics",
            key="optics",
            hint="give focal_px or hfov_deg in the camera file",
        )
    return pose_at_focal(matrix, camera_matrix(optics.focal_px, optics, size_px), size_px, side, xy_mm)


def pose_at_focal(
    matrix: FloatArray,
    camera: FloatArray,
    size_px: tuple[int, int],
    side: Side,
    xy_mm: FloatArray | None = None,
) -> CameraPose:
    """Find the pose as `pose_of` does, for a camera matrix.

    Parameters
    ----------
    matrix, camera : ndarray, shape (3, 3)
    size_px : tuple of int
    side : {"front", "rear"}
    xy_mm : ndarray, shape (n, 2), optional
    """
    places = places_shown(matrix, size_px) if xy_mm is None else xy_mm
    target = _normalised_places(matrix, camera, places)
    start = _zhang(np.linalg.inv(camera) @ matrix, places, side)
    best = _refined(*start, places, target)
    rival = _refined(*_reversed(*start, places), places, target)
    if rival[2] < best[2]:
        best, rival = rival, best
    apart = np.degrees(np.arccos(np.clip(best[0][:, 2] @ rival[0][:, 2], -1.0, 1.0)))
    facing = _faces_camera(rival[0], rival[1], places)
    focal = float(camera[0, 0])
    return CameraPose(
        rotation=_read_only(best[0]),
        translation_mm=_read_only(best[1]),
        residual_px=focal * best[2],
        rival_residual_px=focal * rival[2] if apart > _SAME_DEG and facing else float("inf"),
    )


def nudged(pose: CameraPose, camera: FloatArray, xy_mm: FloatArray, moves_px: FloatArray) -> tuple[CameraPose, ...]:
    """Give the poses that a pose becomes when the places it meets appear a little elsewhere, to first order.

    Parameters
    ----------
    pose : CameraPose
    camera : ndarray, shape (3, 3)
    xy_mm : ndarray, shape (n, 2)
        The places it meets.
    moves_px : ndarray, shape (k, n, 2)
        By how much they appear elsewhere, in each of k ways.

    Returns
    -------
    tuple of CameraPose
        The residuals are those of the given pose.
    """
    flat = np.column_stack([xy_mm, np.zeros(len(xy_mm))])
    distance = float(np.linalg.norm(pose.rotation @ flat.mean(axis=0) + pose.translation_mm))
    slopes = _slopes(pose.rotation, pose.translation_mm, flat, distance)
    aims = moves_px.reshape(len(moves_px), -1).T / camera[0, 0]
    steps = np.linalg.lstsq(slopes, aims, rcond=None)[0].T
    return tuple(
        replace(
            pose, rotation=_turn(step[:3]) @ pose.rotation, translation_mm=pose.translation_mm + distance * step[3:]
        )
        for step in steps
    )


def places_shown(matrix: FloatArray, size_px: tuple[int, int]) -> FloatArray:
    """Give places on the board, shape (n, 2), over all of the frame, as far as it shows the board's plane."""
    x, y = (np.linspace(-0.5, count - 0.5, _GRID) for count in size_px)
    grid = np.column_stack([axis.ravel() for axis in np.meshgrid(x, y)])
    places = apply(np.linalg.inv(matrix), grid)
    return places[np.all(np.isfinite(places), axis=1)]


def _normalised_places(matrix: FloatArray, camera: FloatArray, places: FloatArray) -> FloatArray:
    """Where the homography puts places, in units of the focal length from the principal point."""
    return np.asarray((apply(matrix, places) - camera[:2, 2]) / camera[0, 0])


def _zhang(seen: FloatArray, places: FloatArray, side: Side) -> tuple[FloatArray, FloatArray]:
    """Take rotation and translation from ``seen = K⁻¹ H``."""
    scale = 2.0 / (float(np.linalg.norm(seen[:, 0])) + float(np.linalg.norm(seen[:, 1])))
    r1, r2 = scale * seen[:, 0], scale * seen[:, 1]
    towards = np.cross(r1, r2) if side == "front" else np.cross(r2, r1)
    u, _, v = np.linalg.svd(np.column_stack([r1, r2, towards]))
    rotation = np.asarray(u @ v)
    # The middle of the places stays where it is seen; a skew homography would else move it.
    middle = places.mean(axis=0)
    translation = scale * seen @ [*middle, 1.0] - rotation @ [*middle, 0.0]
    if not _faces_camera(rotation, translation, places):
        raise PlacementRefused(f"the placement is no view of the {side}: it looks mirrored", cause="mirrored")
    return rotation, translation


def _faces_camera(rotation: FloatArray, translation: FloatArray, places: FloatArray) -> bool:
    middle = rotation @ [*places.mean(axis=0), 0.0] + translation
    return bool(rotation[:, 2] @ middle < 0.0)


def _reversed(rotation: FloatArray, translation: FloatArray, places: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Tilt the board the other way, its middle staying where it is: a distant camera could hardly tell the two apart.

    D. Oberkampf, D. DeMenthon, L. Davis, "Iterative pose estimation using coplanar feature points", CVIU 63, 1996.
    """
    flat = np.array([*places.mean(axis=0), 0.0])
    middle = rotation @ flat + translation
    sight = middle / np.linalg.norm(middle)
    mirror = np.eye(3) - 2.0 * np.outer(sight, sight)
    tilted = mirror @ rotation @ np.diag([1.0, 1.0, -1.0])
    return tilted, middle - tilted @ flat


def _refined(
    rotation: FloatArray, translation: FloatArray, places: FloatArray, target: FloatArray
) -> tuple[FloatArray, FloatArray, float]:
    """Minimise the squared distances to the target by Gauss-Newton steps, halved until they help.

    Returns
    -------
    rotation, translation : ndarray
    rms : float
        In units of the focal length.
    """
    flat = np.column_stack([places, np.zeros(len(places))])
    misses = _misses(rotation, translation, flat, target)
    for _ in range(_STEPS):
        # Lengths in units of the distance: turns and shifts then move the image alike.
        distance = float(np.linalg.norm(rotation @ flat.mean(axis=0) + translation))
        slopes = _slopes(rotation, translation, flat, distance)
        step: FloatArray = np.linalg.lstsq(slopes, misses, rcond=None)[0].astype(np.float64)
        for _ in range(_HALVINGS):
            turned = _turn(step[:3]) @ rotation
            moved = translation + distance * step[3:]
            tried = _misses(turned, moved, flat, target)
            if tried @ tried < misses @ misses:
                break
            step /= 2.0
        else:
            break
        rotation, translation, misses = turned, moved, tried
        if float(np.abs(step).max()) < _SMALL_STEP:
            break
    return rotation, translation, float(np.sqrt(misses @ misses / len(places)))


def _misses(rotation: FloatArray, translation: FloatArray, flat: FloatArray, target: FloatArray) -> FloatArray:
    seen = flat @ rotation.T + translation
    if seen[:, 2].min() <= 0.0:
        return np.full(target.size, np.inf)
    misses: FloatArray = (target - seen[:, :2] / seen[:, 2:]).ravel()
    return misses


def _slopes(rotation: FloatArray, translation: FloatArray, flat: FloatArray, distance: float) -> FloatArray:
    """Derivatives of the image by a turn about the view axes and a shift in units of the distance, shape (2 n, 6)."""
    arm = flat @ rotation.T
    x, y, z = (arm + translation).T
    zero = np.zeros_like(z)
    by_place = np.stack([np.stack([1.0 / z, zero, -x / z**2]), np.stack([zero, 1.0 / z, -y / z**2])])
    ax, ay, az = arm.T
    by_turn = np.stack([np.stack([zero, az, -ay]), np.stack([-az, zero, ax]), np.stack([ay, -ax, zero])])
    turned = np.einsum("apn,pqn->naq", by_place, by_turn)
    shifted = distance * np.moveaxis(by_place, 2, 0)
    return np.concatenate([turned, shifted], axis=2).reshape(-1, 6)


def _turn(by: FloatArray) -> FloatArray:
    """Rotation about an axis by its length in radians (Rodrigues' formula)."""
    angle = float(np.linalg.norm(by))
    if angle == 0.0:
        return np.eye(3)
    x, y, z = by / angle
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.asarray(np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross)


def _read_only(array: FloatArray) -> FloatArray:
    array.flags.writeable = False
    return array
