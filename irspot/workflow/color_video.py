"""A video of colour-mapped pictures as a recording: sampled, each picture decoded when it is asked for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import timedelta
from pathlib import Path

from irspot.camera import Camera
from irspot.color_picture import Decoded, Rgb
from irspot.color_wish import ColorWish
from irspot.decoding.known_bar import KnownBar
from irspot.decoding.picture import picture_of
from irspot.decoding.video import VideoFrame, video_frames
from irspot.frame import Frame
from irspot.workflow.color_frames import color_frame, decode_color_picture

EVERY_S = 1.0
"""Pictures of a video are taken this often: neighbours hold the same heat, and decoding takes its time."""


@dataclass(slots=True)
class _Cursor:
    """The one open reading of a video, so that pictures asked for in order are read in one pass."""

    pictures: Iterator[VideoFrame]
    next_index: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class VideoFrames:
    """A `FrameSource` over the sampled pictures of a video.

    Parameters
    ----------
    path : Path
    camera : Camera
    wish : ColorWish
    times_s : tuple of float
        Of the sampled pictures.
    every_s : float
        How often one was taken.
    """

    path: Path
    camera: Camera
    wish: ColorWish
    times_s: tuple[float, ...]
    every_s: float = EVERY_S
    _cursors: list[_Cursor] = field(default_factory=list)
    _bars: list[KnownBar] = field(default_factory=list)
    """The bar that was found last, at most one: a video draws it in one place, and moves or recolours it at most."""

    @classmethod
    def opened(cls, path: Path, camera: Camera, wish: ColorWish, every_s: float = EVERY_S) -> VideoFrames:
        """Look through a video once: when its pictures were shown, and where its bar is.

        Raises
        ------
        FrameUnreadable
            If it cannot be opened or holds no picture, or its bar is refused.
        """
        times: list[float] = []
        source = cls(path, camera, wish.completed(camera.colorbar), (), every_s)
        for shown in video_frames(path, every_s):
            if not times:
                source._decoded(shown)
            times.append(shown.time_s)
        return replace(source, times_s=tuple(times))

    @property
    def count(self) -> int:
        """Number of sampled pictures."""
        return len(self.times_s)

    def frame(self, index: int) -> Frame:
        """Decode one sampled picture.

        Raises
        ------
        BarRefused
            If its bar or its numbers are not certain.
        """
        return self.as_frame(self.decoded(index), index)

    def decoded(self, index: int) -> Decoded:
        """Decode one sampled picture, with all that decoding has to say."""
        return self._decoded(self._shown(index))

    def shown_and_decoded(self, index: int) -> tuple[Rgb, Decoded]:
        """Give one sampled picture itself, and what it decodes to."""
        shown = self._shown(index)
        return shown.rgb, self._decoded(shown)

    def _decoded(self, shown: VideoFrame) -> Decoded:
        """Decode a picture on the bar of an earlier one where it shows the same, else on its own."""
        picture = picture_of(shown.rgb, self.path.name, chroma="420")
        known = next((bar for bar in self._bars if bar.is_in(picture)), None)
        decoded = decode_color_picture(picture, str(self.path), self.wish.at_time(shown.time_s), known)
        if known is None:
            self._bars[:] = [KnownBar.of(picture, decoded.bar)]
        return decoded

    def as_frame(self, decoded: Decoded, index: int) -> Frame:
        """Make a frame of a decoded picture; a time in the file's name is when the video began."""
        frame = color_frame(decoded, self.camera, self.path)
        since = timedelta(seconds=self.times_s[index])
        return replace(
            frame,
            name=f"{self.path.name}#{index}",
            time_utc=None if frame.time_utc is None else frame.time_utc + since,
            time_local=None if frame.time_local is None else frame.time_local + since,
        )

    def _shown(self, index: int) -> VideoFrame:
        if not self._cursors or self._cursors[0].next_index > index:
            self._cursors[:] = [_Cursor(video_frames(self.path, self.every_s))]
        cursor = self._cursors[0]
        while True:
            shown = next(cursor.pictures)
            cursor.next_index += 1
            if cursor.next_index > index:
                return shown
