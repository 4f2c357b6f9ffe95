"""Frames out: float32 TIFF of radiance temperatures in °C that reads back without a camera file."""

from __future__ import annotations

import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, BinaryIO

import numpy as np

from irspot.exports.json_results import number
from irspot.frame import Frame

_CLASSIC_BYTES = 2**32 - 2**25
"""What a TIFF of 32-bit offsets holds, with room for its directory."""


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """A frame to be written, and the ends of the scale a colour-mapped picture had: at them a pixel is clipped."""

    frame: Frame
    low_degc: float | None = None
    high_degc: float | None = None


def degc_tiff(frames: Sequence[Frame], *, low_degc: float | None = None, high_degc: float | None = None) -> bytes:
    """Pack frames, one a page, of their own size, NaN where not measured.

    Parameters
    ----------
    frames : sequence of Frame
        At least one.
    low_degc, high_degc : float, optional
        As in `Page`.

    Returns
    -------
    bytes
        The same for the same frames; each page's description holds ``{"irspot": {"unit": "degC", ...}}``.
    """
    packed = io.BytesIO()
    write_degc_tiff(packed, (Page(frame, low_degc, high_degc) for frame in frames), count=len(frames))
    return packed.getvalue()


def write_degc_tiff(stream: BinaryIO, pages: Iterable[Page], *, count: int) -> None:
    """Write frames as `degc_tiff` packs them, each as soon as it is there, so that no more than one is in memory.

    Parameters
    ----------
    stream : binary file
    pages : iterable of Page
        At least one.
    count : int
        How many there will be.
    """
    import tifffile

    coming = iter(pages)
    page = next(coming)
    large = count * page.frame.stored.size * 4 > _CLASSIC_BYTES
    with tifffile.TiffWriter(stream, bigtiff=large) as writer:
        while True:
            _write_page(writer, page)
            following = next(coming, None)
            if following is None:
                return
            page = following


def _write_page(writer: Any, page: Page) -> None:
    from irspot.radiometry import radiance_temperature

    writer.write(
        radiance_temperature(page.frame),
        photometric="minisblack",
        compression="zlib",
        predictor=True,
        description=json.dumps({"irspot": _record(page.frame, page.low_degc, page.high_degc)}),
        software="irspot",
        metadata=None,
    )


def _record(frame: Frame, low_degc: float | None, high_degc: float | None) -> dict[str, Any]:
    known = {
        "unit": "degC",
        "time": frame.time_text or None,
        "u_decode_k": None if frame.u_decode_k is None else number(_typical(frame.u_decode_k)),
        "low_degc": number(low_degc),
        "high_degc": number(high_degc),
    }
    return {name: value for name, value in known.items() if value is not None}


def _typical(u_k: np.ndarray[Any, np.dtype[np.float32]]) -> float:
    finite = u_k[np.isfinite(u_k)]
    # The 95th percentile: one number must not understate what most pixels have.
    return float(np.percentile(finite, 95.0)) if finite.size else float("nan")
