"""Focal length and distortion from views of a flat target of known geometry.

Each view has a pose; lens and poses together are what puts the target's points nearest to where they were found, in the
least squares sense (Z. Zhang, "A flexible new technique for camera calibration", IEEE PAMI 22, 2000, section 3.3).
Uncertainties are those of the fit, the scatter of the points judged by the residual.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics
from irspot.errors import IrspotError, PlacementRefused
from irspot.opencv import load_cv2
from irspot.registration import homography
from irspot.registration.distortion import bend
from irspot.registration.lens_target import Target
from irspot.registration.pose import CameraPose, camera_matrix, pose_at_focal

FloatArray = NDArray[np.float64]
Distortion = tuple[float, float, float, float, float]

_STARTS: Final = (0.6, 1.0, 1.7, 3.0, 5.5)
"""Focal lengths to begin with, in widths of the image: fields of view from 80 to 10 degrees."""


@dataclass(frozen=True, slots=True)
class LensWish:
    """What to fit besides the focal length, k1 and k2.

    Parameters
    ----------
    principal : bool
        Fit the principal point; else it is the one given, or the image's middle.
    tangential : bool
        Fit p1 and p2; else they are zero.
    principal_px : tuple of float or None
    """

    principal: bool = False
    tangential: bool = False
    principal_px: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class LensFit:
    """A lens as its views have it.

    Parameters
    ----------
    focal_px, u_focal_px : float
    principal_px, u_principal_px : tuple of float
        The uncertainty is zero where it was not fitted.
    distortion, u_distortion : tuple of float
        k1 k2 p1 p2 k3.
    residual_px : float
        Root mean square distance of the points from where the lens puts them.
    view_residuals_px, tilts_deg : tuple of float
        Of each view.
    points : int
    coverage : float
        Share of the image within the hull of all points.
    """

    focal_px: float
    u_focal_px: float
    principal_px: tuple[float, float]
    u_principal_px: tuple[float, float]
    distortion: Distortion
    u_distortion: Distortion
    residual_px: float
    view_residuals_px: tuple[float, ...]
    tilts_deg: tuple[float, ...]
    points: int
    coverage: float


def fit_lens(
    target: Target, views: Sequence[FloatArray], size_px: tuple[int, int], wish: LensWish | None = None
) -> LensFit:
    """Fit a lens to views of a target.

    Parameters
    ----------
    target : Target
    views : sequence of ndarray, each of shape (n, 2)
        Px of the target's points, in its order, as `find_target` gives them.
    size_px : tuple of int
        ``(columns, rows)`` of the frames.
    wish : LensWish, optional

    Returns
    -------
    LensFit

    Raises
    ------
    IrspotError
        If the views do not determine a lens.
    """
    from scipy.optimize import least_squares

    wish = wish or LensWish()
    plan = _plan(target, views, size_px, wish)
    start = _start(plan)
    if 2 * plan.seen.shape[0] * plan.seen.shape[1] <= len(start):
        raise _open()
    found = least_squares(plan.misses, start, x_scale="jac", method="lm")
    spread = _spread(found.jac, float(2.0 * found.cost))
    if spread is None or not 0.0 < found.x[0] < 1e6:
        raise _open()
    return _result(plan, found.x, np.sqrt(np.diag(spread)))


def _open() -> IrspotError:
    return IrspotError(
        "the views do not determine a lens",
        hint="take frames of the target from several sides, tilted by 20 to 40 degrees",
    )


@dataclass(frozen=True, slots=True)
class _Plan:
    """The target as each view has it, where its points were found, and what of the lens is free."""

    solid: FloatArray
    seen: FloatArray
    size_px: tuple[int, int]
    middle_px: FloatArray
    wish: LensWish

    @property
    def lens_count(self) -> int:
        return 3 + 2 * self.wish.principal + 2 * self.wish.tangential

    def lens(self, values: FloatArray) -> tuple[float, FloatArray, Distortion]:
        """Take focal length, principal point and distortion from the fit's parameters."""
        rest = [float(value) for value in values[3 : self.lens_count]]
        middle = np.array([rest.pop(0), rest.pop(0)]) if self.wish.principal else self.middle_px
        p1, p2 = rest if self.wish.tangential else (0.0, 0.0)
        return float(values[0]), middle, (float(values[1]), float(values[2]), p1, p2, 0.0)

    def misses(self, values: FloatArray) -> FloatArray:
        """Distances of all points from where lens and poses put them, x and y, in px."""
        from scipy.spatial.transform import Rotation

        focal, middle, distortion = self.lens(values)
        poses = values[self.lens_count :].reshape(-1, 6)
        turned = np.einsum("vij,vnj->vni", Rotation.from_rotvec(poses[:, :3]).as_matrix(), self.solid)
        view = turned + poses[:, None, 3:]
        x, y = bend(view[..., 0] / view[..., 2], view[..., 1] / view[..., 2], distortion)
        placed = focal * np.stack([x, y], axis=-1) + middle
        return np.asarray((placed - self.seen).ravel())


