"""What a set-up is said to be able to tell beforehand is what it then tells."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from irspot.board import Board, Limit, Zone
from irspot.camera import Optics
from irspot.measurement import measure_zones
from irspot.measurement.outlook import filling_placement, outlook_of, scale_px_per_mm
from irspot.shapes import rectangle
from irspot.uncertain import combined, expanded

from .scenes import BOARD, CAMERA, CONDITIONS, apparent_of, frame_of, straight_placement, tilted_placement


def test_the_uncertainty_is_that_of_a_reading_at_that_temperature() -> None:
    zone = replace(BOARD.zones[0], limit=Limit(95.0, "surface"))
    board = Board("Kestrel K7", BOARD.outline, (zone,))
    placement = straight_placement()
    degc = np.full((131, 173), 40.0, np.float32)
    degc[:] = apparent_of(95.0, zone)
    reading = measure_zones(frame_of(degc), board, placement, CONDITIONS)[0]
    (outlook,) = outlook_of(board, "front", CAMERA, CONDITIONS, placement).zones
    assert outlook.at_degc == 95.0
    kept = [term for term in reading.budget if term.name not in ("placement", "spot size", "noise bias")]
    assert expanded(combined(kept)) == pytest.approx(outlook.U_k, rel=0.01)
    assert outlook.dominant_term == reading.dominant_term
    # Two boards in one session: the camera's limit is the same for both.
    own = combined(term for term in kept if term.name != "camera limit")
    assert outlook.apart_k == pytest.approx(2.0 * math.sqrt(2.0) * own, rel=0.01)


@pytest.mark.parametrize("placement", [straight_placement(), tilted_placement()])
def test_zones_are_as_wide_as_they_are_measured(placement) -> None:
    readings = measure_zones(frame_of(np.full((131, 173), 40.0)), BOARD, placement, CONDITIONS)
    outlook = outlook_of(BOARD, "front", CAMERA, CONDITIONS, placement)
    wanted = [reading.across_px for reading in readings[:-1]]
    assert [each.across_px for each in outlook.zones] == pytest.approx(wanted, abs=1e-6)
    assert outlook.px_per_mm == pytest.approx(1.4, abs=0.1)


def test_distance_from_which_a_part_is_ten_pixels_across() -> None:
    # Pinhole: 800 px of focal length, 0.5 px a mm: 1600 mm away; 8 mm are ten pixels from 640 mm on.
    board = Board("b", rectangle(0, 0, 100, 80), (Zone("z", rectangle(10, 10, 8, 30)),))
    camera = replace(CAMERA, optics=Optics(focal_px=800.0, blur_px=1.0))
    outlook = outlook_of(board, "front", camera, CONDITIONS, straight_placement(0.5))
    assert outlook.distance_mm == pytest.approx(1600.0)
    assert outlook.zones[0].distance_mm == pytest.approx(640.0)
    assert (outlook.good_px, outlook.least_px) == (10.0, pytest.approx(4.0 * math.hypot(1.0, 12.0**-0.5)))


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize(("size_px", "scale"), [((640, 512), 0.9 * 512 / 200), ((512, 640), 0.9 * 512 / 200)])
def test_a_board_without_a_frame_fills_most_of_one(side, size_px, scale) -> None:
    board = Board("b", rectangle(0, 0, 250, 200))
    placement = filling_placement(board, side, replace(CAMERA, optics=Optics(size_px=size_px)))
    assert placement is not None
    assert scale_px_per_mm(placement, board) == pytest.approx(scale)
    middle = placement.to_px(np.array([[125.0, 100.0]]))[0]
    assert middle == pytest.approx([(size_px[0] - 1) / 2, (size_px[1] - 1) / 2])


def test_without_a_frame_or_its_size_no_scale_is_told() -> None:
    assert filling_placement(BOARD, "front", CAMERA) is None
    outlook = outlook_of(BOARD, "front", CAMERA, CONDITIONS, None)
    assert math.isnan(outlook.px_per_mm)
    assert all(math.isnan(each.across_px) and each.U_k > 0.0 for each in outlook.zones)
