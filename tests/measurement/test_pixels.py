"""Which pixels of a frame count: those of pictures are the sensor's own only where sizes say so."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.camera import Optics
from irspot.frame import Frame
from irspot.measurement.pixels import pixels_of

from .scenes import CAMERA, SIZE, frame_of, ramp

U_DECODE_K = 0.2


def picture(size_px: tuple[int, int] | None, spike_k: float) -> Frame:
    """A decoded picture with one pixel that stands alone, of a sensor of this size."""
    degc = ramp(3, 0.1)
    degc[40, 60] += spike_k
    u_decode_k = np.full(degc.shape, U_DECODE_K, np.float32)
    clipped = np.zeros(degc.shape, bool)
    camera = replace(CAMERA, optics=Optics(size_px=size_px))
    return replace(frame_of(degc, camera), u_decode_k=u_decode_k, clipped=clipped, clipped_low=clipped)


@pytest.mark.parametrize("spike_k", [30.0, -30.0])
def test_a_pixel_alone_is_dead_in_a_picture_of_the_sensors_size(spike_k: float) -> None:
    pixels = pixels_of(picture(SIZE, spike_k))
    assert list(zip(*np.nonzero(pixels.found), strict=True)) == [(40, 60)]
    assert not pixels.sound[40, 60]


@pytest.mark.parametrize("size_px", [None, (SIZE[0] * 2, SIZE[1] * 2)])
def test_pictures_that_were_scaled_keep_every_pixel(size_px: tuple[int, int] | None) -> None:
    assert not pixels_of(picture(size_px, 30.0)).found.any()


def test_what_decoding_may_be_off_by_is_no_dead_pixel() -> None:
    assert not pixels_of(picture(SIZE, 8.0 * U_DECODE_K)).found.any()
