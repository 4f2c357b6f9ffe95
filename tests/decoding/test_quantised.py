"""A change of a plane is cut to what a JPEG's quantisation leaves open, and no further."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from irspot.decoding.jpeg import jpeg_facts
from irspot.decoding.quantised import left_open


def coded(plane: np.ndarray, quality: int) -> tuple[np.ndarray, tuple[int, ...]]:
    """Send a grey plane through a JPEG; give what comes back and its quantisation steps."""
    buffer = io.BytesIO()
    Image.fromarray(plane).save(buffer, "JPEG", quality=quality)
    facts = jpeg_facts(buffer.getvalue())
    assert facts is not None
    return np.asarray(Image.open(buffer)).astype(np.float32), facts.luma_steps


def test_the_way_back_to_the_original_is_left_open() -> None:
    y, x = np.mgrid[0:43, 0:61]
    plane = (128.0 + 50.0 * np.sin(x / 4.0) * np.cos(y / 7.0) + 0.3 * x).astype(np.uint8)
    shown, steps = coded(plane, 60)
    change = plane.astype(np.float32) - shown
    assert np.abs(change).max() > 5.0
    # Whole blocks only: what an encoder adds beyond the edges is its own affair. Rounding to whole numbers costs 1.
    inside = np.s_[:40, :56]
    assert np.abs(left_open(change[inside], steps) - change[inside]).max() < 1.0


def test_each_frequency_is_cut_to_half_its_own_step() -> None:
    steps = tuple(range(2, 130, 2))
    flat = left_open(np.full((8, 16), 50.0, np.float32), steps)
    # The mean of a block is its first frequency, divided by 8.
    assert np.allclose(flat, steps[0] / 2.0 / 8.0, atol=1e-4)
    n = np.arange(8)
    wave = np.cos((2 * n + 1) * np.pi / 16)
    across = left_open(np.tile(1000.0 * wave, (8, 1)).astype(np.float32), steps)
    down = left_open(np.tile(1000.0 * wave[:, None], (1, 8)).astype(np.float32), steps)
    size = 0.5 / np.sqrt(8.0)
    assert np.allclose(across, steps[1] / 2.0 * size * wave, atol=1e-4)
    assert np.allclose(down, steps[2] / 2.0 * size * wave[:, None], atol=1e-4)


def test_small_changes_are_not_touched() -> None:
    change = np.random.default_rng(3).uniform(-0.1, 0.1, (21, 30)).astype(np.float32)
    assert np.allclose(left_open(change, (16,) * 64), change, atol=1e-5)
