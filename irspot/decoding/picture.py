"""A colour-mapped picture as read from its file: its colours, and a JPEG's own luma and chroma."""

from __future__ import annotations

import io
import os
import re
import stat
import struct
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Rgb
from irspot.constants import MAX_PIXELS
from irspot.decoding.jpeg import Chroma, JpegFacts, jpeg_facts
from irspot.errors import FrameTooLarge, FrameUnreadable, UsageError
from irspot.opencv import load_cv2

if TYPE_CHECKING:
    from PIL.Image import Image

_CAP: Final = "IRSPOT_MAX_PIXELS"
_BYTES_PER_PIXEL: Final = 8
"""More than any picture takes, headers aside; a longer file is not even read."""
_ROOM_FOR_HEADERS: Final = 16_000_000
EIGHT_BIT: Final = ("1", "L", "LA", "La", "P", "PA", "RGB", "RGBA", "RGBa", "RGBX", "CMYK", "YCbCr", "LAB", "HSV")

ORIENTATION: Final = 0x0112
_CHANGED: Final = 0x0132
_EXIF_IFD: Final = 0x8769
_TAKEN: Final = 0x9003
_TAKEN_OFFSET: Final = 0x9011
"""Tags of EXIF (CIPA DC-008): Orientation, DateTime, the EXIF directory, DateTimeOriginal, OffsetTimeOriginal."""
_TIME: Final = re.compile(r"(\d{4})[:-](\d\d)[:-](\d\d)[ T](\d\d:\d\d:\d\d)")
_OFFSET: Final = re.compile(r"[+-]\d\d:\d\d")


@dataclass(frozen=True, slots=True, eq=False)
class ColorPicture:
    """A colour-mapped picture.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    ycc : ndarray of uint8, shape (rows, columns, 3), or None
        Luma and chroma (Y, Cb, Cr of JFIF) where colours went through a lossy coding; None for exact colours. A JPEG's
        are those of its decoder, before conversion cuts what lies outside red, green and blue.
    name : str
    is_jpeg : bool
    chroma : {"444", "422", "420"}
        Sampling of chroma.
    luma_steps, chroma_steps : tuple of int
        A JPEG's quantisation.
    notes : tuple of str
        What the reader found out and states.
    taken : str
        When the picture was taken, as its EXIF says, in ISO 8601; with an offset from UTC where that is stated.
    """

    rgb: Rgb
    ycc: NDArray[np.uint8] | None = None
    name: str = ""
    is_jpeg: bool = False
    chroma: Chroma = "444"
    luma_steps: tuple[int, ...] = ()
    chroma_steps: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()
    taken: str = ""

    @property
    def shape(self) -> tuple[int, int]:
        """``(rows, columns)``."""
        return self.rgb.shape[0], self.rgb.shape[1]

    @property
    def luma(self) -> NDArray[np.float32]:
        """Luma at full resolution, 0 to 255, shape (rows, columns)."""
        planes = ycc_of(self.rgb) if self.ycc is None else self.ycc
        return planes[..., 0].astype(np.float32)


def picture_of(rgb: Rgb, name: str = "", chroma: Chroma = "444") -> ColorPicture:
    """Make a picture of colours in memory.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    name : str
    chroma : {"444", "422", "420"}
        Sampling of the coding they went through, as videos have it; "444" also stands for exact colours.
    """
    ycc = None if chroma == "444" else ycc_of(rgb)
    return ColorPicture(rgb, ycc, name, chroma=chroma)


def ycc_of(rgb: Rgb) -> NDArray[np.uint8]:
    """Convert to Y, Cb, Cr (JFIF: ITU-R BT.601 weights, full range)."""
    cv2 = load_cv2()
    ycrcb = cv2.cvtColor(np.ascontiguousarray(rgb), cv2.COLOR_RGB2YCrCb)
    swapped = np.empty_like(ycrcb)
    cv2.mixChannels([ycrcb], [swapped], [0, 0, 1, 2, 2, 1])
    return np.asarray(swapped)


def rgb_of(ycc: NDArray[np.uint8]) -> Rgb:
    """Convert from Y, Cb, Cr, cut to what red, green and blue can show."""
    cv2 = load_cv2()
    swapped = np.empty_like(ycc)
    cv2.mixChannels([np.ascontiguousarray(ycc)], [swapped], [0, 0, 1, 2, 2, 1])
    return np.asarray(cv2.cvtColor(swapped, cv2.COLOR_YCrCb2RGB))


def read_picture(path: str | os.PathLike[str]) -> ColorPicture:
    """Read a colour-mapped picture: PNG, JPEG, BMP, TIFF, GIF or WebP of eight bits a channel.

    The pixels stay as stored: a viewer's rotation (EXIF) is not applied, transparency is left out of account.

    Parameters
    ----------
    path : path-like

    Raises
    ------
    FrameUnreadable
        If there is no such file or it holds no picture that can be read.
    FrameTooLarge
        If it has more pixels than the cap allows.
    """
    file = str(path)
    image, content = opened(Path(path), file)
    if image.mode not in EIGHT_BIT:
        raise FrameUnreadable(
            "the picture holds numbers of more than eight bits, no colours",
            file=file,
            found=f"mode {image.mode}",
            hint="measure it as a radiometric frame, which needs no colour bar",
        )
    with told(file):
        return replace(_picture(image, content, Path(path).name), taken=_taken(image))


def opened(path: Path, file: str) -> tuple[Image, bytes]:
    """Open a picture without decoding its pixels; give it and the file's bytes.

    Raises
    ------
    FrameUnreadable
        If there is no such file or it holds no picture that can be read.
    FrameTooLarge
        If it has more pixels than the cap allows.
    """
    content = _content(path, file)
    image = _opened(content, file)
    _check_size(image.width, image.height, file)
    return image, content


