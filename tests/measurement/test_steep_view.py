"""Zones seen from the side, with the angle from the camera's own pose."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.board import Board, Zone
from irspot.camera import Camera, Optics
from irspot.frame import degc_frame
from irspot.measurement import measure_zones
from irspot.placing import CornersPx
from irspot.registration import place
from irspot.shapes import rectangle
from irspot.synthetic.view import Pose, project

from .scenes import CONDITIONS

BOARD = Board("Steep", rectangle(0, 0, 100, 80), (Zone("middle", rectangle(40, 30, 20, 20)),))
OPTICS = Optics(focal_px=300.0)
SIZE = (320, 240)


@pytest.mark.parametrize(("tilt_deg", "steep"), [(0.0, False), (50.0, False), (60.0, True)])
def test_steep_views_are_flagged(tilt_deg: float, steep: bool) -> None:
    corners = np.column_stack([BOARD.outline.array_mm, np.zeros(4)])
    seen = project(corners, Pose(200.0, (50.0, 40.0), tilt_deg=tilt_deg), "front", OPTICS, SIZE)
    how = CornersPx(tuple((float(x), float(y)) for x, y in seen))
    frame = degc_frame(np.full((SIZE[1], SIZE[0]), 40.0, np.float32), camera=replace(Camera(), optics=OPTICS))
    (middle, _) = measure_zones(frame, BOARD, place(BOARD, SIZE, OPTICS, how), CONDITIONS)
    assert ("steep-view" in middle.flags) == steep
