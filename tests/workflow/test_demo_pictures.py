"""Frames of the demo as pictures decode to what the radiometric frames say, within their own uncertainty."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.camera import Camera
from irspot.color_picture import Excluded
from irspot.color_wish import BarScale, ColorWish
from irspot.synthetic.demo import demo_scene, demo_surface, photograph
from irspot.synthetic.demo_pictures import DemoPicture, demo_pictures, picture_bytes
from irspot.workflow.color_frames import decode_file


@pytest.mark.parametrize("picture", demo_pictures(), ids=lambda picture: picture.id)
def test_a_picture_says_what_its_frame_says(picture: DemoPicture, tmp_path) -> None:
    stored = photograph(demo_scene(picture.run), demo_surface(picture.run))
    path = tmp_path / f"frame.{picture.kind}"
    path.write_bytes(picture_bytes(picture, stored))
    scale = BarScale.of_ends(picture.low_degc, picture.high_degc)
    decoded = decode_file(path, Camera(), ColorWish(scale))
    degc = stored * 0.01 - 273.15
    known = (decoded.excluded == Excluded.DECODED) & ~decoded.clipped_high & ~decoded.clipped_low
    assert known.mean() > 0.9
    error = np.abs(decoded.temperature_degc - degc)[known]
    inside = error <= 2.0 * decoded.u_decode_k[known]
    assert inside.mean() > 0.95
    assert np.quantile(error, 0.99) < 0.02 * (picture.high_degc - picture.low_degc)
    x0, y0, x1, y1 = decoded.bar.box_px
    assert (decoded.excluded[y0:y1, x0:x1] == Excluded.BAR).all()
