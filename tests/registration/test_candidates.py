"""What speaks for a place: the share of its edges that shows, how firmly they hold it, whether they agree."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from irspot.registration.candidates import SAME_PX, carried, refined_candidates
from irspot.registration.edge_map import edge_map
from irspot.registration.edge_profiles import profiles_of
from irspot.shapes import Polygon
from irspot.synthetic.view import Pose
from tests.registration.outline_frames import BOARD, LENS, NOTCHED, SIZE, TILTED, frame_of, noisy, view


def candidates(degc, matrices, outline=BOARD, optics=LENS, top=None):
    edges, profiles = edge_map(degc, 0.1, 1.3), profiles_of(degc, 0.1, 1.3)
    return refined_candidates(
        edges, profiles, np.stack(matrices), outline.array_mm, optics, SIZE, top,
        count=480, reaches_px=(3.3, 2.8, 2.8), ask_edges=True,
    )  # fmt: skip


@pytest.mark.parametrize("outline", [BOARD, NOTCHED])
def test_a_board_that_shows_everywhere_is_beyond_doubt(outline: Polygon) -> None:
    seen = view(TILTED)
    (one,) = candidates(noisy(frame_of(seen, outline), 0.1, 1), [seen.matrix()], outline)
    assert one.worth == 1.0
    assert one.held > 0.9
    assert one.in_view == 1.0
    assert one.u_px < 0.1
    assert one.disagreement < 2.0
    assert one.evidence > 4.0
    wanted = np.rad2deg(np.arccos(np.cos(np.deg2rad(17.0)) * np.cos(np.deg2rad(12.0))))
    assert one.tilt_deg == pytest.approx(wanted, abs=0.2)
    truth = carried(seen.matrix()[None], outline.array_mm)[0]
    assert np.abs(one.corners_px - truth).max() < 0.15


def without_side(seen, share: float):
    """Draw a board whose right side lies, over a share of its length, before something as warm as itself."""
    longer = Polygon(
        (
            (0.0, 0.0),
            (213.0, 0.0),
            (213.0, 131.0 * (1 - share)),
            (260.0, 131.0 * (1 - share)),
            (260.0, 131.0),
            (0.0, 131.0),
        )
    )
    return noisy(frame_of(seen, longer), 0.1, 2)


def test_an_edge_counts_up_to_half_its_length() -> None:
    seen = view(Pose(420.0, (120.0, 66.0), 5.0, 3.0, 0.0))
    whole, most, hidden = (candidates(without_side(seen, share), [seen.matrix()])[0] for share in (0.0, 0.4, 0.95))
    assert whole.worth == most.worth == 1.0
    assert most.shares[1] == pytest.approx(0.6, abs=0.08)
    # The right side is 131 of 688 mm of the outline.
    assert hidden.worth == pytest.approx(1.0 - 131.0 / 688.0, abs=0.03)
    assert hidden.evidence < most.evidence - 2.0


def test_edges_that_disagree_speak_against_a_place() -> None:
    seen = view(TILTED)
    longer = Polygon(((0.0, 0.0), (215.5, 0.0), (215.5, 131.0), (0.0, 131.0)))
    (own,) = candidates(noisy(frame_of(seen), 0.1, 3), [seen.matrix()])
    (false,) = candidates(noisy(frame_of(seen, longer), 0.1, 3), [seen.matrix()])
    assert false.disagreement > 3.0 * own.disagreement
    assert false.evidence < own.evidence - 1.5


def test_places_are_listed_once_the_likeliest_first() -> None:
    seen = view(TILTED)
    near = np.array([[1.0, 0.0, 1.5], [0.0, 1.0, -1.0], [0.0, 0.0, 1.0]]) @ seen.matrix()
    upside_down = seen.matrix() @ np.array([[-1.0, 0.0, 213.0], [0.0, -1.0, 131.0], [0.0, 0.0, 1.0]])
    degc = noisy(frame_of(seen, NOTCHED), 0.1, 4)
    found = candidates(degc, [upside_down, near, seen.matrix()], NOTCHED)
    assert np.abs(found[0].corners_px - carried(seen.matrix()[None], NOTCHED.array_mm)[0]).max() < 0.2
    assert all(one.evidence >= other.evidence for one, other in pairwise(found))
    for k, one in enumerate(found):
        assert all(np.abs(one.corners_px - other.corners_px).max() > SAME_PX for other in found[:k])


def test_the_facing_is_that_of_the_top() -> None:
    seen = view(Pose(420.0, (104.0, 68.0), 0.0, 0.0, 20.0))
    degc = frame_of(seen)
    cosines = [candidates(degc, [seen.matrix()], top=top)[0].facing for top in ("up", "right", "down", "left", None)]
    turn = np.deg2rad(20.0)
    assert np.abs(cosines[0]) == pytest.approx(np.cos(turn), abs=0.01)
    assert np.abs(cosines[1]) == pytest.approx(np.sin(turn), abs=0.01)
    assert cosines[2:] == pytest.approx([-cosines[0], -cosines[1], 1.0])


def test_without_a_focal_length_no_edge_speaks_about_another() -> None:
    seen = view(TILTED)
    (one,) = candidates(noisy(frame_of(seen), 0.1, 5), [seen.matrix()], optics=replace(LENS, focal_px=None))
    assert one.shifts == (None,) * 4
    assert one.worth == 1.0
    assert one.evidence > 3.0


def test_nothing_is_a_candidate_where_there_are_no_edges() -> None:
    assert candidates(np.full((251, 323), 23.0, np.float32), [view().matrix()]) == ()
