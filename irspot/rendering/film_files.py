"""Pictures one after another as a file: GIF by Pillow, H.264 in MP4 by PyAV."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any, BinaryIO, Final

import numpy as np

from irspot.errors import LibraryMissing, UsageError
from irspot.rendering.colors import ColorScale
from irspot.rendering.picture import Picture

_GIF_TICK_MS: Final = 10
"""GIF counts time in hundredths of a second."""
_COLORS: Final = 256
_QUALITY: Final = "17"
"""Constant rate factor of the encoder: visually without loss (common practice: 17 or 18)."""
_X264: Final = "colorprim=bt709:transfer=bt709:colormatrix=bt709"


def write_gif(
    stream: BinaryIO, pictures: Iterable[Picture], samples: Iterable[Picture], scale: ColorScale, fps: float
) -> None:
    """Write a GIF that repeats for ever.

    Parameters
    ----------
    stream : binary file
    pictures : iterable of Picture
        Of one size; taken one at a time.
    samples : iterable of Picture
        Those that the colours of everything but temperatures are chosen from.
    scale : ColorScale
        Of all pictures: every second colour of its map is among the 256.
    fps : float
        Pictures a second, as near as GIF's hundredths of a second allow.
    """
    from PIL import Image

    palette = _palette(samples, scale)

    def reduced() -> Iterator[Any]:
        for picture in pictures:
            yield Image.fromarray(picture.array).quantize(palette=palette, dither=Image.Dither.NONE)

    frames = reduced()
    first = next(frames)
    first.save(
        stream, "GIF", save_all=True, append_images=frames, duration=gif_ms(fps), loop=0, optimize=False, disposal=1
    )


def _palette(samples: Iterable[Picture], scale: ColorScale) -> Any:
    """Make the one palette of a GIF, held by a picture of Pillow's."""
    from PIL import Image

    own = np.concatenate([scale.table[::2], np.array([scale.over, scale.under], np.uint8)])
    stacked = Image.fromarray(np.concatenate([picture.array for picture in samples]))
    others = stacked.quantize(_COLORS - len(own), Image.Quantize.MEDIANCUT).getpalette() or []
    palette = Image.new("P", (1, 1))
    palette.putpalette((own.ravel().tolist() + others)[: 3 * _COLORS])
    return palette


def gif_ms(fps: float) -> int:
    """Time of one picture, ms.

    Examples
    --------
    >>> gif_ms(10.0), gif_ms(24.0), gif_ms(120.0)
    (100, 40, 20)
    """
    # Many programs show anything faster than 20 ms as 100 ms (common practice).
    return max(2 * _GIF_TICK_MS, round(1000.0 / fps / _GIF_TICK_MS) * _GIF_TICK_MS)


def check_even(size: tuple[int, int]) -> None:
    """Refuse a size that H.264 cannot have.

    Raises
    ------
    UsageError
        Colours are stored for 2 x 2 pixels, so that both lengths are even.
    """
    width, height = size
    if width % 2 or height % 2:
        even = f"{width + width % 2}x{height + height % 2}"
        raise UsageError("an MP4 has an even width and height", found=f"{width} x {height}", hint=f"try --size {even}")


def need_av() -> Any:
    """Import PyAV.

    Raises
    ------
    LibraryMissing
        If it is not installed.
    """
    try:
        import av
    except ImportError as error:
        raise LibraryMissing(
            "an MP4 needs the library PyAV",
            hint="run `pip install 'irspot[video]'` (or `pip install av`), or write a GIF",
        ) from error
    return av


def write_mp4(stream: BinaryIO, pictures: Iterable[Picture], size: tuple[int, int], fps: float) -> None:
    """Write H.264 in MP4, playable while it loads.

    Parameters
    ----------
    stream : binary file
    pictures : iterable of Picture
        Of that size; taken one at a time.
    size : tuple of int
        Even width and height.
    fps : float
        Pictures a second.

    Raises
    ------
    UsageError
        For an odd size.
    LibraryMissing
        Without PyAV.
    """
    check_even(size)
    av = need_av()
    rate = Fraction(fps).limit_denominator(1000)
    # By way of a file of its own: the encoder goes back over it by name, to put what a player needs first in front.
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "film.mp4"
        with av.open(path, "w", format="mp4", options={"movflags": "+faststart"}) as container:
            track = container.add_stream("libx264", rate=rate)
            track.width, track.height = size
            track.pix_fmt = "yuv420p"
            track.options = {"crf": _QUALITY, "preset": "medium", "x264-params": _X264}
            for number, picture in enumerate(pictures):
                frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture.array), format="rgb24")
                frame = frame.reformat(format="yuv420p", dst_colorspace="ITU709")
                frame.pts, frame.time_base = number, 1 / rate
                container.mux(track.encode(frame))
            container.mux(track.encode())
        with path.open("rb") as encoded:
            shutil.copyfileobj(encoded, stream)
