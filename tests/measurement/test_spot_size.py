"""What blur hides of small hot features, against features of known shape blurred and sampled finely."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter1d
from scipy.special import erf

from irspot.measurement.hot_width import REACH_PX, hot_width
from irspot.measurement.spot_size import spot_size, summit_ratio
from irspot.synthetic.sensor import blurred, pixel_means

FINE = 8
SIZE = 61
MIDDLE = SIZE // 2
GAUSSIAN = 8.0 * np.log(2.0)


def seen(rise: np.ndarray, blur_px: float) -> np.ndarray:
    """A feature of FINE samples a pixel, as the camera sees it."""
    return pixel_means(blurred(rise, blur_px * FINE), FINE).astype(np.float32)


def places() -> tuple[np.ndarray, np.ndarray]:
    along = (np.arange(SIZE * FINE) + 0.5) / FINE - 0.5 - MIDDLE
    return along[None, :], along[:, None]


def gaussian(height_k: float, wide_px: float, high_px: float) -> np.ndarray:
    x, y = places()
    return height_k * np.exp2(-((2 * x / wide_px) ** 2) - (2 * y / high_px) ** 2)


def package(height_k: float, wide_px: float, high_px: float) -> np.ndarray:
    x, y = places()
    return height_k * ((abs(x) <= wide_px / 2) & (abs(y) <= high_px / 2)).astype(np.float64)


@pytest.mark.parametrize(("wide_px", "high_px"), [(4.3, 4.3), (5.0, 9.0), (12.0, 7.0)])
def test_a_features_width_is_its_own(wide_px: float, high_px: float) -> None:
    found = hot_width(30.0 + seen(gaussian(40.0, wide_px, high_px), 0.0), MIDDLE, MIDDLE, 0.01)
    narrow, other = sorted((wide_px, high_px))
    assert found.narrow.width_px == pytest.approx(narrow, rel=0.05)
    assert found.other.width_px == pytest.approx(other, rel=0.05)
    assert found.narrow.height_k == pytest.approx(40.0, rel=0.05)
    assert found.narrow.curvature_k == pytest.approx(40.0 * GAUSSIAN / narrow**2, rel=0.1)
    assert found.other.curvature_k == pytest.approx(40.0 * GAUSSIAN / other**2, rel=0.1)


def test_what_does_not_end_has_no_width() -> None:
    x = np.mgrid[0:SIZE, 0:SIZE][1].astype(np.float32)
    even = np.full((SIZE, SIZE), 40.0, np.float32)
    assert hot_width(even, MIDDLE, MIDDLE, 0.05).narrow.width_px == 2.0 * REACH_PX
    ridge = 40.0 - 0.01 * abs(x - MIDDLE)
    assert hot_width(ridge, MIDDLE, MIDDLE, 0.05).narrow.width_px == 2.0 * REACH_PX


def test_a_neighbour_and_a_gap_end_a_feature() -> None:
    x = np.mgrid[0:SIZE, 0:SIZE][1]
    two = 30.0 + 40.0 * np.exp2(-(((x - MIDDLE) / 3.0) ** 2)) + 40.0 * np.exp2(-(((x - MIDDLE - 12) / 3.0) ** 2))
    # Its height on that side counts from the valley between the two.
    assert 5.0 < hot_width(two.astype(np.float32), MIDDLE, MIDDLE, 0.05).narrow.width_px < 6.2
    two[:, MIDDLE + 6 :] = np.nan
    assert 5.0 < hot_width(two.astype(np.float32), MIDDLE, MIDDLE, 0.05).narrow.width_px < 6.2


@pytest.mark.parametrize("place", [(0, 0), (0, MIDDLE), (SIZE - 1, SIZE - 1)])
def test_the_frames_border_is_no_fault(place: tuple[int, int]) -> None:
    feature = np.roll(seen(gaussian(40.0, 6.0, 6.0), 0.5), (place[0] - MIDDLE, place[1] - MIDDLE), (0, 1))
    found = hot_width(feature, *place, 0.05)
    assert np.isfinite([found.narrow.width_px, found.narrow.height_k, found.narrow.curvature_k]).all()


@given(width=st.floats(2.6, 30.0))
def test_a_gaussian_is_undone_exactly(width: float) -> None:
    # Blurred by 1, a Gaussian of variance w² - 1 has variance w², and a summit lower by √(1 - 1 / w²).
    variance = width**2 / GAUSSIAN
    assert summit_ratio(width, GAUSSIAN) == pytest.approx(1.0 / np.sqrt(1.0 - 1.0 / variance), rel=2e-3)


@given(edge=st.floats(2.0, 12.0), smear=st.floats(1.15, 3.0))
def test_a_smeared_edge_is_undone(edge: float, smear: float) -> None:
    """Widths and curvatures of smeared packages by brute force, along one line."""
    fine = 0.01
    x = np.arange(-20.0 * smear - edge, 20.0 * smear + edge, fine)
    width_mm = edge * smear
    profile = gaussian_filter1d((abs(x) <= width_mm / 2).astype(float), smear / fine, mode="constant")
    middle = len(x) // 2
    summit = profile[middle]
    width = np.sum(profile > summit / 2) * fine
    step = int(0.06 * smear / fine)
    curvature = -(profile[middle + step] - 2 * summit + profile[middle - step]) / (step * fine) ** 2
    left = np.sqrt(smear**2 - 1.0)
    truth = erf(width_mm / (2 * np.sqrt(2) * left)) / summit
    assert summit_ratio(width, curvature / summit * width**2) == pytest.approx(truth, rel=0.05)


def test_no_feature_is_narrower_than_its_blur() -> None:
    assert summit_ratio(2.3, GAUSSIAN) == float("inf")
    assert not spot_size(hot_width(30.0 + seen(gaussian(40.0, 0.5, 0.5), 1.0), MIDDLE, MIDDLE, 0.01), 1.3).enough


@pytest.mark.parametrize("blur_px", [0.5, 1.0, 1.6])
@pytest.mark.parametrize("blurs", [4.5, 6.0, 9.0, 14.0])
@pytest.mark.parametrize("shape", [gaussian, package])
def test_what_blur_hides(blur_px: float, blurs: float, shape) -> None:
    """Within the share that is stated as its uncertainty, expanded, and a tenth of a kelvin."""
    width = blurs * blur_px
    if shape is gaussian:
        width = np.sqrt(max((blurs * blur_px) ** 2 - GAUSSIAN * blur_px**2, 1.0))
    rise = shape(40.0, width, 1.7 * width)
    values = 30.0 + seen(rise, blur_px)
    row, column = np.unravel_index(int(np.argmax(values)), values.shape)
    spot = spot_size(hot_width(values, int(row), int(column), 0.05), blur_px)
    missing = 70.0 - float(values.max())
    if spot.enough:
        assert spot.hidden_k == pytest.approx(missing, abs=0.6 * spot.hidden_k + 0.1)
    else:
        assert spot.width_px < 4.5 or spot.blurs < 4.5


def test_published_practice_grades_sizes() -> None:
    """Expose 10 x 10 pixels; under 4 x 4 far too low (published practice)."""
    wide = spot_size(hot_width(30.0 + seen(package(40.0, 12.0, 12.0), 0.6), MIDDLE, MIDDLE, 0.05), 0.6)
    small = spot_size(hot_width(30.0 + seen(package(40.0, 3.0, 3.0), 0.6), MIDDLE, MIDDLE, 0.05), 0.6)
    assert (wide.good, wide.enough) == (True, True)
    assert wide.hidden_k < 0.1
    assert (small.good, small.enough) == (False, False)


def test_the_size_of_the_errors_that_practice_fears() -> None:
    """A part 100 °C hot on a board of 60 °C under one pixel of blur: 3 px across read 10 K low, 2 px 21 K; 6 px across
    read 0.3 K low, and 20 K where the lens is out of focus by three pixels.

    The figures are this project's own calculation for square parts and a pixel's own width left out.
    """
    for width, blur_px, low_k in ((3.0, 1.0, 10.0), (2.0, 1.0, 21.0), (6.0, 1.0, 0.3), (6.0, 3.0, 20.0)):
        fine = blurred(package(40.0, width, width), blur_px * FINE)
        assert 40.0 - fine.max() == pytest.approx(low_k, abs=1.5)
