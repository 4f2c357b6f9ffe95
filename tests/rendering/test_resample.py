"""Resampling for showing: right places, no invented temperatures, holes stay holes."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.rendering.resample import resample

ROWS, COLUMNS = 37, 53


def ramp() -> np.ndarray:
    """Values that encode row and column."""
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    return (20.0 + 0.5 * x + 0.25 * y).astype(np.float32)


@pytest.mark.parametrize(("width", "height"), [(5 * COLUMNS, 5 * ROWS), (7 * COLUMNS, 4 * ROWS), (400, 391)])
def test_pixel_centres_stay_where_they_are(width: int, height: int) -> None:
    shown = resample(ramp(), width, height)
    x = (np.arange(width) + 0.5) * COLUMNS / width - 0.5
    y = (np.arange(height) + 0.5) * ROWS / height - 0.5
    inner_x, inner_y = (x > 2) & (x < COLUMNS - 3), (y > 2) & (y < ROWS - 3)
    expected = 20.0 + 0.5 * x[None, :] + 0.25 * y[:, None]
    # OpenCV's bicubic kernel (a = -0.75) moves a ramp's values by up to |2 a + 1| max t (1 - t)(1 - 2 t) = 0.0482 px.
    bound = 0.0482 * (0.5 + 0.25)
    np.testing.assert_allclose(shown[np.ix_(inner_y, inner_x)], expected[np.ix_(inner_y, inner_x)], atol=bound, rtol=0)


def test_nothing_hotter_or_colder_is_invented() -> None:
    rng = np.random.default_rng(7)
    frame = np.where(rng.random((ROWS, COLUMNS)) < 0.1, 90.0, 20.0).astype(np.float32)
    shown = resample(frame, 11 * COLUMNS, 9 * ROWS)
    assert shown.min() >= 20.0
    assert shown.max() <= 90.0


def test_missing_pixels_keep_their_outline_and_do_not_spread() -> None:
    frame = np.full((ROWS, COLUMNS), 50.0)
    frame[10:20, 30:44] = np.nan
    frame[5, 5] = np.inf
    shown = resample(frame, 6 * COLUMNS, 6 * ROWS)
    expected = np.zeros(shown.shape, bool)
    expected[60:120, 180:264] = True
    expected[30:36, 30:36] = True
    np.testing.assert_array_equal(np.isnan(shown), expected)
    np.testing.assert_allclose(shown[~expected], 50.0, atol=1e-4)


def test_reducing_averages_areas() -> None:
    frame = np.arange(16.0).reshape(4, 4)
    np.testing.assert_allclose(resample(frame, 2, 2), [[2.5, 4.5], [10.5, 12.5]])


@pytest.mark.parametrize("shape", [(1, 1), (1, 9), (9, 1), (2, 3)])
def test_tiny_frames(shape: tuple[int, int]) -> None:
    assert np.all(resample(np.full(shape, 31.0), 120, 90) == 31.0)


def test_all_missing() -> None:
    assert np.isnan(resample(np.full((4, 5), np.nan), 50, 40)).all()


def test_the_frame_is_not_changed() -> None:
    frame = ramp()
    frame[3, 3] = np.nan
    before = frame.copy()
    frame.flags.writeable = False
    resample(frame, 300, 200)
    np.testing.assert_array_equal(frame, before)
