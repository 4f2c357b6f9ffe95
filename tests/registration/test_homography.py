"""Homographies against exact values, OpenCV and scikit-image."""

from __future__ import annotations

import csv
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage.transform import ProjectiveTransform

from irspot.errors import PlacementRefused
from irspot.registration import homography

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name: str) -> list[dict[str, str]]:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def points(text: str) -> np.ndarray:
    return np.array([[float(n) for n in pair.strip(" ()").split()] for pair in text.split(";")])


CASES = rows("homography.csv")


@pytest.mark.parametrize("case", CASES, ids=[case["case"][0] for case in CASES])
def test_worked_cases(case: dict[str, str]) -> None:
    exact = np.array([float(case[f"h{r}{c}"]) for r in "123" for c in "123"]).reshape(3, 3)
    fitted = homography.fit(points(case["source_points"]), points(case["target_points"]))
    np.testing.assert_allclose(fitted, exact, rtol=1e-11, atol=1e-12)
    assert np.linalg.det(fitted) == pytest.approx(float(case["det_H"]), rel=1e-8)


@pytest.mark.parametrize("case", CASES, ids=[case["case"][0] for case in CASES])
def test_worked_points(case: dict[str, str]) -> None:
    matrix = homography.fit(points(case["source_points"]), points(case["target_points"]))
    mapped = [row for row in rows("homography_points.csv") if row["case"] == case["case"]]
    assert mapped
    xy = np.array([[float(row["x"]), float(row["y"])] for row in mapped])
    wanted = np.array([[float(row["x_mapped"]), float(row["y_mapped"])] for row in mapped])
    np.testing.assert_allclose(homography.apply(matrix, xy), wanted, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(homography.apply(np.linalg.inv(matrix), wanted), xy, rtol=1e-8, atol=1e-7)


def perspective(rng: np.random.Generator) -> np.ndarray:
    """A view of a board of some 300 mm that keeps all of it in front of the camera."""
    turn = rng.uniform(-np.pi, np.pi)
    scale = rng.uniform(0.5, 3.0)
    shear = rng.uniform(-0.2, 0.2)
    affine = scale * np.array([[np.cos(turn), -np.sin(turn) + shear], [np.sin(turn), np.cos(turn)]])
    if rng.random() < 0.5:
        affine[:, 1] *= -1.0
    matrix = np.eye(3)
    matrix[:2, :2] = affine
    matrix[:2, 2] = rng.uniform(-400.0, 400.0, 2)
    matrix[2, :2] = rng.uniform(-5e-4, 5e-4, 2)
    return matrix


@pytest.mark.parametrize("seed", range(12))
def test_many_noisy_points_agree_with_opencv_and_beat_scikit_image(seed: int) -> None:
    rng = np.random.default_rng(seed)
    truth = perspective(rng)
    xy = rng.uniform([0.0, 0.0], [244.0, 305.0], (11, 2))
    seen = homography.apply(truth, xy) + rng.normal(0.0, 0.7, (11, 2))
    fitted = homography.fit(xy, seen)
    opencv = cv2.findHomography(xy, seen, 0)[0]
    skimage = ProjectiveTransform.from_estimate(xy, seen).params

    def rms(matrix: np.ndarray) -> float:
        return float(np.sqrt(np.mean((homography.apply(matrix / matrix[2, 2], xy) - seen) ** 2)))

    # OpenCV refines the same distances, scikit-image stops at the linear solution. cv2's refinement ends early,
    # so it may be a trifle worse and never better.
    assert rms(fitted) <= rms(opencv) * (1.0 + 1e-9)
    assert rms(fitted) <= rms(skimage) * (1.0 + 1e-9)
    np.testing.assert_allclose(homography.apply(fitted, xy), cv2.perspectiveTransform(xy[None], opencv)[0], atol=0.02)


@pytest.mark.parametrize("seed", range(6))
def test_exact_points_agree_with_scikit_image(seed: int) -> None:
    rng = np.random.default_rng(seed)
    truth = perspective(rng)
    xy = rng.uniform([0.0, 0.0], [244.0, 305.0], (4 + seed, 2))
    seen = homography.apply(truth, xy)
    other = ProjectiveTransform.from_estimate(xy, seen).params
    np.testing.assert_allclose(homography.fit(xy, seen), truth, rtol=1e-6, atol=1e-8)
    np.testing.assert_allclose(homography.fit(xy, seen), other / other[2, 2], rtol=1e-5, atol=1e-7)


@given(seed=st.integers(0, 2**32 - 1))
def test_there_and_back(seed: int) -> None:
    rng = np.random.default_rng(seed)
    matrix = perspective(rng)
    xy = rng.uniform([0.0, 0.0], [244.0, 305.0], (20, 2))
    back = homography.apply(np.linalg.inv(matrix), homography.apply(matrix, xy))
    np.testing.assert_allclose(back, xy, atol=1e-7)


def test_behind_the_camera_is_nan() -> None:
    matrix = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [-0.01, 0.0, 1.0]])
    carried = homography.apply(matrix, np.array([[50.0, 20.0], [100.0, 20.0], [150.0, 20.0]]))
    np.testing.assert_allclose(carried[0], [100.0, 40.0])
    assert np.all(np.isnan(carried[1:]))


@pytest.mark.parametrize(
    "line",
    [
        [[0.0, 0.0], [10.0, 10.0], [20.0, 20.0], [30.0, 30.0]],
        [[0.0, 0.0], [10.0, 10.0], [20.0, 20.0], [0.0, 30.0]],
    ],
)
def test_collinear_points_are_refused(line: list[list[float]]) -> None:
    square = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 90.0], [0.0, 90.0]])
    with pytest.raises(PlacementRefused, match="line") as refused:
        homography.fit(np.array(line), square)
    assert refused.value.cause == "collinear"
    with pytest.raises(PlacementRefused, match="line"):
        homography.fit(square, np.array(line))


def test_one_point_many_times_is_refused() -> None:
    square = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 90.0], [0.0, 90.0]])
    with pytest.raises(PlacementRefused, match="one and the same"):
        homography.fit(np.full((4, 2), 7.0), square)


def test_leverage_is_the_scatter_of_refits() -> None:
    rng = np.random.default_rng(5)
    truth = perspective(rng)
    xy = np.array([[10.0, 10.0], [200.0, 20.0], [190.0, 280.0], [30.0, 250.0], [110.0, 130.0]])
    at = np.array([[0.0, 0.0], [244.0, 305.0], [120.0, 150.0]])
    seen = homography.apply(truth, xy)
    moved = np.array(
        [homography.apply(homography.fit(xy, seen + rng.normal(0, 0.05, seen.shape)), at) for _ in range(2000)]
    )
    scatter = np.sqrt(np.mean((moved - homography.apply(truth, at)) ** 2, axis=(0, 2))) / 0.05
    np.testing.assert_allclose(homography.leverage(truth, xy, at), scatter, rtol=0.06)
