"""The mask picture paints every reason in its own colour and leaves decoded pixels grey."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from irspot.color_picture import Bar, BarScale, Decoded, Excluded
from irspot.rendering.decode_mask import _PAINT, _REASONS, mask_picture


def test_every_reason_has_its_colour_and_the_rest_stays_grey() -> None:
    rows, columns = 90, 310
    excluded = np.zeros((rows, columns), np.uint8)
    for place, reason in enumerate(_REASONS.values()):
        excluded[10 * place : 10 * place + 5, 20:30] = reason
    high = np.zeros((rows, columns), bool)
    high[60:65, 50:60] = True
    low = np.zeros((rows, columns), bool)
    low[70:75, 50:60] = True
    bar = Bar((0, 0, 4, 90), "bottom", np.zeros((90, 3)))
    blank = np.zeros((rows, columns), np.float32)
    decoded = Decoded(blank, blank, excluded, high, low, bar, BarScale.of_ends(20.0, 90.0))
    with Image.open(io.BytesIO(mask_picture(np.full((rows, columns, 3), 200, np.uint8), decoded).png_bytes())) as image:
        painted = np.asarray(image.convert("RGB"))
    assert painted.shape[1] == columns
    assert painted.shape[0] > rows
    for place, name in enumerate(_REASONS):
        assert tuple(painted[10 * place + 2, 25]) == _PAINT[name]
    assert tuple(painted[62, 55]) == _PAINT["hot end: lower bound"]
    assert tuple(painted[72, 55]) == _PAINT["cold end: upper bound"]
    assert len(set(painted[80, 200])) == 1
    assert len(set(_PAINT.values())) == len(_PAINT)
    assert {reason for reason in Excluded if reason} == set(_REASONS.values())
