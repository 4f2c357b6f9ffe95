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


@pytest.mark.parametrize("shape", ["notched", "l-shape", "chamfered"])
def test_a_wrong_top_is_refused_and_the_right_one_named(shape):
    named, known = 0, 0
    for seed in range(2300, 2306):
        scene = placement_scene(seed, shape=shape, size_px=(384, 288))
        try:
            assert placed(scene, scene.top) < 3.0
        except PlacementRefused:
            continue
        known += 1
        wanted = []
        for turn in (1, 2, 3):
            try:
                # Near a diagonal of the image either of two sides may be named.
                assert placed(scene, SIDES[(SIDES.index(scene.top) + turn) % 4]) < 3.0
            except PlacementRefused as refusal:
                wanted += [refusal.wanted] if refusal.cause == "top" else []
        assert set(wanted) <= {f"{scene.top}, by the outline"}
        named += len(wanted)
    assert known >= 3
    assert named >= 0.75 * 3 * known


@pytest.mark.parametrize("shape", ["notched", "l-shape", "chamfered"])
def test_no_top_is_needed(shape):
    errors = []
    for seed in range(2310, 2316):
        scene = placement_scene(seed, shape=shape, size_px=(384, 288))
        try:
            errors.append(placed(scene, None))
        except PlacementRefused:
            continue
    assert len(errors) >= 3
    assert max(errors) < 3.0


def test_a_rectangle_lying_on_its_side_contradicts_a_top_a_quarter_off():
    refused, known = 0, 0
    for seed in range(2320, 2326):
        scene = placement_scene(seed, shape="rectangle", size_px=(384, 288))
        try:
            assert placed(scene, scene.top) < 3.0
        except PlacementRefused:
            continue
        known += 1
        try:
            placed(scene, SIDES[(SIDES.index(scene.top) + 1) % 4])
        except PlacementRefused as refusal:
            refused += refusal.cause == "top"
    # Near a diagonal of the image either of two sides may be named.
    assert known >= 3
    assert refused >= known - 2
