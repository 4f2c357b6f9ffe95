"""A quick look says that a board is still only where it is."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.registration.following import reference_of
from irspot.registration.placement import Placement
from irspot.registration.still_check import StillCheck
from irspot.synthetic.nudges import STILL, Bench, Nudge, random_bench

SIZE = (320, 240)


def checked(bench: Bench, warmth: float = 0.8) -> StillCheck:
    view = bench.view
    placement = Placement(view.matrix(), view.side, view.optics, view.size_px, "auto", 0.1, 0.1, 100)
    reference = reference_of(bench.frame(warmth), bench.board, placement, bench.noise_k)
    assert reference.usable
    return StillCheck.of(reference)


@pytest.mark.parametrize("seed", [14, 18, 21])
def test_a_still_board_is_known_at_once(seed: int) -> None:
    bench = random_bench(seed, size_px=SIZE)
    check = checked(bench)
    assert all(check.surely(bench.frame(0.82, STILL, number)) for number in range(1, 6))


@pytest.mark.parametrize("seed", [14, 18, 21])
def test_no_moved_board_is_taken_for_still(seed: int) -> None:
    bench = random_bench(seed, size_px=SIZE)
    check = checked(bench)
    px_per_mm = float(np.sqrt(abs(np.linalg.det(bench.view.matrix()[:2, :2]))))
    for px in (0.3, 1.0, 5.0):
        for way in (0.3, 1.9, 3.5, 5.1):
            shift = (px / px_per_mm * float(np.cos(way)), px / px_per_mm * float(np.sin(way)))
            assert not check.surely(bench.frame(0.82, Nudge(shift), 1)), (px, way)
    for turn in (Nudge(turn_deg=0.3), Nudge(tilt_deg=3.0)):
        assert not check.surely(bench.frame(0.82, turn, 1))


def test_a_frame_that_shows_nothing_is_not_surely_still() -> None:
    check = checked(random_bench(14, size_px=SIZE))
    assert not check.surely(np.full(SIZE[::-1], 25.0, np.float32))
    assert not check.surely(np.full(SIZE[::-1], np.nan, np.float32))
