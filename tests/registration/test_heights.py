"""Raised surfaces: where they appear, held against the camera in space; how far off they may be otherwise."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from irspot.board import Board, Zone
from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.measurement.geometry import geometry_of, placement_of
from irspot.placing import CornersPx
from irspot.registration import place
from irspot.registration.heights import at_height, camera_pose, pose_doubtful, raised, shift_bound_mm
from irspot.shapes import Circle, rectangle
from irspot.synthetic.view import Pose, project

SIZE = (643, 509)
LENS = Optics(focal_px=812.0, principal_px=(318.2, 257.9), distortion=(-0.21, 0.06, 0.0007, -0.0011, 0.0))
BOARD = Board(
    "Heron H5 (invented)",
    rectangle(0, 0, 244, 244),  # microATX
    zones=(
        Zone("sink", rectangle(100, 90, 40, 30), height_mm=35.0, exclude=(Circle(120, 105, 4),)),
        Zone("chip", rectangle(30, 150, 30, 30), height_mm=0.8),
        Zone("sink-rear", rectangle(150, 60, 35, 28), height_mm=20.0, side="rear"),
    ),
)
CORNERS = BOARD.outline.array_mm


def placed(view: Pose, side="front", optics=LENS, noise_px=0.0, seed=0, seen_with=LENS):
    flat = np.column_stack([CORNERS, np.zeros(4)])
    corners = project(flat, view, side, seen_with, SIZE)
    corners = corners + noise_px * np.random.default_rng(seed).standard_normal((4, 2))
    return place(BOARD, SIZE, optics, CornersPx(tuple(map(tuple, corners.tolist()))), side=side)


def test_a_heatsink_35_mm_high_seen_at_25_degrees_appears_16_mm_away():
    """The worked example: 35 mm x tan 25 degrees = 16.3 mm, for a place that the optical axis goes through."""
    tilt = 25.0
    # The axis meets the board 16.3 mm beyond the place over which it meets the heatsink's top.
    away = 35.0 * math.tan(math.radians(tilt))
    view = Pose(600.0, (122.0, 122.0 + away), tilt_deg=-tilt)
    placement = placed(view)
    top = np.array([[122.0, 122.0]])
    seen = placement.raised(35.0).to_px(top)
    np.testing.assert_allclose(seen, [LENS.principal_px], atol=1e-3)
    apparent = placement.to_mm(seen)
    assert np.hypot(*(apparent - top)[0]) == pytest.approx(16.3, abs=0.05)
    assert np.hypot(*(apparent - top)[0]) == pytest.approx(away, abs=1e-3)


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize(
    "view",
    [
        Pose(620.0, (122.0, 130.0), tilt_deg=25.0, roll_deg=12.0),
        Pose(660.0, (110.0, 122.0), tilt_deg=-28.0, turn_deg=28.0, roll_deg=-95.0),
        Pose(560.0, (122.0, 122.0)),
    ],
)
@pytest.mark.parametrize("height_mm", [35.0, 0.8, -6.0])
def test_raised_places_appear_where_the_camera_in_space_has_them(side, view, height_mm):
    placement = placed(view, side)
    grid = np.array([[x, y] for x in np.linspace(0, 244, 5) for y in np.linspace(0, 244, 4)])
    wanted = project(np.column_stack([grid, np.full(len(grid), height_mm)]), view, side, LENS, SIZE)
    lifted = placement.raised(height_mm)
    np.testing.assert_allclose(lifted.to_px(grid), wanted, atol=1e-3)
    np.testing.assert_allclose(lifted.to_mm(wanted), grid, atol=1e-3)


def test_noise_of_the_corners_does_not_unsettle_heights():
    """Corners half a pixel off: a place 35 mm high is found to a millimetre, where ignoring its height costs 15."""
    view = Pose(620.0, (122.0, 130.0), tilt_deg=25.0)
    top = np.array([[120.0, 105.0]])
    seen = project(np.array([[120.0, 105.0, 35.0]]), view, "front", LENS, SIZE)
    corrected, ignored = [], []
    for seed in range(40):
        placement = placed(view, noise_px=0.5, seed=seed)
        assert not pose_doubtful(placement)
        corrected.append(np.hypot(*(placement.raised(35.0).to_mm(seen) - top)[0]))
        ignored.append(np.hypot(*(placement.to_mm(seen) - top)[0]))
    # Half a pixel is 0.38 mm; on a lever of 170 mm it tilts the pose by some 0.4 degrees, which 35 mm make 0.25 mm of.
    assert np.percentile(corrected, 95) < 1.0
    assert np.min(ignored) > 15.0


def test_at_height_0_the_placement_is_the_one_fitted():
    placement = placed(Pose(620.0, (122.0, 130.0), tilt_deg=25.0), noise_px=0.7)
    np.testing.assert_allclose(raised(placement, 0.0).matrix, placement.matrix, atol=1e-9)
    assert at_height(placement, 0.0) is placement
    assert at_height(placement, 5.0) is at_height(placement, 5.0)


@pytest.mark.parametrize("side", ["front", "rear"])
def test_zones_take_the_pixels_that_their_raised_surface_covers(side):
    view = Pose(620.0, (122.0, 130.0), tilt_deg=25.0, roll_deg=8.0)
    placement = placed(view, side)
    found = geometry_of(BOARD, placement)
    rows, columns = np.mgrid[0 : SIZE[1], 0 : SIZE[0]]
    elsewhere = np.zeros((SIZE[1], SIZE[0]), bool)
    elsewhere[found.elsewhere.slices] = found.elsewhere.mask
    for zone, pixels in zip(BOARD.zones_of(side), found.zones, strict=True):
        mask = np.zeros_like(elsewhere)
        mask[pixels.slices] = pixels.mask
        x0, y0, x1, y1 = zone.shape.box_mm
        inner = np.random.default_rng(3).uniform([x0, y0], [x1, y1], (500, 2))
        holes = [part.contains(*inner.T) for part in zone.exclude]
        inner = inner[~np.any(holes, axis=0)] if holes else inner
        seen = project(np.column_stack([inner, np.full(len(inner), zone.height_mm)]), view, side, LENS, SIZE)
        column, row = np.rint(seen).astype(int).T
        assert np.mean(mask[row, column]) > 0.95  # the rest is on pixels whose centres lie outside
        assert not np.any(elsewhere & mask)
        centre = (columns[mask].mean(), rows[mask].mean())
        middle = project(np.array([[(x0 + x1) / 2, (y0 + y1) / 2, zone.height_mm]]), view, side, LENS, SIZE)[0]
        np.testing.assert_allclose(centre, middle, atol=2.0)
        foot = np.column_stack([inner, np.zeros(len(inner))])
        column, row = np.rint(project(foot, view, side, LENS, SIZE)).astype(int).T
        assert np.mean(elsewhere[row, column]) < 0.05


def test_a_surface_that_would_reach_the_camera_is_refused():
    placement = placed(Pose(300.0, (122.0, 122.0)))
    with pytest.raises(PlacementRefused, match="would reach the camera") as refused:
        placement.raised(299.0)
    assert refused.value.cause == "height"
    with pytest.raises(PlacementRefused, match=re.escape("zone tower: height_mm")):
        placement_of(Zone("tower", rectangle(0, 0, 10, 10), height_mm=400.0), placement)


STRAIGHT = Optics(focal_px=812.0)


@pytest.mark.parametrize("hfov_deg", [12.0, 24.0, 43.2, 75.0])
@pytest.mark.parametrize("tilt_deg", [0.0, 10.0, 25.0, 40.0])
@pytest.mark.parametrize("noise_px", [0.0, 0.5])
def test_without_a_focal_length_the_bound_holds(hfov_deg, tilt_deg, noise_px):
    """Whatever the lens was, the surface lies no further off than the bound; and the bound is not idle."""
    focal = SIZE[0] / 2.0 / math.tan(math.radians(hfov_deg) / 2.0)
    lens = Optics(focal_px=focal)
    view = Pose(focal * 0.62, (122.0, 122.0), tilt_deg=tilt_deg, turn_deg=3.0)
    placement = placed(view, optics=Optics(), seen_with=lens, noise_px=noise_px, seed=7)
    zone = BOARD.zones[0]
    bound = shift_bound_mm(placement, zone.height_mm, zone.shape)
    tops = np.column_stack([zone.shape.array_mm, np.full(4, zone.height_mm)])
    off = placement.to_mm(project(tops, view, "front", lens, SIZE)) - zone.shape.array_mm
    worst = float(np.hypot(*off.T).max())
    assert worst <= bound + 2.0 * noise_px
    assert bound <= worst + 35.0 * math.tan(math.radians(30.0))


def test_the_bound_with_a_focal_length_is_the_shift_itself():
    view = Pose(620.0, (122.0, 130.0), tilt_deg=25.0)
    placement = placed(view)
    zone = BOARD.zones[0]
    tops = np.column_stack([zone.shape.array_mm, np.full(4, 35.0)])
    off = placement.to_mm(project(tops, view, "front", LENS, SIZE)) - zone.shape.array_mm
    assert shift_bound_mm(placement, 35.0, zone.shape) == pytest.approx(np.hypot(*off.T).max(), abs=1e-3)


def test_a_wrong_focal_length_makes_the_pose_doubtful():
    view = Pose(620.0, (122.0, 130.0), tilt_deg=30.0, turn_deg=20.0)
    assert not pose_doubtful(placed(view, optics=STRAIGHT, seen_with=STRAIGHT))
    wrong = placed(view, optics=Optics(focal_px=1900.0), seen_with=STRAIGHT)
    assert pose_doubtful(wrong)
    assert camera_pose(wrong).residual_px > 3.0
    assert not pose_doubtful(placed(view, optics=Optics(), seen_with=STRAIGHT))


def test_a_pose_that_could_be_tilted_the_other_way_is_doubtful():
    far = placed(Pose(6000.0, (122.0, 122.0), tilt_deg=25.0))
    assert pose_doubtful(far)
