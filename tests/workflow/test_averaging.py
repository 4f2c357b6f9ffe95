"""Which frames of a recording are averaged, given where the board moved."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from irspot.camera import Camera
from irspot.frame import Frame, FrameList
from irspot.workflow.averaging import NoWatch, summed


class Moves:
    """Says that the board moved in given frames."""

    def __init__(self, *frames: int) -> None:
        self.frames = frames

    def still(self, frame: Frame, degc: NDArray[np.float32], index: int) -> bool:
        return index not in self.frames


def recording(count: int) -> FrameList:
    return FrameList(
        tuple(Frame(np.full((2, 3), 20.0 + i, np.float32), Camera(name="c"), str(i)) for i in range(count))
    )


@pytest.mark.parametrize(
    ("moves", "first", "last"),
    [
        ((), 0, 9),
        ((0,), 0, 9),
        ((5,), 5, 9),
        ((7,), 0, 6),
        ((4, 7), 7, 9),
        ((2, 3, 4), 4, 9),
        ((3, 4, 5, 6, 7, 8, 9), 0, 2),
        (tuple(range(10)), 9, 9),
    ],
)
def test_the_last_still_part_counts_if_it_is_half_as_long_as_the_longest(
    moves: tuple[int, ...], first: int, last: int
) -> None:
    stretch = summed(recording(10), range(10), "rec", Moves(*moves))
    assert (stretch.first, stretch.last) == (first, last)
    assert stretch.mean().degc[0, 0] == pytest.approx(20.0 + (first + last) / 2.0)
    assert stretch.latest is not None
    assert stretch.latest.name == str(last)


def test_only_the_frames_asked_for_are_summed() -> None:
    stretch = summed(recording(10), range(6, 9), "rec", NoWatch())
    assert (stretch.first, stretch.last, stretch.count) == (6, 8, 3)
