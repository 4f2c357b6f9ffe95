"""Frames as 16-bit TIFF files, byte for byte the same whenever they are written by the same library."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray


def tiff_bytes(frame: NDArray[np.uint16], taken: datetime, description: str) -> bytes:
    """Pack one frame: deflate-compressed, with description and time.

    Parameters
    ----------
    frame : ndarray of uint16, shape (rows, columns)
    taken : datetime
        Goes into the DateTime tag, in whole seconds and without a zone.
    description : str
        ASCII, as the tag wants it.

    Returns
    -------
    bytes
    """
    return stack_bytes([frame], [taken], description)


def stack_bytes(frames: Sequence[NDArray[np.uint16]], taken: Sequence[datetime], description: str) -> bytes:
    """Pack frames as the pages of one file, each with its time; the first one has the description.

    Parameters
    ----------
    frames : sequence of ndarray of uint16, shape (rows, columns)
    taken : sequence of datetime
    description : str

    Returns
    -------
    bytes
    """
    import tifffile

    packed = io.BytesIO()
    with tifffile.TiffWriter(packed) as file:
        for number, (frame, moment) in enumerate(zip(frames, taken, strict=True)):
            about: dict[str, Any] = {} if number else {"description": description}
            file.write(
                frame,
                photometric="minisblack",
                compression="zlib",
                predictor=True,
                datetime=moment.strftime("%Y:%m:%d %H:%M:%S"),
                software="irspot",
                metadata=None,
                contiguous=False,
                **about,
            )
    return packed.getvalue()
