"""Frames of a video, one at a time, each with its time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from irspot.color_picture import Rgb
from irspot.errors import FrameUnreadable
from irspot.opencv import load_cv2


@dataclass(frozen=True, slots=True, eq=False)
class VideoFrame:
    """One picture of a video and when it was shown, in s from the beginning."""

    rgb: Rgb
    time_s: float
    number: int


def video_frames(path: Path, every_s: float = 0.0) -> Iterator[VideoFrame]:
    """Read a video's pictures in order.

    Parameters
    ----------
    path : Path
    every_s : float
        Give only the first picture at or after each multiple of this; 0 gives every one.

    Yields
    ------
    VideoFrame

    Raises
    ------
    FrameUnreadable
        If it cannot be opened, or holds no picture.
    """
    capture = _opened(path)
    try:
        due, number, given = 0.0, 0, 0
        rate = float(capture.get(_cv2().CAP_PROP_FPS))
        while capture.grab():
            time_s = _time_s(capture, number, rate)
            if time_s + 1e-6 >= due:
                yield VideoFrame(_picture(capture, path, number), time_s, number)
                given += 1
                # The next multiple after this picture: a slow video must not give one picture several times over.
                due = every_s * (np.floor((time_s + 1e-6) / every_s) + 1.0) if every_s > 0.0 else time_s
            number += 1
    finally:
        capture.release()
    if not given:
        raise FrameUnreadable("the video holds no picture that can be read", file=str(path))


def _cv2() -> Any:
    return load_cv2()


def _opened(path: Path) -> Any:
    if not path.is_file():
        raise FrameUnreadable("there is no such file", file=str(path))
    capture = _cv2().VideoCapture(str(path))
    if not capture.isOpened():
        raise FrameUnreadable(
            "the video cannot be opened",
            file=str(path),
            hint="convert it to MP4 with H.264, or save stills as PNG",
        )
    return capture


def _time_s(capture: Any, number: int, rate: float) -> float:
    """Time of the picture just grabbed: the container's own where it says one, else by the frame rate."""
    stamp = float(capture.get(_cv2().CAP_PROP_POS_MSEC)) / 1000.0
    if np.isfinite(stamp) and (stamp > 0.0 or number == 0):
        return stamp
    return number / rate if rate > 0.0 else float(number)


def _picture(capture: Any, path: Path, number: int) -> Rgb:
    fine, bgr = capture.retrieve()
    if not fine or bgr is None or bgr.ndim != 3:
        raise FrameUnreadable("a picture of the video cannot be decoded", file=str(path), key=f"frame {number}")
    return np.ascontiguousarray(bgr[..., ::-1])
