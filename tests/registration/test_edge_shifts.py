"""Edges that are the board's own lie where the others say; one that is not lies elsewhere."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from irspot.registration.edge_profiles import profiles_of
from irspot.registration.edge_shifts import edge_shifts
from irspot.registration.outline_score import outline_points
from irspot.registration.refine import refine
from irspot.shapes import Polygon
from tests.registration.outline_frames import BOARD, LENS, SIZE, TILTED, frame_of, noisy, view

POINTS = outline_points(BOARD.array_mm, 480)
REACHES = (5.3, 3.3, 2.8, 2.8)


def with_false_edge(seen, moved_mm: float):
    """Draw a board that ends `moved_mm` beyond where its outline says, on the side x = 213."""
    longer = Polygon(((0.0, 0.0), (213.0 + moved_mm, 0.0), (213.0 + moved_mm, 131.0), (0.0, 131.0)))
    return noisy(frame_of(seen, longer), 0.1, 4)


def shifts_of(degc, seen, optics=LENS):
    profiles = profiles_of(degc, 0.1, 1.3)
    found = refine(profiles, POINTS, seen.matrix()[None], optics, SIZE, REACHES)[0]
    return edge_shifts(profiles, POINTS, found, optics, SIZE)


def test_edges_that_are_the_boards_own_lie_where_the_others_say() -> None:
    shifts = shifts_of(frame_of(view(TILTED)), view(TILTED))
    assert len(shifts) == 4
    assert all(shift is not None and shift[0] < 0.5 for shift in shifts)


def test_a_false_edge_lies_elsewhere_than_the_others_say() -> None:
    seen = view(TILTED)
    own, false = shifts_of(with_false_edge(seen, 0.0), seen), shifts_of(with_false_edge(seen, 4.0), seen)
    assert false[1][0] > 2.0
    assert false[1][0] > 5.0 * own[1][0]


def test_the_uncertainty_of_shifts_is_not_understated() -> None:
    seen, ratios = view(TILTED), []
    clean = frame_of(seen, board_degc=24.6)
    for seed in range(12):
        ratios += [shift[0] / shift[1] for shift in shifts_of(noisy(clean, 0.15, seed), seen)]
    # Edges are found a little off by the pixels' own raster, which averages out but is counted as noise.
    assert 0.1 < np.sqrt(np.mean(np.square(ratios))) < 1.0


def test_without_a_focal_length_other_edges_say_nothing() -> None:
    seen = view(TILTED)
    assert shifts_of(frame_of(seen), seen, replace(LENS, focal_px=None)) == (None,) * 4
