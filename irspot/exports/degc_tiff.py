"""Frames out: float32 TIFF of radiance temperatures in °C that reads back without a camera file."""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from typing import Any

import numpy as np

from irspot.exports.json_results import number
from irspot.frame import Frame


def degc_tiff(frames: Sequence[Frame], *, low_degc: float | None = None, high_degc: float | None = None) -> bytes:
    """Pack frames, one a page, of their own size, NaN where not measured.

    Parameters
    ----------
    frames : sequence of Frame
        At least one.
    low_degc, high_degc : float, optional
        Ends of the scale a colour-mapped picture had: at them a pixel is clipped.

    Returns
    -------
    bytes
        The same for the same frames; each page's description holds ``{"irspot": {"unit": "degC", ...}}``.
    """
    import tifffile

    from irspot.radiometry import radiance_temperature

    packed = io.BytesIO()
    with tifffile.TiffWriter(packed) as writer:
        for frame in frames:
            writer.write(
                radiance_temperature(frame),
                photometric="minisblack",
                compression="zlib",
                predictor=True,
                description=json.dumps({"irspot": _record(frame, low_degc, high_degc)}),
                software="irspot",
                metadata=None,
            )
    return packed.getvalue()


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
