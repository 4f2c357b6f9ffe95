"""Readers of other packages, joined through the entry-point group ``irspot.readers``.

An entry point names an object (a module will do) with the two functions every reader has: ``accepts(head, path,
camera) -> bool`` and ``open(path, camera) -> FrameSource``.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final

from irspot.camera import Camera
from irspot.errors import FrameUnreadable, IrspotError
from irspot.frame import Frame, FrameSource
from irspot.readers.finish import check_frame

GROUP: Final = "irspot.readers"
NONE_WANTED: Final = "IRSPOT_NO_PLUGINS"
"""Set to 1 in the environment, which worker processes share, no plug-in is asked."""


def reader_for(head: bytes, path: Path, camera: Camera) -> Callable[[], FrameSource] | None:
    """Ask the plug-ins, in the order of their names, for one that takes the file.

    Returns
    -------
    callable or None
        Opens the file.

    Raises
    ------
    FrameUnreadable
        Naming the plug-in, if one fails in any way of its own.
    """
    if os.environ.get(NONE_WANTED) == "1":
        return None
    from importlib.metadata import entry_points

    for entry in sorted(entry_points(group=GROUP), key=lambda entry: entry.name):
        with _blamed(entry.name, str(path)):
            reader = entry.load()
            if reader.accepts(head, path, camera):
                return partial(_open, reader, entry.name, path, camera)
    return None


def _open(reader: Any, plugin: str, path: Path, camera: Camera) -> FrameSource:
    with _blamed(plugin, str(path)):
        source: FrameSource = reader.open(path, camera)
        count = int(source.count)
    if count < 1:
        raise FrameUnreadable(f"the reader plug-in {plugin} found no frame", file=str(path))
    return PluginFrames(source, plugin, path, count)


@dataclass(frozen=True, slots=True)
class PluginFrames:
    """Frames of a plug-in, held to the same checks as those of the built-in readers."""

    source: FrameSource
    plugin: str
    path: Path
    count: int

    def frame(self, index: int) -> Frame:
        """Read one frame.

        Raises
        ------
        FrameUnreadable
            Naming the plug-in, if it fails in any way of its own or gives no frame; or if the frame is not sound.
        """
        with _blamed(self.plugin, str(self.path)):
            frame = self.source.frame(index)
            if not isinstance(frame, Frame):
                raise TypeError(f"gave {type(frame).__name__} instead of a Frame")
        return check_frame(frame, self.path)


@contextmanager
def _blamed(plugin: str, file: str) -> Iterator[None]:
    try:
        yield
    except IrspotError:
        raise
    # The code of others may raise anything; whatever it is, it must not look like a fault of the file.
    except Exception as error:
        raise FrameUnreadable(
            f"the reader plug-in {plugin} failed",
            file=file,
            found=f"{type(error).__name__}: {str(error)[:120]}",
            hint="report it to the plug-in's author, or remove the plug-in",
        ) from error
