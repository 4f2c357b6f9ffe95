"""Which frames of a recording are reported, and what they become."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from irspot.camera import Accuracy, Camera, Signal
from irspot.errors import FrameUnreadable
from irspot.frame import Frame, FrameList
from irspot.study import Readout
from irspot.workflow.readout import Joined, first_of_readout, readout_frame, relative_times_s

CAMERA = Camera(name="c", signal=Signal(unit="K", scale=0.01), accuracy=Accuracy(noise_k=0.4, assumed=False))
START = datetime(2026, 3, 1, 12, tzinfo=UTC)


def recording(count: int, interval_s: float | None = 1.0, level: int = 30_000) -> FrameList:
    """Frame i holds level + 10 i counts everywhere, so the mean over a range is known."""
    frames = []
    for i in range(count):
        time = None if interval_s is None else START + timedelta(seconds=i * interval_s)
        frames.append(Frame(np.full((3, 5), level + 10 * i, np.uint16), CAMERA, f"rec.tiff#{i}", time_utc=time))
    return FrameList(tuple(frames))


@pytest.mark.parametrize(
    ("text", "count", "interval_s", "first", "short"),
    [
        ("last 60 s", 100, 1.0, 40, False),
        ("last 60 s", 61, 1.0, 1, False),
        ("last 60 s", 60, 1.0, 0, False),
        ("last 60 s", 30, 1.0, 0, True),
        ("last 10 s", 100, 2.5, 96, False),
        ("20", 100, None, 80, False),
        ("last 20 frames", 5, None, 0, True),
        ("all", 7, None, 0, False),
    ],
)
def test_the_readout_starts_where_it_says(
    text: str, count: int, interval_s: float | None, first: int, short: bool
) -> None:
    assert first_of_readout(recording(count, interval_s), Readout.parse(text), None, "rec") == (first, short)


def test_seconds_without_any_clock_are_refused_and_an_interval_helps() -> None:
    silent = recording(10, None)
    with pytest.raises(FrameUnreadable, match="frame_interval_s"):
        first_of_readout(silent, Readout(last_s=3.0), None, "rec")
    assert first_of_readout(silent, Readout(last_s=3.0), 1.0, "rec") == (7, False)
    assert np.allclose(relative_times_s(silent, 0.5), np.arange(10) * 0.5)


def test_frames_own_times_count_before_the_interval() -> None:
    assert np.allclose(relative_times_s(recording(5, 2.5), 1.0), np.arange(5) * 2.5)
    assert first_of_readout(recording(100, 2.0), Readout(last_s=60.0), 1.0, "rec") == (70, False)


def test_one_time_for_all_frames_leaves_the_interval() -> None:
    assert np.allclose(relative_times_s(recording(5, 0.0), 0.5), np.arange(5) * 0.5)


def test_times_that_run_backwards_are_refused() -> None:
    joined = Joined((recording(3), recording(3)))
    with pytest.raises(FrameUnreadable, match=r"frame 3: .*order of their times") as refusal:
        first_of_readout(joined, Readout(last_s=2.0), None, "rec")
    assert refusal.value.hint
    assert first_of_readout(joined, Readout(last_frames=2), None, "rec") == (4, False)


def test_the_readout_is_the_mean_with_less_noise_and_the_last_time() -> None:
    frame = readout_frame(recording(100), Readout(last_frames=4), None, None, "rec.tiff")
    counts = 30_000 + 10 * np.arange(96, 100)
    assert np.allclose(frame.stored, counts.mean() * 0.01 - 273.15, atol=2e-3)
    assert frame.noise_k == pytest.approx(0.2)
    assert frame.averaged == 4
    assert frame.time_text == "2026-03-01T12:01:39Z"


def test_clipping_and_missing_pixels_of_any_frame_are_remembered() -> None:
    stack = [np.full((2, 3), 30_000, np.uint16) for _ in range(3)]
    stack[1][0, 2] = 65_535
    frame = readout_frame(
        FrameList(tuple(Frame(a, CAMERA, "x") for a in stack)), Readout(everything=True), None, None, "rec"
    )
    assert frame.clipped is not None
    assert np.argwhere(frame.clipped).tolist() == [[0, 2]]

    holes = [np.full((2, 3), 20.0, np.float32) for _ in range(3)]
    holes[2][1, 0] = np.nan
    degc = Camera(name="c")
    frame = readout_frame(
        FrameList(tuple(Frame(a, degc, "x") for a in holes)), Readout(everything=True), None, None, "rec"
    )
    assert np.argwhere(np.isnan(frame.stored)).tolist() == [[1, 0]]


def test_a_pixel_beyond_the_range_in_one_frame_is_known_as_clipped() -> None:
    camera = Camera(name="c", accuracy=Accuracy(range_degc=(-20.0, 150.0), assumed=False))
    stack = [np.full((2, 3), 30.0, np.float32) for _ in range(3)]
    stack[1][1, 2] = 150.0
    frames = FrameList(tuple(Frame(a, camera, "x") for a in stack))
    frame = readout_frame(frames, Readout(everything=True), None, None, "rec")
    assert frame.stored[1, 2] == pytest.approx(70.0)
    assert frame.clipped is not None
    assert np.argwhere(frame.clipped).tolist() == [[1, 2]]


def test_an_average_of_counts_keeps_the_end_of_their_calibration() -> None:
    camera = Camera(name="c", signal=Signal(unit="counts", points_degc=((9000, 10.0), (16500, 120.0))))
    frames = FrameList(tuple(Frame(np.full((2, 2), n, np.uint16), camera, "x") for n in (16400, 16900)))
    frame = readout_frame(frames, Readout(everything=True), None, None, "rec")
    assert frame.camera.accuracy.range_degc == (10.0, 120.0)
    assert frame.clipped is not None
    assert frame.clipped.all()


def test_numbers_that_fall_with_temperature_are_clipped_at_their_least() -> None:
    camera = Camera(name="c", signal=Signal(unit="counts", points_degc=((0, 200.0), (65_535, 10.0))))
    stored = np.array([[0, 30_000, 65_535]], np.uint16)
    frame = readout_frame(FrameList((Frame(stored, camera, "x"),)), Readout(everything=True), None, None, "rec")
    assert frame.clipped is not None
    assert frame.clipped.tolist() == [[True, False, False]]


def test_a_local_clock_is_completed_by_the_studys_offset() -> None:
    local = Frame(np.zeros((2, 2), np.float32), Camera(), "x", time_local=datetime(2026, 3, 1, 12))
    frame = readout_frame(FrameList((local,)), Readout(everything=True), None, timedelta(hours=2), "x")
    assert frame.time_text == "2026-03-01T10:00:00Z"


def test_numbered_files_join_in_order_and_different_sizes_are_refused() -> None:
    joined = Joined((recording(2), recording(3, level=40_000)))
    assert joined.count == 5
    assert joined.frame(2).stored[0, 0] == 40_000
    odd = FrameList(
        (Frame(np.zeros((2, 2), np.float32), Camera(), "a"), Frame(np.zeros((2, 3), np.float32), Camera(), "b"))
    )
    with pytest.raises(FrameUnreadable, match="differ in size"):
        readout_frame(odd, Readout(everything=True), None, None, "rec")


def test_a_short_recording_says_so() -> None:
    assert readout_frame(recording(5), Readout(last_s=60.0), None, None, "r").flags == ("readout-short",)


@pytest.mark.parametrize("text", ["", "last", "last 0", "0", "-3", "last 60 m", "everything"])
def test_other_words_are_no_readout(text: str) -> None:
    with pytest.raises(ValueError, match="last 60 s"):
        Readout.parse(text)
