"""When frames were taken: stamps of whole seconds spread evenly, gaps filled by the interval, no pixel read."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import tifffile

from irspot.camera import Camera, RawLayout, Signal
from irspot.errors import FrameUnreadable
from irspot.frame import Frame, FrameList, FrameSource
from irspot.readers import open_frames
from irspot.readers.plain import taken_of
from irspot.readers.tiff import TiffFrames
from irspot.workflow.frame_times import frame_times, rising_times, spread_stamps
from irspot.workflow.readout import Joined

CAMERA = Camera(name="c", signal=Signal(unit="K", scale=0.01), declared=True)
START = datetime(2026, 3, 1, 12, tzinfo=UTC)


def stamped_tiff(path: Path, seconds: list[int], byte_order: str = "<", big: bool = False) -> FrameSource:
    with tifffile.TiffWriter(path, byteorder=byte_order, bigtiff=big) as writer:  # type: ignore[arg-type]
        for number, second in enumerate(seconds):
            stamp = f"2026:03:01 23:59:{second:02d}" if second < 60 else f"2026:03:02 00:00:{second - 60:02d}"
            frame = np.full((5, 7), 29_000 + number, np.uint16)
            writer.write(frame, photometric="minisblack", datetime=stamp, metadata=None, contiguous=False)
    return open_frames(path, CAMERA)


@pytest.mark.parametrize(("order", "big"), [("<", False), (">", False), ("<", True), (">", True)])
def test_frames_at_a_steady_rate_are_found_back_from_whole_seconds(tmp_path: Path, order: str, big: bool) -> None:
    # Truth: 9 frames a second from 0.4 s on, stamped with whole seconds, over midnight.
    truth = 57.4 + np.arange(40) / 9.0
    source = stamped_tiff(tmp_path / "r.tiff", [int(s) for s in truth], order, big)
    times = frame_times(source, None)
    assert times is not None
    assert times.spread
    assert times.flags == ("times-spread",)
    assert np.all(np.diff(times.time_s) > 0.0)
    # Within a frame's time: where in its second the first one lay is not known.
    assert np.abs(times.time_s - (truth - truth[0])).max() <= 1.0 / 9.0


def test_no_page_is_decoded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = stamped_tiff(tmp_path / "r.tiff", [1, 1, 2, 3])

    def refuse(self: TiffFrames, index: int) -> Frame:
        raise AssertionError("a page was decoded")

    stamps = [source.frame(i).time_local for i in range(4)]
    monkeypatch.setattr(TiffFrames, "frame", refuse)
    assert [taken.local for taken in taken_of(source)] == stamps
    assert frame_times(source, None) is not None


def test_what_pages_say_is_what_their_frames_say(tmp_path: Path) -> None:
    described = '{"irspot": {"unit": "degC", "time": "2026-03-01T12:00:00.500+01:00"}}'
    path = tmp_path / "20260301-110000.tiff"
    with tifffile.TiffWriter(path) as writer:
        writer.write(np.full((5, 7), 20.0, np.float32), description=described, metadata=None)
        writer.write(np.full((5, 7), 20.0, np.float32), datetime="2026:03:01 12:00:07", metadata=None)
        writer.write(np.full((5, 7), 20.0, np.float32), metadata=None)
    source = open_frames(path, CAMERA)
    frames = [source.frame(i) for i in range(3)]
    assert [(t.utc, t.local) for t in taken_of(source)] == [(f.time_utc, f.time_local) for f in frames]
    assert frames[0].time_utc == datetime(2026, 3, 1, 11, 0, 0, 500_000, tzinfo=UTC)


def test_stacks_and_dumps_go_by_the_interval(tmp_path: Path) -> None:
    stack = np.full((6, 5, 7), 29_000, np.uint16)
    np.save(tmp_path / "k7_20260301-142305.npy", stack)
    stack.tofile(tmp_path / "k7.raw")
    raw = Camera(name="c", signal=CAMERA.signal, declared=True, raw=RawLayout(7, 5, "uint16"))
    for path, camera in ((tmp_path / "k7_20260301-142305.npy", CAMERA), (tmp_path / "k7.raw", raw)):
        source = open_frames(path, camera)
        assert frame_times(source, None) is None
        times = frame_times(source, 0.25)
        assert times is not None
        assert np.allclose(times.time_s, np.arange(6) * 0.25)
        assert times.flags == ()
        with pytest.raises(FrameUnreadable, match="frame_interval_s"):
            rising_times(source, None, "k7")


def test_frames_without_a_time_follow_by_the_interval() -> None:
    moments = [None, START, START + timedelta(seconds=2), None, None, START + timedelta(seconds=9)]
    frames = tuple(Frame(np.zeros((2, 2), np.float32), Camera(), "x", time_utc=moment) for moment in moments)
    assert frame_times(FrameList(frames), None) is None
    times = frame_times(FrameList(frames), 2.0)
    assert times is not None
    assert np.allclose(times.time_s, [0.0, 2.0, 4.0, 6.0, 8.0, 11.0])


def test_numbered_files_are_joined_and_backward_times_refused(tmp_path: Path) -> None:
    late, early = stamped_tiff(tmp_path / "a.tiff", [7, 8]), stamped_tiff(tmp_path / "b.tiff", [3])
    with pytest.raises(FrameUnreadable, match=r"frame 2: .*order of their times"):
        rising_times(Joined((late, early)), None, "joined")
    assert np.allclose(rising_times(Joined((early, late)), None, "joined").time_s, [0.0, 4.0, 5.0])


def test_one_stamp_for_all_is_no_time(tmp_path: Path) -> None:
    source = stamped_tiff(tmp_path / "r.tiff", [5] * 8)
    with pytest.raises(FrameUnreadable, match="frame_interval_s"):
        rising_times(source, None, "r")
    assert np.allclose(rising_times(source, 0.5, "r").time_s, np.arange(8) * 0.5)


@pytest.mark.parametrize(
    ("stamps", "wanted"),
    [
        ([0.0, 1.0, 2.0], [0.0, 1.0, 2.0]),
        ([0.0, 0.0, 1.0, 1.0], [0.0, 0.5, 1.0, 1.5]),
        ([0.0, 1.0, 1.0, 2.0], [0.5, 1.0, 1.5, 2.0]),
        ([0.0, 0.0, 5.0, 5.0, 10.0], [0.0, 0.5, 5.0, 5.5, 10.0]),
        ([0.0, 0.0, 0.5, 0.5, 1.0], [0.0, 0.25, 0.5, 0.75, 1.0]),
    ],
)
def test_stamps_spread_to_the_next_second(stamps: list[float], wanted: list[float]) -> None:
    assert np.allclose(spread_stamps(np.array(stamps)), wanted)
