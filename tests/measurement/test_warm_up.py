"""A camera that has not warmed up."""

from __future__ import annotations

from dataclasses import replace

import pytest

from irspot.camera import Accuracy
from irspot.measurement import measure_zones
from irspot.measurement.warm_up import warming, with_warm_up

from .scenes import BOARD, CAMERA, CONDITIONS, frame_of, ramp, straight_placement

ACCURACY = Accuracy(1.0, 0.01, noise_k=0.05, warm_up_min=20.0, assumed=False)
COLD = replace(CAMERA, accuracy=ACCURACY)


@pytest.mark.parametrize(("on_min", "is_so"), [(None, False), (0.0, True), (19.9, True), (20.0, False), (35.0, False)])
def test_less_than_the_warm_up_counts(on_min: float | None, is_so: bool) -> None:
    assert warming(ACCURACY, on_min) is is_so
    assert not warming(replace(ACCURACY, warm_up_min=None), on_min)


def test_the_limits_are_doubled_and_said_so() -> None:
    frame = frame_of(ramp(1, 0.05), COLD)
    warm, cold = (
        measure_zones(with_warm_up(frame, on_min), BOARD, straight_placement(), CONDITIONS)[0] for on_min in (30.0, 5.0)
    )
    assert cold.max_degc == warm.max_degc
    assert set(cold.flags) - set(warm.flags) == {"camera-warming"}
    before, after = ({term.name: term.u_k for term in reading.budget} for reading in (warm, cold))
    assert after.pop("camera limit") == pytest.approx(2.0 * before.pop("camera limit"))
    assert after == before


def test_limits_are_doubled_once() -> None:
    frame = with_warm_up(frame_of(ramp(), COLD), 5.0)
    assert with_warm_up(frame, 5.0) is frame
    assert (frame.camera.accuracy.limit_k, frame.camera.accuracy.limit_relative) == (2.0, 0.02)
