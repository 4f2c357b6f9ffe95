"""Edges that a board is known again by: on it, spread, told from the outline's, free of stuck pixels."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.board import Board, Zone
from irspot.camera import Optics
from irspot.registration.content import (
    Edges,
    beside_gaps,
    edges_on_board,
    heights_at,
    least_slope,
    offsets,
    smoothed,
    without_stuck,
)
from irspot.registration.edge_map import without_gaps
from irspot.registration.placement import Placement
from irspot.shapes import rectangle

ROWS, COLUMNS = 120, 160
# The board is 100 x 60 mm at 1 px a mm, its lower-left corner at px (30, 90): px = (30 + x, 90 - y).
MATRIX = np.array([[1.0, 0.0, 30.0], [0.0, -1.0, 90.0], [0.0, 0.0, 1.0]])
BOARD = Board("b", rectangle(0.0, 0.0, 100.0, 60.0), zones=(Zone("sink", rectangle(60.0, 30.0, 20.0, 15.0)),))


def placement(optics: Optics | None = None) -> Placement:
    return Placement(MATRIX, "front", optics or Optics(), (COLUMNS, ROWS), "auto", 0.1, 0.1, 100)


def frame(noise_k: float = 0.0, seed: int = 0) -> np.ndarray:
    degc = np.full((ROWS, COLUMNS), 22.0, np.float32)
    degc[30:90, 30:130] = 40.0
    degc[45:60, 90:110] = 70.0
    degc[60:75, 45:60] = 33.0
    degc[100:115, 5:25] = 60.0  # something warm beside the board
    return degc + np.random.default_rng(seed).normal(0.0, noise_k, degc.shape).astype(np.float32)


def found(degc: np.ndarray) -> Edges:
    return edges_on_board(without_gaps(degc), BOARD, placement(), 0.05, 1.0, beside_gaps(degc, 1.0))


def test_edges_lie_on_the_board_and_across_its_steps() -> None:
    edges = found(frame(0.05))
    x, y = placement().to_mm(edges.places_px).T
    assert np.all((x > -3.0) & (x < 103.0) & (y > -3.0) & (y < 63.0)), "nothing of the warm thing beside it"
    # The pixel edges of the steps lie at half pixels: 29.5, 129.5, 29.5, 89.5 for the outline.
    left = edges.on_outline & (np.abs(edges.places_px[:, 0] - 29.5) < 2.0)
    assert left.sum() > 10
    assert np.abs(edges.places_px[left, 0] - 29.5).max() < 0.2
    assert np.abs(np.abs(edges.normals[left, 0]) - 1.0).max() < 0.05
    assert edges.outline_shows == pytest.approx(1.0, abs=0.05)


def test_the_outlines_own_edges_are_told_from_others() -> None:
    edges = found(frame(0.05))
    inner = np.abs(edges.places_px - [99.5, 52.0]).max(axis=1) < 14.0
    assert inner.sum() > 10
    assert not edges.on_outline[inner].any()
    # A cable across the outline is not of it.
    crossed = frame(0.05)
    crossed[:, 78:84] = 55.0
    edges = found(crossed)
    cable = np.abs(np.abs(edges.places_px[:, 0] - 80.5) - 3.0) < 1.0
    assert cable.sum() > 10
    assert not edges.on_outline[cable].any()


def test_an_outline_that_does_not_show_is_known_as_such() -> None:
    degc = frame(0.05)
    degc[degc < 45.0] = 30.0
    shows = found(degc).outline_shows
    assert shows is not None
    assert shows < 0.1


def test_stuck_pixels_are_no_edges() -> None:
    degc = np.full((ROWS, COLUMNS), 30.0, np.float32) + frame(0.05) * 0.0
    degc += np.random.default_rng(1).normal(0.0, 0.05, degc.shape).astype(np.float32)
    degc[60, 80], degc[50, 60] = 150.0, -20.0
    assert np.abs(without_stuck(degc, 0.05) - 30.0).max() < 0.5
    assert len(found(degc).places_px) < 10


def test_edges_of_raised_zones_know_their_height() -> None:
    from dataclasses import replace

    high = replace(BOARD, zones=(replace(BOARD.zones[0], height_mm=20.0),))
    places = np.array([[30.0 + 70.0, 90.0 - 37.0], [30.0 + 10.0, 90.0 - 10.0]])
    assert heights_at(high, placement(), places).tolist() == [20.0, 0.0]
    assert heights_at(BOARD, placement(), places).tolist() == [0.0, 0.0]


def test_offsets_are_signed_along_the_normal_and_blind_to_the_steps_sign() -> None:
    x = np.arange(60, dtype=np.float64)
    for sign in (1.0, -1.0):
        # An edge at x = 30.3, blurred by one pixel.
        from math import erf

        line = np.array([sign * 5.0 * erf((each - 30.3) / np.sqrt(2.0)) for each in x], np.float32)
        smooth = smoothed(np.tile(line, (40, 1)), 1.0)
        places, normals = np.array([[29.0, 20.0], [31.0, 20.0]]), np.array([[1.0, 0.0], [-1.0, 0.0]])
        here = offsets(smooth, places, normals, 2.0, 1.0, least_slope(0.05, 1.0))
        assert here.present.tolist() == [True, True]
        assert np.allclose(here.offset_px, [1.3, 0.7], atol=0.03)


def test_next_to_the_frames_edge_and_in_noise_there_is_nothing() -> None:
    smooth = smoothed(frame(0.05), 1.0)
    places = np.array([[0.5, 40.0], [150.0, 60.0]])
    here = offsets(smooth, places, np.array([[1.0, 0.0], [1.0, 0.0]]), 2.0, 0.5, least_slope(0.05, 1.0))
    assert here.seen.tolist() == [False, True]
    assert not here.present.any()


def test_what_was_left_out_of_a_picture_makes_no_edges() -> None:
    degc = frame(0.05)
    degc[50:70, 70] = degc[60, 60:80] = np.nan
    edges = found(degc)
    assert np.hypot(*(edges.places_px - [70.0, 60.0]).T).min() > 4.0
    assert np.abs(edges.places_px[:, 0] - 70.0)[np.abs(edges.places_px[:, 1] - 60.0) < 8.0].min() > 3.0
    smooth = smoothed(without_gaps(degc), 1.0)
    smooth[beside_gaps(degc, 1.0)] = np.nan
    here = offsets(smooth, np.array([[71.0, 60.0]]), np.array([[1.0, 0.0]]), 2.0, 1.0, 0.01)
    assert not here.seen.any()
    assert not here.present.any()
    assert np.isfinite(here.offset_px).all()
