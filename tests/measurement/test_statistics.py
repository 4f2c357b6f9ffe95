"""Figures of a zone against scipy.ndimage and numpy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst
from scipy import ndimage

from irspot.measurement.extremes import runs_of, zone_extremes
from irspot.measurement.geometry import Geometry, geometry_of
from irspot.measurement.statistics import hottest, mean, peak_3x3, percentile

from .scenes import BOARD, COLUMNS, ROWS, ramp, tilted_placement

temperatures = st.floats(-40.0, 500.0, width=32)


@given(values=npst.arrays(np.float32, st.integers(1, 60), elements=temperatures), share=st.floats(0.0, 1.0))
def test_percentiles_as_numpy_has_them(values: np.ndarray, share: float) -> None:
    wanted = np.percentile(values.astype(np.float64), 100.0 * share)
    assert percentile(values, share) == pytest.approx(wanted, rel=1e-9, abs=1e-6)


@given(values=npst.arrays(np.float32, st.integers(1, 60), elements=temperatures))
def test_mean_and_maximum(values: np.ndarray) -> None:
    assert mean(values) == pytest.approx(values.astype(np.float64).mean())
    index, value = hottest(values)
    assert (index, value) == (int(np.argmax(values)), values.max())


def test_figures_of_nothing_are_nan() -> None:
    nothing = np.zeros(0, dtype=np.float32)
    assert np.isnan(mean(nothing))
    assert np.isnan(percentile(nothing, 0.95))
    assert hottest(nothing)[0] == -1
    index, value = hottest(np.full(4, np.nan, dtype=np.float32))
    assert index == -1
    assert np.isnan(value)
    # One pixel without a number spoils what hangs on all of them, not the maximum.
    spoiled = np.array([50.0, np.nan, 60.0], dtype=np.float32)
    assert np.isnan(mean(spoiled))
    assert np.isnan(percentile(spoiled, 0.95))
    assert hottest(spoiled) == (2, 60.0)


@given(
    values=npst.arrays(np.float32, st.tuples(st.integers(1, 12), st.integers(1, 12)), elements=temperatures),
    seed=st.integers(0, 2**32 - 1),
    share=st.floats(0.5, 1.0),
)
def test_peak_3x3_by_brute_force(values: np.ndarray, seed: int, share: float) -> None:
    sound = np.random.default_rng(seed).random(values.shape) < share
    means = [
        values[r : r + 3, c : c + 3].astype(np.float64).mean()
        for r in range(values.shape[0] - 2)
        for c in range(values.shape[1] - 2)
        if sound[r : r + 3, c : c + 3].all()
    ]
    peak = peak_3x3(values, sound)
    if means:
        assert peak == pytest.approx(max(means), rel=1e-6, abs=1e-4)
    else:
        assert np.isnan(peak)


def test_peak_3x3_ignores_what_is_not_sound() -> None:
    values = np.full((7, 9), 40.0, dtype=np.float32)
    values[1, 1], values[5, 7] = np.nan, 1e6
    sound = np.ones(values.shape, dtype=bool)
    sound[1, 1] = sound[5, 7] = False
    assert peak_3x3(values, sound) == 40.0


def test_peak_3x3_as_a_uniform_filter_has_it() -> None:
    values = ramp(seed=4, noise_k=2.0)
    filtered = ndimage.uniform_filter(values.astype(np.float64), 3)[1:-1, 1:-1]
    assert peak_3x3(values, np.ones(values.shape, dtype=bool)) == pytest.approx(filtered.max(), abs=1e-4)


# --- many frames ---------------------------------------------------------------------------------------------------


def labels(geometry: Geometry) -> np.ndarray:
    image = np.zeros((ROWS, COLUMNS), dtype=np.int32)
    for number, where in enumerate(geometry.all, start=1):
        image[where.slices][where.mask] = number
    return image


@pytest.mark.parametrize("threads", [1, 2])
@pytest.mark.parametrize("dtype", [np.float32, np.float64])
def test_extremes_as_scipy_has_them(threads: int, dtype: type) -> None:
    geometry = geometry_of(BOARD, tilted_placement())
    image, index = labels(geometry), np.arange(1, len(geometry.all) + 1)
    frames = np.stack([ramp(seed, noise_k=3.0) for seed in range(1, 38)]).astype(dtype)
    found = zone_extremes(frames, runs_of(geometry), threads)
    for number, frame in enumerate(frames):
        assert np.array_equal(found.maximum[number], ndimage.maximum(frame, image, index))
        wanted = ndimage.mean(frame.astype(np.float64), image, index)
        np.testing.assert_allclose(found.mean[number], wanted, atol=2e-5)
        places = ndimage.maximum_position(frame, image, index)
        assert list(zip(found.row[number], found.column[number], strict=True)) == places


def test_extremes_leave_nan_and_dead_pixels_out() -> None:
    geometry = geometry_of(BOARD, tilted_placement())
    rng = np.random.default_rng(8)
    frames = np.stack([ramp(seed, noise_k=3.0) for seed in range(1, 5)])
    frames[rng.random(frames.shape) < 0.03] = np.nan
    frames[2][labels(geometry) == 2] = np.nan
    sound = rng.random((ROWS, COLUMNS)) > 0.02
    found = zone_extremes(frames, runs_of(geometry, sound))
    for number, frame in enumerate(frames):
        for zone, where in enumerate(geometry.all):
            values = np.where(sound, frame, np.nan)[where.slices][where.mask]
            if np.isnan(values).all():
                assert np.isnan([found.maximum[number, zone], found.mean[number, zone]]).all()
                assert (found.row[number, zone], found.column[number, zone]) == (-1, -1)
                continue
            assert found.maximum[number, zone] == np.nanmax(values)
            assert found.mean[number, zone] == pytest.approx(np.nanmean(values.astype(np.float64)), abs=2e-5)
            place = (found.row[number, zone], found.column[number, zone])
            assert frame[place] == found.maximum[number, zone]
            assert sound[place]


def test_extremes_of_overlapping_and_empty_zones() -> None:
    from irspot.board import Board, Zone
    from irspot.shapes import rectangle

    zones = (
        Zone("all", rectangle(5, 5, 90, 70)),
        Zone("part", rectangle(40, 30, 80, 30)),
        Zone("speck", rectangle(50.05, 40.05, 0.02, 0.02)),
        Zone("gone", rectangle(900, 40, 10, 10)),
    )
    geometry = geometry_of(Board("b", rectangle(0, 0, 110, 90), zones=zones), tilted_placement())
    frame = ramp(3, noise_k=5.0)
    found = zone_extremes(frame[None], runs_of(geometry))
    for zone in (0, 1, 4):
        where = geometry.all[zone]
        assert found.maximum[0, zone] == frame[where.slices][where.mask].max()
    assert np.isnan(found.maximum[0, 2:4]).all()
    assert (found.row[0, 2:4] == -1).all()
    nothing = geometry_of(Board("b", rectangle(900, 0, 10, 10)), tilted_placement())
    assert np.isnan(zone_extremes(frame[None], runs_of(nothing)).maximum).all()


def test_extremes_name_the_first_of_equals_in_reading_order() -> None:
    geometry = geometry_of(BOARD, tilted_placement())
    found = zone_extremes(np.full((1, ROWS, COLUMNS), 41.0, dtype=np.float32), runs_of(geometry))
    for zone, where in enumerate(geometry.all):
        rows, columns = np.nonzero(where.mask)
        assert (found.row[0, zone], found.column[0, zone]) == (rows[0] + where.box[0], columns[0] + where.box[2])


def test_extremes_refuse_frames_of_another_shape() -> None:
    runs = runs_of(geometry_of(BOARD, tilted_placement()))
    with pytest.raises(ValueError, match="wanted frames of shape"):
        zone_extremes(np.zeros((1, COLUMNS, ROWS), dtype=np.float32), runs)
    assert zone_extremes(np.zeros((0, ROWS, COLUMNS), dtype=np.float32), runs).maximum.shape == (0, 4)
