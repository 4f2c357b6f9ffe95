"""What a zone's hottest pixel misses of the truth by nature: blur hides part of a small summit, noise adds to any."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.measurement.blur import Blur
from irspot.measurement.hot_width import REACH_PX, hot_width
from irspot.measurement.noise_bias import noise_bias_k
from irspot.measurement.spot_size import U_SHARE, SpotSize, spot_size
from irspot.opencv import load_cv2
from irspot.uncertain import Term

F32 = NDArray[np.float32]
BoolArray = NDArray[np.bool_]
FloatArray = NDArray[np.floating[Any]]

_WORTH_SAYING_K: Final = 0.1
"""Changes from which a flag says so: the digit that is printed."""
_U_BIAS_SHARE: Final = 0.5
_U_UNCORRECTED: Final = 0.75
"""Standard uncertainty that stands for an error all on one side, as a share of it: twice the root of its square and
that of other terms of about its size covers the whole error beside 95 % of theirs (see JCGM 100:2008, F.2.4.5)."""
_FILLED_TIMES: Final = 3


@dataclass(frozen=True, slots=True)
class Correction:
    """What the hottest pixel's radiance temperature is changed by, and what stays uncertain of it.

    Parameters
    ----------
    change_k : float
    terms : tuple of Term
        On the radiance temperature, of sensitivity 1.
    flags : tuple of str
    hot_width_px : float
        Width of the hot feature in its narrowest direction; NaN where it does not end nearby.
    """

    change_k: float = 0.0
    terms: tuple[Term, ...] = ()
    flags: tuple[str, ...] = ()
    hot_width_px: float = float("nan")


NO_CORRECTION: Final = Correction()


def correction_of(
    radiance_degc: F32, sound: BoolArray, row: int, column: int, *, inside: BoolArray, noise_k: float, blur: Blur
) -> Correction:
    """Correct the hottest pixel of a zone.

    Parameters
    ----------
    radiance_degc, sound : ndarray, shape (rows, columns)
        Of a part of the frame that holds the zone with what lies around it.
    row, column : int
        The hottest pixel, in that part.
    inside : ndarray of bool, shape (rows, columns)
        Sound pixels of the zone.
    noise_k : float
        Standard deviation of one pixel.
    blur : Blur

    Returns
    -------
    Correction
        Blur that is stated is undone; blur that was estimated or assumed widens the uncertainty and changes nothing,
        since heat that spreads looks like blur.
    """
    whole = filled(radiance_degc, sound)
    found = hot_width(whole, row, column, noise_k)
    spot = spot_size(found, blur.px)
    bias_k = noise_bias_k(radiance_degc, inside, noise_k)
    stated = blur.known == "stated" and spot.enough
    change_k = (spot.hidden_k if stated else 0.0) - bias_k
    terms = (*_spot_terms(spot, stated=stated), Term("noise bias", _U_BIAS_SHARE * bias_k, 1.0))
    width = spot.width_px if spot.width_px < 2.0 * REACH_PX else float("nan")
    return Correction(change_k, terms, tuple(_flags(spot, bias_k, stated=stated, blur=blur)), width)


def _spot_terms(spot: SpotSize, *, stated: bool) -> Iterator[Term]:
    """A share of what was corrected; else most of what was not, of which all may be missing.

    A spot too small for either gives a lower bound, whose uncertainty downwards knows nothing of blur.
    """
    if spot.enough:
        yield Term("spot size", (U_SHARE if stated else _U_UNCORRECTED) * spot.hidden_k, 1.0)


def _flags(spot: SpotSize, bias_k: float, *, stated: bool, blur: Blur) -> Iterator[str]:
    if bias_k >= _WORTH_SAYING_K:
        yield "noise-bias-corrected"
    if blur.defocused:
        yield "defocused"
    if not spot.enough:
        yield "small-hot-spot"
    elif spot.hidden_k >= _WORTH_SAYING_K:
        yield "spot-size-corrected" if stated else "spot-size-not-corrected"


def filled(values: F32, sound: BoolArray) -> F32:
    """Put means of neighbours where pixels are not sound, so that one dead pixel does not hide a feature's shape.

    Parameters
    ----------
    values : ndarray of float32, shape (rows, columns)
    sound : ndarray of bool, that shape

    Returns
    -------
    ndarray of float32
        NaN only further than three pixels inside what is not sound.
    """
    if sound.all():
        return values
    cv2 = load_cv2()
    known, whole = sound, np.where(sound, values, np.float32(0.0)).astype(np.float32)
    for _ in range(_FILLED_TIMES):
        count = cv2.boxFilter(known.astype(np.float32), -1, (3, 3), normalize=False, borderType=cv2.BORDER_CONSTANT)
        total = cv2.boxFilter(whole, -1, (3, 3), normalize=False, borderType=cv2.BORDER_CONSTANT)
        new = ~known & (count > 0.5)
        whole = np.where(new, total / np.maximum(count, 1.0), whole)
        known = known | new
    return np.asarray(np.where(known, whole, np.float32(np.nan)), np.float32)
