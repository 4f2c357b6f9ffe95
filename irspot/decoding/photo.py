"""Visible-light photos in: colours upright, as any viewer shows them."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from irspot.decoding.picture import EIGHT_BIT, ORIENTATION, exif_of, opened, told
from irspot.errors import FrameUnreadable
from irspot.photo import Photo, Rgb

if TYPE_CHECKING:
    from PIL.Image import Image

_LEAST_PX: Final = 64
"""Smaller sides show no board, let alone its zones."""


def read_photo(path: str | os.PathLike[str]) -> Photo:
    """Read a visible-light photo: JPEG, PNG, BMP, TIFF, GIF or WebP of eight bits a channel, in colours or in grey.

    It is turned upright as its orientation tag (EXIF) says, as every viewer shows it: places in a photo count in that
    picture.

    Parameters
    ----------
    path : path-like

    Raises
    ------
    FrameUnreadable
        If there is no such file or it holds no photo that can be read.
    FrameTooLarge
        If it has more pixels than the cap allows.
    """
    file = str(path)
    image, _ = opened(Path(path), file)
    if image.mode not in EIGHT_BIT:
        raise FrameUnreadable(
            "the photo holds numbers of more than eight bits",
            file=file,
            found=f"mode {image.mode}",
            wanted="eight bits a channel",
            hint="save it as JPEG or PNG of eight bits; a thermal frame is no photo",
        )
    if min(image.size) < _LEAST_PX:
        found = f"{image.width} x {image.height}"
        raise FrameUnreadable(
            "the photo is too small to show a board", file=file, found=found, wanted=f"{_LEAST_PX} px or more a side"
        )
    with told(file):
        rgb = np.asarray(_flat(image), np.uint8)
        # Asked once the pixels are there: of a TIFF the library has turned them by then, and dropped the tag.
        orientation = exif_of(image).get(ORIENTATION, 1)
        rgb = _turned(rgb, orientation)
    return Photo(rgb, Path(path).name)


def _flat(image: Image) -> Image:
    """Give red, green and blue; what is transparent shows white, as on paper."""
    from PIL import Image as PillowImage

    if image.mode in ("RGBA", "LA", "La", "PA", "RGBa") or "transparency" in image.info:
        clear = image.convert("RGBA")
        paper = PillowImage.new("RGBA", clear.size, (255, 255, 255, 255))
        return PillowImage.alpha_composite(paper, clear).convert("RGB")
    return image.convert("RGB")


def _turned(stored: Rgb, orientation: Any) -> Rgb:
    """Turn and mirror stored rows as EXIF's orientation 1 to 8 says (CIPA DC-008); anything else leaves them."""
    if orientation in (5, 6, 7, 8):
        stored = stored.transpose(1, 0, 2)
    if orientation in (2, 3, 6, 7):
        stored = stored[:, ::-1]
    if orientation in (3, 4, 7, 8):
        stored = stored[::-1]
    return np.ascontiguousarray(stored)