def _plan(target: Target, views: Sequence[FloatArray], size_px: tuple[int, int], wish: LensWish) -> _Plan:
    middle = wish.principal_px or ((size_px[0] - 1) / 2.0, (size_px[1] - 1) / 2.0)
    flat = target.places_mm - target.places_mm.mean(axis=0)
    solid = np.array([_right_way_round(flat, view) for view in views])
    return _Plan(solid, np.array(views), size_px, np.array(middle, dtype=np.float64), wish)


def _right_way_round(flat: FloatArray, view: FloatArray) -> FloatArray:
    """Give the target in axes x right, y down, z away, mirrored if the points were counted from the other side."""
    matrix = homography.fit(flat, view)
    mirror = 1.0 if np.linalg.det(matrix) > 0.0 else -1.0
    return np.column_stack([flat * [mirror, 1.0], np.zeros(len(flat))])


def _start(plan: _Plan) -> FloatArray:
    """Choose the best of some focal lengths, without distortion, each view's pose by itself."""
    tried = [_poses(plan, share * plan.size_px[0]) for share in _STARTS]
    focal, poses = min(tried, key=lambda each: sum(pose.residual_px**2 for pose in each[1]))
    lens = [focal, 0.0, 0.0, *(plan.middle_px if plan.wish.principal else ()), *(0.0, 0.0) * plan.wish.tangential]
    return np.concatenate([lens, *(_six(pose) for pose in poses)])


def _poses(plan: _Plan, focal_px: float) -> tuple[float, list[CameraPose]]:
    camera = camera_matrix(focal_px, Optics(principal_px=(plan.middle_px[0], plan.middle_px[1])), plan.size_px)
    poses = []
    for solid, seen in zip(plan.solid, plan.seen, strict=True):
        # Here y runs down as in the image, which a board's x right and y up has for its rear only.
        matrix = homography.fit(solid[:, :2], seen)
        try:
            poses.append(pose_at_focal(matrix, camera, plan.size_px, "rear", solid[:, :2]))
        except PlacementRefused as refused:  # pragma: no cover - the mirror was turned by `_right_way_round`
            raise IrspotError("a view of the target looks mirrored") from refused
    return focal_px, poses


def _six(pose: CameraPose) -> FloatArray:
    from scipy.spatial.transform import Rotation

    # Heights count towards the camera there, z away from it here.
    turn = Rotation.from_matrix(pose.rotation @ np.diag([1.0, 1.0, -1.0])).as_rotvec()
    return np.concatenate([turn, pose.translation_mm])


def _spread(slopes: FloatArray, squares: float) -> FloatArray | None:
    """Covariance of the fit; None where something is not determined."""
    rows, count = slopes.shape
    scale = np.linalg.norm(slopes, axis=0)
    if rows <= count or not np.all(scale > 0.0):
        return None
    normal = (slopes / scale).T @ (slopes / scale)
    if np.linalg.cond(normal) > 1e13:
        return None
    return np.asarray(np.linalg.inv(normal) / np.outer(scale, scale) * squares / (rows - count))


def _result(plan: _Plan, values: FloatArray, u: FloatArray) -> LensFit:
    from scipy.spatial.transform import Rotation

    focal, middle, distortion = plan.lens(values)
    u_rest = [float(each) for each in u[3 : plan.lens_count]]
    u_middle = (u_rest.pop(0), u_rest.pop(0)) if plan.wish.principal else (0.0, 0.0)
    u_p1, u_p2 = u_rest if plan.wish.tangential else (0.0, 0.0)
    misses = plan.misses(values).reshape(len(plan.seen), -1, 2)
    squares = np.sum(misses * misses, axis=-1)
    normals = Rotation.from_rotvec(values[plan.lens_count :].reshape(-1, 6)[:, :3]).as_matrix()[:, 2, 2]
    return LensFit(
        focal_px=focal,
        u_focal_px=float(u[0]),
        principal_px=(float(middle[0]), float(middle[1])),
        u_principal_px=u_middle,
        distortion=distortion,
        u_distortion=(float(u[1]), float(u[2]), u_p1, u_p2, 0.0),
        residual_px=float(np.sqrt(squares.mean())),
        view_residuals_px=tuple(float(each) for each in np.sqrt(squares.mean(axis=1))),
        tilts_deg=tuple(float(each) for each in np.degrees(np.arccos(np.clip(np.abs(normals), 0.0, 1.0)))),
        points=int(squares.size),
        coverage=_coverage(plan.seen.reshape(-1, 2), plan.size_px),
    )


def _coverage(places: FloatArray, size_px: tuple[int, int]) -> float:
    cv2 = load_cv2()
    hull = cv2.convexHull(places.astype(np.float32).reshape(-1, 1, 2))
    return min(1.0, float(cv2.contourArea(hull)) / (size_px[0] * size_px[1]))
