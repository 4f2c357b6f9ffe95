"""An outline that shows which way round it lies needs no hint, and contradicts a wrong one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.errors import PlacementRefused
from irspot.registration.find_board import find_board
from irspot.synthetic.placement_scenes import placement_scene

SIDES = ("up", "right", "down", "left")


def placed(scene, top):
    board = replace(scene.board, marks=())
    placement = find_board(scene.degc, board, scene.optics, side=scene.side, top=top, noise_k=scene.noise_k)
    return float(np.hypot(*(placement.to_px(board.outline.array_mm) - scene.corners_px).T).max())


def outcome(scene, top):
    """The worst corner's error; or the refusal."""
    try:
        return placed(scene, top)
    except PlacementRefused as refusal:
        return refusal


@pytest.mark.parametrize("shape", ["notched", "l-shape", "chamfered"])
def test_a_wrong_top_is_refused_and_the_right_one_named(shape):
    named, known = 0, 0
    for seed in range(2300, 2304):
        scene = placement_scene(seed, shape=shape, size_px=(320, 240))
        if isinstance(outcome(scene, scene.top), PlacementRefused):
            continue
        known += 1
        for turn in (1, 2, 3):
            wrong = outcome(scene, SIDES[(SIDES.index(scene.top) + turn) % 4])
            if not isinstance(wrong, PlacementRefused):
                assert wrong < 3.0  # near a diagonal of the image either of two sides may be named
            elif wrong.cause == "top":
                assert wrong.wanted == f"{scene.top}, by the outline"
                named += 1
    assert known >= 2
    assert named >= 0.75 * 3 * known


@pytest.mark.parametrize("shape", ["notched", "l-shape", "chamfered"])
def test_no_top_is_needed(shape):
    scenes = [placement_scene(seed, shape=shape, size_px=(320, 240)) for seed in range(2310, 2314)]
    errors = [error for error in (outcome(scene, None) for scene in scenes) if isinstance(error, float)]
    assert len(errors) >= 2
    assert max(errors) < 3.0


def test_a_rectangle_lying_on_its_side_contradicts_a_top_a_quarter_off():
    refused, known = 0, 0
    for seed in range(2320, 2324):
        scene = placement_scene(seed, shape="rectangle", size_px=(320, 240))
        if isinstance(outcome(scene, scene.top), PlacementRefused):
            continue
        known += 1
        wrong = outcome(scene, SIDES[(SIDES.index(scene.top) + 1) % 4])
        refused += isinstance(wrong, PlacementRefused) and wrong.cause == "top"
    # Near a diagonal of the image either of two sides may be named.
    assert known >= 2
    assert refused >= known - 1
