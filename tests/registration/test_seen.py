"""What is shown of a search is what the search went by."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.board import Board
from irspot.camera import Camera, Optics
from irspot.frame import Frame, degc_frame
from irspot.placing import AUTO, CornersPx, PointsPx
from irspot.registration.seen import what_was_seen
from irspot.shapes import rectangle
from irspot.synthetic.placement_scenes import hopeless_scene, placement_scene

SQUARE = Board("square", rectangle(0.0, 0.0, 170.0, 170.0))


def frame_of(scene) -> Frame:
    return degc_frame(scene.degc, camera=Camera(name="trial", optics=scene.optics))


def test_both_of_two_boards_are_seen_where_they_are() -> None:
    scene = hopeless_scene(2003, kind="two-boards", size_px=(640, 480))
    seen = what_was_seen(frame_of(scene), scene.board, AUTO, side=scene.side, top=scene.top)
    assert len(seen.outlines) >= 2
    fits = [outline.fit for outline in seen.outlines]
    assert fits == sorted(fits, reverse=True)
    assert fits[1] > 0.8
    # One of the two is the board whose place is known.
    misses = [
        np.linalg.norm(outline.border_px[:, None] - scene.corners_px[None], axis=2).min(axis=0).max()
        for outline in seen.outlines[:2]
    ]
    assert min(misses) < 4.0
    assert max(misses) > 50.0


def test_edges_lie_along_a_board_that_shows() -> None:
    scene = placement_scene(2001, size_px=(320, 240), shape="rectangle")
    seen = what_was_seen(frame_of(scene), scene.board, AUTO, side=scene.side, top=scene.top)
    border = seen.outlines[0].border_px
    apart = np.linalg.norm(border[:, None] - seen.edges_px[None], axis=2).min(axis=1)
    assert np.mean(apart < 2.0) > 0.6
    assert 0.6 < seen.outlines[0].on_edges <= 1.0
    assert np.all((seen.edges_px >= -0.5) & (seen.edges_px <= np.array(scene.size_px)))


def test_the_ways_round_of_one_place_are_one_outline() -> None:
    from scipy.ndimage import gaussian_filter

    degc = np.full((256, 320), 22.0)
    degc[40:220, 60:240] = 40.0
    noisy = gaussian_filter(degc, 1.0) + np.random.default_rng(1).normal(0.0, 0.05, degc.shape)
    seen = what_was_seen(degc_frame(noisy.astype(np.float32)), SQUARE, AUTO)
    assert seen.outlines[0].ways == 4
    assert all(outline.fit < seen.outlines[0].fit for outline in seen.outlines[1:])


@pytest.mark.parametrize("value", [21.0, np.nan])
def test_an_even_frame_shows_nothing(value: float) -> None:
    seen = what_was_seen(degc_frame(np.full((120, 160), value, np.float32)), SQUARE, AUTO, top="up")
    assert seen.outlines == ()
    assert len(seen.edges_px) == 0


def test_points_given_by_hand_are_shown_as_given() -> None:
    frame = degc_frame(np.full((120, 160), 21.0, np.float32), camera=Camera(name="trial", optics=Optics()))
    corners = what_was_seen(frame, SQUARE, CornersPx(((3.0, 4.0), (90.0, 5.5))))
    assert corners.given_px == (("1", 3.0, 4.0), ("2", 90.0, 5.5))
    marks = what_was_seen(frame, SQUARE, PointsPx((("hole-a", 3.0, 4.0),)))
    assert marks.given_px == (("hole-a", 3.0, 4.0),)
