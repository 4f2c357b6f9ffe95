"""Colour-mapped pictures as frames: the bar found, its numbers taken, the colours decoded."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from irspot.camera import Camera
from irspot.color_picture import Bar, Decoded
from irspot.color_wish import BarScale, Box, ColorWish
from irspot.constants import RECTANGULAR
from irspot.errors import BarRefused
from irspot.frame import Frame
from irspot.uncertain import rounded

if TYPE_CHECKING:
    from irspot.decoding.known_bar import KnownBar
    from irspot.decoding.picture import ColorPicture


def decode_file(path: Path, camera: Camera, wish: ColorWish) -> Decoded:
    """Decode a colour-mapped picture.

    Parameters
    ----------
    path : Path
    camera : Camera
        Its ``[colorbar]`` table completes the wish.
    wish : ColorWish

    Returns
    -------
    Decoded

    Raises
    ------
    FrameUnreadable
        If the file is no picture that can be read.
    BarRefused
        If the bar or its numbers are not certain.
    """
    from irspot.decoding.picture import read_picture

    return decode_color_picture(read_picture(path), str(path), wish.at_time(None).completed(camera.colorbar))


def decode_color_picture(picture: ColorPicture, file: str, wish: ColorWish, known: KnownBar | None = None) -> Decoded:
    """Decode a picture already read; `file` is named in refusals, `known` is a bar that the picture surely shows."""
    from irspot.decoding.decode import decode_picture
    from irspot.decoding.find_bar import find_bar

    try:
        bar = known.bar if known else find_bar(picture.rgb, bar_px=wish.bar_px, low_end=wish.low_end)
        scale, labels_px = (wish.scale, ()) if wish.scale else _printed_scale(picture, bar, wish)
        path = known.path if known else None
        decoded = decode_picture(picture, bar, scale, ignore_px=wish.ignore_px, keep_out=labels_px, path=path)
        return with_scale_uncertainty(replace(decoded, taken=picture.taken))
    except BarRefused as refusal:
        if not refusal.file:
            refusal.file = file
        raise


def _printed_scale(picture: ColorPicture, bar: Bar, wish: ColorWish) -> tuple[BarScale, tuple[Box, ...]]:
    """Read the printed numbers and where they are, if asked to; refuse a bar whose numbers nobody gave."""
    if wish.printed:
        from irspot.decoding.labels import printed_scale

        printed = printed_scale(picture.rgb, bar, ambient_degc=wish.ambient_degc)
        return printed.scale, printed.boxes_px
    raise BarRefused(
        "nothing says which temperatures the ends of the colour bar stand for",
        cause="labels",
        key="color_scale_degc",
        hint='give color_scale_degc = [low, high], or "printed" to have its labels read',
    )


def with_scale_uncertainty(decoded: Decoded) -> Decoded:
    """Add to each pixel's uncertainty what printing rounded away from the bar's numbers, a rectangular bound."""
    bound_k = decoded.scale.bound_k
    if bound_k == 0.0:
        return decoded
    of_numbers = np.float32(bound_k / RECTANGULAR)
    return replace(decoded, u_decode_k=np.hypot(decoded.u_decode_k, of_numbers))


def color_frame(decoded: Decoded, camera: Camera, path: Path) -> Frame:
    """Make a frame of what was decoded.

    Parameters
    ----------
    decoded : Decoded
    camera : Camera
        Its applied settings are those the picture was made with.
    path : Path
        The time may stand in its name, where the file itself does not tell.
    """
    from irspot.readers import times

    told = times.from_iso(decoded.taken)
    taken = told if told.known else times.from_name(path.name)
    return Frame(
        decoded.temperature_degc,
        camera.showing_degc(),
        path.name,
        time_utc=taken.utc,
        time_local=taken.local,
        notes=notes_of(decoded),
        clipped=decoded.clipped_high,
        clipped_low=decoded.clipped_low,
        u_decode_k=decoded.u_decode_k,
    )


def notes_of(decoded: Decoded) -> tuple[str, ...]:
    """Say where the bar was, which numbers it had and where they came from, and what was left out."""
    x0, y0, x1, y1 = decoded.bar.box_px
    low, high = (rounded(value, 2) for value in (decoded.scale.low_degc, decoded.scale.high_degc))
    return (
        f"colour bar {decoded.bar.origin} at {x0},{y0},{x1},{y1}, low end {decoded.bar.low_end}",
        f"from {low} to {high} °C, {_origin_of(decoded.scale)}",
        f"{rounded(100.0 * decoded.share_excluded, 1)} % of the pixels left out",
    )


def _origin_of(scale: BarScale) -> str:
    if scale.ends_from == "given":
        return "given"
    return f"printed as {', '.join(scale.labels)}, each within {rounded(scale.bound_k, 2)} K"
