"""Boards whose outline does not show are placed by marks, or refused; nothing wrong gets through."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from irspot.errors import PlacementRefused
from irspot.registration.find_board import find_board
from irspot.synthetic.marked_scenes import HIDDEN, MarkedScene, hidden_outline_scene, marked_scene

SIDES = ("up", "right", "down", "left")


def tried(marked: MarkedScene, top=None) -> tuple[str, float]:
    """What placed the board (``by outline``, ``by marks``) and the worst corner's error; or the refusal's cause."""
    scene = marked.scene
    try:
        placement = find_board(
            scene.degc, scene.board, scene.optics, side=scene.side, top=top or scene.top, noise_k=scene.noise_k
        )
    except PlacementRefused as refused:
        return refused.cause, float("nan")
    corners = placement.to_px(scene.board.outline.array_mm)
    assert placement.method == "auto"
    if placement.share_held is None:
        assert len(placement.marks) >= 4
        assert set(placement.marks) <= set(marked.drawn)
    return (
        "by marks" if placement.share_held is None else "by outline",
        float(np.hypot(*(corners - scene.corners_px).T).max()),
    )


def outcomes(scenes) -> tuple[Counter[str], list[float]]:
    found = [tried(scene) for scene in scenes]
    counts, errors = (
        Counter(how for how, _ in found),
        [error for how, error in found if how in {"by marks", "by outline"}],
    )
    print(counts, "worst", max(errors, default=0.0))
    return counts, errors


def test_even_boards_are_placed_by_their_foil_dots():
    scenes = (hidden_outline_scene(seed, kind="even", size_px=(384, 288), count=7) for seed in range(5000, 5010))
    counts, errors = outcomes(scenes)
    assert counts["by marks"] >= 4
    assert max(errors) <= 1.0


@pytest.mark.parametrize("kind", HIDDEN)
def test_without_marks_in_the_frame_hidden_boards_are_refused(kind):
    scenes = (hidden_outline_scene(seed, kind=kind, size_px=(320, 240), share_drawn=0.0) for seed in range(5100, 5105))
    counts, errors = outcomes(scenes)
    assert counts["by marks"] == 0
    assert max(errors, default=0.0) <= 3.0


def test_a_top_that_the_marks_contradict_is_refused():
    refused = 0
    for seed in range(5000, 5006):
        marked = hidden_outline_scene(seed, kind="even", size_px=(384, 288), count=7)
        if tried(marked)[0] == "by marks":
            other = SIDES[(SIDES.index(marked.scene.top) + 2) % 4]
            assert tried(marked, other)[0] == "top"
            refused += 1
    assert refused >= 2


@pytest.mark.full
def test_nothing_wrong_gets_through_in_six_hundred_hidden_boards():
    counts, errors = outcomes(hidden_outline_scene(seed) for seed in range(7000, 7300))
    assert max(errors) <= 3.0
    assert counts["by marks"] >= 40
    counts, errors = outcomes(hidden_outline_scene(seed, share_drawn=0.0) for seed in range(7300, 7600))
    assert counts["by marks"] == 0
    assert max(errors, default=0.0) <= 3.0


@pytest.mark.full
def test_round_parts_do_not_pass_for_marks_in_two_hundred_boards():
    counts, errors = outcomes(marked_scene(seed, count=4 + seed % 6, share_drawn=0.0) for seed in range(7600, 7800))
    assert counts["by marks"] == 0
    assert max(errors) <= 3.0
