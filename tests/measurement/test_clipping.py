"""Clipped pixels: by the stored type, by the range, by a plateau."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.measurement.clipping import at_type_end, clipped_pixels, plateau

from .scenes import ramp


def all_sound(array: np.ndarray) -> np.ndarray:
    return np.ones(array.shape, dtype=bool)


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16, np.int16])
def test_ends_of_integers(dtype: type) -> None:
    ends = np.iinfo(dtype)
    stored = np.array([[ends.min, 7, ends.max], [9, ends.max, 11]], dtype=dtype)
    high, low = at_type_end(stored, upper=True), at_type_end(stored, upper=False)
    assert np.argwhere(high).tolist() == [[0, 2], [1, 1]]
    assert np.argwhere(low).tolist() == [[0, 0]]
    assert at_type_end(np.array([[5, 6]], dtype=dtype), upper=True) is None


def test_floats_have_no_ends() -> None:
    assert at_type_end(np.array([[np.finfo(np.float32).max]], dtype=np.float32), upper=True) is None


@pytest.mark.parametrize("level", [55.0, 62.0])
@pytest.mark.parametrize("noise_k", [0.0, 0.05])
def test_a_plateau_at_the_maximum_is_clipping(level: float, noise_k: float) -> None:
    image = ramp(2, noise_k)
    clipped = np.minimum(image, np.float32(level))
    assert np.array_equal(plateau(clipped, all_sound(clipped)), image >= np.float32(level))
    assert plateau(image, all_sound(image)) is None


def test_a_plateau_in_stored_steps() -> None:
    counts = np.round(ramp(2, 0.2) / 0.05).astype(np.uint16)
    clipped = np.minimum(counts, 1180)
    assert np.array_equal(plateau(clipped, all_sound(clipped)), counts >= 1180)
    assert plateau(counts, all_sound(counts)) is None


def test_computed_frames_with_level_zones_are_not_clipped() -> None:
    image = np.full((60, 80), 30.0, dtype=np.float32)
    image[10:30, 10:40] = 80.0
    assert plateau(image, all_sound(image)) is None
    assert plateau(np.full((60, 80), 30.0, dtype=np.float32), np.ones((60, 80), dtype=bool)) is None


def test_a_few_equal_pixels_are_chance() -> None:
    image = ramp(2, 0.05)
    image[50:53, 60:63] = 99.0
    assert plateau(image, all_sound(image)) is None


def test_a_dead_pixel_neither_is_clipped_nor_hides_a_plateau() -> None:
    image = np.minimum(ramp(2, 0.05), np.float32(55.0))
    sound = all_sound(image)
    sound[3, 4] = False
    image[3, 4] = 500.0
    found = clipped_pixels(image, image, sound, (-20.0, 150.0))
    assert found.beyond is None
    assert found.high is not None
    assert not found.high[3, 4]
    assert found.high.sum() > 100


def test_the_range_bounds_both_ways() -> None:
    degc = ramp()
    found = clipped_pixels(degc, degc, all_sound(degc), (45.0, 60.1))
    assert np.array_equal(found.high, degc >= np.float32(60.1))
    assert np.array_equal(found.beyond, degc > np.float32(60.1))
    assert np.array_equal(found.low, degc <= 45.0)
    assert found.high.sum() > found.beyond.sum()
    within = clipped_pixels(degc, degc, all_sound(degc), (-20.0, 150.0))
    assert within.high is within.low is within.beyond is None


def test_where_numbers_fall_with_temperature_the_ends_change_places() -> None:
    stored = np.array([[0, 300, 65_535], [0, 299, 301]], dtype=np.uint16)
    degc = np.array([[150.0, 30.0, -20.0], [150.0, 31.0, 29.0]], dtype=np.float32)
    found = clipped_pixels(stored, degc, all_sound(stored), None, falling=True)
    assert np.array_equal(found.high, stored == 0)
    assert np.array_equal(found.low, stored == 65_535)

    counts = 40_000 - np.round(ramp(2, 0.2) / 0.05).astype(np.uint16)
    cut = np.maximum(counts, 40_000 - 1180)
    mirrored = clipped_pixels(cut, ((40_000.0 - cut) * 0.05).astype(np.float32), all_sound(cut), None, falling=True)
    assert np.array_equal(mirrored.high, cut == 40_000 - 1180)


def test_frames_without_a_number_are_not_clipped() -> None:
    nothing = np.full((5, 6), np.nan, dtype=np.float32)
    found = clipped_pixels(nothing, nothing, np.zeros((5, 6), dtype=bool), (-20.0, 150.0))
    assert found.high is found.low is found.beyond is None
