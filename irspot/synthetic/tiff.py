"""Frames as 16-bit TIFF files, byte for byte the same whenever they are written by the same library."""

from __future__ import annotations

import io
from datetime import datetime

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
    import tifffile

    packed = io.BytesIO()
    tifffile.imwrite(
        packed,
        frame,
        photometric="minisblack",
        compression="zlib",
        predictor=True,
        datetime=taken.strftime("%Y:%m:%d %H:%M:%S"),
        description=description,
        software="irspot",
        metadata=None,
    )
    return packed.getvalue()
