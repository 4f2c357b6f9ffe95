"""A photo sought in a frame that shows the same things with another meaning of brightness."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from irspot.registration.photo_search import fits

CORNERS_PX = np.array([[120.0, 520.0], [680.0, 520.0], [680.0, 80.0], [120.0, 80.0]])


def photo(seed: int = 1) -> np.ndarray:
    """Boxes of every size on a plate, on an even ground."""
    random = np.random.default_rng(seed)
    grey = np.full((600, 800), 120.0, np.float32)
    grey[80:520, 120:680] = 60.0
    for _ in range(60):
        x, y = random.integers((130, 90), (620, 460))
        w, h = random.integers(10, 70, 2)
        grey[y : min(y + h, 510), x : min(x + w, 670)] = random.uniform(0.0, 255.0)
    return grey


def as_heat(grey: np.ndarray, matrix: np.ndarray, shape: tuple[int, int]) -> np.ndarray:
    """Turn brightness upside down, bend it, and see it from elsewhere."""
    degc = 80.0 - 40.0 * np.sqrt(grey / 255.0)
    seen = cv2.warpAffine(cv2.GaussianBlur(degc, (0, 0), 2.0), matrix, shape[::-1], borderMode=cv2.BORDER_REPLICATE)
    return (seen + 0.1 * np.random.default_rng(2).standard_normal(seen.shape)).astype(np.float32)


@pytest.mark.parametrize(("scale", "turn_deg", "quarter"), [(0.5, 3.0, 0.0), (0.36, -6.0, 0.0), (0.48, 5.0, 90.0)])
def test_size_turn_and_place_are_found(scale: float, turn_deg: float, quarter: float):
    shape = (256, 320)
    angle = np.deg2rad(turn_deg + quarter)
    turn = scale * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    matrix = np.column_stack([turn, np.array([170.0, 120.0]) - turn @ CORNERS_PX.mean(axis=0)])
    found = fits(as_heat(photo(), matrix, shape), photo(), CORNERS_PX, quarter, 3)
    best = found[0].matrix
    off = (CORNERS_PX @ best[:, :2].T + best[:, 2]) - (CORNERS_PX @ matrix[:, :2].T + matrix[:, 2])
    # Sizes are tried 5 % apart and turns 4 degrees: what follows takes it from there.
    assert np.hypot(*off.T).max() < 14.0
    assert found[0].score > 0.3
    assert [fit.score for fit in found] == sorted((fit.score for fit in found), reverse=True)


def test_another_photo_fits_worse():
    matrix = np.array([[0.5, 0.0, -40.0], [0.0, 0.5, -30.0]])
    degc = as_heat(photo(1), matrix, (256, 320))
    own, other = (fits(degc, photo(seed), CORNERS_PX, 0.0, 1)[0].score for seed in (1, 9))
    assert other < 0.7 * own
