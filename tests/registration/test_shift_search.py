"""Coarse shifts and turns, found whichever way steps go and whatever else moves not."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from irspot.registration.shift_search import guesses, sought, tuned

SHAPE = (240, 320)


def picture(seed: int = 0) -> np.ndarray:
    """Rectangles in the middle of a frame, blurred by a pixel."""
    random = np.random.default_rng(seed)
    degc = np.full(SHAPE, 20.0, np.float32)
    degc[60:180, 80:240] = 30.0
    for _ in range(12):
        x, y = int(random.integers(85, 215)), int(random.integers(65, 155))
        degc[y : y + int(random.integers(6, 24)), x : x + int(random.integers(6, 24))] = random.uniform(25.0, 60.0)
    return cv2.GaussianBlur(degc, (0, 0), 1.0)


def edges(degc: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    from irspot.registration.edge_map import edge_map

    found = edge_map(degc, 0.02)
    return found.points_px, found.normals


def moved(degc: np.ndarray, shift: tuple[float, float], turn_deg: float) -> np.ndarray:
    """Turn about the frame's middle from x towards y, then shift."""
    middle = np.array([159.5, 119.5])
    turn = np.deg2rad(turn_deg)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    matrix = np.column_stack([spin, middle + shift - spin @ middle])
    return cv2.warpAffine(degc, matrix, SHAPE[::-1], borderMode=cv2.BORDER_REPLICATE)


@pytest.mark.parametrize(
    ("shift", "turn_deg"), [((0.0, 0.0), 0.0), ((7.0, -4.0), 0.0), ((-21.0, 13.0), 3.0), ((3.0, 2.0), -9.0)]
)
@pytest.mark.parametrize("sign", [1.0, -3.0])
def test_a_shift_and_a_turn_are_found_though_contrast_grows_and_reverses(
    shift: tuple[float, float], turn_deg: float, sign: float
) -> None:
    degc = picture()
    wanted = sought(*edges(degc), np.array([159.5, 119.5]), SHAPE, 0.02)
    seen = moved(degc, shift, turn_deg) * np.float32(sign)
    best = guesses(seen, wanted, np.empty((0, 2)))[0]
    assert np.hypot(best.shift_px[0] - shift[0], best.shift_px[1] - shift[1]) < 2.0
    assert best.turn_deg == pytest.approx(turn_deg, abs=1.0)


def test_what_is_known_to_be_something_elses_is_not_found() -> None:
    degc = picture()
    places, normals = edges(degc)
    wanted = sought(places, normals, np.array([159.5, 119.5]), SHAPE, 0.02)
    both = np.maximum(degc, moved(degc, (40.0, 0.0), 0.0))
    assert np.hypot(*guesses(both, wanted, places)[0].shift_px) > 30.0


def test_tuning_brings_a_guess_nearer() -> None:
    degc, shift = picture(), (5.0, -3.0)
    places, normals = edges(degc)
    wanted = sought(places, normals, np.array([159.5, 119.5]), SHAPE, 0.02)
    smooth = cv2.GaussianBlur(moved(degc, shift, 0.0), (0, 0), 1.0)
    from irspot.registration.shift_search import Guess

    start = Guess((4.0, -2.2), 0.0, 1.0)
    better = tuned(smooth, places + start.shift_px, normals, wanted, start)
    assert np.hypot(better.shift_px[0] - 5.0, better.shift_px[1] + 3.0) < 0.5


def test_an_even_frame_gives_no_guess() -> None:
    wanted = sought(*edges(picture()), np.array([159.5, 119.5]), SHAPE, 0.02)
    assert guesses(np.full(SHAPE, 21.0, np.float32), wanted, np.empty((0, 2))) == ()
