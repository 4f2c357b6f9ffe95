"""Lens distortion against OpenCV, and there and back."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.registration.distortion import distort, fold_radius_squared, undistort

SIZE = (641, 479)
LENSES = [
    (-0.32, 0.11, 0.0008, -0.0012, 0.0),
    (0.21, -0.05, -0.001, 0.0007, 0.02),
    (-0.18, 0.0, 0.0, 0.0, 0.0),
    (0.0, 0.0, 0.004, -0.003, 0.0),
]


def grid() -> np.ndarray:
    x, y = np.meshgrid(np.linspace(0, SIZE[0] - 1, 23), np.linspace(0, SIZE[1] - 1, 17))
    return np.column_stack([x.ravel(), y.ravel()])


def matrix(optics: Optics) -> np.ndarray:
    middle = optics.principal_px or ((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2)
    return np.array([[optics.focal_px, 0, middle[0]], [0, optics.focal_px, middle[1]], [0, 0, 1]], dtype=float)


@pytest.mark.parametrize("lens", LENSES)
@pytest.mark.parametrize("middle", [None, (300.5, 251.25)])
def test_as_opencv_does(lens: tuple[float, ...], middle: tuple[float, float] | None) -> None:
    optics = Optics(focal_px=612.0, principal_px=middle, distortion=lens)
    places = grid()
    rays = np.column_stack([(places - matrix(optics)[:2, 2]) / 612.0, np.ones(len(places))])
    wanted = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), matrix(optics), np.array(lens))[0][:, 0]
    np.testing.assert_allclose(distort(places, optics, SIZE), wanted, atol=1e-9)
    criteria = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 500, 1e-14)
    straight = cv2.undistortPoints(
        places[:, None], matrix(optics), np.array(lens), P=matrix(optics), criteria=criteria
    )[:, 0]
    np.testing.assert_allclose(undistort(places, optics, SIZE), straight, atol=1e-6)


@pytest.mark.parametrize("lens", LENSES)
def test_there_and_back(lens: tuple[float, ...]) -> None:
    optics = Optics(focal_px=612.0, distortion=lens)
    np.testing.assert_allclose(distort(undistort(grid(), optics, SIZE), optics, SIZE), grid(), atol=1e-6)


def test_without_distortion_nothing_moves() -> None:
    assert np.array_equal(distort(grid(), Optics(), SIZE), grid())
    assert np.array_equal(undistort(grid(), Optics(), SIZE), grid())


def test_nan_where_the_lens_shows_nothing() -> None:
    # x' = x - x³/3 grows up to x = 1, where it is 2/3: nothing appears further out.
    optics = Optics(focal_px=100.0, principal_px=(0.0, 0.0), distortion=(-1.0 / 3.0, 0.0, 0.0, 0.0, 0.0))
    assert fold_radius_squared(optics.distortion) == pytest.approx(1.0)
    straight = undistort(np.array([[60.0, 0.0], [66.0, 0.0], [67.0, 0.0], [500.0, 0.0]]), optics, SIZE)
    assert np.all(np.isfinite(straight[:2]))
    assert np.all(np.isnan(straight[2:]))
    bent = distort(np.array([[99.0, 0.0], [101.0, 0.0], [np.nan, 0.0]]), optics, SIZE)
    assert bent[0, 0] == pytest.approx(99.0 - 100.0 * 0.99**3 / 3.0)
    assert np.all(np.isnan(bent[1:]))


def test_distortion_without_focal_length_is_refused() -> None:
    with pytest.raises(PlacementRefused, match="focal length"):
        undistort(grid(), Optics(distortion=LENSES[0]), SIZE)
