"""Whether two values with uncertainties agree: En numbers and zeta scores."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from irspot.constants import COVERAGE_FACTOR

FloatArray = NDArray[np.floating[Any]]


def en_number(value: ArrayLike, expanded_u: ArrayLike, reference: ArrayLike, reference_u: ArrayLike) -> FloatArray:
    """En number of a value against a reference, independent of it: ``En = (x - X) / √(U_x² + U_X²)``.

    ISO/IEC 17043:2010 B.3, ISO 13528:2015 clause 9 (formula from memory).

    Parameters
    ----------
    value, expanded_u : array_like
        Of what is checked; expanded by k = 2, over or equal 0.
    reference, reference_u : array_like
        In the same unit.

    Returns
    -------
    ndarray
        NaN where an input is, and where neither has an uncertainty.

    Examples
    --------
    >>> float(en_number(78.4, 0.8, 80.1, 0.6).round(4))
    -1.7
    """
    difference = np.asarray(value, float) - np.asarray(reference, float)
    spread = np.hypot(np.asarray(expanded_u, float), np.asarray(reference_u, float))
    # 1.0 exactly is agreement: rounding of a root must not decide there.
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.round(np.where(spread > 0.0, difference / spread, np.nan), 12))


def zeta_score(value: ArrayLike, u: ArrayLike, reference: ArrayLike, u_reference: ArrayLike) -> FloatArray:
    """Zeta score: the same with standard uncertainties, ``ζ = (x - X) / √(u_x² + u_X²)`` (ISO 13528:2015, clause 9).

    Parameters
    ----------
    value, u, reference, u_reference : array_like

    Returns
    -------
    ndarray

    Examples
    --------
    >>> float(zeta_score(78.4, 0.4, 80.1, 0.3).round(4))
    -3.4
    """
    return en_number(value, u, reference, u_reference)


def agreeing(en: ArrayLike) -> NDArray[np.bool_]:
    """Say which En numbers mean agreement: those with |En| <= 1 (ISO/IEC 17043); NaN does not.

    Examples
    --------
    >>> agreeing([0.4, 1.0, -1.7]).tolist()
    [True, True, False]
    """
    return np.asarray(np.abs(np.asarray(en, float)) <= 1.0)


@dataclass(frozen=True, slots=True)
class Agreement:
    """A bead held against the image.

    Parameters
    ----------
    difference_k : float
        Bead less image.
    U_k : float
        Expanded uncertainty of the difference.
    en : float
        NaN where the two see different sides.
    agrees : bool or None
        None where that cannot be said.
    """

    difference_k: float
    U_k: float
    en: float
    agrees: bool | None


def compared(bead_degc: float, U_bead_k: float, image_degc: float, U_image_k: float, *, same_side: bool) -> Agreement:
    """Hold a bead against the image at one time.

    Parameters
    ----------
    bead_degc, U_bead_k : float
        With its corrections; expanded (k = 2).
    image_degc, U_image_k : float
    same_side : bool
        Whether the camera sees the side that the bead sits on. Through a board two temperatures differ, so that their
        difference is given and not judged.

    Examples
    --------
    >>> compared(80.1, 0.6, 78.4, 0.8, same_side=True)
    Agreement(difference_k=1.7, U_k=1.0, en=1.7, agrees=False)
    >>> compared(80.1, 0.6, 78.4, 0.8, same_side=False).agrees is None
    True
    """
    difference_k = round(bead_degc - image_degc, 12)
    U_k = math.hypot(U_bead_k, U_image_k)
    en = float(en_number(bead_degc, U_bead_k, image_degc, U_image_k)) if same_side else math.nan
    return Agreement(difference_k, U_k, en, bool(agreeing(en)) if math.isfinite(en) else None)


def normal_error(en: float) -> float:
    """Chance of an |En| so large or larger where all uncertainties are normal and right: ``erfc(k |En| / √2)``.

    Examples
    --------
    >>> round(normal_error(1.0), 4)
    0.0455
    """
    return math.erfc(COVERAGE_FACTOR * abs(en) / math.sqrt(2.0))