@contextmanager
def told(file: str) -> Iterator[None]:
    """Tell in one line what goes wrong while pixels are decoded."""
    try:
        yield
    except (OSError, ValueError, SyntaxError, EOFError, struct.error) as error:
        raise FrameUnreadable("the picture breaks off or is damaged", file=file, found=_reason(error)) from error
    except MemoryError as error:
        raise FrameUnreadable("the picture does not fit into memory", file=file) from error


def _content(path: Path, file: str) -> bytes:
    try:
        facts = path.stat()
        if stat.S_ISDIR(facts.st_mode):
            raise FrameUnreadable("this is a directory", file=file, wanted="a picture", hint="name a file in it")
        # Reading from a pipe or a device could wait or go on for ever.
        if not stat.S_ISREG(facts.st_mode):
            raise FrameUnreadable("this is not a regular file", file=file)
        if facts.st_size > _max_pixels() * _BYTES_PER_PIXEL + _ROOM_FOR_HEADERS:
            raise FrameTooLarge("longer than any picture within the cap", file=file, found=f"{facts.st_size} bytes")
        content = path.read_bytes()
    except FileNotFoundError as error:
        raise FrameUnreadable("there is no such file", file=file) from error
    except (OSError, ValueError) as error:
        raise FrameUnreadable("the file cannot be read", file=file, found=_reason(error)) from error
    if not content:
        raise FrameUnreadable("the file is empty", file=file)
    return content


def _opened(content: bytes, file: str) -> Image:
    from PIL import Image

    try:
        with warnings.catch_warnings():
            # The library warns of large pictures; the cap below decides.
            warnings.simplefilter("ignore")
            return Image.open(io.BytesIO(content), formats=("PNG", "JPEG", "BMP", "TIFF", "GIF", "WEBP"))
    except Image.DecompressionBombError as error:
        raise FrameTooLarge("more pixels than irspot reads at once", file=file) from error
    except (OSError, ValueError, SyntaxError, struct.error) as error:
        raise FrameUnreadable(
            "the content is no picture that can be read", file=file, wanted="PNG, JPEG, BMP, TIFF, GIF or WebP"
        ) from error


def _max_pixels() -> int:
    text = os.environ.get(_CAP, "").strip()
    if not text:
        return MAX_PIXELS
    if not (text.isascii() and text.isdigit() and len(text) < 16 and int(text) > 0):
        raise UsageError(f"environment variable {_CAP} is not usable", found=text, wanted="a positive whole number")
    return int(text)


def _check_size(columns: int, rows: int, file: str) -> None:
    cap = _max_pixels()
    if columns * rows > cap:
        raise FrameTooLarge(
            "more pixels than irspot reads at once",
            file=file,
            found=f"{columns} × {rows} pixels",
            wanted=f"at most {cap}",
            hint=f"if the file is right, raise the cap with the environment variable {_CAP}={columns * rows}",
        )


def _picture(image: Image, content: bytes, name: str) -> ColorPicture:
    notes = _notes(image)
    facts = jpeg_facts(content) if image.format == "JPEG" else None
    if facts is None:
        return ColorPicture(_rgb(image), name=name, notes=notes)
    # Asking the decoder for luma and chroma spares them the way through clipped red, green and blue.
    if image.mode == "RGB":
        image.draft("YCbCr", image.size)
    if image.mode != "YCbCr":
        rgb = _rgb(image)
        return _jpeg(rgb, ycc_of(rgb), facts, name, notes)
    ycc = np.asarray(image)
    return _jpeg(rgb_of(ycc), ycc, facts, name, notes)


def _jpeg(rgb: Rgb, ycc: NDArray[np.uint8], facts: JpegFacts, name: str, notes: tuple[str, ...]) -> ColorPicture:
    return ColorPicture(rgb, ycc, name, True, facts.chroma, facts.luma_steps, facts.chroma_steps, notes)


def _rgb(image: Image) -> Rgb:
    return np.asarray(image.convert("RGB"), np.uint8)


def _notes(image: Image) -> tuple[str, ...]:
    notes = []
    count: Any = getattr(image, "n_frames", 1)
    if count > 1:
        notes.append(f"the file holds {count} pictures; the first was read")
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        notes.append("transparency was left out of account")
    orientation = exif_of(image).get(ORIENTATION, 1)
    if orientation != 1:
        notes.append(f"the orientation tag ({orientation}) is not applied: places are those of the stored rows")
    return tuple(notes)


def exif_of(image: Image) -> Mapping[int, Any]:
    """Read EXIF tags; a damaged block costs the tags, not the picture."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return image.getexif()
    except (OSError, ValueError, SyntaxError, EOFError, struct.error, KeyError, TypeError, OverflowError):
        return {}


def _taken(image: Image) -> str:
    """Say when a picture was taken, by the clock of what made it."""
    exif = exif_of(image)
    try:
        inner = exif.get_ifd(_EXIF_IFD) if hasattr(exif, "get_ifd") else {}
    except (OSError, ValueError, SyntaxError, EOFError, struct.error, KeyError, TypeError, OverflowError):
        inner = {}
    original = _TIME.fullmatch(str(inner.get(_TAKEN, "")).strip("\0 "))
    moment = original or _TIME.fullmatch(str(exif.get(_CHANGED, "")).strip("\0 "))
    if moment is None:
        return ""
    offset = str(inner.get(_TAKEN_OFFSET, "")).strip("\0 ") if original else ""
    year, month, day, clock = moment.groups()
    return f"{year}-{month}-{day}T{clock}{offset if _OFFSET.fullmatch(offset) else ''}"


def _reason(error: Exception) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error) or type(error).__name__
