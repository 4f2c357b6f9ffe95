"""Pixels that stand at an end of what the camera could record.

Three things show it: the stored number is the last its type has; the radiance temperature is at or beyond the end of
the range the camera is made (or calibrated) for; or many pixels stand at exactly the frame's maximum, side by side,
in a frame whose other neighbours differ: a camera's noise does not allow that, a limiter does.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2

BoolArray = NDArray[np.bool_]
Float32Array = NDArray[np.float32]

_PLATEAU_PIXELS: Final = 12
_SELDOM: Final = 0.2
"""Share of equal neighbours up to which nine equal ones in a block are no chance: 0.2⁸ is three in a million."""


@dataclass(frozen=True, slots=True, eq=False)
class Clipped:
    """Clipped pixels of a frame; None stands for none at all.

    Parameters
    ----------
    high, low : ndarray of bool, shape (rows, columns), or None
        At the upper and at the lower end.
    beyond : ndarray of bool or None
        Hotter than the camera's range.
    """

    high: BoolArray | None
    low: BoolArray | None
    beyond: BoolArray | None


def clipped_pixels(
    stored: NDArray[Any],
    radiance_degc: Float32Array,
    sound: BoolArray,
    range_degc: tuple[float, float] | None,
    known: BoolArray | None = None,
    known_low: BoolArray | None = None,
    *,
    falling: bool = False,
) -> Clipped:
    """Find the clipped pixels of a frame.

    Parameters
    ----------
    stored : ndarray, shape (rows, columns)
    radiance_degc : ndarray of float32, that shape
        NaN where not measured.
    sound : ndarray of bool, that shape
        Others count as nothing: a dead pixel is not clipped.
    range_degc : tuple of float or None
        What the camera is made or calibrated for.
    known, known_low : ndarray of bool or None
        Pixels known to be at the upper and at the lower end, where the stored numbers no longer tell (an averaged
        readout).
    falling : bool
        Whether larger stored numbers mean colder places.
    """
    high = [at_type_end(stored, upper=not falling), plateau(radiance_degc if falling else stored, sound), known]
    low = [at_type_end(stored, upper=falling), known_low]
    beyond = None
    if range_degc is not None:
        # The range in the frame's own precision: 150.0 stored as float32 is at the end, not beyond it.
        lowest, highest = np.float32(range_degc[0]), np.float32(range_degc[1])
        high.append(_or_none(radiance_degc >= highest))
        low.append(_or_none(radiance_degc <= lowest))
        beyond = _or_none(radiance_degc > highest)
    return Clipped(_either(high, sound), _either(low, sound), _either([beyond], sound))


def declared_clipped(high: BoolArray | None, low: BoolArray | None, sound: BoolArray) -> Clipped:
    """Take the clipped pixels of a frame decoded from a picture: the ends of its colour bar, and nothing else.

    Its numbers are steps of a palette, which no rule for a sensor's numbers fits.

    Parameters
    ----------
    high, low : ndarray of bool, shape (rows, columns), or None
    sound : ndarray of bool, that shape
    """
    return Clipped(_either([high], sound), _either([low], sound), None)


def at_type_end(stored: NDArray[Any], *, upper: bool) -> BoolArray | None:
    """Mark stored integers that are the last their type has; None for none, and for floats."""
    if stored.dtype.kind not in "iu":
        return None
    ends = np.iinfo(stored.dtype)
    return _or_none(stored == (ends.max if upper else ends.min))


def plateau(stored: NDArray[Any], sound: BoolArray) -> BoolArray | None:
    """Mark the pixels at the frame's maximum where they form a plateau no noise allows; None for none.

    A frame most of whose neighbours are equal (computed, coarsely stepped or averaged away) shows nothing.

    Parameters
    ----------
    stored : ndarray, shape (rows, columns)
    sound : ndarray of bool, that shape
    """
    cv2 = load_cv2()

    trusted = stored if sound.all() else stored[sound]
    if not trusted.size:
        return None
    top = np.asarray(stored == trusted.max(), dtype=np.bool_) & sound
    if int(np.count_nonzero(top)) < _PLATEAU_PIXELS:
        return None
    blocks = cv2.erode(top.view(np.uint8), np.ones((3, 3), np.uint8), borderValue=0)
    if not np.any(blocks) or _share_of_equals(stored, top) > _SELDOM:
        return None
    return top


def _share_of_equals(stored: NDArray[Any], top: BoolArray) -> float:
    """Share of side-by-side pairs below the plateau that hold the same number."""
    below = ~top[:, :-1] & ~top[:, 1:]
    pairs = int(np.count_nonzero(below))
    return 1.0 if pairs == 0 else int(np.count_nonzero(below & (stored[:, :-1] == stored[:, 1:]))) / pairs


def _or_none(mask: NDArray[Any]) -> BoolArray | None:
    found = np.asarray(mask, dtype=np.bool_)
    return found if found.any() else None


def _either(masks: list[BoolArray | None], sound: BoolArray) -> BoolArray | None:
    found = [mask for mask in masks if mask is not None]
    return _or_none(np.logical_or.reduce(found) & sound) if found else None
