"""The share of a board above a limit, held against discs whose area is known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from irspot.board import Board
from irspot.camera import Optics
from irspot.measurement.area_above import area_above, pixel_areas_mm2
from irspot.registration.homography import fit
from irspot.registration.placement import Placement
from irspot.results import Reading
from irspot.shapes import Circle, rectangle

WIDTH_MM, HEIGHT_MM = 120.0, 80.0
BOARD = Board("Disc board (invented)", rectangle(0.0, 0.0, WIDTH_MM, HEIGHT_MM))
COLUMNS, ROWS = 410, 307
CORNERS_MM = np.array([[0.0, 0.0], [WIDTH_MM, 0.0], [WIDTH_MM, HEIGHT_MM], [0.0, HEIGHT_MM]])
LEVEL = [[0.08, 0.9], [0.92, 0.9], [0.92, 0.1], [0.08, 0.1]]
TILTED = [[0.05, 0.95], [0.97, 0.85], [0.8, 0.15], [0.2, 0.05]]


def placed(corners: list[list[float]], optics: Optics | None = None) -> Placement:
    matrix = fit(CORNERS_MM, np.array(corners) * [COLUMNS, ROWS])
    return Placement(matrix, "front", optics or Optics(), (COLUMNS, ROWS), "corners", 0.0, 0.0, 4)


def disc_frame(placement: Placement, disc: Circle, inside: float = 90.0, outside: float = 40.0) -> np.ndarray:
    """A frame in which a disc of the board is hot, pixel by pixel."""
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    mm = placement.to_mm(np.column_stack([x.ravel(), y.ravel()]).astype(float))
    hot = np.hypot(mm[:, 0] - disc.x_mm, mm[:, 1] - disc.y_mm) <= disc.radius_mm
    return np.where(hot, inside, outside).reshape(ROWS, COLUMNS)


def reading(U_k: float, verdict: str = "usable") -> Reading:
    return Reading("f", "", "z", "", "z", verdict, max_degc=90.0, U_max_k=U_k)  # type: ignore[arg-type]


@pytest.mark.parametrize("corners", [LEVEL, TILTED], ids=["level", "tilted"])
@pytest.mark.parametrize("optics", [Optics(), Optics(focal_px=380.0, distortion=(-0.2, 0.04, 0.0, 0.0, 0.0))])
def test_a_disc_has_its_own_area(corners: list[list[float]], optics: Optics) -> None:
    placement = placed(corners, optics)
    disc = Circle(47.0, 36.0, 21.0)
    area = area_above(disc_frame(placement, disc), BOARD, placement, [reading(1.0)], 70.0)
    assert area.above_mm2 == pytest.approx(math.pi * 21.0**2, rel=0.004)
    assert area.share == pytest.approx(math.pi * 21.0**2 / (WIDTH_MM * HEIGHT_MM), rel=0.006)


def test_pixels_off_the_board_or_not_measured_do_not_count() -> None:
    placement = placed(LEVEL)
    frame = np.full((ROWS, COLUMNS), 90.0)
    frame[:, : COLUMNS // 2] = np.nan
    area = area_above(frame, BOARD, placement, [reading(1.0)], 70.0)
    assert area.share == pytest.approx(1.0)
    assert area.measured_mm2 == pytest.approx(0.5 * WIDTH_MM * HEIGHT_MM, rel=0.01)
    nothing = area_above(np.full((ROWS, COLUMNS), np.nan), BOARD, placement, [], 70.0)
    assert math.isnan(nothing.share)
    assert nothing.text == "nothing of the board was measured"


def test_the_interval_is_that_of_the_limit_moved_by_the_uncertainty() -> None:
    placement = placed(LEVEL)
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    mm = placement.to_mm(np.column_stack([x.ravel(), y.ravel()]).astype(float))
    ramp = (20.0 + mm[:, 0]).reshape(ROWS, COLUMNS)  # 20 to 140 °C over 120 mm
    area = area_above(ramp, BOARD, placement, [reading(3.0), reading(6.0), reading(99.0, "retake")], 80.0)
    assert (area.low_share, area.share, area.high_share) == pytest.approx((54 / 120, 60 / 120, 66 / 120), abs=0.004)
    shown = [f"{100.0 * share:.1f}" for share in (area.share, area.low_share, area.high_share)]
    assert area.text == "{} % of the board above 80 °C ({} to {} % within ± 6.0 K)".format(*shown)
    unknown = area_above(ramp, BOARD, placement, [], 80.0)
    assert math.isnan(unknown.low_share)
    assert "within" not in unknown.text


def test_pixels_share_out_the_plane() -> None:
    areas = pixel_areas_mm2(placed(TILTED))
    assert areas.shape == (ROWS, COLUMNS)
    assert (areas > 0.0).all()
    assert areas[5, 200] > 1.5 * areas[300, 200], "what is further away covers more"
