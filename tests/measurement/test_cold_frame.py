"""Cold frames: what is taken from them, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.camera import Accuracy
from irspot.conditions import Conditions
from irspot.errors import ColdFrameRefused
from irspot.frame import Frame
from irspot.measurement import measure_zones
from irspot.measurement.cold_frame import check_same_camera, pattern_of, scene_contrast_k
from irspot.measurement.pixels import pixels_of
from irspot.synthetic.sensor import blurred

from .scenes import BOARD, CAMERA, COLUMNS, CONDITIONS, ROWS, frame_of, ramp, straight_placement
from .test_pattern import a_pattern, bumpy

NOISE_K = 0.05


def cold(deviation_k: np.ndarray | float = 0.0, at_degc: float = 21.5, seed: int = 1, frames: int = 1) -> Frame:
    noise_k = NOISE_K / np.sqrt(frames)
    degc = at_degc + deviation_k + np.random.default_rng(seed).normal(0.0, noise_k, (ROWS, COLUMNS))
    return replace(frame_of(degc), averaged=frames, noise_k=noise_k)


def with_board(step_k: float, parts_k: float = 0.0) -> np.ndarray:
    """A board, and parts on it, warmer than the bench, under half a pixel of blur."""
    scene = np.zeros((ROWS, COLUMNS))
    scene[12:118, 20:150] = step_k
    scene[30:45, 40:60] += parts_k
    scene[70:80, 90:120] += parts_k
    return blurred(scene, 0.7)


@pytest.mark.parametrize(
    "deviation_k",
    [
        0.0,
        a_pattern(),
        2.5 * np.linspace(-1.0, 1.0, COLUMNS)[None, :] + np.zeros((ROWS, 1)),
        0.7 * np.random.default_rng(4).standard_normal(COLUMNS) + np.zeros((ROWS, 1)),
        1.0 * np.random.default_rng(5).standard_normal((ROWS, COLUMNS)),
    ],
    ids=["even", "all kinds", "shading", "columns", "single pixels"],
)
def test_patterns_of_cameras_are_taken(deviation_k: np.ndarray | float) -> None:
    pattern = pattern_of(cold(deviation_k), CONDITIONS)
    assert pattern.at_degc == pytest.approx(21.5 + np.median(deviation_k), abs=0.1)
    assert float(np.median(pattern.scene_k)) < 0.5


@pytest.mark.parametrize(
    ("frame", "says"),
    [
        (cold(at_degc=45.0), "not taken at room temperature"),
        (cold(at_degc=8.0), "not taken at room temperature"),
        (cold(with_board(5.0)), "shows a scene"),
        (cold(with_board(2.0, 12.0)), "shows a scene"),
        (cold(8.0 * np.linspace(-1.0, 1.0, COLUMNS)[None, :] + np.zeros((ROWS, 1))), "spread too far"),
        (frame_of(ramp(1, NOISE_K) - 32.0), "spread too far"),
        (frame_of(np.where(np.arange(COLUMNS) < 20, np.nan, 21.0) + np.zeros((ROWS, 1))), "too little"),
        (replace(cold(), u_decode_k=np.full((ROWS, COLUMNS), 0.1, np.float32)), "colour-mapped"),
    ],
)
def test_what_is_no_cold_frame_is_refused(frame: Frame, says: str) -> None:
    with pytest.raises(ColdFrameRefused, match=says) as refused:
        pattern_of(frame, CONDITIONS)
    assert refused.value.hint


def test_without_an_ambient_temperature_a_room_is_enough() -> None:
    nothing_noted = Conditions()
    assert pattern_of(cold(at_degc=28.0), nothing_noted).at_degc == pytest.approx(28.0, abs=0.05)
    with pytest.raises(ColdFrameRefused, match="room temperature"):
        pattern_of(cold(at_degc=40.0), nothing_noted)


def test_a_cold_frame_of_another_size_is_refused() -> None:
    pattern = pattern_of(cold(), CONDITIONS)
    with pytest.raises(ColdFrameRefused, match="not of the size"):
        check_same_camera(frame_of(ramp()[:-1]), pattern, "cold.tiff")


@pytest.mark.parametrize(("step_k", "parts_k"), [(0.5, 1.0), (1.0, 0.5), (0.0, 2.0)])
def test_what_a_board_shows_of_itself_is_within_its_bound(step_k: float, parts_k: float) -> None:
    scene_k = with_board(step_k, parts_k)
    pattern = pattern_of(cold(scene_k), CONDITIONS)
    wrong_k = scene_k - np.median(scene_k)
    # The middle of a part, where the maximum of a zone would be.
    for row, column in ((37, 50), (75, 105)):
        assert abs(wrong_k[row, column]) <= 2.0 * pattern.scene_k[row, column] / np.sqrt(3.0) + 0.1


def test_more_frames_leave_less_noise() -> None:
    one, sixteen = (pattern_of(cold(frames=count), CONDITIONS) for count in (1, 16))
    assert (one.noise_k, one.frames, sixteen.frames) == (0.05, 1, 16)
    assert sixteen.noise_k == pytest.approx(0.0125)


def test_dead_pixels_are_found_as_before() -> None:
    """A pixel stuck at one number, whatever it is, and one that only ever shows a few kelvins too much."""
    deviation_k = a_pattern()
    truth = bumpy(np.full((ROWS, COLUMNS), 70.0), deviation_k, 21.5)
    even = bumpy(np.full((ROWS, COLUMNS), 21.5), deviation_k, 21.5)
    for row, column, stuck in ((40, 30, 150.0), (50, 60, 21.5), (60, 90, 71.0)):
        truth[row, column] = even[row, column] = stuck
    noise = np.random.default_rng(2).normal(0.0, 0.02, (2, ROWS, COLUMNS))
    camera = replace(CAMERA, accuracy=Accuracy(1.0, 0.01, noise_k=0.02, assumed=False))
    pattern = pattern_of(frame_of(even + noise[0], camera), CONDITIONS)
    found = pixels_of(replace(frame_of(truth + noise[1], camera), pattern=pattern)).found
    assert sorted(map(tuple, np.argwhere(found).tolist())) == [(40, 30), (50, 60), (60, 90)]


def test_unmeasured_pixels_of_a_cold_frame_are_filled_from_their_neighbours() -> None:
    even = cold(1.2 * np.linspace(-1.0, 1.0, COLUMNS)[None, :] + np.zeros((ROWS, 1)))
    degc = even.stored.copy()
    degc[50, 100] = np.nan
    pattern = pattern_of(replace(even, stored=degc), CONDITIONS)
    assert pattern.radiance[50, 100] == pytest.approx(float(pattern.radiance[50, 99:102:2].mean()), abs=0.05)


def test_a_warm_camera_may_be_further_off() -> None:
    wider = replace(CAMERA, accuracy=Accuracy(4.0, 0.02, noise_k=0.05, assumed=False))
    at_degc = 21.0 + 7.5
    with pytest.raises(ColdFrameRefused, match="room temperature"):
        pattern_of(cold(at_degc=at_degc), CONDITIONS)
    assert pattern_of(replace(cold(at_degc=at_degc), camera=wider), CONDITIONS).at_degc == pytest.approx(28.5, abs=0.1)


def test_a_single_bright_pixel_is_no_scene() -> None:
    deviation_k = np.zeros((ROWS, COLUMNS), np.float32)
    deviation_k[20:110:9, 20:160:11] = 40.0
    local_k, _ = scene_contrast_k(deviation_k)
    assert float(np.abs(local_k).max()) < 0.1


def test_readings_without_a_cold_frame_carry_no_term_of_it() -> None:
    readings = measure_zones(frame_of(ramp(1, NOISE_K)), BOARD, straight_placement(), CONDITIONS)
    assert all("cold frame" not in {term.name for term in reading.budget} for reading in readings)
