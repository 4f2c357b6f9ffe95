"""What decoding left out of a picture, painted over it."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Decoded, Excluded, Rgb
from irspot.rendering import theme
from irspot.rendering.picture import Picture
from irspot.rendering.text import font

# Colours of Okabe and Ito (2008), told apart by all common colour visions; the legend names them as well.
_PAINT: Final[dict[str, tuple[int, int, int]]] = {
    "bar and its labels": (120, 126, 134),
    "ignored by request": (190, 196, 204),
    "colour not of the bar": (0, 158, 115),
    "drawn on the picture": (86, 180, 233),
    "two temperatures possible": (240, 228, 66),
    "hot end: lower bound": (213, 94, 0),
    "cold end: upper bound": (204, 121, 167),
}
_REASONS: Final = {
    "bar and its labels": Excluded.BAR,
    "ignored by request": Excluded.IGNORED,
    "colour not of the bar": Excluded.OFF_PALETTE,
    "drawn on the picture": Excluded.DRAWN_ON,
    "two temperatures possible": Excluded.AMBIGUOUS,
}
_TEXT_PX: Final = 15.0
_ROW_PX: Final = 22


def mask_picture(rgb: Rgb, decoded: Decoded) -> Picture:
    """Paint what was left out over a faded grey copy of the picture, with a legend below.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    decoded : Decoded
        Of that picture.

    Returns
    -------
    Picture
        Of the picture's width, higher by the legend.
    """
    painted = np.repeat((rgb.mean(axis=2, keepdims=True) * 0.45).astype(np.uint8), 3, axis=2)
    shares: list[tuple[str, float]] = []
    for name, where in _areas(decoded).items():
        painted[where] = _PAINT[name]
        shares.append((name, float(where.mean())))
    return Picture(np.concatenate([painted, _legend(shares, rgb.shape[1])]))


def _areas(decoded: Decoded) -> dict[str, NDArray[np.bool_]]:
    areas = {name: decoded.excluded == reason for name, reason in _REASONS.items()}
    areas["hot end: lower bound"] = decoded.clipped_high
    areas["cold end: upper bound"] = decoded.clipped_low
    return areas


def _legend(shares: list[tuple[str, float]], width: int) -> Rgb:
    from PIL import Image, ImageDraw

    rows = len(shares) + 1
    image = Image.new("RGB", (width, rows * _ROW_PX), theme.PAGE)
    draw = ImageDraw.Draw(image)
    for number, (name, share) in enumerate(shares):
        top = number * _ROW_PX + _ROW_PX // 2
        draw.rectangle((10, top + 3, 26, top + 17), fill=_PAINT[name])
        draw.text((34, top), f"{name}: {100.0 * share:.1f} %", font=font("regular", _TEXT_PX), fill=theme.INK)
    return np.asarray(image)
