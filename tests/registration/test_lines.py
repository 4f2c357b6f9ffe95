"""Straight lines where edges were drawn, and which parts of them are there."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.registration.distortion import undistort
from irspot.registration.edge_map import edge_map
from irspot.registration.lines import Lines, lines_of
from tests.registration.outline_frames import BENT, BOARD, SIZE, SLANTED, TILTED, carried, frame_of, noisy, view


def lines_in(seen, degc) -> Lines:
    edges = edge_map(degc, 0.1)
    points = undistort(edges.points_px, seen.optics, SIZE) if seen.optics.distorted else edges.points_px
    return lines_of(edges, points, SIZE)


def nearest(lines: Lines, start, end) -> tuple[int, float]:
    """The line that passes nearest to two places, and how near."""
    off = np.abs(np.stack([start, end]) @ lines.normals.T - lines.offsets).max(axis=0)
    return int(off.argmin()), float(off.min())


@pytest.mark.parametrize("optics", [None, BENT])
@pytest.mark.parametrize("pose", [TILTED, SLANTED])
def test_the_four_sides_of_a_board_are_among_the_lines(pose, optics) -> None:
    seen = view(pose) if optics is None else view(pose, optics)
    lines = lines_in(seen, noisy(frame_of(seen), 0.1, 1))
    corners = carried(seen.matrix(), BOARD.array_mm)
    found = [nearest(lines, *side) for side in zip(corners, np.roll(corners, -1, axis=0), strict=True)]
    assert len({k for k, _ in found}) == 4
    assert 0 in {k for k, _ in found}, "the strongest line is a side"
    assert max(off for _, off in found) < 0.5
    np.testing.assert_allclose(np.hypot(*lines.normals.T), 1.0)
    np.testing.assert_allclose(np.einsum("ij,ij->i", lines.normals, lines.along), 0.0, atol=1e-12)


def test_presence_is_noted_where_a_side_shows_and_not_where_it_is_hidden() -> None:
    seen = view(TILTED)
    degc = frame_of(seen)
    corners = carried(seen.matrix(), BOARD.array_mm)
    hidden = corners[0] + 0.5 * (corners[1] - corners[0])
    x, y = np.rint(hidden).astype(int)
    degc[y - 20 : y + 21, x - 20 : x + 21] = 41.0
    lines = lines_in(seen, noisy(degc, 0.1, 2))
    k, _ = nearest(lines, corners[0], corners[1])

    def share(begin: float, end: float) -> float:
        ends = [corners[0] + part * (corners[1] - corners[0]) for part in (begin, end)]
        at = sorted(((place - lines.centre) @ lines.along[k] - lines.first_px) / lines.step_px for place in ends)
        first, last = (round(value) for value in at)
        return float(lines.present[k, last] - lines.present[k, first]) / (last - first)

    assert share(0.05, 0.35) > 0.9
    assert share(0.65, 0.95) > 0.9
    assert share(0.45, 0.55) < 0.1


def test_an_even_frame_has_no_lines() -> None:
    edges = edge_map(np.full((251, 323), 23.0, np.float32), 0.1)
    assert len(lines_of(edges, edges.points_px, SIZE).normals) == 0
