"""Round things of a frame are listed where they are, the roundest first, and noise gives none."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.camera import Optics
from irspot.registration.distortion import distort
from irspot.registration.mark_blobs import MOST_BLOBS, blobs_of
from tests.registration.mark_frames import disc_frame

DISCS = [(40.3, 30.7, 3.0, -6.0), (150.2, 44.9, 4.0, 5.0), (90.6, 100.4, 2.5, -4.0), (30.1, 120.8, 6.0, 8.0)]


@pytest.mark.parametrize("scale", [1.0, 3.0])
def test_discs_are_listed_where_they_are(scale):
    discs = [(x * scale, y * scale, r * scale, k) for x, y, r, k in DISCS]
    frame = disc_frame((round(200 * scale), round(160 * scale)), discs, noise_k=0.05)
    blobs = blobs_of(frame, (0.8 * scale, 2.0 * scale), Optics(), blur_px=1.0, noise_k=0.05)
    assert len(blobs.xy_px) == 4
    for x, y, *_ in discs:
        assert np.hypot(*(blobs.xy_px - [x, y]).T).min() < 0.1
    assert np.all(np.diff(blobs.share) <= 0.0)


def test_places_are_straightened_too():
    optics = Optics((200, 160), 220.0, distortion=(-0.2, 0.0, 0.0, 0.0, 0.0))
    frame = disc_frame((200, 160), DISCS, noise_k=0.05)
    blobs = blobs_of(frame, (0.8, 2.0), optics, blur_px=1.0, noise_k=0.05)
    np.testing.assert_allclose(distort(blobs.straight_px, optics, (200, 160)), blobs.xy_px, atol=1e-6)
    assert np.abs(blobs.straight_px - blobs.xy_px).max() > 0.5


@pytest.mark.parametrize("seed", range(3))
def test_noise_gives_none(seed):
    noise = np.random.default_rng(seed).normal(20.0, 0.1, (240, 320)).astype(np.float32)
    assert len(blobs_of(noise, (0.8, 2.0), Optics(), blur_px=0.8, noise_k=0.1).xy_px) == 0


def test_of_very_many_the_roundest_are_kept():
    grid = [(20.0 + 30.0 * i, 20.0 + 30.0 * j, 3.0, 5.0) for i in range(8) for j in range(6)]
    frame = disc_frame((260, 200), grid, noise_k=0.05)
    assert len(blobs_of(frame, (0.8, 2.0), Optics(), blur_px=1.0, noise_k=0.05).xy_px) == MOST_BLOBS
