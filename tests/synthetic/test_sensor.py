"""From radiance to counts: held against the radiometry of surfaces and against simple statistics."""

import numpy as np
import pytest

from irspot.camera import Accuracy, Band
from irspot.radiometry import apparent_temperature, band_table
from irspot.synthetic.sensor import blurred, counts, limit_at, photograph, pixel_means, radiance, with_noise
from irspot.synthetic.surface import face_rises, surface_of

from .scenes import QUIET, heater, small_board, small_camera, small_scene


def frame_degc(scene):
    surface = surface_of(scene.board, face_rises(scene.board, "on")[scene.side], "on", scene.side, 20.0)
    return photograph(scene, surface) * 0.01 - 273.15


def flat_heater(**others):
    """A body over the whole board, everywhere 70 °C whatever the board does."""
    return heater(box=(0.0, 0.0, 60.0, 40.0), watts=0.0, follow=0.0, own_rise_k=50.0, **others)


@pytest.mark.parametrize("emissivity", [0.08, 0.55, 0.93])
def test_radiance_is_that_of_the_apparent_temperature(emissivity):
    band = Band(7.5, 13.0)
    surface_degc = np.array([[-10.0, 21.7, 64.0], [105.0, 150.0, 300.0]])
    seen = band_table(band).temperature_degc(radiance(surface_degc, np.full((2, 3), emissivity), 26.5, band))
    expected = apparent_temperature(surface_degc, emissivity=emissivity, reflected_degc=26.5, band=band)
    np.testing.assert_allclose(seen, expected, atol=1e-3)


@pytest.mark.parametrize("side", ["front", "rear"])
def test_an_even_surface_reads_its_apparent_temperature(side):
    scene = small_scene(small_board([flat_heater(emissivity=0.6, side=side)]), side=side)
    expected = apparent_temperature(np.array([70.0]), emissivity=0.6, reflected_degc=24.0, band=Band(8.0, 14.0))
    middle = frame_degc(scene)[20:40, 30:50]
    # Half a count of 0.01 K, and a millikelvin of the radiometry.
    np.testing.assert_allclose(middle, expected[0], atol=0.0061)


def test_the_camera_reads_off_by_its_share_of_its_limit():
    board = small_board([flat_heater()])
    true = frame_degc(small_scene(board))
    off = frame_degc(small_scene(board, error_share=-0.5))
    # The limit of the small camera at about 65 °C is 2 K; where 2 % is more, that counts.
    np.testing.assert_allclose(off - true, -1.0, atol=0.011)
    np.testing.assert_allclose(limit_at(QUIET, np.array([20.0, 99.0, 150.0])), [2.0, 2.0, 3.0])


def test_noise_has_the_stated_deviation_and_is_new_for_every_seed():
    accuracy = Accuracy(noise_k=0.2, repeatability_k=0.0, assumed=False)
    level = np.full((200, 300), 50.0)
    first, again, other = (with_noise(level, accuracy, seed) - 50.0 for seed in (1, 1, 2))
    np.testing.assert_array_equal(first, again)
    # 60,000 draws: the deviation is known to 0.3 %, the mean to 0.8 mK.
    assert first.std() == pytest.approx(0.2, rel=0.015)
    assert abs(first.mean()) < 0.004
    assert abs(np.corrcoef(first.ravel(), other.ravel())[0, 1]) < 0.02


def test_repeatability_moves_whole_frames():
    accuracy = Accuracy(noise_k=0.0, repeatability_k=0.3, assumed=False)
    errors = [with_noise(np.zeros((3, 4)), accuracy, seed) for seed in range(400)]
    assert all(np.ptp(error) == 0.0 for error in errors)
    assert np.std([error[0, 0] for error in errors]) == pytest.approx(0.3, rel=0.12)


def test_blur_keeps_radiance_and_spreads_a_point_as_a_gaussian():
    point = np.zeros((41, 51))
    point[20, 25] = 100.0
    spread = blurred(point, 2.0)
    assert spread.sum() == pytest.approx(100.0, rel=1e-6)
    y, x = np.indices(point.shape)
    # The kernel ends at four standard deviations and is sampled at whole places.
    assert (spread * (x - 25) ** 2).sum() / 100.0 == pytest.approx(4.0, rel=0.01)
    assert (spread * (y - 20) ** 2).sum() / 100.0 == pytest.approx(4.0, rel=0.01)
    assert blurred(point, 0.0) is point


def test_pixels_are_means_of_their_samples():
    samples = np.arange(6 * 8, dtype=float).reshape(6, 8)
    np.testing.assert_allclose(
        pixel_means(samples, 2), [[4.5, 6.5, 8.5, 10.5], [20.5, 22.5, 24.5, 26.5], [36.5, 38.5, 40.5, 42.5]]
    )


def test_counts_round_to_the_nearest_and_stay_in_sixteen_bits():
    stored = counts(np.array([20.0, 20.004, 20.006, -400.0, 900.0]), 0.01, 0.0)
    assert stored.dtype == np.uint16
    assert stored.tolist() == [29315, 29315, 29316, 0, 65535]
    assert counts(np.array([20.0]), 0.04, 173.15).tolist() == [3000]


def test_faults_stick():
    frame = frame_degc(small_scene(view=small_camera(faults=((12, 7, 140.0),))))
    assert frame[7, 12] == pytest.approx(140.0)
    assert frame[7, 11] < 30.0


def test_finer_sampling_changes_little():
    board = small_board([heater(box=(40.0, 15.0, 6.0, 5.0), edge_share=0.5)])
    coarse = frame_degc(small_scene(board, view=small_camera(blur_px=0.8, supersample=2)))
    fine = frame_degc(small_scene(board, view=small_camera(blur_px=0.8, supersample=6)))
    hot = np.unravel_index(np.argmax(fine), fine.shape)
    assert coarse[hot] == pytest.approx(fine[hot], abs=0.15)
